"""One patient's program: revisions that are issued once and never edited, and pauses."""

from __future__ import annotations

import uuid
from enum import StrEnum
from typing import Any

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from programs.rules.dose import Dose, DoseKind, LoadUnit, Side
from programs.rules.schedule import Pattern, Pause, RevisionSpan, Schedule
from shared.choices import between, choices_of, one_of


class ProgramStatus(StrEnum):
    """Where a program stands. On hold is no status: a pause that holds today says it."""

    DRAFT = "DRAFT"
    ACTIVE = "ACTIVE"
    COMPLETED = "COMPLETED"
    REVOKED = "REVOKED"


LIVE = (ProgramStatus.DRAFT, ProgramStatus.ACTIVE)


class Program(models.Model):
    """What one patient is given, over its whole life. A patient has one live program at a time."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    clinic = models.ForeignKey("clinic.Clinic", models.PROTECT, related_name="programs")
    patient = models.ForeignKey("clinic.Patient", models.CASCADE, related_name="programs")
    title = models.CharField(_("title"), max_length=120)
    status = models.CharField(
        max_length=12, choices=choices_of(ProgramStatus), default=ProgramStatus.DRAFT
    )
    created_by = models.ForeignKey("clinic.User", models.PROTECT, related_name="+")
    created_at = models.DateTimeField()
    completed_on = models.DateField(null=True, blank=True)  # no session is due from this day on

    class Meta:
        constraints = [
            one_of("status", ProgramStatus, name="program_status_known"),
            models.UniqueConstraint(
                fields=["patient"],
                condition=Q(status__in=[s.value for s in LIVE]),
                name="program_one_live_per_patient",
                violation_error_message=_("This patient has a program already."),
            ),
            models.CheckConstraint(
                name="program_end_has_a_date",
                condition=Q(status__in=["COMPLETED", "REVOKED"], completed_on__isnull=False)
                | Q(status__in=[s.value for s in LIVE], completed_on__isnull=True),
            ),
        ]

    def __str__(self) -> str:
        return self.title

    @property
    def is_live(self) -> bool:
        """Whether it is drafted or in force: it has not ended."""
        return self.status in LIVE


class RevisionStatus(StrEnum):
    """A revision is drafted, issued, then superseded; only a draft is ever edited."""

    DRAFT = "DRAFT"
    ISSUED = "ISSUED"
    SUPERSEDED = "SUPERSEDED"


class ProgramRevision(models.Model):
    """The prescriptions and the schedule in force over [effective_from, effective_until)."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    clinic = models.ForeignKey("clinic.Clinic", models.PROTECT, related_name="+")
    program = models.ForeignKey(Program, models.CASCADE, related_name="revisions")
    number = models.PositiveIntegerField()
    status = models.CharField(
        max_length=12, choices=choices_of(RevisionStatus), default=RevisionStatus.DRAFT
    )
    pattern = models.CharField(max_length=14, choices=choices_of(Pattern), default=Pattern.DAILY)
    times_per_day = models.PositiveSmallIntegerField(default=1)
    weekdays: Any = models.JSONField(default=list, blank=True)  # 0 is Monday
    every_days = models.PositiveSmallIntegerField(null=True, blank=True)
    weekly_quota = models.PositiveSmallIntegerField(null=True, blank=True)
    starts_on = models.DateField()
    ends_on = models.DateField(null=True, blank=True)  # the last day
    pain_limit = models.PositiveSmallIntegerField(default=5)
    continue_after_sharp_pain = models.BooleanField(default=False)
    note_to_patient = models.TextField(blank=True)
    reason = models.CharField(max_length=200, blank=True)  # why it changed, in plain words
    is_step_up = models.BooleanField(default=False)
    minutes = models.PositiveSmallIntegerField(default=0)
    version = models.PositiveIntegerField(default=1)  # of the draft: guards two editors at once
    edited_by = models.ForeignKey("clinic.User", models.PROTECT, related_name="+")
    edited_at = models.DateTimeField()
    issued_by = models.ForeignKey("clinic.User", models.PROTECT, null=True, related_name="+")
    issued_at = models.DateTimeField(null=True, blank=True)
    effective_from = models.DateField(null=True, blank=True)
    effective_until = models.DateField(null=True, blank=True)  # exclusive

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["program", "number"], name="revision_number_once"),
            models.UniqueConstraint(
                fields=["program"], condition=Q(status="DRAFT"), name="revision_one_draft"
            ),
            models.UniqueConstraint(
                fields=["program"], condition=Q(status="ISSUED"), name="revision_one_in_force"
            ),
            one_of("status", RevisionStatus, name="revision_status_known"),
            one_of("pattern", Pattern, name="revision_pattern_known"),
            between("times_per_day", 1, 6, name="revision_times_per_day_range"),
            between("every_days", 2, 30, name="revision_every_days_range"),
            between("weekly_quota", 1, 7, name="revision_weekly_quota_range"),
            between("pain_limit", 0, 10, name="revision_pain_limit_range"),
            models.CheckConstraint(
                name="revision_ends_after_start",
                condition=Q(ends_on__isnull=True) | Q(ends_on__gte=F("starts_on")),
            ),
            models.CheckConstraint(
                name="revision_issued_has_author_and_date",
                condition=Q(status="DRAFT", issued_at__isnull=True, effective_from__isnull=True)
                | Q(
                    status__in=["ISSUED", "SUPERSEDED"],
                    issued_at__isnull=False,
                    issued_by__isnull=False,
                    effective_from__isnull=False,
                ),
            ),
            models.CheckConstraint(
                name="revision_superseded_has_an_end",
                condition=Q(status="SUPERSEDED", effective_until__isnull=False)
                | Q(status__in=["DRAFT", "ISSUED"], effective_until__isnull=True),
            ),
        ]

    def __str__(self) -> str:
        return f"revision {self.number}"

    @property
    def schedule(self) -> Schedule:
        """The schedule as the rules take it."""
        return Schedule(
            pattern=Pattern(self.pattern),
            times_per_day=self.times_per_day,
            weekdays=frozenset(self.weekdays),
            every_days=self.every_days,
            weekly_quota=self.weekly_quota,
            starts_on=self.starts_on,
            ends_on=self.ends_on,
        )

    @property
    def span(self) -> RevisionSpan:
        """The days over which this issued revision is in force."""
        if self.effective_from is None:
            raise ValueError("A draft is not in force on any day.")
        return RevisionSpan(
            revision_id=self.id,
            schedule=self.schedule,
            effective_from=self.effective_from,
            effective_until=self.effective_until,
        )


