"""Reads over people and clinics. One function, one screen's or one rule's data."""

from .demo import DemoPerson, demo_cast
from .invitations import (
    InvitationPage,
    OpenInvitation,
    Standing,
    invitation_page,
    open_invitation,
    open_invitations,
)
from .patients import (
    CarePeriod,
    PatientAccount,
    PatientCounts,
    PatientFilter,
    PatientRow,
    lead_therapist_name,
    lead_therapists,
    patient_account,
    patient_counts,
    patients_page,
)
from .policy import policy_of, policy_of_patient
from .staff import Colleague, HeldRole, TherapistChoice, colleagues_of, therapists_of

__all__ = [
    "CarePeriod",
    "Colleague",
    "DemoPerson",
    "HeldRole",
    "InvitationPage",
    "OpenInvitation",
    "PatientAccount",
    "PatientCounts",
    "PatientFilter",
    "PatientRow",
    "Standing",
    "TherapistChoice",
    "colleagues_of",
    "demo_cast",
    "invitation_page",
    "lead_therapist_name",
    "lead_therapists",
    "open_invitation",
    "open_invitations",
    "patient_account",
    "patient_counts",
    "patients_page",
    "policy_of",
    "policy_of_patient",
    "therapists_of",
]
