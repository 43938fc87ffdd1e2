"""Due days across patterns, revisions, pauses and the end of a program."""

from __future__ import annotations

import time
from collections import Counter
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from programs.rules.schedule import (
    DueSession,
    Pattern,
    Pause,
    RevisionSpan,
    Schedule,
    TodayKind,
    TodayState,
    due_sessions,
    is_due_today,
    today_state,
)
from shared.dates import DateWindow, local_date, week_start
from tests.programs.rules.schedules import (
    DAILY,
    MONDAY,
    OFFSETS,
    QUOTA,
    History,
    histories,
    plus,
    span,
)


def due_days(schedule: Schedule, *pauses: Pause, days: int = 14, **more: Any) -> list[date]:
    window = DateWindow(MONDAY, plus(days))
    return [due.due_on for due in due_sessions([span(schedule)], pauses, window, **more)]


HISTORY = histories()
WINDOW = DateWindow(plus(-14), plus(120))


def due_of(history: History, window: DateWindow = WINDOW) -> tuple[DueSession, ...]:
    spans, pauses, completed_on = history
    return due_sessions(spans, pauses, window, completed_on=completed_on)


class TestPatterns:
    def test_daily_names_every_slot_of_every_day(self) -> None:
        due = due_sessions([span(replace(DAILY, times_per_day=2))], [], DateWindow(MONDAY, plus(2)))
        assert [(one.due_on, one.slot) for one in due] == [
            (MONDAY, 1),
            (MONDAY, 2),
            (plus(1), 1),
            (plus(1), 2),
        ]
        assert {(one.revision_id, one.flexible, one.week) for one in due} == {("r1", False, None)}

    def test_every_second_day_counts_from_the_start_of_the_schedule(self) -> None:
        schedule = Schedule(Pattern.EVERY_N_DAYS, MONDAY, every_days=2)
        late = DateWindow(plus(3), plus(8))
        assert [due.due_on for due in due_sessions([span(schedule)], [], late)] == [
            plus(4),
            plus(6),
        ]

    def test_the_last_day_of_a_schedule_is_included(self) -> None:
        assert due_days(replace(DAILY, ends_on=plus(2))) == [MONDAY, plus(1), plus(2)]

    def test_a_quota_is_due_on_the_last_days_that_can_still_meet_it(self) -> None:
        due = due_sessions([span(QUOTA)], [], DateWindow(MONDAY, plus(7)))
        assert [one.due_on for one in due] == [plus(4), plus(5), plus(6)]
        assert all(one.flexible and one.week == MONDAY and one.slot == 1 for one in due)

    @pytest.mark.parametrize(
        ("start", "due"), [(0, 3), (1, 3), (2, 2), (3, 2), (4, 1), (5, 1), (6, 0)]
    )
    def test_a_quota_shrinks_with_the_days_of_its_first_week(self, start: int, due: int) -> None:
        """3 x days / 7, rounded half up: 3, 2.57, 2.14, 1.71, 1.29, 0.86, 0.43."""
        schedule = replace(QUOTA, starts_on=plus(start))
        assert len(due_days(schedule, days=7)) == due

    def test_a_paused_week_loses_its_share_of_the_quota(self) -> None:
        """Three days are left: 1.29 sessions, one of them due, on the last available day."""
        assert due_days(QUOTA, Pause(plus(2), plus(6)), days=7) == [plus(6)]

    def test_nothing_is_due_from_completion_on(self) -> None:
        assert due_days(DAILY, completed_on=plus(2)) == [MONDAY, plus(1)]
        assert due_days(QUOTA, days=7, completed_on=plus(3)) == [plus(2)]

    def test_a_pause_does_not_shift_the_days_after_it(self) -> None:
        schedule = Schedule(Pattern.EVERY_N_DAYS, MONDAY, every_days=3)
        assert due_days(schedule, Pause(plus(2), plus(5)), days=10) == [MONDAY, plus(6), plus(9)]


