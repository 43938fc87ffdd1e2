"""Windows of dates, local dates and wall times."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.dates import DateWindow, local_date, resolve_wall_time, week_start, zone_named

DAYS = st.dates(min_value=date(1990, 1, 1), max_value=date(2090, 1, 1))


def test_a_window_is_half_open() -> None:
    window = DateWindow(date(2026, 3, 1), date(2026, 3, 4))
    assert list(window.days()) == [date(2026, 3, 1), date(2026, 3, 2), date(2026, 3, 3)]
    assert date(2026, 3, 3) in window
    assert date(2026, 3, 4) not in window
    assert len(window) == 3


def test_a_trailing_window_ends_with_today() -> None:
    today = date(2026, 3, 14)
    assert DateWindow.trailing(today, 14) == DateWindow(date(2026, 3, 1), date(2026, 3, 15))
    assert DateWindow.last(7, today) == DateWindow(date(2026, 3, 7), today)


def test_a_window_may_be_empty_but_not_backwards() -> None:
    day = date(2026, 3, 1)
    assert list(DateWindow(day, day)) == []
    with pytest.raises(ValueError, match="cannot end"):
        DateWindow(day, day - timedelta(days=1))


@given(DAYS, st.integers(0, 800))
def test_a_trailing_window_has_as_many_days_as_asked(today: date, days: int) -> None:
    window = DateWindow.trailing(today, days)
    assert len(window) == days == len(list(window.days()))
    assert (today in window) == (days > 0)


def test_the_local_date_is_the_date_on_the_wall() -> None:
    instant = datetime(2026, 6, 1, 23, 30, tzinfo=UTC)
    assert local_date(instant, "Europe/London") == date(2026, 6, 2)
    assert local_date(instant, "America/New_York") == date(2026, 6, 1)


def test_a_naive_instant_has_no_local_date() -> None:
    with pytest.raises(ValueError, match="time zone"):
        local_date(datetime(2026, 6, 1, 12), "Europe/London")


@pytest.mark.parametrize(
    "name", ["", "Europe/Nowhere", "../../etc/passwd", "/etc/localtime", "Europe"]
)
def test_an_unknown_zone_is_said_to_be_unknown(name: str) -> None:
    with pytest.raises(ValueError, match="no time zone"):
        zone_named(name)


@given(
    DAYS,
    st.times(),
    st.sampled_from(["Europe/London", "America/New_York", "Australia/Sydney", "Asia/Kolkata"]),
)
def test_a_wall_time_comes_back_as_the_same_date(day: date, wall: time, zone: str) -> None:
    """In these zones a gap is an hour by night: it never moves a time to another date."""
    instant = resolve_wall_time(day, wall, zone)
    assert instant.tzinfo is UTC
    assert local_date(instant, zone) == day


@given(DAYS)
def test_a_week_starts_on_the_monday_before(day: date) -> None:
    monday = week_start(day)
    assert monday.isoweekday() == 1
    assert timedelta(0) <= day - monday < timedelta(days=7)
