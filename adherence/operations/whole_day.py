"""Entering a session afterwards, exercise by exercise: yesterday from memory, or from paper."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from django.db import transaction
from django.utils.translation import gettext as _

from adherence.models import PainMoment, SessionLog, SetState
from adherence.operations.sessions import (
    Day,
    SessionRefused,
    finish_session,
    log_set,
    rate_pain,
    start_session,
)
from clinic.models import Patient
from programs.queries.programs import items_of
from programs.rules.dose import SetPlan, planned_sets


class Amount(StrEnum):
    """How much of an exercise was done."""

    ALL = "ALL"
    PART = "PART"
    NONE = "NONE"


@dataclass(frozen=True)
class WholeDay:
    """What somebody remembers of a session, or wrote down on paper."""

    amounts: Mapping[uuid.UUID, Amount]  # by prescription
    worst: int | None
    effort: int | None
    note: str


@transaction.atomic
def log_whole_day(
    *,
    patient: Patient,
    client_key: uuid.UUID,
    day: Day,
    told: WholeDay,
    entered_by_id: int,
    now: datetime,
) -> SessionLog:
    """Log a session in one go. Part of an exercise counts as the first half of its sets.

    Raises SessionRefused where nothing at all was done: that is "not done", with a reason.
    """
    if all(amount == Amount.NONE for amount in told.amounts.values()):
        raise SessionRefused("NOTHING_LOGGED", _("Say what you did, or that it was not done."))
    session = start_session(
        patient=patient, client_key=client_key, day=day, entered_by_id=entered_by_id, now=now
    )
    if session.client_key != client_key:
        raise SessionRefused("IN_PROGRESS", _("A session of this day is open. Finish it first."))
    for item in items_of(session.revision_id):
        amount = told.amounts.get(item.prescription_id, Amount.NONE)
        for plan in _first_of(planned_sets(item.dose), amount):
            log_set(
                session=session,
                client_key=uuid.uuid5(
                    client_key, f"{item.prescription_id} {plan.number} {plan.side}"
                ),
                prescription_id=item.prescription_id,
                number=plan.number,
                side=plan.side,
                state=SetState.DONE,
                repetitions=plan.repetitions,
                held_seconds=plan.hold_seconds,
                moved_seconds=plan.duration_seconds,
                occurred_at=now,
                now=now,
            )
    if told.worst is not None:
        rate_pain(
            session=session,
            client_key=uuid.uuid5(client_key, PainMoment.WORST),
            moment=PainMoment.WORST,
            score=told.worst,
            occurred_at=now,
            now=now,
        )
    whole = all(amount == Amount.ALL for amount in told.amounts.values())
    return finish_session(
        session=session, stopped_early=not whole, effort=told.effort, note=told.note, now=now
    )


def _first_of(plans: tuple[SetPlan, ...], amount: Amount) -> tuple[SetPlan, ...]:
    if amount == Amount.PART:
        return plans[: (len(plans) + 1) // 2]
    return plans if amount == Amount.ALL else ()
