"""Invitations: one-use links that tie a person to a record or to a role."""

from __future__ import annotations

import hashlib
import logging
import secrets
import uuid
from datetime import datetime, timedelta
from smtplib import SMTPException
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Q
from django.utils.translation import gettext as _

from clinic.models import (
    CareRelationship,
    Clinic,
    Invitation,
    InvitationKind,
    Membership,
    Patient,
    User,
)
from clinic.queries import open_invitation
from clinic.rules.roles import Role
from shared.email import send_email

from .care import PeopleError, create_patient

INVITATION_DAYS = 7

logger = logging.getLogger(__name__)


class InvitationRefused(Exception):
    """The link cannot be accepted; the message says why in plain words."""


class InvitationNotSent(PeopleError):
    """The invitation stands, its mail did not leave; it can be sent anew."""


def hash_token(token: str) -> str:
    """Return what is stored of a one-use token."""
    return hashlib.sha256(token.encode()).hexdigest()


def admit_patient(
    *,
    clinic_id: uuid.UUID,
    therapist: Membership,
    now: datetime,
    invite: bool,
    invited_by_id: int,
    site_url: str,
    **contact: Any,
) -> Patient:
    """Create a record and, if asked, send the invitation, which leaves after the record is safe.

    `contact` is what `create_patient` takes. Raises PeopleError where the therapist cannot take
    patients; InvitationNotSent where the record exists and only the mail failed.
    """
    patient = create_patient(clinic_id=clinic_id, therapist=therapist, now=now, **contact)
    if invite:
        invite_patient(patient=patient, invited_by_id=invited_by_id, site_url=site_url, now=now)
    return patient


def invite_patient(
    *, patient: Patient, invited_by_id: int, site_url: str, now: datetime
) -> Invitation:
    """Send the patient a one-use link; an earlier open link stops working."""
    if patient.discharged_at is not None:
        raise PeopleError(_("This patient has been discharged."))
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
    *,
    clinic: Clinic,
    email: str,
    name: str,
    role: Role,
    invited_by_id: int,
    site_url: str,
    now: datetime,
) -> Invitation:
    """Send a colleague a one-use link that gives them `role`; an earlier one stops working."""
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


def renew_invitation(
    *,
    clinic: Clinic,
    invitation_id: uuid.UUID,
    invited_by_id: int,
    site_url: str,
    now: datetime,
) -> Invitation:
    """Send a new link in place of one that has not been used; the old one stops working.

    Raises PeopleError where the invitation was used or withdrawn, or is not this clinic's.
    """
    old = (
        Invitation.objects.filter(
            pk=invitation_id, clinic=clinic, accepted_at=None, revoked_at=None
        )
        .select_related("patient__clinic")
        .first()
    )
    if old is None:
        raise PeopleError(_("This invitation has been used or withdrawn already."))
    if old.patient is not None:
        return invite_patient(
            patient=old.patient, invited_by_id=invited_by_id, site_url=site_url, now=now
        )
    return invite_staff(
        clinic=clinic,
        email=old.email,
        name=old.name,
        role=Role(old.role),
        invited_by_id=invited_by_id,
        site_url=site_url,
        now=now,
    )


@transaction.atomic
def revoke_invitation(*, clinic_id: uuid.UUID, invitation_id: uuid.UUID, now: datetime) -> bool:
    """Stop a link from working; False when it was used, revoked or is not this clinic's."""
    changed = Invitation.objects.filter(
        pk=invitation_id, clinic_id=clinic_id, accepted_at=None, revoked_at=None
    ).update(revoked_at=now)
    return changed == 1


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
    if invitation.patient is not None:
        # The record before its links, as whoever invites or discharges takes them.
        Patient.objects.select_for_update().get(pk=invitation.patient.pk)
    elif existing is not None:
        # Likewise a role before its links, as whoever ends it takes them.
        Membership.objects.select_for_update().filter(
            clinic=invitation.clinic, user=existing, role=invitation.role
        ).first()
    # The conditional update decides a race: one winner, whoever reads what.
    won = Invitation.objects.filter(
        pk=invitation.pk, accepted_at=None, revoked_at=None, expires_at__gt=now
    ).update(accepted_at=now)
    if won != 1:
        raise InvitationRefused(_("This link has been used or is too old. Ask for a new one."))
    user = existing or _create_user(invitation.email, password, name or invitation.name)
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


def _invite(
    *,
    clinic: Clinic,
    kind: InvitationKind,
    email: str,
    name: str,
    role: str,
    patient: Patient | None,
    invited_by_id: int,
    site_url: str,
    now: datetime,
) -> Invitation:
    token = secrets.token_urlsafe(32)
    with transaction.atomic():
        if patient is not None:
            # Two people inviting the same patient at once take turns here.
            Patient.objects.select_for_update().get(pk=patient.pk)
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
    try:
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
    except (OSError, SMTPException) as error:
        logger.warning("invitation %s: the mail did not leave", invitation.pk)
        raise InvitationNotSent(
            _("The mail could not be sent. Try again in a few minutes.")
        ) from error
    return invitation


def _create_user(email: str, password: str, name: str) -> User:
    try:
        with transaction.atomic():
            return User.objects.create_user(email, password, name=name)
    except IntegrityError as error:  # another link for the same address was faster
        raise InvitationRefused(
            _("There is an account for this address. Sign in to it first.")
        ) from error


def _tie_record(patient: Patient, user: User) -> None:
    if CareRelationship.objects.filter(
        patient=patient, ends_at=None, therapist__user=user
    ).exists():
        raise InvitationRefused(
            _("You treat this patient. The clinic has to choose a colleague first.")
        )
    try:
        with transaction.atomic():
            tied = Patient.objects.filter(pk=patient.pk, user=None).update(user=user)
    except IntegrityError as error:
        raise InvitationRefused(_("This account has a record at this clinic already.")) from error
    if tied != 1:
        raise InvitationRefused(_("Somebody signs in for this record already."))
