"""The sweep that finds every patient whose record the rules have not seen as it now stands."""

from __future__ import annotations

import logging
import uuid
from collections import Counter
from collections.abc import Callable
from datetime import datetime

from adherence.models import Review, Sweep
from adherence.operations.flags import review_patient
from adherence.operations.left_open import end_left_session, left_open
from adherence.queries.reminders import REVIEW_SWEEP
from clinic.models import Patient
from programs.models import Program, ProgramStatus
from shared.dates import local_date
from shared.failures import kind_and_place

logger = logging.getLogger(__name__)


def review_owed(*, now: datetime) -> Counter[str]:
    """Review whoever has new entries or a local day that has not been looked at.

    Sessions that were left open end first, so that they count. One patient whose record fails does
    not keep the others waiting; the next sweep tries again.
    """
    counts: Counter[str] = Counter()
    for session_id in left_open(now):
        counts[_try(end_left_session, "ended", session_id=session_id, now=now)] += 1
    for patient_id in _owed(now):
        counts[_try(review_patient, "reviewed", patient_id=patient_id, now=now)] += 1
    Sweep.objects.update_or_create(
        name=REVIEW_SWEEP, defaults={"finished_at": now, "counts": dict(counts)}
    )
    return counts


def _try(operation: Callable[..., object], done: str, **arguments: object) -> str:
    """Return `done`, or "failed" where one record breaks the operation."""
    try:
        operation(**arguments)
    except Exception as error:  # noqa: BLE001 - whatever it is, the others are to be seen
        logger.error("review of one record failed: %s", kind_and_place(error))
        return "failed"
    return done


def _owed(now: datetime) -> list[uuid.UUID]:
    """Return whom to look at: live programs, ended ones until their last day has been seen."""
    reviews = {row.patient_id: row for row in Review.objects.all()}
    ended_on = dict(
        Program.objects.filter(status=ProgramStatus.COMPLETED, completed_on__isnull=False)
        .order_by("completed_on")
        .values_list("patient_id", "completed_on")
    )
    live = set(
        Program.objects.filter(status=ProgramStatus.ACTIVE).values_list("patient_id", flat=True)
    )
    owed = []
    for patient_id, zone in (
        Patient.objects.filter(discharged_at=None)
        .order_by("pk")
        .values_list("pk", "timezone")
    ):
        row = reviews.get(patient_id)
        if patient_id in live:
            is_owed = row is None or row.is_owed or not row.is_for(local_date(now, zone))
        elif row is not None:
            ended = ended_on.get(patient_id)
            is_owed = row.is_owed or bool(ended and row.done_for and row.done_for < ended)
        else:
            is_owed = False
        if is_owed:
            owed.append(patient_id)
    return owed
