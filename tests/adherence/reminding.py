"""A sweep of reminders at an instant, and the one reminder that it made."""

from __future__ import annotations

from datetime import datetime

from adherence.models import Reminder
from adherence.operations.reminders import send_due
from shared import clock

SITE = "https://clinic.example"


def sweep(at: datetime | None = None):
    """One sweep at an instant, by default at the instant of the test's clock."""
    return send_due(clock=lambda: at or clock.now(), site_url=SITE)


def only() -> Reminder:
    return Reminder.objects.get()
