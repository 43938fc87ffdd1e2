"""Output shapes of the library and programs, and what a search may ask for. All read-only."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from programs.queries.library import NOTHING
from programs.rules.dose import Band, DoseKind, LoadUnit, Side, SideMode
from programs.rules.library import Aim, Equipment, Position, Region
from programs.rules.schedule import Pattern

PROGRAM_STATUSES = ["DRAFT", "ACTIVE", "COMPLETED", "REVOKED"]


class ExerciseSearch(serializers.Serializer[dict[str, Any]]):
    """What an exercise search may ask for."""

    q = serializers.CharField(
        max_length=100,
        default="",
        allow_blank=True,
        help_text="Words of the name, other names and purpose; every word must be there.",
    )
    region = serializers.ChoiceField(list(Region), required=False)
    aim = serializers.ChoiceField(list(Aim), required=False)
    position = serializers.ChoiceField(list(Position), required=False)
    dose_kind = serializers.ChoiceField(list(DoseKind), required=False)
    at_hand = serializers.ListField(
        child=serializers.ChoiceField([NOTHING, *Equipment]),
        required=False,
        help_text="Equipment that there is, repeated; exercises that need other are left out.",
    )


class FieldRange(serializers.Serializer[Any]):
    """The ordinary range of a number, and its usual value."""

    low = serializers.IntegerField()
    high = serializers.IntegerField()
    usual = serializers.IntegerField()


class DoseRange(serializers.Serializer[Any]):
    """What the library calls an ordinary dose; null where the kind has no such number."""

    kind = serializers.ChoiceField(list(DoseKind))
    sets = FieldRange()
    repetitions = FieldRange(allow_null=True)
    hold_seconds = FieldRange(allow_null=True)
    duration_seconds = FieldRange(allow_null=True)
    rest_seconds = FieldRange()
    tempo = serializers.ListField(child=serializers.IntegerField(), allow_null=True)
    load_units = serializers.ListField(child=serializers.ChoiceField(list(LoadUnit)))


class Exercise(serializers.Serializer[Any]):
    """An exercise with the wording in force."""

    id = serializers.UUIDField()
    slug = serializers.CharField()
    name = serializers.CharField()
    also_called = serializers.ListField(
        child=serializers.CharField(), source="current.entry.also_called"
    )
    purpose = serializers.CharField(source="current.entry.purpose")
    one_line = serializers.CharField(source="current.entry.one_line")
    region = serializers.ChoiceField(list(Region))
    aim = serializers.ChoiceField(list(Aim))
    position = serializers.ChoiceField(list(Position))
    equipment = serializers.ListField(child=serializers.ChoiceField(list(Equipment)))
    side_mode = serializers.ChoiceField(list(SideMode))
    dose = DoseRange(source="current.entry.dose")
    revision = serializers.UUIDField(source="current_id")
    revision_number = serializers.IntegerField(source="current.number")
    is_own = serializers.BooleanField(help_text="Whether the clinic wrote it itself.")


class Schedule(serializers.Serializer[Any]):
    """When sessions are due; weekday 0 is Monday, ends_on is the last day."""

    pattern = serializers.ChoiceField(list(Pattern))
    starts_on = serializers.DateField()
    ends_on = serializers.DateField(allow_null=True)
    times_per_day = serializers.IntegerField()
    weekdays = serializers.ListField(child=serializers.IntegerField(min_value=0, max_value=6))
    every_days = serializers.IntegerField(allow_null=True)
    weekly_quota = serializers.IntegerField(allow_null=True)


class Revision(serializers.Serializer[Any]):
    """An issued revision; in force over [effective_from, effective_until)."""

    id = serializers.UUIDField()
    number = serializers.IntegerField()
    issued_at = serializers.DateTimeField()
    effective_from = serializers.DateField()
    effective_until = serializers.DateField(allow_null=True)
    schedule = Schedule()
    minutes = serializers.IntegerField()
    pain_limit = serializers.IntegerField()
    note_to_patient = serializers.CharField()


class Dose(serializers.Serializer[Any]):
    """How much of an exercise is done in a session; null where the kind has no such number."""

    kind = serializers.ChoiceField(list(DoseKind))
    side = serializers.ChoiceField(list(Side))
    sets = serializers.IntegerField()
    repetitions = serializers.IntegerField(allow_null=True)
    hold_seconds = serializers.IntegerField(allow_null=True)
    duration_seconds = serializers.IntegerField(allow_null=True)
    rest_seconds = serializers.IntegerField()
    tempo = serializers.ListField(child=serializers.IntegerField(), allow_null=True)
    load_unit = serializers.ChoiceField(list(LoadUnit))
    load_value = serializers.DecimalField(max_digits=5, decimal_places=2, allow_null=True)
    band = serializers.ChoiceField([("", ""), *((band.value, band.value) for band in Band)])
    effort_target = serializers.IntegerField(allow_null=True)


class Prescription(serializers.Serializer[Any]):
    """One exercise of a revision, with the name that the patient was given."""

    id = serializers.UUIDField(source="prescription_id")
    position = serializers.IntegerField()
    exercise = serializers.UUIDField(source="exercise_id")
    name = serializers.CharField(source="entry.name")
    dose = Dose()
    dose_text = serializers.CharField()
    note = serializers.CharField()


class Program(serializers.Serializer[Any]):
    """A program as it stands in a list."""

    id = serializers.UUIDField()
    patient = serializers.UUIDField(source="patient_id")
    title = serializers.CharField()
    status = serializers.ChoiceField(PROGRAM_STATUSES)
    created_at = serializers.DateTimeField()
    completed_on = serializers.DateField(allow_null=True)


class ProgramDetail(Program):
    """A program with its issued revisions, and the exercises of the last one. No drafts."""

    current = Revision(allow_null=True)
    prescriptions = Prescription(many=True, source="items")
    revisions = Revision(many=True)
