"""The moment at which tests play, and the dates that lie before it."""

from datetime import UTC, date, datetime, time

NOW = datetime(2026, 3, 11, 10, tzinfo=UTC)  # a Wednesday
TODAY = NOW.date()
JOINED = datetime(2026, 1, 5, 9, tzinfo=UTC)
STARTED_ON = date(2026, 2, 2)  # a Monday
STARTED_AT = datetime.combine(STARTED_ON, time(10), UTC)
