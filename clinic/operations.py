"""Writes over people and clinics; each function is one short transaction."""

from __future__ import annotations

import hashlib
import secrets
import uuid
from datetime import date, datetime, timedelta
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Q
from django.utils.translation import gettext as _

from clinic.models import (
    CareRelationship,
    Clinic,
    ClinicPolicy,
    Invitation,
    InvitationKind,
    Membership,
    Patient,
    User,
)
from clinic.queries import open_invitation
from clinic.rules.roles import Role
from shared.email import send_email

INVITATION_DAYS = 7


class InvitationRefused(Exception):
    """The link cannot be accepted; the message says why in plain words."""


class PeopleError(Exception):
    """A change of people that cannot be made; the message says why in plain words."""


def hash_token(token: str) -> str:
    """Return what is stored of a one-use token."""
    return hashlib.sha256(token.encode()).hexdigest()


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
    """Create a patient's record under the care of `therapist`, who leads from now on."""
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
def update_patient(*, patient: Patient, **fields: Any) -> Patient:
    """Change contact data of a record; the caller's form has validated the fields."""
    for name, value in fields.items():
        setattr(patient, name, value)
    patient.save(update_fields=list(fields))
    return patient


def invite_patient(
    *, patient: Patient, invited_by_id: int, site_url: str, now: datetime
) -> Invitation:
    """Send the patient a one-use link; an earlier open link stops working."""
    if not patient.email:
        raise PeopleError(_("This patient has no e-mail address yet."))
    if patient.user_id is not None:
        raise PeopleError(_("This patient can sign in already."))
    return _invite(
        clinic=patient.clinic,
        kind=InvitationKind.PATIENT,
        email=patient.email,
        name=patient.name,
        role="",
        patient=patient,
        invited_by_id=invited_by_id,
        site_url=site_url,
        now=now,
    )


def invite_staff(
    *, clinic: Clinic, email: str, name: str, role: Role, invited_by_id: int, site_url: str,
    now: datetime,
) -> Invitation:
    """Send a colleague a one-use link that gives them `role`."""
    if Membership.objects.filter(
        clinic=clinic, user__email__iexact=email, role=role, is_active=True
    ).exists():
        raise PeopleError(_("This person has that role already."))
    return _invite(
        clinic=clinic,
        kind=InvitationKind.STAFF,
        email=email.lower(),
        name=name,
        role=role,
        patient=None,
        invited_by_id=invited_by_id,
        site_url=site_url,
        now=now,
    )


def _invite(
    *, clinic: Clinic, kind: InvitationKind, email: str, name: str, role: str,
    patient: Patient | None, invited_by_id: int, site_url: str, now: datetime,
) -> Invitation:
    token = secrets.token_urlsafe(32)
    with transaction.atomic():
        still_open = Invitation.objects.filter(clinic=clinic, accepted_at=None, revoked_at=None)
        same = Q(patient=patient) if patient else Q(patient=None, email__iexact=email, role=role)
        still_open.filter(same).update(revoked_at=now)
        invitation = Invitation.objects.create(
            clinic=clinic,
            kind=kind,
            email=email,
            name=name,
            role=role,
            patient=patient,
            token_hash=hash_token(token),
            invited_by_id=invited_by_id,
            created_at=now,
            expires_at=now + timedelta(days=INVITATION_DAYS),
        )
    # Sent after the commit: a mail that fails leaves an invitation that can be sent anew.
    send_email(
        "invitation",
        to=email,
        context={
            "clinic": clinic,
            "name": name,
            "link": f"{site_url}/invitation/{token}/",
            "days": INVITATION_DAYS,
        },
    )
    return invitation


@transaction.atomic
def accept_invitation(
    *, token: str, password: str, now: datetime, signed_in: User | None = None, name: str = ""
) -> User:
    """Consume the link and return the user that it now stands for.

    A person without an account gets one with `password`; somebody who has an account accepts
    while signed in to it, so that holding a forwarded link never opens an existing account.
    Raises InvitationRefused for a used, revoked or expired link, or for the wrong account.
    """
    invitation = open_invitation(hash_token(token), now=now)
    if invitation is None:
        raise InvitationRefused(_("This link has been used or is too old. Ask for a new one."))
    existing = User.objects.filter(email__iexact=invitation.email).first()
    if existing is not None and (signed_in is None or signed_in.pk != existing.pk):
        raise InvitationRefused(_("There is an account for this address. Sign in to it first."))
    # The conditional update decides a race: one winner, whoever reads what.
    won = Invitation.objects.filter(
        pk=invitation.pk, accepted_at=None, revoked_at=None, expires_at__gt=now
    ).update(accepted_at=now)
    if won != 1:
        raise InvitationRefused(_("This link has been used or is too old. Ask for a new one."))
    user = existing or User.objects.create_user(
        invitation.email, password, name=name or invitation.name
    )
    if invitation.patient is not None:
        _tie_record(invitation.patient, user)
    else:
        Membership.objects.update_or_create(
            clinic=invitation.clinic,
            user=user,
            role=invitation.role,
            defaults={"is_active": True},
        )
    return user


