"""People, clinics and who treats whom."""

from clinic.rules.roles import Role

from .accounts import User
from .care import CareRelationship, Invitation, InvitationKind, Patient
from .tenancy import Clinic, ClinicPolicy, Membership

__all__ = [
    "CareRelationship",
    "Clinic",
    "ClinicPolicy",
    "Invitation",
    "InvitationKind",
    "Membership",
    "Patient",
    "Role",
    "User",
]
