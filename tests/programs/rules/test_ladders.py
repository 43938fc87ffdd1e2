"""Parsing and validating progression ladders."""

from __future__ import annotations

import json

import pytest

from programs.rules.ladders import LadderEntry, parse_ladder
from tests.programs.rules.entries import LADDER, changed


def test_a_sound_ladder_is_read_and_comes_back() -> None:
    ladder, problems = parse_ladder(LADDER, file="calf.yaml")
    assert problems == []
    assert ladder is not None
    stored = json.loads(json.dumps(ladder.to_json()))
    assert stored == LADDER
    assert LadderEntry.from_json(stored) == ladder


def test_the_ends_of_a_ladder_may_lack_what_leads_beyond_them() -> None:
    data = changed(LADDER, "rungs.3.go_on_when", ...)
    ladder, problems = parse_ladder(changed(data, "rungs.0.go_back_when", ...), file="f")
    assert problems == []
    assert ladder is not None and ladder.rungs[3].go_on_when is None


@pytest.mark.parametrize(
    ("path", "value", "key", "part"),
    [
        ("rungs", LADDER["rungs"][:3], "rungs", "4 to 7, not 3"),
        ("rungs", LADDER["rungs"] * 2, "rungs", "4 to 7, not 8"),
        ("rungs.1.go_on_when", ..., "rungs[1].go_on_when", "is missing"),
        ("rungs.1.go_on_when.sessions", 0, "rungs[1].go_on_when.sessions", "from 1 to 20"),
        (
            "rungs.1.go_on_when.settled_by_morning",
            "always",
            "rungs[1].go_on_when.settled_by_morning",
            "true or false",
        ),
        ("rungs.1.go_back_when.pain_above", 11, "rungs[1].go_back_when.pain_above", "0 to 10"),
        ("rungs.1.stay_when", "Stay", "rungs[1].stay_when", "must be a mapping"),
        ("rungs.1.exercise", "rise-one", "rungs[1].exercise", "a rung below already"),
        (
            "rungs.1.alternatives",
            [{"exercise": "rise-two", "because": "PLACE", "note": "Sitting."}],
            "rungs[1].alternatives[0].exercise",
            "on this rung already",
        ),
        (
            "rungs.1.alternatives",
            [{"exercise": "rise-five", "because": "MOOD", "note": "Sitting."}],
            "rungs[1].alternatives[0].because",
            "not one of",
        ),
    ],
)
def test_a_slip_is_named_with_its_key(path: str, value: object, key: str, part: str) -> None:
    ladder, problems = parse_ladder(changed(LADDER, path, value), file="f")
    assert ladder is None
    assert problems[0].key == f"calf-strength.{key}"
    assert part in problems[0].message
