"""The patient's record, who treats them, and the invitation that ties a user to a record."""

from __future__ import annotations

import uuid
from datetime import datetime
from enum import StrEnum

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from clinic.rules.roles import Role
from shared.choices import choices_of, one_of

from .tenancy import Clinic, Membership


class PatientQuerySet(models.QuerySet["Patient"]):
    """Filters over patients."""

    def current(self) -> PatientQuerySet:
        """Patients who have not been discharged."""
        return self.filter(discharged_at=None)

    def treated_by(self, user_id: int, at: datetime) -> PatientQuerySet:
        """Patients whom this user treats at this instant, as lead or not; never themselves."""
        return (
            self.filter(
                Q(care__ends_at=None) | Q(care__ends_at__gt=at),
                care__therapist__user_id=user_id,
                care__therapist__is_active=True,
                care__starts_at__lte=at,
            )
            .exclude(user_id=user_id)
            .distinct()
        )


class Patient(models.Model):
    """A person in treatment at one clinic. The user is optional: paper works too."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    clinic = models.ForeignKey(Clinic, models.PROTECT, related_name="patients")
    user = models.ForeignKey(
        "clinic.User", models.SET_NULL, null=True, blank=True, related_name="patient_records"
    )
    given_name = models.CharField(_("given name"), max_length=80)
    family_name = models.CharField(_("family name"), max_length=80)
    date_of_birth = models.DateField(_("date of birth"), null=True, blank=True)
    email = models.EmailField(_("e-mail"), blank=True)
    phone = models.CharField(_("phone"), max_length=40, blank=True)
    timezone = models.CharField(_("time zone"), max_length=64)
    problem = models.CharField(_("problem"), max_length=120, blank=True)
    uses_paper = models.BooleanField(_("keeps the log on paper"), default=False)
    next_visit_on = models.DateField(_("next visit"), null=True, blank=True)
    created_at = models.DateTimeField(auto_now_add=True)
    discharged_at = models.DateTimeField(null=True, blank=True)

    objects = PatientQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["clinic", "user"],
                condition=Q(user__isnull=False),
                name="patient_one_record_per_user_and_clinic",
            ),
        ]
        indexes = [
            # Used by the people page of the clinic admin.
            models.Index(fields=["clinic", "family_name", "given_name"], name="patient_by_name"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def name(self) -> str:
        """Given and family name."""
        return f"{self.given_name} {self.family_name}"


class CareRelationship(models.Model):
    """A therapist treats a patient over [starts_at, ends_at)."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    clinic = models.ForeignKey(Clinic, models.PROTECT, related_name="+")
    patient = models.ForeignKey(Patient, models.CASCADE, related_name="care")
    therapist = models.ForeignKey(Membership, models.PROTECT, related_name="care")
    is_lead = models.BooleanField(default=True)
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["patient"],
                condition=Q(ends_at__isnull=True, is_lead=True),
                name="care_one_lead_at_a_time",
            ),
            models.CheckConstraint(
                name="care_ends_after_start",
                condition=Q(ends_at__isnull=True) | Q(ends_at__gte=F("starts_at")),
            ),
        ]
        indexes = [
            # Used by the caseload: current patients of a therapist.
            models.Index(
                fields=["therapist", "patient"],
                condition=Q(ends_at__isnull=True),
                name="care_current_by_therapist",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.patient_id} from {self.starts_at:%Y-%m-%d}"


class InvitationKind(StrEnum):
    """Whom a link invites."""

    PATIENT = "PATIENT"
    STAFF = "STAFF"


class Invitation(models.Model):
    """A one-use link, kept only as a hash. Accepting it consumes it in the same transaction."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    clinic = models.ForeignKey(Clinic, models.CASCADE, related_name="invitations")
    kind = models.CharField(max_length=10, choices=choices_of(InvitationKind))
    email = models.EmailField(_("e-mail"))
    name = models.CharField(_("name"), max_length=150, blank=True)
    role = models.CharField(max_length=20, choices=choices_of(Role), blank=True)
    patient = models.ForeignKey(Patient, models.CASCADE, null=True, related_name="invitations")
    token_hash = models.CharField(max_length=64, unique=True)
    invited_by = models.ForeignKey("clinic.User", models.PROTECT, related_name="+")
    created_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    accepted_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            one_of("kind", InvitationKind, name="invitation_kind_known"),
            models.CheckConstraint(
                name="invitation_names_patient_or_role",
                condition=Q(kind="PATIENT", patient__isnull=False, role="")
                | Q(kind="STAFF", patient__isnull=True, role__in=[r.value for r in Role]),
            ),
            models.UniqueConstraint(
                fields=["patient"],
                condition=Q(accepted_at__isnull=True, revoked_at__isnull=True),
                name="invitation_one_open_per_patient",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind.lower()} invitation of {self.created_at:%Y-%m-%d}"
