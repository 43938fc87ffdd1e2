"""Wall times around changes of the clock, against cases worked out apart from this code.

Gap and fold rule: RFC 5545, section 3.3.5, whose two New York examples are the first rows. The
other rows come from the 2026f edition of the IANA time zone database.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import pytest
from dateutil import tz

from shared.dates import DateWindow, local_date, resolve_wall_time, zone_named

CASES = [
    # RFC 5545 3.3.5: a time that occurs twice is the first, a time in a gap has the offset before.
    ("America/New_York", "2007-11-04 01:30", "2007-11-04 05:30"),
    ("America/New_York", "2007-03-11 02:30", "2007-03-11 07:30"),
    ("Europe/London", "2026-03-29 01:30", "2026-03-29 01:30"),
    ("Europe/London", "2026-10-25 01:30", "2026-10-25 00:30"),
    ("Europe/Berlin", "2026-03-29 02:30", "2026-03-29 01:30"),
    ("America/New_York", "2026-03-08 02:30", "2026-03-08 07:30"),
    ("America/New_York", "2026-11-01 01:30", "2026-11-01 05:30"),
    # Southern direction: back in April, forward in October.
    ("Australia/Sydney", "2026-04-05 02:30", "2026-04-04 15:30"),
    ("Australia/Sydney", "2026-10-04 02:30", "2026-10-03 16:30"),
    # Midnight is missing.
    ("Africa/Cairo", "2026-04-24 00:30", "2026-04-23 22:30"),
    ("America/Santiago", "2026-09-06 00:30", "2026-09-06 04:30"),
    ("Asia/Beirut", "2026-03-29 00:30", "2026-03-28 22:30"),
    # A whole day is missing: 30 December 2011 was left out.
    ("Pacific/Apia", "2011-12-30 10:00", "2011-12-30 20:00"),
]


def at(text: str) -> datetime:
    return datetime.fromisoformat(text)


@pytest.mark.parametrize(("zone", "wall", "expected"), CASES)
def test_wall_times_resolve_as_worked_out(zone: str, wall: str, expected: str) -> None:
    local = at(wall)
    assert resolve_wall_time(local.date(), local.time(), zone) == at(expected).replace(tzinfo=UTC)


@pytest.mark.parametrize(
    ("zone", "wall", "shown"),
    [
        ("Europe/London", "2026-03-29 01:30", "2026-03-29 02:30"),
        ("America/New_York", "2007-03-11 02:30", "2007-03-11 03:30"),
        ("Africa/Cairo", "2026-04-24 00:30", "2026-04-24 01:30"),
        ("America/Santiago", "2026-09-06 00:30", "2026-09-06 01:30"),
        ("Asia/Beirut", "2026-03-29 00:30", "2026-03-29 01:30"),
    ],
)
def test_a_time_in_a_gap_is_shown_an_hour_later(zone: str, wall: str, shown: str) -> None:
    local = at(wall)
    instant = resolve_wall_time(local.date(), local.time(), zone)
    assert instant.astimezone(zone_named(zone)).replace(tzinfo=None) == at(shown)


@pytest.mark.parametrize(
    ("zone", "day", "hours"),
    [
        ("Europe/London", "2026-03-29", 23),
        ("Europe/London", "2026-10-25", 25),
        ("Africa/Cairo", "2026-04-24", 23),
        ("Europe/London", "2026-06-01", 24),
    ],
)
def test_a_day_has_as_many_hours_as_the_zone_gives_it(zone: str, day: str, hours: int) -> None:
    first = date.fromisoformat(day)
    start = resolve_wall_time(first, time(), zone)
    end = resolve_wall_time(first + timedelta(days=1), time(), zone)
    if zone == "Africa/Cairo":  # no midnight: the day starts at 01:00 on the wall
        assert start.astimezone(zone_named(zone)).time() == time(1)
    assert end - start == timedelta(hours=hours)


def test_the_second_of_two_equal_times_is_still_the_same_date() -> None:
    for instant in ("2026-10-25 00:30", "2026-10-25 01:30"):
        assert local_date(at(instant).replace(tzinfo=UTC), "Europe/London") == date(2026, 10, 25)


def test_no_instant_falls_on_the_day_that_a_zone_left_out() -> None:
    """Apia went from 29 to 31 December 2011; a window still counts calendar days."""
    before = datetime(2011, 12, 30, 9, 59, tzinfo=UTC)
    assert local_date(before, "Pacific/Apia") == date(2011, 12, 29)
    assert local_date(before + timedelta(minutes=1), "Pacific/Apia") == date(2011, 12, 31)
    assert len(DateWindow(date(2011, 12, 29), date(2012, 1, 1))) == 3


@pytest.mark.parametrize("zone", ["Europe/London", "America/New_York", "Australia/Sydney"])
def test_a_year_of_mornings_agrees_with_dateutil(zone: str) -> None:
    """09:00 and the hour of the change, every day of 2026, resolved by a second library."""
    other = tz.gettz(zone)
    for day in DateWindow(date(2026, 1, 1), date(2027, 1, 1)).days():
        for wall in (time(9), time(1, 30), time(2, 30)):
            local = datetime.combine(day, wall, tzinfo=other)
            expected = tz.resolve_imaginary(local).astimezone(UTC)
            assert resolve_wall_time(day, wall, zone) == expected
