"""Two ways to write simulated sessions: through the operations, and in bulk, proven to be equal.

The demo loads months for forty people in seconds, so it writes in bulk; a test plays the same
sessions through the operations that patients use and compares every column.
"""

from __future__ import annotations

import uuid
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from adherence.management.demo.simulation import PlayedSession, PlayedSet
from adherence.models import (
    ExerciseStop,
    PainMoment,
    PainRating,
    SessionLog,
    SessionStatus,
    SetLog,
    SetState,
)
from adherence.operations.flags import stop_exercise
from adherence.operations.reviews import want_review
from adherence.operations.sessions import (
    Day,
    finish_session,
    log_set,
    rate_pain,
    record_not_done,
    start_session,
)
from adherence.rules.barriers import Barrier
from clinic.models import Patient
from programs.rules.dose import Dose, SetDone, Side, dose_share, planned_sets
from shared.dates import local_date

SESSION_LENGTH = timedelta(minutes=15)


@dataclass(frozen=True)
class Book:
    """Whose sessions, entered by whom, and the doses of each revision in the order of doing."""

    patient: Patient
    entered_by_id: int
    doses: Mapping[uuid.UUID, tuple[tuple[uuid.UUID, Dose], ...]]


def write_through_operations(book: Book, played: Iterable[PlayedSession]) -> None:
    """Log each session as a patient would."""
    for one in played:
        key, at = uuid.uuid4(), one.entered_at
        end = at + SESSION_LENGTH
        day = Day(on=one.on, today=local_date(at, book.patient.timezone))
        if one.status == SessionStatus.NOT_DONE:
            record_not_done(
                patient=book.patient, client_key=key, day=day, reason=Barrier(one.reason),
                note="", entered_by_id=book.entered_by_id, now=at,
            )  # fmt: skip
            continue
        session = start_session(
            patient=book.patient, client_key=key, day=day,
            entered_by_id=book.entered_by_id, now=at,
        )  # fmt: skip
        for moment in ("BEFORE", "WORST", "AFTER"):
            rated_at = at if moment == "BEFORE" else end
            _rate(session, moment, one, rated_at)
        for done in one.sets:
            log_set(
                session=session, client_key=uuid.uuid4(), prescription_id=done.prescription_id,
                number=done.number, side=Side(done.side), state=SetState(done.state),
                repetitions=done.repetitions, held_seconds=done.held_seconds,
                moved_seconds=done.moved_seconds, occurred_at=at, now=at,
            )  # fmt: skip
        _stop(session, one, end)
        finish_session(
            session=session, stopped_early=one.status == SessionStatus.STOPPED,
            effort=one.effort, note="", now=end,
        )  # fmt: skip
        if one.morning_at is not None:
            _rate(session, "NEXT_MORNING", one, one.morning_at)


def _rate(session: SessionLog, moment: str, one: PlayedSession, at: datetime) -> None:
    rate_pain(
        session=session,
        client_key=uuid.uuid4(),
        moment=PainMoment(moment),
        score=one.ratings[moment],
        occurred_at=at,
        now=at,
    )


def _stop(session: SessionLog, one: PlayedSession, at: datetime) -> None:
    if one.stop is None:
        return
    prescription_id, score, note = one.stop
    stop_exercise(
        session=session,
        client_key=uuid.uuid4(),
        prescription_id=prescription_id,
        score=score,
        note=note,
        occurred_at=at,
        now=at,
    )


def write_in_bulk(book: Book, played: Iterable[PlayedSession]) -> int:
    """Write the same rows at once; sharp pain still goes through its operation. Return how many."""
    rows = _Rows()
    slots: Counter[date] = Counter()
    stopped: list[tuple[SessionLog, PlayedSession]] = []
    for one in played:
        slots[one.on] += 1
        session = _session(book, one, slots[one.on])
        rows.sessions.append(session)
        rows.sets += [_set(session, done, one.entered_at) for done in one.sets]
        rows.ratings += [_rating(session, one, moment) for moment in one.ratings]
        if one.stop is not None:
            stopped.append((session, one))
    SessionLog.objects.bulk_create(rows.sessions, batch_size=500)
    SetLog.objects.bulk_create(rows.sets, batch_size=500)
    PainRating.objects.bulk_create(rows.ratings, batch_size=500)
    for session, one in stopped:
        _stop(session, one, one.entered_at + SESSION_LENGTH)
    if rows.sessions:
        want_review(patient=book.patient, now=rows.sessions[-1].recorded_at)
    return len(rows.sessions)


