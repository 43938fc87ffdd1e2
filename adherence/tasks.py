"""Celery tasks: thin, keyword ids only, one operation each. Beat's table stands in settings."""

from __future__ import annotations

import uuid
from typing import Any

from celery import shared_task
from django.conf import settings

from adherence.operations.flags import review_patient
from adherence.operations.reminders import send_due
from adherence.operations.review_sweep import review_owed
from shared import clock


@shared_task(name="adherence.send_due_reminders")
def send_due_reminders(**_extra: Any) -> None:
    """Plan, claim and send what is due."""
    send_due(clock=clock.now, site_url=settings.SITE_URL)


@shared_task(name="adherence.review_flags")
def review_flags(**_extra: Any) -> None:
    """Review every patient whose entries changed, or whose local day has not been looked at."""
    review_owed(now=clock.now())


@shared_task(name="adherence.review_one")
def review_one(*, patient_id: str, **_extra: Any) -> None:
    """Review one patient soon after an entry; the sweep would find them anyway."""
    review_patient(patient_id=uuid.UUID(patient_id), now=clock.now())
