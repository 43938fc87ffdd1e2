"""Exercises. What patients were given never changes: every wording is a revision of its own."""

from __future__ import annotations

import uuid
from typing import Any

from django.db import models
from django.db.models import Q

from programs.rules.dose import DoseKind, SideMode
from programs.rules.library import Aim, ExerciseEntry, Position, Region
from shared.choices import choices_of, one_of


class ExerciseQuerySet(models.QuerySet["Exercise"]):
    """Filters over exercises."""

    def visible_in(self, clinic_id: uuid.UUID) -> ExerciseQuerySet:
        """The shared starter library and the clinic's own exercises, without retired ones."""
        return self.filter(Q(clinic=None) | Q(clinic_id=clinic_id), retired_at=None)


class Exercise(models.Model):
    """One movement. Columns that people search by are copied from the current revision."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    clinic = models.ForeignKey(
        "clinic.Clinic", models.PROTECT, null=True, blank=True, related_name="exercises"
    )  # null: the starter library that every clinic reads
    slug = models.SlugField(max_length=80)
    name = models.CharField(max_length=120)
    search_text = models.TextField(blank=True)
    region = models.CharField(max_length=20, choices=choices_of(Region))
    aim = models.CharField(max_length=20, choices=choices_of(Aim))
    position = models.CharField(max_length=20, choices=choices_of(Position))
    equipment = models.JSONField(default=list)
    dose_kind = models.CharField(max_length=20, choices=choices_of(DoseKind))
    side_mode = models.CharField(max_length=20, choices=choices_of(SideMode))
    current = models.ForeignKey(
        "programs.ExerciseRevision", models.PROTECT, null=True, related_name="+"
    )
    retired_at = models.DateTimeField(null=True, blank=True)

    objects = ExerciseQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["slug"], condition=Q(clinic__isnull=True), name="exercise_starter_slug_once"
            ),
            models.UniqueConstraint(
                fields=["clinic", "slug"],
                condition=Q(clinic__isnull=False),
                name="exercise_clinic_slug_once",
            ),
            one_of("region", Region, name="exercise_region_known"),
            one_of("aim", Aim, name="exercise_aim_known"),
            one_of("position", Position, name="exercise_position_known"),
            one_of("dose_kind", DoseKind, name="exercise_dose_kind_known"),
            one_of("side_mode", SideMode, name="exercise_side_mode_known"),
        ]
        indexes = [
            # Used by the library page: by region, then name.
            models.Index(fields=["region", "name"], name="exercise_by_region"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_own(self) -> bool:
        """Whether a clinic wrote it itself, rather than the starter library."""
        return self.clinic_id is not None


class ExerciseRevision(models.Model):
    """One wording of an exercise. Never edited; `content` is `ExerciseEntry.to_json()`."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    clinic = models.ForeignKey("clinic.Clinic", models.PROTECT, null=True, related_name="+")
    exercise = models.ForeignKey(Exercise, models.PROTECT, related_name="revisions")
    number = models.PositiveIntegerField()
    content: Any = models.JSONField()
    digest = models.CharField(max_length=64)
    published_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["exercise", "number"], name="exercise_revision_number_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.exercise_id} revision {self.number}"

    @property
    def entry(self) -> ExerciseEntry:
        """The content as the rules take it."""
        return ExerciseEntry.from_json(self.content)
