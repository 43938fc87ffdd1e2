"""Input and output shapes of the API: explicit fields, nothing else is read or shown."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from adherence.rules.barriers import Barrier
from adherence.rules.flags import FlagKind, Severity
from programs.rules.dose import Side

STATUSES = ["IN_PROGRESS", "COMPLETED", "STOPPED", "NOT_DONE"]
MOMENTS = ["BEFORE", "WORST", "AFTER", "NEXT_MORNING"]


class StartSession(serializers.Serializer[dict[str, Any]]):
    """Start a session; `on` only for a day that has passed."""

    client_key = serializers.UUIDField()
    on = serializers.DateField(required=False, allow_null=True, default=None)


class LogSet(serializers.Serializer[dict[str, Any]]):
    """One set as it was done."""

    client_key = serializers.UUIDField()
    prescription = serializers.UUIDField()
    number = serializers.IntegerField(min_value=1, max_value=10)
    side = serializers.ChoiceField([s.value for s in Side if s != Side.BOTH])
    state = serializers.ChoiceField(["DONE", "PARTLY", "SKIPPED"])
    repetitions = serializers.IntegerField(
        min_value=0, max_value=999, allow_null=True, default=None
    )
    held_seconds = serializers.IntegerField(
        min_value=0, max_value=3600, allow_null=True, default=None
    )
    moved_seconds = serializers.IntegerField(
        min_value=0, max_value=7200, allow_null=True, default=None
    )
    load_value = serializers.DecimalField(
        max_digits=5, decimal_places=2, min_value=0, max_value=200, allow_null=True, default=None
    )
    occurred_at = serializers.DateTimeField(required=False)


class WithdrawSet(serializers.Serializer[dict[str, Any]]):
    """Which set to take back."""

    client_key = serializers.UUIDField()


class RatePain(serializers.Serializer[dict[str, Any]]):
    """A 0 to 10 rating of one moment."""

    client_key = serializers.UUIDField()
    moment = serializers.ChoiceField(MOMENTS)
    score = serializers.IntegerField(min_value=0, max_value=10)
    occurred_at = serializers.DateTimeField(required=False)


class StopExercise(serializers.Serializer[dict[str, Any]]):
    """Sharp pain: stop this exercise for today."""

    client_key = serializers.UUIDField()
    prescription = serializers.UUIDField()
    score = serializers.IntegerField(min_value=0, max_value=10, allow_null=True, default=None)
    note = serializers.CharField(max_length=200, allow_blank=True, default="")
    occurred_at = serializers.DateTimeField(required=False)


class FinishSession(serializers.Serializer[dict[str, Any]]):
    """Close a session with what was done."""

    stopped_early = serializers.BooleanField(default=False)
    effort = serializers.IntegerField(min_value=0, max_value=10, allow_null=True, default=None)
    note = serializers.CharField(max_length=2000, allow_blank=True, default="")


class Session(serializers.Serializer[Any]):
    """A session, read-only."""

    id = serializers.UUIDField()
    patient = serializers.UUIDField(source="patient_id")
    revision = serializers.UUIDField(source="revision_id")
    local_date = serializers.DateField()
    slot = serializers.IntegerField()
    status = serializers.ChoiceField(STATUSES)
    reason = serializers.ChoiceField([("", "")] + [(b.value, b.value) for b in Barrier])
    entered_later = serializers.BooleanField()
    effort = serializers.IntegerField(allow_null=True)
    share = serializers.FloatField(allow_null=True)
    started_at = serializers.DateTimeField()
    finished_at = serializers.DateTimeField(allow_null=True)


class Recorded(serializers.Serializer[Any]):
    """The row that a log made, or had made before under the same key."""

    id = serializers.UUIDField()
    recorded_at = serializers.DateTimeField()


class Flag(serializers.Serializer[Any]):
    """A flag with its evidence, read-only."""

    id = serializers.UUIDField()
    patient = serializers.UUIDField(source="patient_id")
    kind = serializers.ChoiceField([k.value for k in FlagKind])
    severity = serializers.ChoiceField([s.value for s in Severity])
    status = serializers.ChoiceField(["OPEN", "CLEARED", "CLOSED"])
    evidence = serializers.JSONField()
    rule_version = serializers.CharField()
    raised_at = serializers.DateTimeField()
    acknowledged_at = serializers.DateTimeField(allow_null=True)
    ended_at = serializers.DateTimeField(allow_null=True)
    outcome = serializers.CharField()
