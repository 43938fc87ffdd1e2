"""The day that a log is about, and the refusal of a log that cannot be taken."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils.translation import gettext as _

from clinic.models import Patient
from shared.dates import local_date


class SessionRefused(Exception):
    """A log that cannot be taken. `code` is for programs, the message for people."""

    def __init__(self, code: str, message: str) -> None:
        super().__init__(message)
        self.code = code


@dataclass(frozen=True)
class Day:
    """The local day that a log is about, and whether it is entered later than it was done."""

    on: date
    today: date

    @property
    def entered_later(self) -> bool:
        """Whether the day has passed."""
        return self.on < self.today


def day_to_log(*, patient: Patient, on: date | None, now: datetime, backfill_hours: int) -> Day:
    """Return the day, today unless `on` says another; refuse the future and what is too long ago.

    A day can be logged until `backfill_hours` after its last moment began to be past.
    """
    today = local_date(now, patient.timezone)
    day = Day(on=on or today, today=today)
    if day.on > today:
        raise SessionRefused("FUTURE_DAY", _("A day that is still to come cannot be logged."))
    earliest = local_date(now - timedelta(hours=backfill_hours), patient.timezone)
    if day.on < earliest:
        raise SessionRefused("TOO_LATE", _("This day is too long ago to be remembered well."))
    return day
