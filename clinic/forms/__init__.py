"""Forms of the clinic's pages: plain forms, laid out for the design system."""

from .accounts import (
    ForgottenPasswordForm,
    InvitationForm,
    NewPasswordForm,
    OtherPasswordForm,
    SignInForm,
)
from .clinic import ClinicForm, PolicyForm, RoleForm, StaffInvitationForm, policy_values
from .parts import TimeZoneField
from .patients import (
    AdmissionForm,
    ContactForm,
    NewPatientForm,
    PatientDetailsForm,
    TherapistForm,
)

__all__ = [
    "AdmissionForm",
    "ClinicForm",
    "ContactForm",
    "ForgottenPasswordForm",
    "InvitationForm",
    "NewPasswordForm",
    "NewPatientForm",
    "OtherPasswordForm",
    "PatientDetailsForm",
    "PolicyForm",
    "RoleForm",
    "SignInForm",
    "StaffInvitationForm",
    "TherapistForm",
    "TimeZoneField",
    "policy_values",
]
