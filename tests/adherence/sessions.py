"""Short ways to start a session, log in it and end it, through the operations that patients use."""

from __future__ import annotations

import uuid

from adherence.models import SetState
from adherence.operations.sessions import finish_session, log_set, record_not_done, start_session
from adherence.rules.barriers import Barrier
from tests.factories import NOW


def begin(patient, day, *, key=None, now=NOW):
    return start_session(
        patient=patient,
        client_key=key or uuid.uuid4(),
        day=day,
        entered_by_id=patient.user_id,
        now=now,
    )


def log(session, planned, *, key=None, state=SetState.DONE, now=NOW, **amount):
    row, plan = planned
    return log_set(
        session=session,
        client_key=key or uuid.uuid4(),
        prescription_id=row.pk,
        number=plan.number,
        side=plan.side,
        state=state,
        occurred_at=now,
        now=now,
        **amount,
    )


def finish(session, *, now=NOW, stopped_early=False):
    return finish_session(session=session, stopped_early=stopped_early, effort=4, note="", now=now)


def say_not_done(patient, day, *, key=None):
    return record_not_done(
        patient=patient,
        client_key=key or uuid.uuid4(),
        day=day,
        reason=Barrier.NO_TIME,
        note="",
        entered_by_id=patient.user_id,
        now=NOW,
    )
