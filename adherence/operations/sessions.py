"""Logging a session. Every call is idempotent by the client's key, and order does not matter.

A patient can always record: a set that arrives after the session was finished is kept, and what
the session amounts to is computed again.
"""

from __future__ import annotations

import uuid
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction
from django.db.models import Max, Q
from django.utils.translation import gettext as _

from adherence.models import PainMoment, PainRating, SessionLog, SessionStatus, SetLog, SetState
from adherence.models.session import CLOSED
from adherence.operations.days import Day, SessionRefused, day_to_log
from adherence.operations.reviews import want_review
from adherence.rules.barriers import Barrier
from clinic.models import Patient
from programs.models import Prescription
from programs.queries.programs import RevisionView, latest_program
from programs.rules.dose import SetDone, SetPlan, Side, dose_share, planned_sets
from programs.rules.schedule import today_state
from shared.dates import local_date

__all__ = [
    "Day",
    "PainMoment",
    "SessionRefused",
    "SetState",
    "close_session",
    "day_to_log",
    "finish_session",
    "lock_record",
    "lock_session",
    "log_set",
    "rate_pain",
    "record_not_done",
    "recount_if_closed",
    "start_session",
]

MOST_SESSIONS_A_DAY = 12


@transaction.atomic
def start_session(
    *, patient: Patient, client_key: uuid.UUID, day: Day, entered_by_id: int, now: datetime
) -> SessionLog:
    """Start a session of the revision in force on that day, or return the one already begun.

    A session left open on an earlier day is closed as it stands: what was done is kept. One left
    open on a later day stays open, and SessionRefused says so.
    """
    lock_record(patient)
    same = SessionLog.objects.filter(patient=patient, client_key=client_key).first()
    if same is not None:
        return same
    revision = _in_force(patient, day.on)
    begun = SessionLog.objects.filter(patient=patient, status=SessionStatus.IN_PROGRESS).first()
    if begun is not None:
        if begun.local_date == day.on:
            return begun
        if begun.local_date > day.on:
            raise SessionRefused("IN_PROGRESS", _("Finish the session that is open first."))
        close_session(begun, status=SessionStatus.STOPPED, now=now)
    return _create(
        patient=patient,
        revision_id=revision.id,
        client_key=client_key,
        day=day,
        entered_by_id=entered_by_id,
        now=now,
    )


@transaction.atomic
def record_not_done(
    *,
    patient: Patient,
    client_key: uuid.UUID,
    day: Day,
    reason: Barrier,
    note: str,
    entered_by_id: int,
    now: datetime,
) -> SessionLog:
    """Record that a session was not done, and why. Saying it again changes nothing.

    A session of that day that was begun without doing anything becomes this one; with something
    done it is refused (SessionRefused), because that session has to be finished instead.
    """
    lock_record(patient)
    same = SessionLog.objects.filter(patient=patient, client_key=client_key).first()
    if same is not None:
        return same
    revision = _in_force(patient, day.on)
    want_review(patient=patient, now=now)
    begun = SessionLog.objects.filter(
        patient=patient, status=SessionStatus.IN_PROGRESS, local_date=day.on
    ).first()
    if begun is not None:
        if _has_work(begun):
            raise SessionRefused("IN_PROGRESS", _("Finish the session that is open first."))
        begun.status, begun.finished_at = SessionStatus.NOT_DONE, now
        begun.reason, begun.note, begun.client_key = reason, note, client_key
        begun.save(update_fields=["status", "finished_at", "reason", "note", "client_key"])
        return begun
    return _create(
        patient=patient,
        revision_id=revision.id,
        client_key=client_key,
        day=day,
        entered_by_id=entered_by_id,
        now=now,
        status=SessionStatus.NOT_DONE,
        finished_at=now,
        reason=reason,
        note=note,
    )


def lock_record(patient: Patient) -> None:
    """Let two logs of one patient come one after the other: a double tap finds the first."""
    # No key: rows that only point at the patient need not wait, and so cannot wait in a circle.
    Patient.objects.select_for_update(no_key=True).get(pk=patient.pk)


