"""Sessions as they were done: sets, pain, and what was stopped.

`occurred_at` is the patient's time and what the rules use; `recorded_at` is when the row came in.
A correction withdraws a row and adds another: nothing that was logged is overwritten.
"""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from enum import StrEnum

from django.db import models
from django.db.models import Q

from adherence.rules.barriers import Barrier
from programs.rules.dose import Side
from shared.choices import between, choices_of, one_of
from shared.dates import local_date


class SessionStatus(StrEnum):
    """How a session stands. STOPPED was ended early, and what was done is kept."""

    IN_PROGRESS = "IN_PROGRESS"
    COMPLETED = "COMPLETED"
    STOPPED = "STOPPED"
    NOT_DONE = "NOT_DONE"


# Whoever is still at it after midnight is let finish.
LEFT_AFTER = timedelta(hours=4)
CLOSED = (SessionStatus.COMPLETED, SessionStatus.STOPPED, SessionStatus.NOT_DONE)


class SessionLog(models.Model):
    """One occasion of the program, on one local day, done or not done with a reason."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    clinic = models.ForeignKey("clinic.Clinic", models.PROTECT, related_name="+")
    patient = models.ForeignKey("clinic.Patient", models.CASCADE, related_name="sessions")
    revision = models.ForeignKey(
        "programs.ProgramRevision", models.PROTECT, related_name="sessions"
    )
    client_key = models.UUIDField()
    local_date = models.DateField()
    slot = models.PositiveSmallIntegerField(default=1)  # above the times a day: an extra session
    timezone = models.CharField(max_length=64)
    status = models.CharField(
        max_length=12, choices=choices_of(SessionStatus), default=SessionStatus.IN_PROGRESS
    )
    reason = models.CharField(max_length=20, choices=choices_of(Barrier), blank=True)
    note = models.TextField(blank=True)
    effort = models.PositiveSmallIntegerField(null=True, blank=True)
    entered_later = models.BooleanField(default=False)
    entered_by = models.ForeignKey("clinic.User", models.PROTECT, related_name="+")
    started_at = models.DateTimeField()
    finished_at = models.DateTimeField(null=True, blank=True)
    recorded_at = models.DateTimeField()
    share = models.FloatField(null=True, blank=True)  # dose done of dose due, 0 to 1
    over = models.FloatField(default=0)  # dose beyond what was due, as a share

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["patient", "client_key"], name="session_client_key_once"
            ),
            models.UniqueConstraint(
                fields=["patient", "local_date", "slot"], name="session_slot_once_a_day"
            ),
            models.UniqueConstraint(
                fields=["patient"],
                condition=Q(status="IN_PROGRESS"),
                name="session_one_in_progress",
            ),
            one_of("status", SessionStatus, name="session_status_known"),
            between("slot", 1, 12, name="session_slot_range"),
            between("effort", 0, 10, name="session_effort_range"),
            models.CheckConstraint(
                name="session_share_range",
                condition=Q(share__isnull=True) | Q(share__gte=0, share__lte=1),
            ),
            models.CheckConstraint(
                name="session_not_done_has_a_reason",
                condition=~Q(status="NOT_DONE") | ~Q(reason=""),
            ),
            models.CheckConstraint(
                name="session_closed_has_a_time",
                condition=Q(status="IN_PROGRESS", finished_at__isnull=True)
                | Q(status__in=[s.value for s in CLOSED], finished_at__isnull=False),
            ),
        ]
        indexes = [
            # Used by Today, the caseload and the course: a patient's days, newest first.
            models.Index(fields=["patient", "-local_date"], name="session_by_patient_day"),
        ]

    def __str__(self) -> str:
        return f"session of {self.local_date}, {self.slot}"

    def is_left_open(self, now: datetime) -> bool:
        """Return whether it was begun, never ended, and its day is over."""
        return (
            self.status == SessionStatus.IN_PROGRESS
            and self.started_at <= now - LEFT_AFTER
            and self.local_date < local_date(now, self.timezone)
        )


class SetState(StrEnum):
    """What became of a set."""

    DONE = "DONE"
    PARTLY = "PARTLY"
    SKIPPED = "SKIPPED"


class SetLog(models.Model):
    """One performed set. Logging the same client key again changes nothing."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    clinic = models.ForeignKey("clinic.Clinic", models.PROTECT, related_name="+")
    session = models.ForeignKey(SessionLog, models.CASCADE, related_name="sets")
    prescription = models.ForeignKey(
        "programs.Prescription", models.PROTECT, related_name="set_logs"
    )
    client_key = models.UUIDField()
    number = models.PositiveSmallIntegerField()
    side = models.CharField(max_length=10, choices=choices_of(Side))
    state = models.CharField(max_length=8, choices=choices_of(SetState))
    repetitions = models.PositiveSmallIntegerField(null=True, blank=True)
    held_seconds = models.PositiveSmallIntegerField(null=True, blank=True)
    moved_seconds = models.PositiveSmallIntegerField(null=True, blank=True)
    load_value = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    occurred_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["session", "client_key"], name="set_client_key_once"),
            models.UniqueConstraint(
                fields=["session", "prescription", "number", "side"],
                condition=Q(withdrawn_at__isnull=True),
                name="set_once",
            ),
            one_of("side", Side, name="set_side_known"),
            one_of("state", SetState, name="set_state_known"),
            between("number", 1, 10, name="set_number_range"),
            between("repetitions", 0, 999, name="set_repetitions_range"),
            between("held_seconds", 0, 3600, name="set_held_range"),
            between("moved_seconds", 0, 7200, name="set_moved_range"),
            between("load_value", 0, 200, name="set_load_range"),
        ]

    def __str__(self) -> str:
        return f"set {self.number} {self.side.lower()}"