class TestRevisions:
    def test_a_day_belongs_to_the_revision_in_force(self) -> None:
        first = RevisionSpan("r1", DAILY, MONDAY, plus(2))
        second = RevisionSpan("r2", replace(DAILY, times_per_day=2), plus(2))
        due = due_sessions([second, first], [], DateWindow(MONDAY, plus(4)))
        assert [one.revision_id for one in due] == ["r1", "r1", "r2", "r2", "r2", "r2"]

    def test_a_revision_that_was_replaced_on_the_same_day_makes_nothing_due(self) -> None:
        spans = [
            RevisionSpan("r1", DAILY, MONDAY, MONDAY),
            RevisionSpan("r2", DAILY, MONDAY),
        ]
        for order in (spans, spans[::-1]):
            due = due_sessions(order, [], DateWindow(MONDAY, plus(1)))
            assert [one.revision_id for one in due] == ["r2"]

    @pytest.mark.parametrize("end", [None, 3])
    def test_overlapping_revisions_are_refused(self, end: int | None) -> None:
        spans = [
            RevisionSpan("r1", DAILY, MONDAY, None if end is None else plus(end)),
            RevisionSpan("r2", DAILY, plus(2)),
        ]
        with pytest.raises(ValueError, match="overlap"):
            due_sessions(spans, [], DateWindow(MONDAY, plus(7)))

    def test_a_revision_cannot_end_before_it_starts(self) -> None:
        with pytest.raises(ValueError, match="ends before"):
            due_sessions([span(DAILY, plus(2), MONDAY)], [], DateWindow(MONDAY, plus(7)))

    @given(HISTORY)
    def test_every_due_day_lies_in_exactly_one_revision(self, history: History) -> None:
        spans = history[0]
        for due in due_of(history):
            holding = [
                one.revision_id
                for one in spans
                if one.effective_from <= due.due_on
                and (one.effective_until is None or due.due_on < one.effective_until)
            ]
            assert holding == [due.revision_id]

    @given(HISTORY)
    def test_no_session_is_due_twice_and_all_stand_in_order(self, history: History) -> None:
        keys = [(due.due_on, due.slot) for due in due_of(history)]
        assert keys == sorted(set(keys))


class TestWindows:
    @given(HISTORY, st.integers(-20, 120), st.integers(0, 60))
    def test_the_answer_for_a_day_does_not_depend_on_the_window(
        self, history: History, start: int, days: int
    ) -> None:
        window = DateWindow(plus(start), plus(start + days))
        inside = tuple(due for due in due_of(history, DateWindow(plus(-40), plus(200)))
                       if due.due_on in window)  # fmt: skip
        assert due_of(history, window) == inside


class TestPauses:
    @given(HISTORY, OFFSETS, st.none() | st.integers(1, 30))
    def test_a_pause_removes_and_never_adds(
        self, history: History, start: int, days: int | None
    ) -> None:
        spans, pauses, completed_on = history
        pause = Pause(plus(start), None if days is None else plus(start + days))
        before, after = due_of(history), due_of((spans, [*pauses, pause], completed_on))
        fixed = {due for due in before if not due.flexible}
        assert {due for due in after if not due.flexible} <= fixed
        assert len(after) <= len(before)

        def per_week(due: tuple[DueSession, ...]) -> Counter[Any]:
            return Counter((one.revision_id, one.week) for one in due if one.flexible)

        assert per_week(after) <= per_week(before)
        closed = range(start, 1000 if days is None else start + days)
        assert not any((due.due_on - MONDAY).days in closed for due in after)

    @given(HISTORY, OFFSETS)
    def test_completion_removes_and_never_adds(self, history: History, end: int) -> None:
        spans, pauses, _ = history
        before, after = due_of((spans, pauses, None)), due_of((spans, pauses, plus(end)))
        assert all(due.due_on < plus(end) for due in after)
        assert len(after) <= len(before)

    def test_pauses_that_overlap_or_touch_are_one_pause(self) -> None:
        pauses = [Pause(plus(3), plus(6)), Pause(plus(1), plus(4)), Pause(plus(6), plus(7))]
        assert due_days(DAILY, *pauses, days=9) == [MONDAY, plus(7), plus(8)]


