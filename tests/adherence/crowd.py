"""A whole caseload in few statements, for tests of how much a page asks of the database."""

from __future__ import annotations

import uuid
from datetime import UTC, date, datetime, time, timedelta

from adherence.models import PainMoment, PainRating, SessionLog, SessionStatus
from clinic.models import CareRelationship, Membership, Patient
from programs.models import ProgramRevision
from tests import factories
from tests.factories import JOINED, STARTED_ON, TODAY


def add_patients(therapist: Membership, count: int) -> list[Patient]:
    """Add patients of the therapist's with a daily program since February, five weeks logged."""
    patients = Patient.objects.bulk_create(
        Patient(
            clinic=therapist.clinic,
            given_name="Pat",
            family_name=f"Number {number:03}",
            timezone=therapist.clinic.timezone,
        )
        for number in range(count)
    )
    CareRelationship.objects.bulk_create(
        CareRelationship(
            clinic=therapist.clinic, patient=patient, therapist=therapist, starts_at=JOINED
        )
        for patient in patients
    )
    for patient in patients:
        program = factories.ProgramFactory(patient=patient, created_by=therapist.user)
        revision = factories.ProgramRevisionFactory(program=program, issued_by=therapist.user)
        days = [STARTED_ON + timedelta(days=n) for n in range((TODAY - STARTED_ON).days) if n % 5]
        log_days(revision, days, by_id=therapist.user_id)
    return patients


def log_days(revision: ProgramRevision, days: list[date], *, by_id: int) -> None:
    """Log a full session with a rating on each of these days."""
    patient = revision.program.patient
    sessions = SessionLog.objects.bulk_create(
        SessionLog(
            clinic_id=revision.clinic_id,
            patient=patient,
            revision=revision,
            client_key=uuid.uuid4(),
            local_date=day,
            timezone=patient.timezone,
            status=SessionStatus.COMPLETED,
            share=1.0,
            entered_by_id=by_id,
            started_at=_at(day),
            finished_at=_at(day),
            recorded_at=_at(day),
        )
        for day in days
    )
    PainRating.objects.bulk_create(
        PainRating(
            clinic_id=revision.clinic_id,
            patient=patient,
            session=session,
            client_key=uuid.uuid4(),
            moment=PainMoment.WORST,
            score=session.local_date.toordinal() % 5,
            local_date=session.local_date,
            occurred_at=session.started_at,
            recorded_at=session.started_at,
        )
        for session in sessions
    )


def _at(day: date) -> datetime:
    return datetime.combine(day, time(18), UTC)