class _Rows:
    def __init__(self) -> None:
        self.sessions: list[SessionLog] = []
        self.sets: list[SetLog] = []
        self.ratings: list[PainRating] = []


def _session(book: Book, one: PlayedSession, slot: int) -> SessionLog:
    performed = one.status != SessionStatus.NOT_DONE
    amount = _amount(book.doses[one.revision_id], one.sets) if performed else (None, 0.0)
    end = one.entered_at + SESSION_LENGTH if performed else one.entered_at
    return SessionLog(
        clinic_id=book.patient.clinic_id,
        patient=book.patient,
        revision_id=one.revision_id,
        client_key=uuid.uuid4(),
        local_date=one.on,
        slot=slot,
        timezone=book.patient.timezone,
        status=one.status,
        reason=one.reason,
        effort=one.effort,
        entered_later=one.on < local_date(one.entered_at, book.patient.timezone),
        entered_by_id=book.entered_by_id,
        started_at=one.entered_at,
        finished_at=end,
        recorded_at=one.entered_at,
        share=amount[0],
        over=amount[1],
    )


def _amount(
    doses: tuple[tuple[uuid.UUID, Dose], ...], sets: Iterable[PlayedSet]
) -> tuple[float, float]:
    logged = {(done.prescription_id, done.number, done.side): done for done in sets}
    plans = [(pid, plan) for pid, dose in doses for plan in planned_sets(dose)]
    found = [logged.get((pid, plan.number, plan.side.value)) for pid, plan in plans]
    amount = dose_share(
        [plan for _pid, plan in plans],
        [_done(one) if one else None for one in found],
    )
    return amount.share, amount.over


def _done(one: PlayedSet) -> SetDone:
    return SetDone(one.repetitions, one.held_seconds, one.moved_seconds)


def _set(session: SessionLog, done: PlayedSet, at: datetime) -> SetLog:
    return SetLog(
        clinic_id=session.clinic_id,
        session=session,
        prescription_id=done.prescription_id,
        client_key=uuid.uuid4(),
        number=done.number,
        side=done.side,
        state=done.state,
        repetitions=done.repetitions,
        held_seconds=done.held_seconds,
        moved_seconds=done.moved_seconds,
        occurred_at=at,
        recorded_at=at,
    )


def _rating(session: SessionLog, one: PlayedSession, moment: str) -> PainRating:
    at = one.entered_at if moment == "BEFORE" else one.entered_at + SESSION_LENGTH
    next_day = moment == "NEXT_MORNING"
    if next_day and one.morning_at is not None:
        at = one.morning_at
    return PainRating(
        clinic_id=session.clinic_id,
        patient_id=session.patient_id,
        session=session,
        client_key=uuid.uuid4(),
        moment=moment,
        score=one.ratings[moment],
        local_date=one.on + timedelta(days=1 if next_day else 0),
        occurred_at=at,
        recorded_at=at,
    )


ROWS = (SessionLog, SetLog, PainRating, ExerciseStop)
COLUMNS_OF_CHANCE = {"id", "client_key", "session", "prescription"}


def comparable(book: Book) -> dict[str, list[tuple[tuple[str, object], ...]]]:
    """Return every row of a patient without what chance alone decides, for the proof."""
    found: dict[str, list[tuple[tuple[str, object], ...]]] = defaultdict(list)
    for model in ROWS:
        path = "patient" if model in (SessionLog, PainRating) else "session__patient"
        for row in model.objects.filter(**{path: book.patient}):
            columns = [f.name for f in model._meta.fields if f.name not in COLUMNS_OF_CHANCE]
            found[model.__name__].append(tuple((c, str(getattr(row, c))) for c in columns))
    return {name: sorted(rows, key=str) for name, rows in found.items()}
