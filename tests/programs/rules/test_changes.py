"""What differs between two revisions, in words."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from programs.rules.changes import Change, ChangeKind, Plan, PlannedItem, plan_changes
from programs.rules.dose import LoadUnit, Side
from programs.rules.schedule import Pattern, Schedule
from tests.programs.rules.doses import hold, repetitions

DAILY = Schedule(Pattern.DAILY, starts_on=date(2026, 3, 2))
RAISE = PlannedItem("raise", "Heel raise", repetitions(3, 10))
STRETCH = PlannedItem("stretch", "Calf stretch", hold(2, 30))


def plan(*items: PlannedItem, schedule: Schedule = DAILY, limit: int = 5, on: bool = False) -> Plan:
    return Plan(items, schedule, limit, on)


def test_the_same_plan_has_not_changed() -> None:
    assert plan_changes(plan(RAISE, STRETCH), plan(RAISE, STRETCH)) == ()


def test_a_new_exercise_comes_with_its_dose() -> None:
    assert plan_changes(plan(RAISE), plan(RAISE, STRETCH)) == (
        Change(ChangeKind.ADDED, "Calf stretch", "2 holds of 30 seconds"),
    )


def test_an_exercise_that_was_taken_out_says_what_it_was() -> None:
    assert plan_changes(plan(RAISE, STRETCH), plan(RAISE)) == (
        Change(ChangeKind.REMOVED, "Calf stretch", "", "2 holds of 30 seconds"),
    )


def test_only_the_parts_of_a_dose_that_differ_are_said() -> None:
    more = replace(RAISE, dose=replace(RAISE.dose, sets=4, rest_seconds=60))
    assert plan_changes(plan(RAISE), plan(more)) == (
        Change(
            ChangeKind.DOSE,
            "Heel raise",
            "4 sets of 10, rest 1 minute",
            "3 sets of 10, rest 30 seconds",
        ),
    )


def test_a_load_that_was_not_there_says_so() -> None:
    loaded = replace(RAISE.dose, load_unit=LoadUnit.KG, load_value=Decimal("2.50"))
    (change,) = plan_changes(plan(RAISE), plan(replace(RAISE, dose=loaded)))
    assert (change.now, change.was) == ("with 2.5 kg", "without a load")


def test_a_side_is_said_too() -> None:
    left = replace(RAISE, dose=replace(RAISE.dose, side=Side.LEFT))
    each = replace(RAISE, dose=replace(RAISE.dose, side=Side.BOTH))
    (change,) = plan_changes(plan(left), plan(each))
    assert (change.now, change.was) == ("each side", "left side")


def test_a_note_is_said_with_the_one_before() -> None:
    told = replace(RAISE, note="Hold on.")
    assert plan_changes(plan(told), plan(RAISE)) == (
        Change(ChangeKind.NOTE, "Heel raise", "", "Hold on."),
    )


def test_another_order_is_one_change() -> None:
    assert plan_changes(plan(RAISE, STRETCH), plan(STRETCH, RAISE)) == (
        Change(
            ChangeKind.ORDER,
            "Order",
            "Calf stretch, Heel raise",
            "Heel raise, Calf stretch",
        ),
    )


def test_what_is_added_in_between_changes_no_order() -> None:
    third = PlannedItem("bridge", "Bridge", hold(1, 20))
    kinds = [
        change.kind for change in plan_changes(plan(RAISE, STRETCH), plan(RAISE, third, STRETCH))
    ]
    assert kinds == [ChangeKind.ADDED]


def test_an_exercise_that_stands_twice_is_compared_in_order() -> None:
    left = replace(RAISE, dose=replace(RAISE.dose, side=Side.LEFT))
    right = replace(RAISE, dose=replace(RAISE.dose, side=Side.RIGHT))
    more = replace(right, dose=replace(right.dose, sets=4))
    (change,) = plan_changes(plan(left, right), plan(left, more))
    assert (change.now, change.was) == ("4 sets of 10", "3 sets of 10")


def test_schedule_last_day_and_limits() -> None:
    before = plan(RAISE)
    after = plan(
        RAISE,
        schedule=Schedule(
            Pattern.WEEKDAYS,
            starts_on=date(2026, 4, 1),
            weekdays=frozenset({0, 4}),
            ends_on=date(2026, 5, 1),
        ),
        limit=3,
        on=True,
    )
    assert [(c.kind, c.now, c.was) for c in plan_changes(before, after)] == [
        (ChangeKind.SCHEDULE, "Monday and Friday", "once a day"),
        (ChangeKind.LAST_DAY, "2026-05-01", "no last day"),
        (ChangeKind.PAIN_LIMIT, "3", "5"),
        (ChangeKind.SHARP_PAIN, "the other exercises go on", "the session ends"),
    ]


def test_a_later_first_day_alone_is_no_change() -> None:
    later = replace(DAILY, starts_on=date(2026, 6, 1))
    assert plan_changes(plan(RAISE), plan(RAISE, schedule=later)) == ()


items = st.lists(
    st.builds(
        PlannedItem,
        key=st.sampled_from("abcd"),
        name=st.just("One"),
        dose=st.builds(repetitions, st.integers(1, 4), st.integers(5, 8)),
        note=st.sampled_from(["", "slowly"]),
    ),
    max_size=5,
).map(tuple)


@given(items, items)
def test_there_is_a_change_exactly_where_something_differs(
    before: tuple[PlannedItem, ...], after: tuple[PlannedItem, ...]
) -> None:
    assert plan_changes(plan(*before), plan(*before)) == ()
    assert bool(plan_changes(plan(*before), plan(*after))) == (before != after)