def lock_session(session: SessionLog) -> None:
    """Lock the record, and read again how the session stands: it may have been closed meanwhile."""
    lock_record(session.patient)
    session.refresh_from_db(fields=["status"])


def _in_force(patient: Patient, on: date) -> RevisionView:
    program = latest_program(patient.pk)
    revision = program.revision_on(on) if program else None
    if program is None or revision is None or (program.completed_on or date.max) <= on:
        raise SessionRefused("NO_PROGRAM", _("There is no program on this day."))
    state = today_state(program.spans, program.pauses, on, program.completed_on)
    if state.kind in ("NOT_STARTED", "ENDED"):
        raise SessionRefused("NO_PROGRAM", _("There is no program on this day."))
    return revision


def _create(
    *,
    patient: Patient,
    revision_id: uuid.UUID,
    client_key: uuid.UUID,
    day: Day,
    entered_by_id: int,
    now: datetime,
    status: SessionStatus = SessionStatus.IN_PROGRESS,
    finished_at: datetime | None = None,
    reason: str = "",
    note: str = "",
) -> SessionLog:
    taken = SessionLog.objects.filter(patient=patient, local_date=day.on).count()
    if taken >= MOST_SESSIONS_A_DAY:
        raise SessionRefused("TOO_MANY", _("There are many sessions on this day already."))
    return SessionLog.objects.create(
        clinic_id=patient.clinic_id,
        patient=patient,
        revision_id=revision_id,
        client_key=client_key,
        local_date=day.on,
        slot=taken + 1,
        timezone=patient.timezone,
        status=status,
        reason=reason,
        note=note,
        entered_later=day.entered_later,
        entered_by_id=entered_by_id,
        started_at=now,
        finished_at=finished_at,
        recorded_at=now,
    )


@transaction.atomic
def log_set(
    *,
    session: SessionLog,
    client_key: uuid.UUID,
    prescription_id: uuid.UUID,
    number: int,
    side: Side,
    state: SetState,
    repetitions: int | None = None,
    held_seconds: int | None = None,
    moved_seconds: int | None = None,
    load_value: Decimal | None = None,
    occurred_at: datetime,
    now: datetime,
) -> SetLog:
    """Log one set. The same key returns the first row; another key for the same set corrects it.

    A set that is DONE without any number was done as planned; a skipped one has no numbers.
    Refuses (SessionRefused) a set that the revision does not ask for.
    """
    lock_session(session)
    this_set = Q(prescription_id=prescription_id, number=number, side=side, withdrawn_at=None)
    earlier = SetLog.objects.filter(this_set | Q(client_key=client_key), session=session)
    before = {row.client_key: row for row in earlier}
    if client_key in before:
        return before[client_key]
    prescription = Prescription.objects.filter(
        pk=prescription_id, revision_id=session.revision_id
    ).first()
    planned = planned_sets(prescription.dose) if prescription else ()
    plan = next((p for p in planned if p.number == number and p.side == side), None)
    if prescription is None or plan is None:
        raise SessionRefused("NOT_IN_PROGRAM", _("Your program does not ask for this set."))
    if session.status == SessionStatus.NOT_DONE:
        raise SessionRefused("NOT_STARTED", _("This session was entered as not done."))
    amount = (repetitions, held_seconds, moved_seconds)
    if state == SetState.SKIPPED:
        amount, load_value = (None, None, None), None
    elif state == SetState.DONE and amount == (None, None, None):
        amount = (plan.repetitions, plan.hold_seconds, plan.duration_seconds)
    if before:
        earlier.update(withdrawn_at=now)
    row = SetLog.objects.create(
        clinic_id=session.clinic_id,
        session=session,
        prescription=prescription,
        client_key=client_key,
        number=number,
        side=side,
        state=state,
        repetitions=amount[0],
        held_seconds=amount[1],
        moved_seconds=amount[2],
        load_value=load_value,
        occurred_at=_within(session, occurred_at, now),
        recorded_at=now,
    )
    recount_if_closed(session, now=now)
    return row