class TestQuota:
    @given(HISTORY)
    def test_there_are_never_more_deadlines_than_available_days(self, history: History) -> None:
        spans, pauses, completed_on = history
        by_id = {one.revision_id: one for one in spans}
        counts: dict[tuple[Any, date], list[date]] = {}
        for due in due_of(history, DateWindow(plus(-42), plus(203))):  # whole weeks
            if due.flexible:
                assert due.week == week_start(due.due_on)
                counts.setdefault((due.revision_id, due.week), []).append(due.due_on)
        for (revision_id, week), deadlines in counts.items():
            one = by_id[revision_id]
            available = [
                day
                for day in DateWindow(week, week + timedelta(days=7)).days()
                if one.effective_from <= day
                and (one.effective_until is None or day < one.effective_until)
                and one.schedule.starts_on <= day
                and (one.schedule.ends_on is None or day <= one.schedule.ends_on)
                and (completed_on is None or day < completed_on)
                and not any(
                    pause.starts_on <= day and (pause.ends_on is None or day < pause.ends_on)
                    for pause in pauses
                )
            ]
            quota = one.schedule.weekly_quota or 0
            assert deadlines == available[-len(deadlines) :]
            assert len(deadlines) == min(len(available), int(quota * len(available) / 7 + 0.5))

    @given(st.integers(1, 7), st.integers(1, 6))
    def test_a_revision_in_the_middle_of_a_week_keeps_the_quota_whole(
        self, quota: int, cut: int
    ) -> None:
        schedule = replace(QUOTA, weekly_quota=quota)
        spans = [
            RevisionSpan("r1", schedule, MONDAY, plus(cut)),
            RevisionSpan("r2", schedule, plus(cut)),
        ]
        assert len(due_sessions(spans, [], DateWindow(MONDAY, plus(7)))) == quota


class TestZones:
    @given(
        HISTORY,
        st.sampled_from(["Pacific/Auckland", "Europe/London", "America/Los_Angeles"]),
        st.sampled_from(["Pacific/Auckland", "Europe/London", "America/Los_Angeles"]),
        st.integers(0, 3 * 24 * 60),
    )
    def test_a_move_to_another_zone_does_not_double_a_session(
        self, history: History, old: str, new: str, minute: int
    ) -> None:
        """Asked every few hours on the local date, a session is one and the same by date and slot.

        A move to the west repeats part of a date; the zone is no part of what is due on it.
        """
        moved_at = datetime(2026, 1, 10, tzinfo=UTC) + timedelta(minutes=minute)
        instants = [datetime(2026, 1, 8, tzinfo=UTC) + timedelta(hours=6 * n) for n in range(48)]
        days = [local_date(at, old if at < moved_at else new) for at in instants]
        asked = {day: due_of(history, DateWindow.trailing(day, 1)) for day in days}
        seen = [due for day in sorted(asked) for due in asked[day]]
        whole = due_of(history, DateWindow(min(days), max(days) + timedelta(days=1)))
        assert seen == [due for due in whole if due.due_on in asked]
        assert len({(due.due_on, due.slot) for due in seen}) == len(seen)


