"""The thresholds that a clinic runs on."""

from __future__ import annotations

import uuid

from clinic.models import ClinicPolicy, Patient
from clinic.rules.policy import Policy


def policy_of(clinic_id: uuid.UUID) -> Policy:
    """Return the clinic's thresholds, the defaults where it has stored none."""
    stored = ClinicPolicy.objects.filter(pk=clinic_id).first()
    return stored.as_policy() if stored else Policy()


def policy_of_patient(patient: Patient) -> Policy:
    """Return the thresholds for a patient opened with its clinic, without another query."""
    stored = getattr(patient.clinic, "stored_policy", None)
    return stored.as_policy() if stored else Policy()
