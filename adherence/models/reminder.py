"""Reminders: the row is the promise, Celery only rings the bell."""

from __future__ import annotations

import secrets
import uuid
from typing import Any

from django.db import models
from django.db.models import Q

from adherence.rules.reminders import ReminderStatus
from shared.choices import choices_of, one_of


def _token() -> str:
    return secrets.token_urlsafe(32)


class ReminderPreference(models.Model):
    """When a patient wants to be reminded; off until they switch it on."""

    patient = models.OneToOneField(
        "clinic.Patient", models.CASCADE, primary_key=True, related_name="reminder_preference"
    )
    clinic = models.ForeignKey("clinic.Clinic", models.PROTECT, related_name="+")
    is_on = models.BooleanField(default=False)
    times: Any = models.JSONField(default=list)  # "HH:MM" on the patient's wall clock
    stop_token = models.CharField(max_length=64, unique=True, default=_token)
    stopped_at = models.DateTimeField(null=True, blank=True)
    changed_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"reminders of {self.patient_id}"


class Reminder(models.Model):
    """One promise to remind, for one local day and slot, that ends in exactly one final state.

    PENDING → CLAIMED (may be claimed again once its lease ends) → SENDING (never sent again:
    e-mail has no way to say "the same one") → SENT, or FAILED, SKIPPED, UNKNOWN.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    clinic = models.ForeignKey("clinic.Clinic", models.PROTECT, related_name="+")
    patient = models.ForeignKey("clinic.Patient", models.CASCADE, related_name="reminders")
    local_date = models.DateField()
    slot = models.PositiveSmallIntegerField()
    due_at = models.DateTimeField()
    status = models.CharField(
        max_length=8, choices=choices_of(ReminderStatus), default=ReminderStatus.PENDING
    )
    attempts = models.PositiveSmallIntegerField(default=0)
    lease_until = models.DateTimeField(null=True, blank=True)
    skip_reason = models.CharField(max_length=16, blank=True)
    failure = models.CharField(max_length=120, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["patient", "local_date", "slot"], name="reminder_once_a_slot"
            ),
            one_of("status", ReminderStatus, name="reminder_status_known"),
            models.CheckConstraint(
                name="reminder_sent_has_a_time",
                condition=~Q(status="SENT") | Q(sent_at__isnull=False),
            ),
        ]
        indexes = [
            # Used by the sweep: what is due and not yet settled.
            models.Index(
                fields=["due_at"],
                condition=Q(status__in=["PENDING", "CLAIMED", "SENDING"]),
                name="reminder_unsettled",
            ),
        ]

    def __str__(self) -> str:
        return f"reminder of {self.local_date}, {self.slot}"


class Sweep(models.Model):
    """When a sweep last finished, for the readiness page and the system check."""

    name = models.CharField(max_length=40, primary_key=True)
    finished_at = models.DateTimeField()
    counts: Any = models.JSONField(default=dict)

    def __str__(self) -> str:
        return self.name
