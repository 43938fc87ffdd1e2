"""Writes over people and clinics; each function is one short transaction."""

from .care import (
    PeopleError,
    create_patient,
    discharge_patient,
    readmit_patient,
    transfer_care,
    update_patient,
)
from .clinic import change_clinic, change_policy, end_membership, give_role
from .invitations import (
    INVITATION_DAYS,
    InvitationNotSent,
    InvitationRefused,
    accept_invitation,
    admit_patient,
    hash_token,
    invite_patient,
    invite_staff,
    renew_invitation,
    revoke_invitation,
)

__all__ = [
    "INVITATION_DAYS",
    "InvitationNotSent",
    "InvitationRefused",
    "PeopleError",
    "accept_invitation",
    "admit_patient",
    "change_clinic",
    "change_policy",
    "create_patient",
    "discharge_patient",
    "end_membership",
    "give_role",
    "hash_token",
    "invite_patient",
    "invite_staff",
    "readmit_patient",
    "renew_invitation",
    "revoke_invitation",
    "transfer_care",
    "update_patient",
]
