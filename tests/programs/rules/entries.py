"""One sound exercise and one sound ladder as they stand in the files, and a way to spoil them."""

from __future__ import annotations

import copy
from typing import Any

import yaml

EXERCISE: dict[str, Any] = yaml.safe_load("""
slug: heel-raise
name: Heel raise
also_called: [calf raise]
region: ANKLE_FOOT
aim: STRENGTH
position: STANDING
equipment: [WALL]
purpose: Makes the calf strong.
set_up: [Put both hands on a wall.]
steps: [Rise up on to your toes., Lower your heels slowly.]
keep_still: {what: Your knees, why: so that the calf does the work}
breathing: Breathe out as you rise.
should_feel: [A pull in the calf.]
is_fine: [A painless click.]
stop_if: [Sharp or catching pain., A sudden snap.]
precautions: [POOR_BALANCE]
faults: [{fault: The ankles roll outwards., cue: Press down on your big toe.}]
side_mode: BOTH_TOGETHER
dose:
  kind: REPETITIONS
  sets: {from: 1, to: 4, usual: 3}
  repetitions: {from: 6, to: 20, usual: 12}
  rest_seconds: {from: 15, to: 120, usual: 45}
  tempo: [2, 1, 3]
  load_units: [KG]
one_line: Rise up, lower slowly.
keep_still_line: Knees straight.
source: Common practice, no source.
""")

RUNG: dict[str, Any] = yaml.safe_load("""
exercise: heel-raise
alternatives: []
go_on_when: {sessions: 3, dose_percent: 100, pain_at_most: 3, effort_at_most: 5,
  settled_by_morning: true, say: Three sessions at full dose.}
stay_when: {say: Pain that settles by next morning.}
go_back_when: {sessions: 2, pain_above: 5, say: Pain above 5 in two sessions.}
""")

SLUGS = ["rise-one", "rise-two", "rise-three", "rise-four"]
LADDER: dict[str, Any] = {
    "slug": "calf-strength",
    "name": "Calf strength",
    "region": "ANKLE_FOOT",
    "aim": "STRENGTH",
    "purpose": "Makes the calf strong.",
    "for_whom": "Weak plantar flexors.",
    "rungs": [{**copy.deepcopy(RUNG), "exercise": slug} for slug in SLUGS],
}


def changed(data: dict[str, Any], path: str, value: object) -> dict[str, Any]:
    """Return a copy with the value at a path changed; Ellipsis takes the key away."""
    copied: dict[str, Any] = copy.deepcopy(data)
    *way, last = [int(key) if key.isdigit() else key for key in path.split(".")]
    inner: Any = copied
    for key in way:
        inner = inner[key]
    if value is ...:
        del inner[last]
    else:
        inner[last] = value
    return copied
