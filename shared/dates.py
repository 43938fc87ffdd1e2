"""Local dates, windows of dates and wall times: pure, the zone and the day are arguments.

Adherence counts local due dates, never spans of 24 hours, so a day of 23 or 25 hours is one day.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo


@dataclass(frozen=True)
class DateWindow:
    """A half-open run of dates [start, end); ValueError where the end lies before the start."""

    start: date
    end: date

    def __post_init__(self) -> None:
        if self.end < self.start:
            raise ValueError(f"A window cannot end ({self.end}) before it starts ({self.start}).")

    @classmethod
    def trailing(cls, today: date, days: int) -> DateWindow:
        """Return the `days` days that end with today, today included."""
        return cls.last(days, today + timedelta(days=1))

    @classmethod
    def last(cls, days: int, until: date) -> DateWindow:
        """Return the `days` days before `until`, which is not included."""
        return cls(until - timedelta(days=days), until)

    def days(self) -> Iterator[date]:
        """Yield every date of the window, oldest first."""
        for ordinal in range(self.start.toordinal(), self.end.toordinal()):
            yield date.fromordinal(ordinal)

    __iter__ = days

    def __contains__(self, day: object) -> bool:
        return isinstance(day, date) and self.start <= day < self.end

    def __len__(self) -> int:
        return (self.end - self.start).days


def zone_named(name: str) -> ZoneInfo:
    """Return the IANA zone called `name`; ValueError where there is none."""
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError) as error:
        raise ValueError(f"There is no time zone called {name!r}.") from error


def local_date(instant: datetime, zone: str) -> date:
    """Return the date on the wall at `instant` (aware) in `zone`; ValueError if it is naive."""
    if instant.tzinfo is None:
        raise ValueError("An instant needs a time zone.")
    return instant.astimezone(zone_named(zone)).date()


def resolve_wall_time(day: date, wall: time, zone: str) -> datetime:
    """Return the instant (aware, UTC) at which the clock in `zone` shows `wall` on `day`.

    A time that does not exist is read with the offset before the gap, a time that occurs twice is
    the first of the two (RFC 5545, 3.3.5). Python's fold=0 means both of these.
    """
    local = datetime.combine(day, wall.replace(tzinfo=None, fold=0), tzinfo=zone_named(zone))
    return local.astimezone(UTC)


def week_start(day: date) -> date:
    """Return the Monday of the ISO week of `day`."""
    return day - timedelta(days=day.weekday())
