"""Sides of an exercise, and the range of doses that the library suggests."""

from __future__ import annotations

from programs.rules.dose import DoseKind, Side, SideMode, check_dose, sides_allowed
from tests.programs.rules.doses import RANGE


def test_every_side_belongs_to_one_mode() -> None:
    allowed = [side for mode in SideMode for side in sides_allowed(mode)]
    assert sorted(allowed) == sorted(Side)


def test_the_library_range_gives_the_usual_dose() -> None:
    dose = RANGE.usual_dose(Side.BILATERAL)
    assert (dose.sets, dose.repetitions, dose.rest_seconds, dose.tempo) == (
        3,
        12,
        45,
        (2, 1, 3),
    )
    assert not check_dose(
        dose,
        allowed_kind=DoseKind.REPETITIONS,
        side_mode=SideMode.BOTH_TOGETHER,
        dose_range=RANGE,
    )


def test_a_range_is_stored_in_the_shape_of_the_library() -> None:
    assert RANGE.to_json() == {
        "kind": "REPETITIONS",
        "sets": {"from": 1, "to": 4, "usual": 3},
        "repetitions": {"from": 6, "to": 20, "usual": 12},
        "rest_seconds": {"from": 15, "to": 120, "usual": 45},
        "tempo": [2, 1, 3],
        "load_units": ["KG"],
    }
