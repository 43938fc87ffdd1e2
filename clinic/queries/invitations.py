"""Links that have been sent, and what each can still do."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from django.db.models import Q

from clinic.models import Invitation, InvitationKind, User


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


class Standing(StrEnum):
    """What a link can still do."""

    OPEN = "OPEN"
    USED = "USED"
    REVOKED = "REVOKED"
    EXPIRED = "EXPIRED"
    UNKNOWN = "UNKNOWN"


@dataclass(frozen=True)
class InvitationPage:
    """What somebody who holds a link may know about it; empty words for an unknown one."""

    standing: Standing
    is_for_staff: bool = False
    clinic_name: str = ""
    clinic_phone: str = ""
    invited_by: str = ""
    name: str = ""
    email: str = ""
    has_account: bool = False


def invitation_page(token_hash: str, *, now: datetime) -> InvitationPage:
    """Return what the page behind a link shows. Reads only: link scanners open links too."""
    invitation = (
        Invitation.objects.filter(token_hash=token_hash)
        .select_related("clinic", "invited_by", "patient")
        .first()
    )
    if invitation is None:
        return InvitationPage(Standing.UNKNOWN)
    return InvitationPage(
        standing=_standing(invitation, now),
        is_for_staff=invitation.kind == InvitationKind.STAFF,
        clinic_name=invitation.clinic.name,
        clinic_phone=invitation.clinic.phone,
        invited_by=str(invitation.invited_by),
        name=invitation.name,
        email=invitation.email,
        has_account=User.objects.filter(email__iexact=invitation.email).exists(),
    )


def _standing(invitation: Invitation, now: datetime) -> Standing:
    if invitation.accepted_at is not None:
        return Standing.USED
    if invitation.revoked_at is not None:
        return Standing.REVOKED
    if invitation.patient is not None and invitation.patient.discharged_at is not None:
        return Standing.REVOKED
    return Standing.OPEN if invitation.expires_at > now else Standing.EXPIRED


@dataclass(frozen=True)
class OpenInvitation:
    """A link that nobody has used yet."""

    id: uuid.UUID
    name: str
    email: str
    what: str
    patient_id: uuid.UUID | None
    sent_at: datetime
    expires_at: datetime
    has_run_out: bool


def open_invitations(clinic_id: uuid.UUID, *, now: datetime) -> list[OpenInvitation]:
    """Return the links not used and not withdrawn, newest first; those run out stay listed."""
    rows = Invitation.objects.filter(
        Q(patient=None) | Q(patient__discharged_at=None),
        clinic_id=clinic_id,
        accepted_at=None,
        revoked_at=None,
    ).order_by("-created_at", "pk")
    return [
        OpenInvitation(
            id=row.pk,
            name=row.name,
            email=row.email,
            what=row.get_role_display() if row.role else row.get_kind_display(),
            patient_id=row.patient_id,
            sent_at=row.created_at,
            expires_at=row.expires_at,
            has_run_out=row.expires_at <= now,
        )
        for row in rows
    ]
