"""Due days against the recurrence examples of RFC 5545, section 3.8.5.3, and against dateutil.

The lists were expanded with python-dateutil, whose manual carries the RFC's examples; the lists as
printed in the RFC are from memory. Not here: INTERVAL=2 with several weekdays and monthly rules,
which no pattern of ours says, and the weekly quota, which no recurrence rule says.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from dateutil.rrule import rrulestr
from hypothesis import assume, given
from hypothesis import strategies as st

from programs.rules.schedule import (
    Pattern,
    RevisionSpan,
    Schedule,
    due_sessions,
    first_due_on,
    to_rrule,
)
from shared.dates import DateWindow, resolve_wall_time

START = date(1997, 9, 2)  # a Tuesday; DTSTART of the RFC's examples, 09:00 in New York


def due_days(schedule: Schedule, until: date) -> list[date]:
    window = DateWindow(schedule.starts_on, until)
    due = due_sessions([RevisionSpan("r", schedule, schedule.starts_on)], [], window)
    return [session.due_on for session in due]


def expand(rule: str, start: date) -> list[date]:
    """Expand a rule with dateutil at 09:00, the zone left out (UNTIL without its Z)."""
    naive = rule.replace("Z", "")
    return [day.date() for day in rrulestr(naive, dtstart=datetime.combine(start, time(9)))]


def days(year: int, text: str) -> list[date]:
    return [datetime.strptime(f"{year} {part}", "%Y %b %d").date() for part in text.split(", ")]


def daily(start: date, end: date | None = None) -> Schedule:
    return Schedule(Pattern.DAILY, start, ends_on=end)


def weekly(start: date, *weekdays: int, end: date | None = None) -> Schedule:
    return Schedule(Pattern.WEEKDAYS, start, weekdays=frozenset(weekdays), ends_on=end)


ROWS = [
    pytest.param(
        "FREQ=DAILY;COUNT=10",
        daily(START, date(1997, 9, 11)),
        days(1997, "Sep 2, Sep 3, Sep 4, Sep 5, Sep 6, Sep 7, Sep 8, Sep 9, Sep 10, Sep 11"),
        id="daily for 10 occurrences",
    ),
    pytest.param(
        "FREQ=WEEKLY;COUNT=10",
        weekly(START, 1, end=date(1997, 11, 4)),
        days(1997, "Sep 2, Sep 9, Sep 16, Sep 23, Sep 30, Oct 7, Oct 14, Oct 21, Oct 28, Nov 4"),
        id="weekly for 10 occurrences",
    ),
    pytest.param(
        "FREQ=WEEKLY;COUNT=10",
        Schedule(Pattern.EVERY_N_DAYS, START, every_days=7, ends_on=date(1997, 11, 4)),
        days(1997, "Sep 2, Sep 9, Sep 16, Sep 23, Sep 30, Oct 7, Oct 14, Oct 21, Oct 28, Nov 4"),
        id="weekly as every 7 days",
    ),
    pytest.param(
        "FREQ=WEEKLY;UNTIL=19971007T000000Z;WKST=SU;BYDAY=TU,TH",
        weekly(START, 1, 3, end=date(1997, 10, 6)),
        days(1997, "Sep 2, Sep 4, Sep 9, Sep 11, Sep 16, Sep 18, Sep 23, Sep 25, Sep 30, Oct 2"),
        id="Tuesday and Thursday for five weeks",
    ),
    pytest.param(  # our own row, expanded with dateutil
        "FREQ=WEEKLY;BYDAY=MO,WE,FR;COUNT=9",
        weekly(date(2026, 1, 5), 0, 2, 4, end=date(2026, 1, 23)),
        days(2026, "Jan 5, Jan 7, Jan 9, Jan 12, Jan 14, Jan 16, Jan 19, Jan 21, Jan 23"),
        id="Monday, Wednesday, Friday nine times",
    ),
]


@pytest.mark.parametrize(("rule", "schedule", "expected"), ROWS)
def test_the_due_days_are_those_of_the_example(
    rule: str, schedule: Schedule, expected: list[date]
) -> None:
    assert due_days(schedule, date(2027, 1, 1)) == expected
    assert expand(rule, schedule.starts_on) == expected


def test_daily_until_christmas_keeps_the_wall_clock() -> None:
    """113 days, 09:00 on the wall throughout: EDT to 25 October, EST from the 26th."""
    found = due_days(daily(START, date(1997, 12, 23)), date(1998, 6, 1))
    assert len(found) == 113
    assert (found[0], found[-1]) == (START, date(1997, 12, 23))
    assert expand("FREQ=DAILY;UNTIL=19971224T000000Z", START) == found
    for day in found:
        instant = resolve_wall_time(day, time(9), "America/New_York")
        hour = 13 if day <= date(1997, 10, 25) else 14
        assert instant == datetime.combine(day, time(hour), tzinfo=UTC)
        assert instant.astimezone(ZoneInfo("America/New_York")).time() == time(9)


def test_a_quota_has_no_recurrence_rule() -> None:
    assert to_rrule(Schedule(Pattern.WEEKLY_QUOTA, START, weekly_quota=3)) is None


STARTS = st.dates(min_value=date(2020, 1, 1), max_value=date(2030, 1, 1))


@st.composite
def fixed_schedules(draw: st.DrawFn) -> Schedule:
    starts_on = draw(STARTS)
    ends_on = draw(st.none() | st.integers(0, 400).map(lambda n: starts_on + timedelta(days=n)))
    pattern = draw(st.sampled_from([Pattern.DAILY, Pattern.WEEKDAYS, Pattern.EVERY_N_DAYS]))
    return Schedule(
        pattern,
        starts_on,
        weekdays=(
            draw(st.frozensets(st.integers(0, 6), min_size=1))
            if pattern is Pattern.WEEKDAYS
            else frozenset()
        ),
        every_days=draw(st.integers(2, 30)) if pattern is Pattern.EVERY_N_DAYS else None,
        ends_on=ends_on,
    )


@given(fixed_schedules())
def test_our_rule_expands_to_our_due_days(schedule: Schedule) -> None:
    rule, first = to_rrule(schedule), first_due_on(schedule)
    assume(first is not None)  # a few weekdays may not fit between the first and the last day
    assert rule is not None and first is not None
    until = schedule.starts_on + timedelta(days=500)
    start, end = datetime.combine(first, time()), datetime.combine(until, time())
    expanded = rrulestr(rule, dtstart=start).between(start, end - timedelta(days=1), inc=True)
    assert due_days(schedule, until) == [day.date() for day in expanded]
