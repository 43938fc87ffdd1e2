"""Logging a session. Every call is idempotent by the client's key, and order does not matter.

A patient can always record: a set that arrives after the session was finished is kept, and what
the session amounts to is computed again.
"""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _

from adherence.models import PainMoment, PainRating, SessionLog, SessionStatus, SetLog, SetState
from adherence.models.session import CLOSED
from adherence.operations.reviews import want_review
from adherence.rules.barriers import Barrier
from clinic.models import Patient
from programs.models import Prescription
from programs.queries.programs import RevisionView, latest_program
from programs.rules.dose import SetDone, SetPlan, Side, dose_share, planned_sets
from programs.rules.schedule import today_state
from shared.dates import local_date

MOST_SESSIONS_A_DAY = 12


class SessionRefused(Exception):
    """A log that cannot be taken. `code` is for programs, the message for people."""

    def __init__(self, code: str, message: str) -> None:
        super().__init__(message)
        self.code = code


@dataclass(frozen=True)
class Day:
    """The local day that a log is about, and whether it is entered later than it was done."""

    on: date
    today: date

    @property
    def entered_later(self) -> bool:
        """Whether the day has passed."""
        return self.on < self.today


def day_to_log(*, patient: Patient, on: date | None, now: datetime, backfill_hours: int) -> Day:
    """Return the day, today unless `on` says another; refuse the future and what is too long ago.

    A day can be logged until `backfill_hours` after its last moment began to be past.
    """
    today = local_date(now, patient.timezone)
    day = Day(on=on or today, today=today)
    if day.on > today:
        raise SessionRefused("FUTURE_DAY", _("A day that is still to come cannot be logged."))
    earliest = local_date(now - timedelta(hours=backfill_hours), patient.timezone)
    if day.on < earliest:
        raise SessionRefused("TOO_LATE", _("This day is too long ago to be remembered well."))
    return day


@transaction.atomic
def start_session(
    *, patient: Patient, client_key: uuid.UUID, day: Day, entered_by_id: int, now: datetime
) -> SessionLog:
    """Start a session of the revision in force on that day, or return the one already begun.

    A session left open on an earlier day is closed as it stands: what was done is kept.
    """
    _lock(patient)
    same = SessionLog.objects.filter(patient=patient, client_key=client_key).first()
    if same is not None:
        return same
    revision = _in_force(patient, day.on)
    begun = SessionLog.objects.filter(patient=patient, status=SessionStatus.IN_PROGRESS).first()
    if begun is not None:
        if begun.local_date == day.on:
            return begun
        _close(begun, status=SessionStatus.STOPPED, now=now)
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
    """Record that a session was not done, and why. Saying it again changes nothing."""
    _lock(patient)
    same = SessionLog.objects.filter(patient=patient, client_key=client_key).first()
    if same is not None:
        return same
    revision = _in_force(patient, day.on)
    want_review(patient=patient, now=now)
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


def _lock(patient: Patient) -> None:
    """Let two logs of one patient come one after the other: a double tap finds the first."""
    Patient.objects.select_for_update().get(pk=patient.pk)


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

    Refuses (SessionRefused) a set that the revision does not ask for.
    """
    _lock(session.patient)
    same = SetLog.objects.filter(session=session, client_key=client_key).first()
    if same is not None:
        return same
    prescription = Prescription.objects.filter(
        pk=prescription_id, revision_id=session.revision_id
    ).first()
    planned = planned_sets(prescription.dose) if prescription else ()
    if prescription is None or not any(p.number == number and p.side == side for p in planned):
        raise SessionRefused("NOT_IN_PROGRAM", _("Your program does not ask for this set."))
    if session.status == SessionStatus.NOT_DONE:
        raise SessionRefused("NOT_STARTED", _("This session was entered as not done."))
    SetLog.objects.filter(
        session=session, prescription=prescription, number=number, side=side, withdrawn_at=None
    ).update(withdrawn_at=now)
    row = SetLog.objects.create(
        clinic_id=session.clinic_id,
        session=session,
        prescription=prescription,
        client_key=client_key,
        number=number,
        side=side,
        state=state,
        repetitions=repetitions,
        held_seconds=held_seconds,
        moved_seconds=moved_seconds,
        load_value=load_value,
        occurred_at=min(occurred_at, now),
        recorded_at=now,
    )
    _recount_if_closed(session, now=now)
    return row


@transaction.atomic
def undo_last_set(*, session: SessionLog, now: datetime) -> SetLog | None:
    """Withdraw the set that was logged last; None when there is none."""
    last = (
        SetLog.objects.filter(session=session, withdrawn_at=None)
        .order_by("-recorded_at", "-occurred_at", "-number")
        .first()
    )
    if last is None:
        return None
    last.withdrawn_at = now
    last.save(update_fields=["withdrawn_at"])
    _recount_if_closed(session, now=now)
    return last


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
    """Record a 0 to 10 rating. The same key returns the first; a new one corrects the moment."""
    _lock(session.patient)
    same = PainRating.objects.filter(session=session, client_key=client_key).first()
    if same is not None:
        return same
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
        occurred_at=min(occurred_at, now),
        recorded_at=now,
    )
    if session.status in CLOSED:
        want_review(patient=session.patient, now=now)
    return rating


def rate_morning(
    *, session: SessionLog, client_key: uuid.UUID, score: int, now: datetime
) -> PainRating:
    """Record next-morning pain; SessionRefused before the morning has come or days later."""
    mornings = (local_date(now, session.timezone) - session.local_date).days
    if not 1 <= mornings <= 2 or session.status not in CLOSED:
        raise SessionRefused("NOT_ASKED", _("This is asked on the morning after a session."))
    return rate_pain(
        session=session,
        client_key=client_key,
        moment=PainMoment.NEXT_MORNING,
        score=score,
        occurred_at=now,
        now=now,
    )


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
    _lock(session.patient)
    session = SessionLog.objects.select_related("patient").get(pk=session.pk)
    if session.status != SessionStatus.IN_PROGRESS:
        return session
    has_set = session.sets.filter(withdrawn_at=None).exclude(state=SetState.SKIPPED).exists()
    if not has_set and not session.stops.exists():
        raise SessionRefused(
            "NOTHING_LOGGED", _("No set is logged yet. Log one, or say that it was not done.")
        )
    session.effort = effort
    session.note = note
    status = SessionStatus.STOPPED if stopped_early else SessionStatus.COMPLETED
    _close(session, status=status, now=now)
    return session


@transaction.atomic
def finish_with_ratings(
    *,
    session: SessionLog,
    client_key: uuid.UUID,
    worst: int,
    after: int,
    stopped_early: bool,
    effort: int | None,
    note: str,
    now: datetime,
) -> SessionLog:
    """Close a session together with how it felt: all of it is kept, or none."""
    for moment, score in ((PainMoment.WORST, worst), (PainMoment.AFTER, after)):
        rate_pain(
            session=session,
            client_key=uuid.uuid5(client_key, moment),
            moment=moment,
            score=score,
            occurred_at=now,
            now=now,
        )
    return finish_session(
        session=session, stopped_early=stopped_early, effort=effort, note=note, now=now
    )


def _close(session: SessionLog, *, status: SessionStatus, now: datetime) -> None:
    session.status = status
    session.finished_at = now
    session.share, session.over = _amount(session)
    session.save(update_fields=["status", "finished_at", "share", "over", "effort", "note"])
    want_review(patient=session.patient, now=now)


def _recount_if_closed(session: SessionLog, *, now: datetime) -> None:
    if session.status in CLOSED:
        session.share, session.over = _amount(session)
        session.save(update_fields=["share", "over"])
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

