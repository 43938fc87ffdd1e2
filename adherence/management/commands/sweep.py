"""Does once what the worker does every minute, without a worker and without a broker."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand

from adherence.operations.reminders import send_due
from adherence.operations.review_sweep import review_owed
from shared import clock


class Command(BaseCommand):
    """For the day on which the broker is away: from cron, each minute, it does all that is due."""

    help = "Sends due reminders and reviews new entries once, without Celery."

    def handle(self, *args: Any, **options: Any) -> None:
        for label, counts in (
            ("reminders", send_due(clock=clock.now, site_url=settings.SITE_URL)),
            ("reviews", review_owed(now=clock.now())),
        ):
            told = ", ".join(f"{count} {name}" for name, count in counts.items() if count)
            self.stdout.write(f"{label}: {told or 'nothing to do'}")
