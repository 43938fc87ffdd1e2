"""Matching what was entered with what was due, and the strip of days."""

from collections import Counter
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adherence.rules.matching import (
    DayState,
    DoneSession,
    day_states,
    dose_shares,
    match_sessions,
)
from programs.rules.schedule import (
    DueSession,
    Pattern,
    Pause,
    RevisionSpan,
    Schedule,
    due_sessions,
)
from shared.dates import DateWindow, week_start

MONDAY = date(2026, 1, 5)
LATER = MONDAY + timedelta(days=60)


def day(offset):
    return MONDAY + timedelta(days=offset)


def fixed(offset, slot=1):
    return DueSession(day(offset), slot, "r1", flexible=False, week=None)


def quota(offset):
    return DueSession(day(offset), 1, "r1", flexible=True, week=week_start(day(offset)))


def entered(offset, slot=1, status="COMPLETED", share=1.0, reason=""):
    return DoneSession(day(offset), slot, status, share, entered_later=False, reason=reason)


def not_done(offset, reason="NO_TIME", slot=1):
    return entered(offset, slot, "NOT_DONE", None, reason)


def states(matched):
    return [outcome.state for outcome in matched.outcomes]


class TestFixedDays:
    def test_a_session_on_its_day_is_done_and_a_past_day_without_one_has_no_entry(self):
        matched = match_sessions([fixed(0), fixed(1)], [entered(0)], today=day(2))
        assert states(matched) == [DayState.DONE, DayState.NO_ENTRY]

    def test_what_is_due_today_stays_open_until_the_day_is_over(self):
        assert states(match_sessions([fixed(0)], [], today=day(0))) == [DayState.OPEN]
        assert states(match_sessions([fixed(0)], [], today=day(1))) == [DayState.NO_ENTRY]

    def test_a_double_session_never_repays_a_missed_day(self):
        matched = match_sessions([fixed(0), fixed(1)], [entered(1, 1), entered(1, 2)], today=day(2))
        assert states(matched) == [DayState.NO_ENTRY, DayState.DONE]
        assert len(matched.extras) == 1

    def test_slots_match_in_any_order(self):
        matched = match_sessions([fixed(0, 1), fixed(0, 2)], [entered(0, 7)], today=day(1))
        assert states(matched) == [DayState.DONE, DayState.NO_ENTRY]

    def test_an_entry_goes_to_its_own_slot_first(self):
        matched = match_sessions([fixed(0, 1), fixed(0, 2)], [entered(0, 2)], today=day(1))
        assert states(matched) == [DayState.NO_ENTRY, DayState.DONE]

    def test_a_session_done_after_all_outranks_the_reason_given_before(self):
        matched = match_sessions([fixed(0)], [not_done(0), entered(0, 2)], today=day(0))
        assert states(matched) == [DayState.DONE]
        assert [session.status for session in matched.unused] == ["NOT_DONE"]
        assert matched.extras == ()

    def test_a_reason_closes_the_session_at_once(self):
        matched = match_sessions([fixed(0)], [not_done(0, "FORGOT")], today=day(0))
        assert states(matched) == [DayState.NOT_DONE]
        assert matched.outcomes[0].session.reason == "FORGOT"

    def test_work_on_a_day_without_a_due_session_is_extra(self):
        matched = match_sessions([fixed(0)], [entered(3)], today=day(4))
        assert [session.local_date for session in matched.extras] == [day(3)]

    @pytest.mark.parametrize(
        ("status", "share", "state"),
        [
            ("COMPLETED", 1.0, DayState.DONE),
            ("COMPLETED", 0.8, DayState.DONE),
            ("STOPPED", 0.8, DayState.DONE),
            ("COMPLETED", 0.79, DayState.PARTLY),
            ("STOPPED", 0.05, DayState.PARTLY),
            ("STOPPED", 0.0, DayState.NOT_DONE),
            ("COMPLETED", None, DayState.DONE),
            ("STOPPED", None, DayState.PARTLY),
            ("NOT_DONE", None, DayState.NOT_DONE),
        ],
    )
    def test_the_state_follows_from_the_dose_done(self, status, share, state):
        matched = match_sessions([fixed(0)], [entered(0, 1, status, share)], today=day(1))
        assert states(matched) == [state]


class TestWeeklyQuota:
    WEEK = (quota(4), quota(5), quota(6))

    def test_any_day_of_the_week_counts_once(self):
        matched = match_sessions(self.WEEK, [entered(0), entered(2), entered(2, 2)], today=day(7))
        assert states(matched) == [DayState.DONE, DayState.DONE, DayState.NO_ENTRY]
        assert len(matched.extras) == 1

    def test_the_week_before_cannot_be_repaid(self):
        matched = match_sessions(self.WEEK, [entered(7), entered(8), entered(9)], today=day(14))
        assert states(matched) == [DayState.NO_ENTRY] * 3
        assert len(matched.extras) == 3

    def test_a_missed_deadline_stays_where_it_was_missed(self):
        matched = match_sessions(self.WEEK, [entered(5), entered(6)], today=day(7))
        assert states(matched) == [DayState.NO_ENTRY, DayState.DONE, DayState.DONE]

    def test_deadlines_still_ahead_are_open(self):
        matched = match_sessions(self.WEEK, [entered(1)], today=day(5))
        assert states(matched) == [DayState.DONE, DayState.OPEN, DayState.OPEN]

    def test_a_reason_closes_nothing_while_the_quota_can_still_be_met(self):
        matched = match_sessions(self.WEEK, [not_done(1)], today=day(2))
        assert states(matched) == [DayState.OPEN] * 3
        matched = match_sessions(self.WEEK, [not_done(1)], today=day(5))
        assert states(matched) == [DayState.NOT_DONE, DayState.OPEN, DayState.OPEN]

    def test_a_session_after_the_last_deadline_of_its_week_still_counts(self):
        """A pause can end the available days early; what was done in that week was done."""
        matched = match_sessions([quota(1), quota(2)], [entered(5)], today=day(7))
        assert states(matched) == [DayState.DONE, DayState.NO_ENTRY]


