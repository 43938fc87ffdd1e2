"""Account data of patients: who leads, who can sign in. Nothing clinical."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import Count, Exists, OuterRef, Q, Subquery

from clinic.models import CareRelationship, Invitation, Patient, User

from .invitations import OpenInvitation, open_invitations

PATIENTS_PER_PAGE = 25


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


class PatientFilter(StrEnum):
    """Which patients the people page lists."""

    CURRENT = "current"
    NO_SIGN_IN = "no-sign-in"
    NO_THERAPIST = "no-therapist"
    DISCHARGED = "discharged"


@dataclass(frozen=True)
class PatientCounts:
    """How many patients each filter lists."""

    current: int
    no_sign_in: int
    no_therapist: int
    discharged: int


@dataclass(frozen=True)
class PatientRow:
    """Account data of one patient; nothing clinical."""

    id: uuid.UUID
    name: str
    therapist: str
    can_sign_in: bool
    is_invited: bool
    uses_paper: bool
    discharged_at: datetime | None


def patient_counts(clinic_id: uuid.UUID) -> PatientCounts:
    """Return the counts beside the filters of the people page."""
    counts = _with_lead(Patient.objects.filter(clinic_id=clinic_id)).aggregate(
        current=Count("pk", filter=Q(discharged_at=None)),
        no_sign_in=Count("pk", filter=Q(discharged_at=None, user=None)),
        no_therapist=Count("pk", filter=Q(discharged_at=None, has_lead=False)),
        discharged=Count("pk", filter=Q(discharged_at__isnull=False)),
    )
    return PatientCounts(**counts)


def patients_page(
    clinic_id: uuid.UUID,
    *,
    now: datetime,
    which: PatientFilter = PatientFilter.CURRENT,
    search: str = "",
    therapist_id: uuid.UUID | None = None,
    page: str = "1",
) -> Page[PatientRow]:
    """Return one page of patients by family name. Every word of `search` must be found."""
    patients = _with_lead(Patient.objects.filter(clinic_id=clinic_id))
    if which == PatientFilter.DISCHARGED:
        patients = patients.exclude(discharged_at=None)
    else:
        patients = patients.filter(discharged_at=None)
    if which == PatientFilter.NO_SIGN_IN:
        patients = patients.filter(user=None)
    if which == PatientFilter.NO_THERAPIST:
        patients = patients.filter(has_lead=False)
    for word in search.replace("\x00", " ").split()[:6]:
        patients = patients.filter(
            Q(given_name__icontains=word)
            | Q(family_name__icontains=word)
            | Q(email__icontains=word)
            | Q(phone__icontains=word)
        )
    if therapist_id is not None:
        led = _leading().filter(therapist_id=therapist_id)
        patients = patients.filter(pk__in=led.values("patient_id"))
    invited = Invitation.objects.filter(
        patient=OuterRef("pk"), accepted_at=None, revoked_at=None, expires_at__gt=now
    )
    ordered = patients.annotate(
        lead_name=Subquery(
            _leading().filter(patient=OuterRef("pk")).values("therapist__user__name")[:1]
        ),
        is_invited=Exists(invited),
    ).order_by("family_name", "given_name", "pk")
    found = Paginator(ordered, PATIENTS_PER_PAGE).get_page(page)
    found.object_list = [_patient_row(patient) for patient in found.object_list]
    return found


def _leading() -> Any:
    return CareRelationship.objects.filter(ends_at=None, is_lead=True)


def _with_lead(patients: Any) -> Any:
    return patients.annotate(has_lead=Exists(_leading().filter(patient=OuterRef("pk"))))


def _patient_row(patient: Any) -> PatientRow:
    return PatientRow(
        id=patient.pk,
        name=patient.name,
        therapist=patient.lead_name or "",
        can_sign_in=patient.user_id is not None,
        is_invited=patient.is_invited,
        uses_paper=patient.uses_paper,
        discharged_at=patient.discharged_at,
    )


@dataclass(frozen=True)
class CarePeriod:
    """Who led the care from when to when; `ends_at` None while it goes on."""

    therapist: str
    starts_at: datetime
    ends_at: datetime | None


@dataclass(frozen=True)
class PatientAccount:
    """How a patient stands with the clinic: sign-in, open link, who leads and who led."""

    sign_in_email: str
    invitation: OpenInvitation | None
    lead_membership_id: uuid.UUID | None
    lead: str
    periods: Sequence[CarePeriod]
    can_be_invited: bool


def patient_account(patient: Patient, *, now: datetime) -> PatientAccount:
    """Return the account side of a record."""
    periods = list(
        CareRelationship.objects.filter(patient=patient, is_lead=True)
        .select_related("therapist__user")
        .order_by("-starts_at")
    )
    current = next((period for period in periods if period.ends_at is None), None)
    email = User.objects.filter(patient_records=patient).values_list("email", flat=True).first()
    links = open_invitations(patient.clinic_id, now=now)
    return PatientAccount(
        can_be_invited=not email and bool(patient.email) and patient.discharged_at is None,
        sign_in_email=email or "",
        invitation=next((link for link in links if link.patient_id == patient.pk), None),
        lead_membership_id=current.therapist_id if current else None,
        lead=str(current.therapist.user) if current else "",
        periods=[CarePeriod(str(p.therapist.user), p.starts_at, p.ends_at) for p in periods],
    )
