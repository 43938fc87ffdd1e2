"""What may be prescribed, what it adds up to, how it reads, and what was done of it."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from programs.rules.dose import (
    Dose,
    DoseKind,
    LoadUnit,
    SetDone,
    SetPlan,
    Side,
    SideMode,
    check_dose,
    dose_share,
    exercise_seconds,
    planned_sets,
    session_minutes,
    set_count,
    set_seconds,
    set_share,
    sides_allowed,
    weekly_dose,
)
from tests.programs.rules.doses import RANGE, doses, held, hold, repetitions, timed


def problems_of(dose: Dose, mode: SideMode = SideMode.BOTH_TOGETHER) -> list[tuple[str, str]]:
    found = check_dose(dose, allowed_kind=dose.kind, side_mode=mode)
    return [(problem.field, problem.code) for problem in found]


class TestCheck:
    @given(doses())
    def test_every_dose_within_the_limits_is_sound(self, dose: Dose) -> None:
        mode = next(mode for mode in SideMode if dose.side in sides_allowed(mode))
        assert problems_of(dose, mode) == []

    @pytest.mark.parametrize(
        ("change", "field", "code"),
        [
            ({"sets": 0}, "sets", "OUT_OF_LIMITS"),
            ({"sets": 11}, "sets", "OUT_OF_LIMITS"),
            ({"repetitions": 0}, "repetitions", "OUT_OF_LIMITS"),
            ({"repetitions": 101}, "repetitions", "OUT_OF_LIMITS"),
            ({"repetitions": None}, "repetitions", "MISSING"),
            ({"hold_seconds": 5}, "hold_seconds", "NOT_FOR_KIND"),
            ({"duration_seconds": 60}, "duration_seconds", "NOT_FOR_KIND"),
            ({"rest_seconds": 601}, "rest_seconds", "OUT_OF_LIMITS"),
            ({"rest_seconds": -1}, "rest_seconds", "OUT_OF_LIMITS"),
            ({"side": Side.LEFT}, "side", "WRONG_SIDE"),
            ({"tempo": (0, 0, 0)}, "tempo", "OUT_OF_LIMITS"),
            ({"tempo": (2, 0, 11)}, "tempo", "OUT_OF_LIMITS"),
            ({"load_unit": LoadUnit.KG}, "load_value", "MISSING"),
            ({"load_value": Decimal(3)}, "load_value", "NOT_FOR_UNIT"),
            (
                {"load_value": Decimal("200.5"), "load_unit": LoadUnit.KG},
                "load_value",
                "OUT_OF_LIMITS",
            ),
            (
                {"load_value": Decimal("NaN"), "load_unit": LoadUnit.KG},
                "load_value",
                "OUT_OF_LIMITS",
            ),
            ({"load_unit": LoadUnit.BAND}, "band", "MISSING"),
            ({"load_unit": LoadUnit.BAND, "band": "PURPLE"}, "band", "MISSING"),
            ({"band": "LIGHT"}, "band", "NOT_FOR_UNIT"),
            ({"effort_target": 11}, "effort_target", "OUT_OF_LIMITS"),
        ],
    )
    def test_a_slip_is_named_at_its_field(
        self, change: dict[str, Any], field: str, code: str
    ) -> None:
        assert problems_of(replace(repetitions(3, 12), **change)) == [(field, code)]

    def test_only_repetitions_have_a_tempo(self) -> None:
        assert problems_of(replace(timed(1, 60), tempo=(2, 0, 2))) == [("tempo", "NOT_FOR_KIND")]

    @pytest.mark.parametrize("seconds", [4, 3601])
    def test_a_time_has_limits(self, seconds: int) -> None:
        assert problems_of(timed(1, seconds)) == [("duration_seconds", "OUT_OF_LIMITS")]

    @pytest.mark.parametrize("seconds", [0, 601])
    def test_a_hold_has_limits(self, seconds: int) -> None:
        assert problems_of(hold(1, seconds)) == [("hold_seconds", "OUT_OF_LIMITS")]

    def test_the_kind_is_that_of_the_exercise(self) -> None:
        found = check_dose(
            hold(3, 30), allowed_kind=DoseKind.REPETITIONS, side_mode=SideMode.BOTH_TOGETHER
        )
        assert [problem.code for problem in found] == ["WRONG_KIND"]

    def test_outside_the_range_of_the_library_is_a_notice(self) -> None:
        found = check_dose(
            repetitions(5, 12),
            allowed_kind=DoseKind.REPETITIONS,
            side_mode=SideMode.BOTH_TOGETHER,
            dose_range=RANGE,
        )
        assert [(p.field, p.severity, p.is_error) for p in found] == [("sets", "notice", False)]
        assert found[0].message == "The library suggests 1 to 4."

    def test_beyond_a_limit_there_is_no_notice_on_top(self) -> None:
        found = check_dose(
            repetitions(11, 12),
            allowed_kind=DoseKind.REPETITIONS,
            side_mode=SideMode.BOTH_TOGETHER,
            dose_range=RANGE,
        )
        assert [(p.field, p.severity) for p in found] == [("sets", "error")]

    def test_a_load_that_the_library_does_not_name_is_a_notice(self) -> None:
        dose = replace(repetitions(3, 12), load_unit=LoadUnit.BAND, band="FIRM")
        found = check_dose(
            dose,
            allowed_kind=DoseKind.REPETITIONS,
            side_mode=SideMode.BOTH_TOGETHER,
            dose_range=RANGE,
        )
        assert [(p.field, p.severity) for p in found] == [("load_unit", "notice")]

    def test_a_problem_can_be_translated(self) -> None:
        (problem,) = check_dose(
            repetitions(11, 12),
            allowed_kind=DoseKind.REPETITIONS,
            side_mode=SideMode.BOTH_TOGETHER,
        )
        assert problem.message == "Enter a number from 1 to 10."
        assert problem.text(lambda _: "%(low)d bis %(high)d") == "1 bis 10"


class TestSides:
    def test_each_side_in_turn_is_all_left_sets_then_all_right_ones(self) -> None:
        order = [
            (plan.side, plan.number) for plan in planned_sets(repetitions(2, 8, side=Side.BOTH))
        ]
        assert order == [(Side.LEFT, 1), (Side.LEFT, 2), (Side.RIGHT, 1), (Side.RIGHT, 2)]

    def test_an_alternating_set_is_one_set_with_repetitions_on_each_side(self) -> None:
        dose = repetitions(2, 8, side=Side.ALTERNATE)
        assert [plan.side for plan in planned_sets(dose)] == [Side.ALTERNATE] * 2
        assert set_seconds(dose) == 2 * 8 * 4
        assert weekly_dose([dose], 1).repetitions == 32

    def test_an_alternating_time_is_the_time_of_the_set(self) -> None:
        assert set_seconds(timed(1, 60, side=Side.ALTERNATE)) == 60

    @given(doses())
    def test_side_and_number_name_a_set(self, dose: Dose) -> None:
        plans = planned_sets(dose)
        assert len({(plan.side, plan.number) for plan in plans}) == len(plans) == set_count(dose)
        assert Side.BOTH not in {plan.side for plan in plans}


class TestTime:
    def test_rests_lie_between_sets_only(self) -> None:
        assert exercise_seconds(hold(3, 30, rest_seconds=20)) == 3 * 30 + 2 * 20
        assert exercise_seconds(hold(1, 30, rest_seconds=20)) == 30

    def test_a_held_repetition_is_moved_into_and_out_of(self) -> None:
        assert set_seconds(held(1, 8, 5)) == 8 * (5 + 4)

    def test_a_session_is_rounded_up_to_minutes(self) -> None:
        assert session_minutes([]) == 0
        assert session_minutes([timed(1, 60)]) == 1
        assert session_minutes([timed(1, 60), timed(1, 60)]) == 3  # 20 s to change over

    @given(st.lists(doses(), max_size=4))
    def test_a_session_is_never_shorter_than_its_exercises(self, given_doses: list[Dose]) -> None:
        assert session_minutes(given_doses) * 60 >= sum(map(exercise_seconds, given_doses))


class TestTotals:
    @given(doses())
    def test_a_week_of_one_session_is_the_sum_of_the_planned_sets(self, dose: Dose) -> None:
        plans, week = planned_sets(dose), weekly_dose([dose], 1)
        turns = [2 if plan.side is Side.ALTERNATE else 1 for plan in plans]
        counts = [(plan.repetitions or 0) * turn for plan, turn in zip(plans, turns, strict=True)]
        assert week.sets == len(plans)
        assert week.repetitions == sum(counts)
        if dose.kind is DoseKind.HELD_REPETITIONS:
            assert week.hold_seconds == sum(counts) * (dose.hold_seconds or 0)
        assert week.hold_seconds + week.moving_seconds == len(plans) * set_seconds(dose)

    @given(st.lists(doses(), max_size=4), st.sampled_from([0.0, 1.0, 3.5, 14.0]))
    def test_a_week_has_as_many_sets_as_its_sessions(
        self, given_doses: list[Dose], per_week: float
    ) -> None:
        sets = sum(map(set_count, given_doses)) * per_week
        assert abs(weekly_dose(given_doses, per_week).sets - sets) <= 0.5


class TestShare:
    @pytest.mark.parametrize(
        ("plan", "done", "share"),
        [
            (repetitions(1, 12), SetDone(repetitions=9), 0.75),
            (repetitions(1, 12), SetDone(repetitions=20), 1.0),
            (repetitions(1, 12), SetDone(), 0.0),
            (hold(1, 30), SetDone(held_seconds=15), 0.5),
            (timed(1, 60), SetDone(duration_seconds=45), 0.75),
            (held(1, 10, 10), SetDone(repetitions=5, held_seconds=5), 0.25),
            # Holding for longer never makes up for fewer repetitions.
            (held(1, 10, 10), SetDone(repetitions=5, held_seconds=20), 0.5),
            # A hold that was not recorded is taken as prescribed.
            (held(1, 10, 10), SetDone(repetitions=10), 1.0),
            (held(1, 10, 10), SetDone(repetitions=10, held_seconds=0), 0.0),
        ],
    )
    def test_the_share_of_a_set(self, plan: Dose, done: SetDone, share: float) -> None:
        assert set_share(done, planned_sets(plan)[0]) == pytest.approx(share)

    def test_a_missing_set_counts_as_nothing(self) -> None:
        plan = planned_sets(repetitions(4, 10))
        done = [SetDone(10), None, SetDone(5)]
        assert dose_share(plan, done).share == pytest.approx(1.5 / 4)

    def test_overdoing_stands_apart_and_hides_nothing(self) -> None:
        plan = planned_sets(repetitions(2, 10))
        result = dose_share(plan, [SetDone(30), None])
        assert (result.share, result.over) == (0.5, 1.0)

    def test_extra_sets_are_over(self) -> None:
        plan = planned_sets(repetitions(2, 10))
        result = dose_share(plan, [SetDone(10), SetDone(10), SetDone(10)])
        assert (result.share, result.over) == (1.0, 0.5)

    def test_nothing_planned_has_no_share(self) -> None:
        assert dose_share((), ()).share == 0.0

    AMOUNT = st.none() | st.integers(0, 400)
    DONE = st.none() | st.builds(SetDone, AMOUNT, AMOUNT, AMOUNT)

    @given(doses(), st.lists(DONE, max_size=12))
    def test_a_share_lies_between_none_and_all(
        self, dose: Dose, done: list[SetDone | None]
    ) -> None:
        result = dose_share(planned_sets(dose), done)
        assert 0.0 <= result.share <= 1.0
        assert result.over >= 0.0

    @given(doses(), st.lists(DONE, min_size=1, max_size=12), st.data())
    def test_doing_more_never_lowers_the_share(
        self, dose: Dose, done: list[SetDone | None], data: st.DataObject
    ) -> None:
        plan = planned_sets(dose)
        index = data.draw(st.integers(0, len(done) - 1))
        before = done[index] or SetDone()
        extra = data.draw(st.integers(0, 50))
        # A hold that was recorded or not stays so: only the amount grows.
        after = SetDone(
            (before.repetitions or 0) + extra,
            before.held_seconds if before.held_seconds is None else before.held_seconds + extra,
            (before.duration_seconds or 0) + extra,
        )
        more = [*done[:index], after, *done[index + 1 :]]
        old, new = dose_share(plan, done), dose_share(plan, more)
        assert new.share >= old.share
        assert new.over >= old.over

    @given(doses())
    def test_the_whole_dose_is_a_share_of_one(self, dose: Dose) -> None:
        def as_planned(plan: SetPlan) -> SetDone:
            return SetDone(plan.repetitions, plan.hold_seconds, plan.duration_seconds)

        plan = planned_sets(dose)
        result = dose_share(plan, [as_planned(one) for one in plan])
        assert (result.share, result.over) == (1.0, 0.0)
