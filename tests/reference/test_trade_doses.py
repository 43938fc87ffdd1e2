"""Doses of the trade through our arithmetic, each with a mark for how well it is known.

S the figure was seen in a stored public source, M from memory and not verified again; where a
number is common practice without a source, the test says so.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from programs.rules.dose import (
    DoseKind,
    LoadUnit,
    Side,
    SideMode,
    check_dose,
    exercise_seconds,
    planned_sets,
    set_seconds,
    weekly_dose,
)
from programs.rules.schedule import Pattern, Schedule, sessions_per_week
from tests.programs.rules.doses import hold, repetitions

MONDAY = date(2026, 1, 5)


def test_eccentric_heel_drop_is_180_repetitions_a_day_on_a_side() -> None:
    """Alfredson 1998: 3 x 15 straight knee and 3 x 15 bent knee, twice a day, 7 days (S)."""
    straight = repetitions(3, 15, side=Side.LEFT)
    bent = repetitions(3, 15, side=Side.LEFT)
    twice_daily = Schedule(Pattern.DAILY, MONDAY, times_per_day=2)
    week = weekly_dose([straight, bent], sessions_per_week(twice_daily))
    assert week.repetitions == 180 * 7
    assert week.sets == 12 * 7


def test_heel_drop_on_both_sides_is_180_repetitions_on_each() -> None:
    """The same dose with each side in turn: counted apart, never "both sides are two sets" (S)."""
    plans = [*planned_sets(repetitions(3, 15, side=Side.BOTH))] * 2  # straight, bent
    for side in (Side.LEFT, Side.RIGHT):
        session = sum(plan.repetitions or 0 for plan in plans if plan.side is side)
        assert session * 2 == 180


@pytest.mark.parametrize(
    ("sets", "count"),
    [
        (3, 15),  # week 1 (S)
        (3, 12),  # weeks 2 and 3 (S)
        (4, 10),  # weeks 4 and 5 (S)
        (4, 8),  # weeks 6 to 8 (M)
        (4, 6),  # weeks 9 to 12 (S)
    ],
)
def test_heavy_slow_resistance_takes_six_seconds_a_repetition(sets: int, count: int) -> None:
    """Beyer 2015, read in a secondary copy: 3 a week, 3 s up and 3 s down, rest 2 to 3 min (S)."""
    dose = repetitions(sets, count, tempo=(3, 0, 3), rest_seconds=150)
    assert set_seconds(dose) == count * 6
    assert exercise_seconds(dose) == sets * count * 6 + (sets - 1) * 150
    week = weekly_dose([dose], 3)
    assert week.repetitions == sets * count * 3
    assert week.moving_seconds == sets * count * 3 * 6


@pytest.mark.parametrize(("holds", "seconds"), [(2, 30), (3, 20), (4, 15), (6, 10)])
def test_static_stretches_total_a_minute(holds: int, seconds: int) -> None:
    """ACSM: hold 10 to 30 s (older adults 30 to 60 s) to a total of 60 s a muscle (S/M).

    2 to 4 repetitions; six holds of 10 s reach the total only by leaving that range.
    """
    dose = hold(holds, seconds, side=Side.LEFT)
    assert weekly_dose([dose], 1).hold_seconds == 60


def test_stretching_each_side_is_a_minute_for_each_muscle() -> None:
    """ACSM total of 60 s a muscle (S/M): two holds of 30 s on each side are two minutes of work."""
    assert weekly_dose([hold(2, 30, side=Side.BOTH)], 1).hold_seconds == 120


def test_isometric_tendon_holds() -> None:
    """Rio 2015: 5 holds of 45 s with 2 min of rest (M): 225 s of hold in 11 min 45 s."""
    dose = hold(5, 45, side=Side.LEFT, rest_seconds=120)
    assert weekly_dose([dose], 1).hold_seconds == 225
    assert exercise_seconds(dose) == 225 + 4 * 120


@pytest.mark.parametrize(("sets", "count"), [(3, 12), (4, 10), (5, 8)])
def test_high_load_heel_raise_every_second_day(sets: int, count: int) -> None:
    """Rathleff 2015: every second day, 3 s up, 2 s hold, 3 s down (M)."""
    schedule = Schedule(Pattern.EVERY_N_DAYS, MONDAY, every_days=2)
    dose = repetitions(sets, count, side=Side.RIGHT, tempo=(3, 2, 3))
    assert set_seconds(dose) == count * 8
    assert sessions_per_week(schedule) == 3.5
    assert weekly_dose([dose], 3.5).sets == int(sets * 3.5 + 0.5)


def test_a_repetition_without_a_tempo_takes_four_seconds() -> None:
    """Common practice, no source."""
    assert set_seconds(repetitions(3, 10)) == 40


def test_load_steps_of_the_heel_drop_fit_the_field() -> None:
    """Steps of 5 kg a week up to 60 kg in one protocol after Alfredson 1998 (S)."""
    for week in range(1, 13):
        dose = replace(
            repetitions(3, 15, side=Side.LEFT), load_value=Decimal(5 * week), load_unit=LoadUnit.KG
        )
        assert not check_dose(dose, allowed_kind=DoseKind.REPETITIONS, side_mode=SideMode.ONE_SIDE)
    assert dose.load_value == 60