class Prescription(models.Model):
    """One exercise with its dose, in one revision."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    clinic = models.ForeignKey("clinic.Clinic", models.PROTECT, related_name="+")
    revision = models.ForeignKey(ProgramRevision, models.CASCADE, related_name="prescriptions")
    position = models.PositiveSmallIntegerField()
    exercise_revision = models.ForeignKey(
        "programs.ExerciseRevision", models.PROTECT, related_name="prescriptions"
    )
    rung = models.ForeignKey("programs.Rung", models.SET_NULL, null=True, related_name="+")
    side = models.CharField(max_length=10, choices=choices_of(Side))
    kind = models.CharField(max_length=20, choices=choices_of(DoseKind))
    sets = models.PositiveSmallIntegerField()
    repetitions = models.PositiveSmallIntegerField(null=True, blank=True)
    hold_seconds = models.PositiveSmallIntegerField(null=True, blank=True)
    duration_seconds = models.PositiveSmallIntegerField(null=True, blank=True)
    rest_seconds = models.PositiveSmallIntegerField(default=30)
    tempo: Any = models.JSONField(null=True, blank=True)  # seconds out, stop, back
    load_value = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    load_unit = models.CharField(max_length=6, choices=choices_of(LoadUnit), default=LoadUnit.NONE)
    band = models.CharField(max_length=8, blank=True)
    effort_target = models.PositiveSmallIntegerField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["revision", "position"], name="prescription_position_once"
            ),
            one_of("side", Side, name="prescription_side_known"),
            one_of("kind", DoseKind, name="prescription_kind_known"),
            one_of("load_unit", LoadUnit, name="prescription_load_unit_known"),
            between("sets", 1, 10, name="prescription_sets_range"),
            between("repetitions", 1, 100, name="prescription_repetitions_range"),
            between("hold_seconds", 1, 600, name="prescription_hold_range"),
            between("duration_seconds", 5, 3600, name="prescription_duration_range"),
            between("rest_seconds", 0, 600, name="prescription_rest_range"),
            between("load_value", 0, 200, name="prescription_load_range"),
            between("effort_target", 0, 10, name="prescription_effort_range"),
            models.CheckConstraint(
                name="prescription_dose_fits_its_kind",
                condition=Q(
                    kind="REPETITIONS",
                    repetitions__isnull=False,
                    hold_seconds__isnull=True,
                    duration_seconds__isnull=True,
                )
                | Q(
                    kind="HELD_REPETITIONS",
                    repetitions__isnull=False,
                    hold_seconds__isnull=False,
                    duration_seconds__isnull=True,
                )
                | Q(
                    kind="HOLD",
                    repetitions__isnull=True,
                    hold_seconds__isnull=False,
                    duration_seconds__isnull=True,
                )
                | Q(
                    kind="TIMED",
                    repetitions__isnull=True,
                    hold_seconds__isnull=True,
                    duration_seconds__isnull=False,
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"item {self.position}"

    @property
    def dose(self) -> Dose:
        """The dose as the rules take it."""
        return Dose(
            kind=DoseKind(self.kind),
            sets=self.sets,
            repetitions=self.repetitions,
            hold_seconds=self.hold_seconds,
            duration_seconds=self.duration_seconds,
            rest_seconds=self.rest_seconds,
            side=Side(self.side),
            tempo=tuple(self.tempo) if self.tempo else None,
            load_value=self.load_value,
            load_unit=LoadUnit(self.load_unit),
            band=self.band,
            effort_target=self.effort_target,
        )


class PauseReason(StrEnum):
    """Why nothing is due for a while."""

    UNWELL = "UNWELL"
    AWAY = "AWAY"
    PAIN = "PAIN"
    THERAPIST = "THERAPIST"
    OTHER = "OTHER"


class ProgramPause(models.Model):
    """Days over [starts_on, ends_on) on which nothing is due; open while ends_on is null."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    clinic = models.ForeignKey("clinic.Clinic", models.PROTECT, related_name="+")
    program = models.ForeignKey(Program, models.CASCADE, related_name="pauses")
    starts_on = models.DateField()
    ends_on = models.DateField(null=True, blank=True)
    reason = models.CharField(max_length=12, choices=choices_of(PauseReason))
    set_by = models.ForeignKey("clinic.User", models.PROTECT, related_name="+")
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            one_of("reason", PauseReason, name="pause_reason_known"),
            models.UniqueConstraint(
                fields=["program"], condition=Q(ends_on__isnull=True), name="pause_one_open"
            ),
            models.CheckConstraint(
                name="pause_ends_after_start",
                condition=Q(ends_on__isnull=True) | Q(ends_on__gte=F("starts_on")),
            ),
        ]

    def __str__(self) -> str:
        return f"pause from {self.starts_on}"

    @property
    def span(self) -> Pause:
        """The pause as the rules take it."""
        return Pause(starts_on=self.starts_on, ends_on=self.ends_on)
