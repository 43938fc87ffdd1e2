"""A patient pauses and resumes the own program; the therapist's pauses are in `programs`."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import transaction
from django.utils.translation import gettext as _

from adherence.operations.reviews import want_review
from adherence.operations.sessions import lock_record
from clinic.models import Patient
from programs.models import PauseReason, Program, ProgramStatus
from programs.operations.programs import ProgramError, pause_program, resume_program
from shared.dates import local_date


@transaction.atomic
def pause_own_program(
    *, patient: Patient, reason: str, days: int, set_by_id: int, now: datetime
) -> None:
    """Let nothing be due from today for `days` days; ProgramError without a running program."""
    lock_record(patient)  # or a review that runs just now takes the wish for another as met
    today = local_date(now, patient.timezone)
    pause_program(
        program=_running(patient),
        starts_on=today,
        ends_on=today + timedelta(days=days),
        reason=PauseReason(reason),
        set_by_id=set_by_id,
        now=now,
    )
    want_review(patient=patient, now=now)


@transaction.atomic
def resume_own_program(*, patient: Patient, now: datetime) -> None:
    """End the pause that holds today; sessions are due again from today."""
    lock_record(patient)
    resume_program(program=_running(patient), today=local_date(now, patient.timezone))
    want_review(patient=patient, now=now)


def _running(patient: Patient) -> Program:
    program = Program.objects.filter(patient=patient, status=ProgramStatus.ACTIVE).first()
    if program is None:
        raise ProgramError(_("You have no program that runs."))
    return program
