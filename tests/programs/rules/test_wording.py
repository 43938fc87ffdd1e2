"""Doses in plain words."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given

from programs.rules.dose import Dose, LoadUnit, Side, dose_parts, dose_wording
from programs.rules.wording import listed, plain, plain_plural, span_text
from tests.programs.rules.doses import doses, held, hold, repetitions, timed


class TestWording:
    @pytest.mark.parametrize(
        ("dose", "text"),
        [
            (repetitions(3, 12, side=Side.BOTH), "3 sets of 12, each side"),
            (repetitions(1, 12), "1 set of 12"),
            (hold(5, 30), "5 holds of 30 seconds"),
            (hold(1, 1), "1 hold of 1 second"),
            (held(3, 8, 5, side=Side.LEFT), "3 sets of 8, held 5 seconds, left side"),
            (timed(2, 60), "2 times 1 minute"),
            (timed(1, 90), "1 minute 30 seconds"),
            (
                repetitions(2, 10, side=Side.ALTERNATE),
                "2 sets of 10, each side, left and right in turn",
            ),
            (timed(2, 45, side=Side.ALTERNATE), "2 times 45 seconds, left and right in turn"),
            (
                replace(repetitions(3, 12), load_value=Decimal("2.50"), load_unit=LoadUnit.KG),
                "3 sets of 12, with 2.5 kg",
            ),
            (
                replace(repetitions(3, 12), load_value=Decimal(100), load_unit=LoadUnit.KG),
                "3 sets of 12, with 100 kg",
            ),
            (
                replace(repetitions(3, 12, side=Side.RIGHT), load_unit=LoadUnit.BAND, band="LIGHT"),
                "3 sets of 12, right side, with a light band",
            ),
        ],
    )
    def test_a_dose_in_one_line(self, dose: Dose, text: str) -> None:
        assert dose_wording(dose, plain, plain_plural) == text

    def test_the_parts_that_do_not_go_into_the_line(self) -> None:
        dose = replace(repetitions(3, 12, tempo=(2, 1, 3), rest_seconds=45), effort_target=5)
        parts = dose_parts(dose, plain, plain_plural)
        assert parts.amount == "3 sets of 12"
        assert parts.tempo == "count 2 out, 1 still, 3 back"
        assert parts.rest == "rest 45 seconds"
        assert parts.effort == "effort about 5 of 10"

    def test_what_takes_no_time_is_not_said(self) -> None:
        parts = dose_parts(repetitions(1, 12, tempo=(2, 0, 3)), plain, plain_plural)
        assert parts.tempo == "count 2 out, 3 back"
        assert parts.rest == ""  # a single set has no rest after it

    def test_every_word_can_be_translated(self) -> None:
        dose = replace(held(2, 8, 90, side=Side.BOTH), load_value=Decimal(2), load_unit=LoadUnit.KG)
        shouted = dose_wording(
            dose, lambda text: f"<{text}>", lambda one, many, n: f"[{one if n == 1 else many}]"
        )
        assert shouted == (
            "<<<[2 sets of 8], <held <[1 minute] [30 seconds]>>>, <each side>>, <with 2 kg>>"
        )

    @given(doses())
    def test_every_dose_can_be_said(self, dose: Dose) -> None:
        text = dose_wording(dose, plain, plain_plural)
        assert text and "%" not in text and "None" not in text


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0, "0 seconds"),
        (1, "1 second"),
        (59, "59 seconds"),
        (60, "1 minute"),
        (61, "1 minute 1 second"),
        (150, "2 minutes 30 seconds"),
    ],
)
def test_a_span_of_time(seconds: int, text: str) -> None:
    assert span_text(seconds, plain, plain_plural) == text


def test_a_list_in_a_sentence() -> None:
    assert listed([], plain) == ""
    assert listed(["Monday"], plain) == "Monday"
    assert listed(["Monday", "Friday"], plain) == "Monday and Friday"