class TestStrip:
    def strip(self, due, done, today, pauses=(), days=7):
        matched = match_sessions(due, done, today=today)
        return day_states(DateWindow(MONDAY, day(days)), matched, pauses)

    def test_one_cell_a_day_in_order(self):
        cells = self.strip(
            [fixed(0), fixed(1), fixed(2), fixed(6)],
            [entered(0), entered(1, share=0.5), not_done(2), entered(4)],
            today=day(6),
            pauses=[Pause(day(5), day(6))],
        )
        assert [cell.state for cell in cells] == [
            DayState.DONE,
            DayState.PARTLY,
            DayState.NOT_DONE,
            DayState.NOT_DUE,
            DayState.EXTRA,
            DayState.PAUSED,
            DayState.OPEN,
        ]
        assert [cell.date for cell in cells] == [day(offset) for offset in range(7)]
        assert cells[1].share == 0.5

    def test_a_day_of_two_sessions(self):
        due, done = [fixed(0, 1), fixed(0, 2)], [entered(0, 1)]
        assert self.strip(due, done, day(0))[0].state == DayState.OPEN
        cell = self.strip(due, done, day(1))[0]
        assert (cell.state, cell.due, cell.done, cell.share) == (DayState.PARTLY, 2, 1, 0.5)

    def test_a_quota_session_stands_where_it_was_done_or_at_its_deadline(self):
        cells = self.strip(TestWeeklyQuota.WEEK, [entered(1)], today=day(7))
        assert [cell.state for cell in cells] == [
            DayState.NOT_DUE,
            DayState.DONE,
            DayState.NOT_DUE,
            DayState.NOT_DUE,
            DayState.NOT_DUE,
            DayState.NO_ENTRY,
            DayState.NO_ENTRY,
        ]

    def test_a_pause_without_an_end_goes_on(self):
        cells = self.strip([], [], today=day(3), pauses=[Pause(day(2))])
        assert [cell.state for cell in cells[2:]] == [DayState.PAUSED] * 5


SCHEDULES = st.one_of(
    st.builds(
        Schedule,
        pattern=st.just(Pattern.DAILY),
        starts_on=st.just(MONDAY),
        times_per_day=st.integers(1, 3),
    ),
    st.builds(
        Schedule,
        pattern=st.just(Pattern.WEEKDAYS),
        starts_on=st.just(MONDAY),
        times_per_day=st.integers(1, 2),
        weekdays=st.frozensets(st.integers(0, 6), min_size=1),
    ),
    st.builds(
        Schedule,
        pattern=st.just(Pattern.WEEKLY_QUOTA),
        starts_on=st.just(MONDAY),
        weekly_quota=st.integers(1, 7),
    ),
)
SESSIONS = st.lists(
    st.builds(
        DoneSession,
        local_date=st.integers(-2, 30).map(day),
        slot=st.integers(1, 3),
        status=st.sampled_from(["COMPLETED", "STOPPED", "NOT_DONE"]),
        share=st.one_of(st.none(), st.floats(0, 1)),
        entered_later=st.booleans(),
        reason=st.just(""),
    ),
    max_size=40,
)


@given(
    first=SCHEDULES,
    second=SCHEDULES,
    change=st.integers(0, 28),
    done=SESSIONS,
    pause=st.integers(0, 28),
    today=st.integers(0, 35),
)
def test_no_session_is_ever_counted_twice(first, second, change, done, pause, today):
    spans = [
        RevisionSpan("r1", first, MONDAY, day(change)),
        RevisionSpan("r2", second, day(change)),
    ]
    due = due_sessions(spans, [Pause(day(pause), day(pause + 4))], DateWindow(MONDAY, day(28)))
    matched = match_sessions(due, done, today=day(today))
    used = [outcome.session for outcome in matched.outcomes if outcome.session is not None]
    places = Counter(id(one) for one in [*used, *matched.extras, *matched.unused])
    assert places == Counter(id(one) for one in done)
    assert tuple(outcome.due for outcome in matched.outcomes) == due
    for outcome in matched.outcomes:
        if outcome.session is None:
            past = outcome.due.due_on < day(today)
            assert outcome.state == (DayState.NO_ENTRY if past else DayState.OPEN)
        elif outcome.due.flexible:
            assert week_start(outcome.session.local_date) == outcome.due.week
        else:
            assert outcome.session.local_date == outcome.due.due_on
    assert all(0 <= share <= 1 for share in dose_shares(matched.outcomes))
    cells = day_states(DateWindow(MONDAY, day(28)), matched)
    assert sum(cell.due for cell in cells) == len(due)
    assert sum(cell.done for cell in cells) == sum(o.is_performed for o in matched.outcomes)


@given(schedule=SCHEDULES, done=SESSIONS)
def test_one_more_session_never_makes_less_done(schedule, done):
    due = due_sessions([RevisionSpan("r1", schedule, MONDAY)], [], DateWindow(MONDAY, day(28)))
    counts = [
        sum(o.is_performed for o in match_sessions(due, done[:n], today=LATER).outcomes)
        for n in range(len(done) + 1)
    ]
    assert counts == sorted(counts)