@transaction.atomic
def rate_pain(
    *,
    session: SessionLog,
    client_key: uuid.UUID,
    moment: PainMoment,
    score: int,
    occurred_at: datetime,
    now: datetime,
) -> PainRating:
    """Record a 0 to 10 rating. The same key returns the first; a new one corrects the moment.

    The worst of a session is at least what was told with its sharp pain.
    """
    lock_session(session)
    same = PainRating.objects.filter(session=session, client_key=client_key).first()
    if same is not None:
        return same
    if moment == PainMoment.WORST:
        score = max(score, session.stops.aggregate(told=Max("score"))["told"] or 0)
    PainRating.objects.filter(session=session, moment=moment, withdrawn_at=None).update(
        withdrawn_at=now
    )
    next_day = moment == PainMoment.NEXT_MORNING
    rating = PainRating.objects.create(
        clinic_id=session.clinic_id,
        patient_id=session.patient_id,
        session=session,
        client_key=client_key,
        moment=moment,
        score=score,
        local_date=session.local_date + timedelta(days=1 if next_day else 0),
        occurred_at=_within(session, occurred_at, now),
        recorded_at=now,
    )
    if session.status in CLOSED:
        want_review(patient=session.patient, now=now)
    return rating


@transaction.atomic
def finish_session(
    *,
    session: SessionLog,
    stopped_early: bool,
    effort: int | None,
    note: str,
    now: datetime,
) -> SessionLog:
    """Close a session with what was done. Finishing twice keeps the first finish.

    Refuses (SessionRefused) a session without a single set: not done has a reason of its own.
    """
    lock_record(session.patient)
    session = SessionLog.objects.select_related("patient").get(pk=session.pk)
    if session.status != SessionStatus.IN_PROGRESS:
        return session
    if not _has_work(session):
        raise SessionRefused(
            "NOTHING_LOGGED", _("No set is logged yet. Log one, or say that it was not done.")
        )
    session.effort = effort
    session.note = note
    status = SessionStatus.STOPPED if stopped_early else SessionStatus.COMPLETED
    close_session(session, status=status, now=now)
    return session


def _has_work(session: SessionLog) -> bool:
    """Whether a set was done, or an exercise stopped for sharp pain."""
    done = session.sets.filter(withdrawn_at=None).exclude(state=SetState.SKIPPED)
    return done.exists() or session.stops.exists()


def _within(session: SessionLog, at: datetime, now: datetime) -> datetime:
    """Keep the time that a device tells between the start of the session and now."""
    return max(session.started_at, min(at, now))


def close_session(session: SessionLog, *, status: SessionStatus, now: datetime) -> None:
    """End an open session with what it amounts to by now; the caller holds the record."""
    session.status = status
    session.finished_at = now
    session.share, session.over = _amount(session)
    session.save(update_fields=["status", "finished_at", "share", "over", "effort", "note"])
    want_review(patient=session.patient, now=now)


def recount_if_closed(session: SessionLog, *, now: datetime) -> None:
    """Work out again what a finished session amounts to, after one of its sets has changed.

    What is filled in on a later day counts, and is shown as entered later.
    """
    if session.status in CLOSED:
        session.share, session.over = _amount(session)
        session.entered_later |= local_date(now, session.timezone) > session.local_date
        session.save(update_fields=["share", "over", "entered_later"])
        want_review(patient=session.patient, now=now)


def _amount(session: SessionLog) -> tuple[float, float]:
    """Return the share of the dose that was done, and what went beyond it. Two queries."""
    prescriptions = Prescription.objects.filter(revision_id=session.revision_id)
    plans: list[tuple[uuid.UUID, SetPlan]] = [
        (row.pk, plan) for row in prescriptions for plan in planned_sets(row.dose)
    ]
    logged = {
        (row.prescription_id, row.number, row.side): row
        for row in SetLog.objects.filter(session=session, withdrawn_at=None)
    }
    done: list[SetDone | None] = []
    for prescription_id, plan in plans:
        row = logged.get((prescription_id, plan.number, plan.side))
        done.append(
            SetDone(row.repetitions, row.held_seconds, row.moved_seconds)
            if row is not None and row.state != SetState.SKIPPED
            else None
        )
    amount = dose_share([plan for _key, plan in plans], done)
    return amount.share, amount.over
