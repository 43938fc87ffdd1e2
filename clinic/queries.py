"""Reads over people and clinics. One function, one screen's or one rule's data."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q

from clinic.models import CareRelationship, Clinic, ClinicPolicy, Invitation, Membership, Patient
from clinic.rules.policy import Policy


def policy_of(clinic_id: uuid.UUID) -> Policy:
    """Return the clinic's thresholds, the defaults where it has stored none."""
    stored = ClinicPolicy.objects.filter(pk=clinic_id).first()
    return stored.as_policy() if stored else Policy()


def policy_of_patient(patient: Patient) -> Policy:
    """Return the thresholds for a patient opened with its clinic, without another query."""
    stored = getattr(patient.clinic, "stored_policy", None)
    return stored.as_policy() if stored else Policy()


def lead_therapists(clinic_id: uuid.UUID) -> dict[uuid.UUID, str]:
    """Return the name of the lead therapist by patient id."""
    rows = CareRelationship.objects.filter(clinic_id=clinic_id, ends_at=None, is_lead=True)
    return dict(rows.values_list("patient_id", "therapist__user__name"))


def lead_therapist_name(patient_id: uuid.UUID) -> str:
    """Return the name of the patient's lead therapist, empty when nobody leads."""
    name = (
        CareRelationship.objects.filter(patient_id=patient_id, ends_at=None, is_lead=True)
        .values_list("therapist__user__name", flat=True)
        .first()
    )
    return name or ""


@dataclass(frozen=True)
class DemoPerson:
    """One member of the demo's cast, for its sign-in page."""

    role: str
    name: str
    email: str
    about: str


def demo_cast() -> list[DemoPerson]:
    """Return who can sign in to the demo: staff, and the patients with an account, few."""
    staff = [
        DemoPerson(m.get_role_display(), m.user.name, m.user.email, m.clinic.name)
        for m in Membership.objects.filter(is_active=True)
        .select_related("user", "clinic")
        .order_by("clinic__created_at", "role", "user__name")
    ]
    patients = [
        DemoPerson("Patient", p.name, p.user.email, p.problem)
        for p in Patient.objects.current()
        .exclude(user=None)
        .select_related("user")
        .order_by("created_at", "family_name")[:6]
        if p.user is not None
    ]
    return staff + patients


def open_invitation(token_hash: str, *, now: datetime) -> Invitation | None:
    """Return the invitation that may still be accepted, or None."""
    return (
        Invitation.objects.filter(
            Q(patient=None) | Q(patient__discharged_at=None),
            token_hash=token_hash,
            accepted_at=None,
            revoked_at=None,
            expires_at__gt=now,
        )
        .select_related("clinic", "patient", "invited_by")
        .first()
    )
