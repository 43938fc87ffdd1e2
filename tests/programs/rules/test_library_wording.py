"""What the library says about doses, in words."""

from __future__ import annotations

import pytest

from programs.rules.dose import DoseKind, DoseRange, FieldRange, LoadUnit, SideMode, sides_allowed
from programs.rules.library_wording import (
    DOSE_KIND_NAMES,
    SIDE_MODE_TEXTS,
    range_lines,
    usual_side,
)
from programs.rules.wording import plain, plain_plural


def told(dose: DoseRange) -> dict[str, tuple[str, str]]:
    return {line.field: (line.usual, line.span) for line in range_lines(dose, plain, plain_plural)}


def test_every_field_of_the_kind_is_told_with_its_usual_value_and_range() -> None:
    dose = DoseRange(
        kind=DoseKind.REPETITIONS,
        sets=FieldRange(1, 4, 3),
        repetitions=FieldRange(6, 20, 12),
        rest_seconds=FieldRange(15, 120, 45),
        tempo=(2, 1, 3),
        load_units=(LoadUnit.KG, LoadUnit.BAND),
    )
    assert told(dose) == {
        "sets": ("3", "1 to 4"),
        "repetitions": ("12", "6 to 20"),
        "rest_seconds": ("45 seconds", "15 seconds to 2 minutes"),
        "tempo": ("count 2 out, 1 still, 3 back", ""),
        "load": ("with a weight in kg and an elastic band", ""),
    }


@pytest.mark.parametrize(
    ("span", "words"),
    [
        (FieldRange(5, 45, 20), ("20 seconds", "5 to 45 seconds")),
        (FieldRange(30, 90, 60), ("1 minute", "30 seconds to 1 minute 30 seconds")),
        (FieldRange(60, 120, 60), ("1 minute", "1 minute to 2 minutes")),
        (FieldRange(0, 60, 15), ("15 seconds", "up to 1 minute")),
        (FieldRange(0, 30, 0), ("none", "up to 30 seconds")),
        (FieldRange(30, 30, 30), ("30 seconds", "")),
    ],
)
def test_times_are_told_as_people_say_them(span: FieldRange, words: tuple[str, str]) -> None:
    dose = DoseRange(
        kind=DoseKind.HOLD,
        sets=FieldRange(1, 1, 1),
        hold_seconds=FieldRange(10, 20, 10),
        rest_seconds=span,
    )
    assert told(dose)["rest_seconds"] == words
    assert told(dose)["sets"] == ("1", "")
    assert told(dose)["load"] == ("none", "")


def test_there_is_a_word_for_every_kind_and_mode() -> None:
    assert set(DOSE_KIND_NAMES) == set(DoseKind)
    assert set(SIDE_MODE_TEXTS) == set(SideMode)
    for mode in SideMode:
        assert usual_side(mode) in sides_allowed(mode)
