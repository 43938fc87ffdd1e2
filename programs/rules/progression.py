"""Whether a new revision asks for more than the one before it."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import TypeVar

from programs.rules.dose import Dose, weekly_dose

FEW_EXERCISES = 4
"""Up to so many exercises people say they can keep up with; more is allowed, and said."""


Key = TypeVar("Key", bound=Hashable)


def is_step_up(before: Mapping[Key, Dose], after: Mapping[Key, Dose]) -> bool:
    """Return whether any exercise is new, or asks for more work or load than before.

    Keys name the exercise. After a step up, next-morning pain is asked for a week.
    """
    return any(key not in before or _is_more(before[key], dose) for key, dose in after.items())


def _is_more(before: Dose, after: Dose) -> bool:
    old, new = weekly_dose([before], 1), weekly_dose([after], 1)
    more_work = (
        new.repetitions > old.repetitions
        or new.hold_seconds > old.hold_seconds
        or new.moving_seconds > old.moving_seconds
    )
    more_load = (after.load_value or 0) > (before.load_value or 0)
    bands = ["", "LIGHT", "MEDIUM", "FIRM"]
    return more_work or more_load or bands.index(after.band) > bands.index(before.band)
