"""Flags, what was done about them, and when a patient's entries were last reviewed."""

from __future__ import annotations

import uuid
from datetime import date
from enum import StrEnum
from typing import Any

from django.db import models
from django.db.models import Q

from adherence.rules.flags import FlagKind, Severity
from shared.choices import choices_of, one_of


class FlagStatus(StrEnum):
    """Open, cleared by itself when its cause had gone, or closed by a person with an outcome."""

    OPEN = "OPEN"
    CLEARED = "CLEARED"
    CLOSED = "CLOSED"


class Outcome(StrEnum):
    """What came of a flag, in the words of the person who closed it."""

    PROGRAM_CHANGED = "PROGRAM_CHANGED"
    ADVICE_GIVEN = "ADVICE_GIVEN"
    VISIT_BOOKED = "VISIT_BOOKED"
    REFERRED = "REFERRED"
    NEW_LEVEL_ACCEPTED = "NEW_LEVEL_ACCEPTED"
    NO_ACTION_NEEDED = "NO_ACTION_NEEDED"


class FlagQuerySet(models.QuerySet["Flag"]):
    """Filters over flags."""

    def open(self) -> FlagQuerySet:
        """Flags that wait for somebody."""
        return self.filter(status=FlagStatus.OPEN)


class Flag(models.Model):
    """One reason to look at a patient; open once per kind, with the evidence it rests on."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    clinic = models.ForeignKey("clinic.Clinic", models.PROTECT, related_name="+")
    patient = models.ForeignKey("clinic.Patient", models.CASCADE, related_name="flags")
    program = models.ForeignKey("programs.Program", models.CASCADE, related_name="flags")
    kind = models.CharField(max_length=20, choices=choices_of(FlagKind))
    severity = models.CharField(max_length=10, choices=choices_of(Severity))
    status = models.CharField(
        max_length=8, choices=choices_of(FlagStatus), default=FlagStatus.OPEN
    )
    evidence: Any = models.JSONField(default=dict)
    rule_version = models.CharField(max_length=12)
    raised_at = models.DateTimeField()
    raised_on = models.DateField()  # local day of the patient
    refreshed_at = models.DateTimeField()
    acknowledged_at = models.DateTimeField(null=True, blank=True)
    acknowledged_by = models.ForeignKey("clinic.User", models.PROTECT, null=True, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_on = models.DateField(null=True, blank=True)
    closed_by = models.ForeignKey("clinic.User", models.PROTECT, null=True, related_name="+")
    outcome = models.CharField(max_length=20, choices=choices_of(Outcome), blank=True)
    closing_note = models.TextField(blank=True)
    snoozed_until = models.DateField(null=True, blank=True)  # the rule stays quiet before this day

    objects = FlagQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["patient", "kind"],
                condition=Q(status="OPEN"),
                name="flag_one_open_per_patient_and_kind",
            ),
            one_of("kind", FlagKind, name="flag_kind_known"),
            one_of("severity", Severity, name="flag_severity_known"),
            one_of("status", FlagStatus, name="flag_status_known"),
            models.CheckConstraint(
                name="flag_ended_has_a_time",
                condition=Q(status="OPEN", ended_at__isnull=True)
                | Q(status__in=["CLEARED", "CLOSED"], ended_at__isnull=False),
            ),
            models.CheckConstraint(
                name="flag_closed_has_an_outcome",
                condition=~Q(status="CLOSED") | (~Q(outcome="") & Q(closed_by__isnull=False)),
            ),
        ]
        indexes = [
            # Used by the caseload: what is open in a clinic.
            models.Index(
                fields=["clinic", "patient"],
                condition=Q(status="OPEN"),
                name="flag_open_by_patient",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind.lower()} flag"


class FollowUpKind(StrEnum):
    """What the team does about a flag."""

    CALL = "CALL"
    MESSAGE = "MESSAGE"
    CHANGE_PROGRAM = "CHANGE_PROGRAM"
    BOOK = "BOOK"
    REFER = "REFER"
    NO_ACTION = "NO_ACTION"


class FollowUpStatus(StrEnum):
    """Planned for a day, or done."""

    PLANNED = "PLANNED"
    DONE = "DONE"


class FollowUp(models.Model):
    """A contact with its outcome and the next step; on the record for good."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    clinic = models.ForeignKey("clinic.Clinic", models.PROTECT, related_name="+")
    patient = models.ForeignKey("clinic.Patient", models.CASCADE, related_name="follow_ups")
    flag = models.ForeignKey(
        Flag, models.SET_NULL, null=True, blank=True, related_name="follow_ups"
    )
    kind = models.CharField(max_length=16, choices=choices_of(FollowUpKind))
    status = models.CharField(max_length=8, choices=choices_of(FollowUpStatus))
    note = models.TextField(blank=True)
    due_on = models.DateField(null=True, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    recorded_by = models.ForeignKey("clinic.User", models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()

    class Meta:
        constraints = [
            one_of("kind", FollowUpKind, name="follow_up_kind_known"),
            models.CheckConstraint(
                name="follow_up_planned_or_done",
                condition=Q(status="PLANNED", due_on__isnull=False, done_at__isnull=True)
                | Q(status="DONE", done_at__isnull=False),
            ),
        ]
        indexes = [
            # Used by the patient page and "last contact" on the caseload.
            models.Index(fields=["patient", "-recorded_at"], name="follow_up_by_patient"),
        ]

    def __str__(self) -> str:
        return f"{self.kind.lower()} follow-up"


class Review(models.Model):
    """When the rules last looked at a patient. While `wanted_at` is set there is work to do.

    Whoever writes either time holds the patient's row, so no wish is lost between two of them.
    """

    patient = models.OneToOneField(
        "clinic.Patient", models.CASCADE, primary_key=True, related_name="review"
    )
    clinic = models.ForeignKey("clinic.Clinic", models.PROTECT, related_name="+")
    wanted_at = models.DateTimeField(null=True, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    done_for: Any = models.DateField(null=True, blank=True)

    class Meta:
        indexes = [
            # Used by the review sweep: reviews that are owed.
            models.Index(
                fields=["wanted_at"],
                condition=Q(wanted_at__isnull=False),
                name="review_owed",
            ),
        ]

    def __str__(self) -> str:
        return f"review of {self.patient_id}"

    @property
    def is_owed(self) -> bool:
        """Whether entries have changed since the last look."""
        return self.wanted_at is not None

    def is_for(self, day: date) -> bool:
        """Return whether the patient's local day `day` has been reviewed."""
        return bool(self.done_for == day)