class TestToday:
    def state(self, schedule: Schedule, today: date, *pauses: Pause, **more: Any) -> TodayState:
        return today_state([span(schedule)], pauses, today, **more)

    def test_before_the_first_day(self) -> None:
        state = self.state(replace(DAILY, starts_on=plus(3)), plus(1))
        assert state.kind is TodayKind.NOT_STARTED
        assert state.starts_on == state.next_due_on == plus(3)

    def test_a_day_with_sessions(self) -> None:
        state = self.state(replace(DAILY, times_per_day=2), plus(1))
        assert (state.kind, state.slots, state.next_due_on) == (TodayKind.DUE, (1, 2), plus(2))

    def test_a_day_between_due_days(self) -> None:
        schedule = Schedule(Pattern.WEEKDAYS, MONDAY, weekdays=frozenset({0, 4}))
        state = self.state(schedule, plus(1))
        assert (state.kind, state.next_due_on) == (TodayKind.NOTHING_DUE, plus(4))

    def test_a_quota_can_be_met_on_any_day(self) -> None:
        state = self.state(QUOTA, plus(1))
        assert (state.kind, state.quota, state.week) == (TodayKind.ANY_DAY, 3, MONDAY)
        assert state.next_due_on == plus(2)

    def test_a_week_too_short_for_its_quota_asks_nothing(self) -> None:
        state = self.state(replace(QUOTA, starts_on=plus(6)), plus(6))
        assert (state.kind, state.next_due_on) == (TodayKind.NOTHING_DUE, plus(7))

    def test_a_pause_says_until_when(self) -> None:
        state = self.state(DAILY, plus(2), Pause(plus(1), plus(5)))
        assert (state.kind, state.paused_until, state.next_due_on) == (
            TodayKind.PAUSED,
            plus(5),
            plus(5),
        )

    def test_the_first_day_after_a_pause_is_not_paused(self) -> None:
        pause = Pause(plus(1), plus(5))
        kinds = [self.state(DAILY, plus(day), pause).kind for day in range(7)]
        due, paused = TodayKind.DUE, TodayKind.PAUSED
        assert kinds == [due, paused, paused, paused, paused, due, due]

    def test_an_open_pause_has_no_end(self) -> None:
        state = self.state(DAILY, plus(2), Pause(plus(1)))
        assert (state.kind, state.paused_until, state.next_due_on) == (TodayKind.PAUSED, None, None)

    def test_an_ended_program(self) -> None:
        assert self.state(replace(DAILY, ends_on=plus(3)), plus(3)).kind is TodayKind.DUE
        assert self.state(replace(DAILY, ends_on=plus(3)), plus(4)).kind is TodayKind.ENDED
        assert self.state(DAILY, plus(4), completed_on=plus(4)).kind is TodayKind.ENDED

    def test_between_two_revisions_the_program_has_started(self) -> None:
        spans = [
            RevisionSpan("r1", DAILY, MONDAY, plus(2)),
            RevisionSpan("r2", replace(DAILY, starts_on=plus(5)), plus(2)),
        ]
        state = today_state(spans, [], plus(3))
        assert (state.kind, state.next_due_on) == (TodayKind.NOTHING_DUE, plus(5))

    def test_a_revision_that_never_came_to_a_day_has_not_started_the_program(self) -> None:
        spans = [
            RevisionSpan("r1", replace(DAILY, starts_on=plus(2)), MONDAY, plus(2)),
            RevisionSpan("r2", replace(DAILY, starts_on=plus(5)), plus(2)),
        ]
        state = today_state(spans, [], plus(3))
        assert (state.kind, state.starts_on) == (TodayKind.NOT_STARTED, plus(5))

    @given(HISTORY, OFFSETS)
    def test_today_agrees_with_the_due_sessions(self, history: History, offset: int) -> None:
        spans, pauses, completed_on = history
        today = plus(offset)
        state = today_state(spans, pauses, today, completed_on)
        fixed = [due for due in due_of(history, DateWindow.trailing(today, 1)) if not due.flexible]
        assert (state.kind is TodayKind.DUE) == bool(fixed)
        if fixed:
            assert state.slots == tuple(due.slot for due in fixed)
        assert is_due_today(spans, pauses, today, completed_on) == (
            state.kind in (TodayKind.DUE, TodayKind.ANY_DAY)
        )
        later = due_of(history, DateWindow(today + timedelta(days=1), plus(400)))
        if state.kind is TodayKind.ENDED:
            assert not later
        assert (state.next_due_on is None) == (not later)
        if state.next_due_on is not None:
            assert today < state.next_due_on <= later[0].due_on
            if not later[0].flexible:
                assert state.next_due_on == later[0].due_on


class TestSpeed:
    @pytest.mark.parametrize("schedule", [replace(DAILY, times_per_day=3), QUOTA])
    def test_two_years_take_under_five_milliseconds(self, schedule: Schedule) -> None:
        """A caseload asks this for 250 patients. The best of several runs: the rest is noise."""
        window = DateWindow(MONDAY, plus(730))
        pauses = [Pause(plus(100), plus(120)), Pause(plus(400), plus(410))]

        def once() -> float:
            start = time.process_time()
            due_sessions([span(schedule)], pauses, window)
            return time.process_time() - start

        assert min(once() for _ in range(10)) < 0.005
