"""Staff enter what a patient wrote down on paper, for a day of the last four weeks."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from adherence.models import SessionLog, SessionStatus
from adherence.operations.sessions import SessionRefused, day_to_log, record_not_done
from adherence.operations.whole_day import Amount, WholeDay, log_whole_day
from adherence.rules.barriers import Barrier
from clinic.models import Patient

PAPER_DAYS = 28


@dataclass(frozen=True)
class PaperDay:
    """What stands on paper about one day; `reason` where nothing was done."""

    told: WholeDay
    reason: Barrier | None

    @property
    def is_not_done(self) -> bool:
        """Whether no exercise was done at all."""
        return all(amount == Amount.NONE for amount in self.told.amounts.values())


@transaction.atomic
def log_paper_day(
    *,
    patient: Patient,
    client_key: uuid.UUID,
    on: date,
    paper: PaperDay,
    entered_by_id: int,
    now: datetime,
) -> SessionLog:
    """Log a session from paper. What was written down at the time may be four weeks old.

    Raises SessionRefused for a day to come or too long ago, without a program, while the patient
    is in the middle of a session in the browser, and for a day not done without a reason.
    """
    day = day_to_log(patient=patient, on=on, now=now, backfill_hours=PAPER_DAYS * 24)
    if paper.is_not_done:
        if paper.reason is None:
            raise SessionRefused("NOTHING_LOGGED", _("Say why nothing was done."))
        return record_not_done(
            patient=patient,
            client_key=client_key,
            day=day,
            reason=paper.reason,
            note=paper.told.note,
            entered_by_id=entered_by_id,
            now=now,
        )
    is_under_way = SessionLog.objects.filter(
        patient=patient, status=SessionStatus.IN_PROGRESS, local_date=day.today
    ).exists()
    if is_under_way:
        # Starting another session would end the one that the patient is doing just now.
        raise SessionRefused(
            "IN_PROGRESS", _("The patient is doing a session just now. Enter this one later.")
        )
    return log_whole_day(
        patient=patient,
        client_key=client_key,
        day=day,
        told=paper.told,
        entered_by_id=entered_by_id,
        now=now,
    )