def _tie_record(patient: Patient, user: User) -> None:
    try:
        with transaction.atomic():
            tied = Patient.objects.filter(pk=patient.pk, user=None).update(user=user)
    except IntegrityError as error:
        raise InvitationRefused(_("This account has a record at this clinic already.")) from error
    if tied != 1:
        raise InvitationRefused(_("Somebody signs in for this record already."))


@transaction.atomic
def revoke_invitation(*, clinic_id: uuid.UUID, invitation_id: uuid.UUID, now: datetime) -> bool:
    """Stop a link from working; False when it was used, revoked or is not this clinic's."""
    changed = Invitation.objects.filter(
        pk=invitation_id, clinic_id=clinic_id, accepted_at=None, revoked_at=None
    ).update(revoked_at=now)
    return changed == 1


@transaction.atomic
def transfer_care(*, patient: Patient, to: Membership, now: datetime) -> CareRelationship:
    """Make `to` the lead therapist from now on; the one before ends at the same instant."""
    if to.role != Role.THERAPIST or not to.is_active or to.clinic_id != patient.clinic_id:
        raise PeopleError(_("Choose a therapist who works at this clinic."))
    current = (
        CareRelationship.objects.select_for_update()
        .filter(patient=patient, ends_at=None, is_lead=True)
        .first()
    )
    if current is not None and current.therapist_id == to.pk:
        return current
    CareRelationship.objects.filter(patient=patient, ends_at=None, is_lead=True).update(ends_at=now)
    return CareRelationship.objects.create(
        clinic_id=patient.clinic_id, patient=patient, therapist=to, starts_at=now
    )


@transaction.atomic
def discharge_patient(*, patient: Patient, now: datetime) -> None:
    """End care. The record stays; reminders and flags stop because nothing is due any more."""
    CareRelationship.objects.filter(patient=patient, ends_at=None).update(ends_at=now)
    Patient.objects.filter(pk=patient.pk, discharged_at=None).update(discharged_at=now)
    Invitation.objects.filter(patient=patient, accepted_at=None, revoked_at=None).update(
        revoked_at=now
    )


@transaction.atomic
def end_membership(*, membership: Membership, now: datetime) -> None:
    """Take a role away at once. A therapist's patients must have moved first; one admin stays."""
    if membership.role == Role.THERAPIST:
        left = CareRelationship.objects.filter(therapist=membership, ends_at=None).count()
        if left:
            raise PeopleError(
                _("%(count)d patients are still with this therapist. Move them first.")
                % {"count": left}
            )
    others = Membership.objects.select_for_update().filter(
        clinic_id=membership.clinic_id, role=Role.CLINIC_ADMIN, is_active=True
    )
    if membership.role == Role.CLINIC_ADMIN and not others.exclude(pk=membership.pk).exists():
        raise PeopleError(_("The clinic needs one admin. Give somebody else the role first."))
    Membership.objects.filter(pk=membership.pk).update(is_active=False)


@transaction.atomic
def give_role(*, clinic_id: uuid.UUID, user_id: int, role: Role) -> Membership:
    """Give a colleague who works here another role, or an ended one back."""
    if not Membership.objects.filter(clinic_id=clinic_id, user_id=user_id).exists():
        raise PeopleError(_("This person does not work here. Invite them."))
    membership, _created = Membership.objects.update_or_create(
        clinic_id=clinic_id, user_id=user_id, role=role, defaults={"is_active": True}
    )
    return membership


@transaction.atomic
def change_policy(
    *, clinic: Clinic, changed_by_id: int, now: datetime, **values: Any
) -> ClinicPolicy:
    """Store the clinic's thresholds. The database refuses values outside their ranges."""
    policy, _created = ClinicPolicy.objects.update_or_create(
        clinic=clinic, defaults=values | {"changed_by_id": changed_by_id, "changed_at": now}
    )
    return policy


@transaction.atomic
def change_clinic(*, clinic: Clinic, **values: Any) -> Clinic:
    """Change the clinic's name, zone and contact line."""
    for name, value in values.items():
        setattr(clinic, name, value)
    clinic.save(update_fields=list(values))
    return clinic
