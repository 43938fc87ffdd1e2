"""Writes over a patient's record and over who treats them; each is one short transaction."""

from __future__ import annotations

import uuid
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from clinic.models import CareRelationship, Invitation, Membership, Patient
from clinic.rules.roles import Role


class PeopleError(Exception):
    """A change of people that cannot be made; the message says why in plain words."""


@transaction.atomic
def create_patient(
    *,
    clinic_id: uuid.UUID,
    therapist: Membership,
    given_name: str,
    family_name: str,
    now: datetime,
    timezone: str,
    date_of_birth: date | None = None,
    email: str = "",
    phone: str = "",
    problem: str = "",
    uses_paper: bool = False,
) -> Patient:
    """Create a patient's record under the care of `therapist`, who leads from now on.

    Raises PeopleError where `therapist` no longer treats at this clinic.
    """
    _lock_therapist(therapist, clinic_id)
    patient = Patient.objects.create(
        clinic_id=clinic_id,
        given_name=given_name,
        family_name=family_name,
        date_of_birth=date_of_birth,
        email=email.lower(),
        phone=phone,
        timezone=timezone,
        problem=problem,
        uses_paper=uses_paper,
    )
    CareRelationship.objects.create(
        clinic_id=clinic_id, patient=patient, therapist=therapist, starts_at=now
    )
    return patient


@transaction.atomic
def update_patient(*, patient: Patient, now: datetime, **fields: Any) -> Patient:
    """Change contact data of a record; the caller's form has validated the fields.

    A new address stops the links that were sent to the old one.
    """
    held = Patient.objects.select_for_update().get(pk=patient.pk)
    if "email" in fields:
        fields["email"] = fields["email"].lower()
        if fields["email"] != held.email:
            open_invitations_for(patient).update(revoked_at=now)
    for name, value in fields.items():
        setattr(patient, name, value)
    patient.save(update_fields=list(fields))
    return patient


@transaction.atomic
def transfer_care(*, patient: Patient, to: Membership, now: datetime) -> CareRelationship:
    """Make `to` the lead therapist from now on; the one before ends at the same instant."""
    _lock_therapist(to, patient.clinic_id)
    held = Patient.objects.select_for_update().get(pk=patient.pk)
    if held.discharged_at is not None:
        raise PeopleError(_("This patient has been discharged."))
    return _lead_from(patient, to, now)


@transaction.atomic
def readmit_patient(*, patient: Patient, to: Membership, now: datetime) -> CareRelationship:
    """Take a discharged patient back into care under `to`; the record goes on where it ended."""
    _lock_therapist(to, patient.clinic_id)
    changed = (
        Patient.objects.filter(pk=patient.pk).exclude(discharged_at=None).update(discharged_at=None)
    )
    if changed != 1:
        raise PeopleError(_("This patient is in care already."))
    return _lead_from(patient, to, now)


@transaction.atomic
def discharge_patient(*, patient: Patient, now: datetime) -> None:
    """End care. The record stays; reminders and flags stop because nothing is due any more."""
    Patient.objects.select_for_update().get(pk=patient.pk)
    for care in CareRelationship.objects.filter(patient=patient, ends_at=None):
        care.ends_at = max(now, care.starts_at)
        care.save(update_fields=["ends_at"])
    Patient.objects.filter(pk=patient.pk, discharged_at=None).update(discharged_at=now)
    open_invitations_for(patient).update(revoked_at=now)


def open_invitations_for(patient: Patient) -> QuerySet[Invitation]:
    """Return the links that were sent for this record and could still be used."""
    return Invitation.objects.filter(patient=patient, accepted_at=None, revoked_at=None)


def _lead_from(patient: Patient, to: Membership, now: datetime) -> CareRelationship:
    if patient.user_id == to.user_id:
        # They would not see their own flags, and nobody else would look.
        raise PeopleError(_("Nobody can treat themselves. Choose a colleague."))
    current = CareRelationship.objects.filter(patient=patient, ends_at=None, is_lead=True).first()
    if current is not None:
        if current.therapist_id == to.pk:
            return current
        # Two admins within a moment: nobody's care may end before it began.
        now = max(now, current.starts_at)
        CareRelationship.objects.filter(pk=current.pk).update(ends_at=now)
    return CareRelationship.objects.create(
        clinic_id=patient.clinic_id, patient=patient, therapist=to, starts_at=now
    )


def _lock_therapist(therapist: Membership, clinic_id: uuid.UUID) -> None:
    """Hold the membership still, so that it cannot end while it is given a patient."""
    held = Membership.objects.select_for_update().filter(
        pk=therapist.pk, clinic_id=clinic_id, role=Role.THERAPIST, is_active=True
    )
    if held.first() is None:
        raise PeopleError(_("Choose a therapist who works at this clinic."))
