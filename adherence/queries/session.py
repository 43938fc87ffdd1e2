"""One session as the patient is led through it: exercises, their sets, what is logged so far."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from typing import Any

from adherence.models import (
    ExerciseStop,
    PainMoment,
    PainRating,
    SessionLog,
    SessionStatus,
    SetLog,
    SetState,
)
from adherence.rules.pain import PainAdvice, pain_advice
from programs.queries.programs import ItemView, items_of
from programs.rules.dose import SetPlan, planned_sets


@dataclass(frozen=True)
class LoggedSet:
    """What was logged for a planned set, and the key under which it can be taken back."""

    client_key: uuid.UUID
    state: SetState
    repetitions: int | None
    held_seconds: int | None
    moved_seconds: int | None


@dataclass(frozen=True)
class SessionSet:
    """One planned set and its log, None while it is still to do."""

    plan: SetPlan
    logged: LoggedSet | None


@dataclass(frozen=True)
class SessionItem:
    """One exercise of the session."""

    item: ItemView
    sets: tuple[SessionSet, ...]
    is_stopped: bool  # for sharp pain, for the rest of this session

    @property
    def is_finished(self) -> bool:
        """Whether nothing of it is left to do."""
        return self.is_stopped or all(one.logged for one in self.sets)

    @property
    def sets_done(self) -> int:
        """How many sets were done, wholly or partly."""
        return sum(1 for s in self.sets if s.logged and s.logged.state != SetState.SKIPPED)


@dataclass(frozen=True)
class SessionPage:
    """A session with everything that the screen and the script need."""

    session: SessionLog
    items: tuple[SessionItem, ...]
    ratings: dict[PainMoment, int]

    @property
    def is_open(self) -> bool:
        """Whether the session goes on."""
        return self.session.status == SessionStatus.IN_PROGRESS

    @property
    def must_stop(self) -> bool:
        """Whether sharp pain has ended the whole session, as the therapist set it."""
        stopped = any(item.is_stopped for item in self.items)
        return stopped and not self.session.revision.continue_after_sharp_pain

    @property
    def next_up(self) -> tuple[SessionItem, SessionSet] | None:
        """The set to do next, None when all are entered."""
        for item in self.items:
            if not item.is_finished:
                return item, next(one for one in item.sets if one.logged is None)
        return None

    @property
    def advice(self) -> PainAdvice:
        """What the worst rating asks of the patient, against the limit of the revision."""
        worst = self.ratings.get(PainMoment.WORST, 0)
        return pain_advice(worst, self.session.revision.pain_limit)

    @property
    def sets_planned(self) -> int:
        """How many sets the session asks for."""
        return sum(len(item.sets) for item in self.items)

    @property
    def sets_done(self) -> int:
        """How many sets were done, wholly or partly."""
        return sum(item.sets_done for item in self.items)

    @property
    def has_work(self) -> bool:
        """Whether any set was done."""
        return any(item.sets_done for item in self.items)


def session_page(session: SessionLog) -> SessionPage:
    """Return a session's data. Four queries."""
    logs = {
        (row.prescription_id, row.number, row.side): LoggedSet(
            row.client_key,
            SetState(row.state),
            row.repetitions,
            row.held_seconds,
            row.moved_seconds,
        )
        for row in SetLog.objects.filter(session=session, withdrawn_at=None)
    }
    stopped = set(
        ExerciseStop.objects.filter(session=session).values_list("prescription_id", flat=True)
    )
    ratings = PainRating.objects.filter(session=session, withdrawn_at=None)
    return SessionPage(
        session=session,
        items=tuple(
            SessionItem(
                item=item,
                sets=tuple(
                    SessionSet(plan, logs.get((item.prescription_id, plan.number, plan.side)))
                    for plan in planned_sets(item.dose)
                ),
                is_stopped=item.prescription_id in stopped,
            )
            for item in items_of(session.revision_id)
        ),
        ratings={PainMoment(m): s for m, s in ratings.values_list("moment", "score")},
    )


def session_plan(page: SessionPage) -> dict[str, Any]:
    """Return the session as the script on the session screen takes it (JSON-able)."""
    revision = page.session.revision
    return {
        "session": str(page.session.pk),
        "status": page.session.status,
        "pain_limit": revision.pain_limit,
        "continue_after_sharp_pain": revision.continue_after_sharp_pain,
        "ratings": {moment.value: score for moment, score in page.ratings.items()},
        "items": [_plan_of(item) for item in page.items],
    }


def _plan_of(row: SessionItem) -> dict[str, Any]:
    entry, dose = row.item.entry, row.item.dose
    return {
        "prescription": str(row.item.prescription_id),
        "name": entry.name,
        "one_line": entry.one_line,
        "keep_still_line": entry.keep_still_line,
        "breathing": entry.breathing,
        "set_up": list(entry.set_up),
        "steps": list(entry.steps),
        "stop_if": list(entry.stop_if),
        "kind": dose.kind.value,
        "tempo": list(dose.tempo) if dose.tempo else None,
        "rest_seconds": dose.rest_seconds,
        "note": row.item.note,
        "is_stopped": row.is_stopped,
        "sets": [_set_of(one) for one in row.sets],
    }


def _set_of(one: SessionSet) -> dict[str, Any]:
    plan, logged = one.plan, one.logged
    return {
        "number": plan.number,
        "side": plan.side.value,
        "repetitions": plan.repetitions,
        "hold_seconds": plan.hold_seconds,
        "duration_seconds": plan.duration_seconds,
        "logged": logged
        and {
            "key": str(logged.client_key),
            "state": logged.state.value,
            "repetitions": logged.repetitions,
            "held_seconds": logged.held_seconds,
            "moved_seconds": logged.moved_seconds,
        },
    }
