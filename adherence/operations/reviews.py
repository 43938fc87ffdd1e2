"""Asking the rules to look at a patient. The wish is a row, so no entry waits unseen."""

from __future__ import annotations

from datetime import datetime

from adherence.models import Review
from clinic.models import Patient


def want_review(*, patient: Patient, now: datetime) -> None:
    """Note, inside the caller's transaction, that this patient's entries have changed."""
    Review.objects.update_or_create(
        patient=patient, defaults={"wanted_at": now, "clinic_id": patient.clinic_id}
    )