class PainMoment(StrEnum):
    """When a rating speaks of. WORST is the worst during the session."""

    BEFORE = "BEFORE"
    WORST = "WORST"
    AFTER = "AFTER"
    NEXT_MORNING = "NEXT_MORNING"


class PainRating(models.Model):
    """A 0 to 10 numeric rating. A corrected rating withdraws the one before it."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    clinic = models.ForeignKey("clinic.Clinic", models.PROTECT, related_name="+")
    patient = models.ForeignKey("clinic.Patient", models.CASCADE, related_name="pain_ratings")
    session = models.ForeignKey(SessionLog, models.CASCADE, related_name="pain_ratings")
    client_key = models.UUIDField()
    moment = models.CharField(max_length=14, choices=choices_of(PainMoment))
    score = models.PositiveSmallIntegerField()
    local_date = models.DateField()  # the day that was felt: next morning is the day after
    occurred_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["session", "client_key"], name="pain_client_key_once"),
            models.UniqueConstraint(
                fields=["session", "moment"],
                condition=Q(withdrawn_at__isnull=True),
                name="pain_once_a_moment",
            ),
            one_of("moment", PainMoment, name="pain_moment_known"),
            between("score", 0, 10, name="pain_score_range"),
        ]
        indexes = [
            # Used by the pain rule and the pain line: a patient's series of one moment.
            models.Index(
                fields=["patient", "moment", "local_date"],
                condition=Q(withdrawn_at__isnull=True),
                name="pain_series",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.moment.lower()} rating"


class ExerciseStop(models.Model):
    """Sharp pain: the patient stopped this exercise for today, and the team is told at once."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    clinic = models.ForeignKey("clinic.Clinic", models.PROTECT, related_name="+")
    session = models.ForeignKey(SessionLog, models.CASCADE, related_name="stops")
    prescription = models.ForeignKey("programs.Prescription", models.PROTECT, related_name="+")
    client_key = models.UUIDField()
    score = models.PositiveSmallIntegerField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    occurred_at = models.DateTimeField()
    recorded_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["session", "client_key"], name="stop_client_key_once"),
            models.UniqueConstraint(
                fields=["session", "prescription"], name="stop_once_an_exercise"
            ),
            between("score", 0, 10, name="stop_score_range"),
        ]

    def __str__(self) -> str:
        return "exercise stopped"
