"""The clinic as tenant, who works there in which role, and its rules' thresholds."""

from __future__ import annotations

import uuid
from datetime import time

from django.db import models
from django.utils.translation import gettext_lazy as _

from clinic.rules.policy import REASONS, Policy
from clinic.rules.roles import Role
from shared.choices import choices_of, one_of

_DEFAULT = Policy()


class Clinic(models.Model):
    """One clinic on this installation; nothing leaks from one to another."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(_("name"), max_length=120)
    slug = models.SlugField(unique=True)
    timezone = models.CharField(_("time zone"), max_length=64, default="Europe/London")
    phone = models.CharField(_("phone"), max_length=40, blank=True)
    emergency_number = models.CharField(_("emergency number"), max_length=20, default="112")
    reading_days = models.CharField(
        _("days on which the team reads entries"), max_length=80, default="Monday to Friday"
    )
    reply_within_days = models.PositiveSmallIntegerField(_("reply within working days"), default=2)
    created_at = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return self.name


class Membership(models.Model):
    """A user's role in a clinic; a second role is a second row."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    clinic = models.ForeignKey(Clinic, models.PROTECT, related_name="memberships")
    user = models.ForeignKey("clinic.User", models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=20, choices=choices_of(Role))
    is_active = models.BooleanField(default=True)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["clinic", "user", "role"], name="membership_once"),
            one_of("role", Role, name="membership_role_known"),
        ]

    def __str__(self) -> str:
        return f"{self.user} ({self.get_role_display()})"


def _in_range(field: str) -> models.CheckConstraint:
    reason = REASONS[field]
    return models.CheckConstraint(
        name=f"policy_{field}_in_range",
        condition=models.Q(**{f"{field}__gte": reason.low, f"{field}__lte": reason.high}),
        violation_error_message=_("Choose a value from %(low)g to %(high)g.")
        % {"low": reason.low, "high": reason.high},
    )


class ClinicPolicy(models.Model):
    """The clinic's own thresholds, within the ranges that `rules.policy` gives with reasons."""

    clinic = models.OneToOneField(
        Clinic, models.CASCADE, primary_key=True, related_name="stored_policy"
    )
    target_percent = models.PositiveSmallIntegerField(default=_DEFAULT.target_percent)
    pain_limit = models.PositiveSmallIntegerField(default=_DEFAULT.pain_limit)
    pain_evidence_limit = models.FloatField(default=_DEFAULT.pain_evidence_limit)
    pain_jump = models.FloatField(default=_DEFAULT.pain_jump)
    snooze_days = models.PositiveSmallIntegerField(default=_DEFAULT.snooze_days)
    misses_limit_daily = models.FloatField(default=_DEFAULT.misses_limit_daily)
    misses_limit_weekly = models.FloatField(default=_DEFAULT.misses_limit_weekly)
    silent_days = models.PositiveSmallIntegerField(default=_DEFAULT.silent_days)
    backfill_hours = models.PositiveSmallIntegerField(default=_DEFAULT.backfill_hours)
    morning_above = models.PositiveSmallIntegerField(default=_DEFAULT.morning_above)
    quiet_from = models.TimeField(default=time(20))
    quiet_until = models.TimeField(default=time(9))
    changed_by = models.ForeignKey("clinic.User", models.PROTECT, null=True, related_name="+")
    changed_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            *[_in_range(field) for field in REASONS],
            models.CheckConstraint(
                name="policy_quiet_hours_overnight",
                condition=models.Q(quiet_from__gt=models.F("quiet_until")),
                violation_error_message=_(
                    "Quiet hours begin in the evening and end the next morning."
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"policy of {self.clinic_id}"

    def as_policy(self) -> Policy:
        """Return the thresholds as the rules take them."""
        fields = {name: getattr(self, name) for name in REASONS}
        return Policy(**fields, quiet_from=self.quiet_from, quiet_until=self.quiet_until)
