"""Ladders: exercises of one aim from easiest to hardest, with alternatives on each rung."""

from __future__ import annotations

import uuid
from typing import Any

from django.db import models
from django.db.models import Q

from programs.rules.library import Aim, AlternativeReason, Region
from shared.choices import choices_of, one_of

from .exercise import Exercise


class Ladder(models.Model):
    """A progression ladder of the starter library (clinic null) or of a clinic."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    clinic = models.ForeignKey(
        "clinic.Clinic", models.PROTECT, null=True, blank=True, related_name="ladders"
    )
    slug = models.SlugField(max_length=80)
    name = models.CharField(max_length=120)
    region = models.CharField(max_length=20, choices=choices_of(Region))
    aim = models.CharField(max_length=20, choices=choices_of(Aim))
    purpose = models.TextField()
    for_whom = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["slug"], condition=Q(clinic__isnull=True), name="ladder_starter_slug_once"
            ),
            models.UniqueConstraint(
                fields=["clinic", "slug"],
                condition=Q(clinic__isnull=False),
                name="ladder_clinic_slug_once",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Rung(models.Model):
    """A step of a ladder: its exercise, and when to go on, stay or go back."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    clinic = models.ForeignKey("clinic.Clinic", models.PROTECT, null=True, related_name="+")
    ladder = models.ForeignKey(Ladder, models.CASCADE, related_name="rungs")
    position = models.PositiveSmallIntegerField()
    exercise = models.ForeignKey(Exercise, models.PROTECT, related_name="rungs")
    go_on_when: Any = models.JSONField(default=dict)
    stay_when: Any = models.JSONField(default=dict)
    go_back_when: Any = models.JSONField(default=dict)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["ladder", "position"], name="rung_position_once"),
        ]

    def __str__(self) -> str:
        return f"{self.ladder_id} rung {self.position}"


class RungAlternative(models.Model):
    """Another exercise that may stand in for a rung's own."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    clinic = models.ForeignKey("clinic.Clinic", models.PROTECT, null=True, related_name="+")
    rung = models.ForeignKey(Rung, models.CASCADE, related_name="alternatives")
    exercise = models.ForeignKey(Exercise, models.PROTECT, related_name="+")
    because = models.CharField(max_length=20, choices=choices_of(AlternativeReason))
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["rung", "exercise"], name="rung_alternative_once"),
            one_of("because", AlternativeReason, name="rung_alternative_reason_known"),
        ]

    def __str__(self) -> str:
        return f"{self.exercise_id} for {self.rung_id}"
