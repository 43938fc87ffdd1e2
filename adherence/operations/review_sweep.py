"""The sweep that finds every patient whose record the rules have not seen as it now stands."""

from __future__ import annotations

import logging
import uuid
from collections import Counter
from datetime import datetime

from django.db import DatabaseError

from adherence.models import Review, Sweep
from adherence.operations.flags import review_patient
from programs.models import Program, ProgramStatus
from shared.dates import local_date

logger = logging.getLogger(__name__)

SWEEP = "review_flags"


def review_owed(*, now: datetime) -> Counter[str]:
    """Review whoever has new entries or a local day that has not been looked at.

    One patient whose review fails does not keep the others waiting; the next sweep tries again.
    """
    counts: Counter[str] = Counter()
    for patient_id in _owed(now):
        try:
            review_patient(patient_id=patient_id, now=now)
            counts["reviewed"] += 1
        except (DatabaseError, ValueError, KeyError):
            logger.exception("review of one record failed, left to the next sweep")
            counts["failed"] += 1
    Sweep.objects.update_or_create(
        name=SWEEP, defaults={"finished_at": now, "counts": dict(counts)}
    )
    return counts


def _owed(now: datetime) -> list[uuid.UUID]:
    reviews = {row.patient_id: row for row in Review.objects.all()}
    live = Program.objects.filter(
        status=ProgramStatus.ACTIVE, patient__discharged_at=None
    ).values_list("patient_id", "patient__timezone")
    owed = []
    for patient_id, zone in live.order_by("patient_id"):
        row = reviews.get(patient_id)
        if row is None or row.is_owed or not row.is_for(local_date(now, zone)):
            owed.append(patient_id)
    return owed
