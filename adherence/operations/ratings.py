"""How a session felt: told at its end, and on the morning after."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from adherence.models import PainMoment, PainRating, SessionLog, SessionStatus
from adherence.operations.sessions import SessionRefused, finish_session, rate_pain
from shared.dates import local_date


def rate_morning(
    *, session: SessionLog, client_key: uuid.UUID, score: int, now: datetime
) -> PainRating:
    """Record next-morning pain; SessionRefused before the morning has come or days later."""
    mornings = (local_date(now, session.timezone) - session.local_date).days
    performed = session.status in (SessionStatus.COMPLETED, SessionStatus.STOPPED)
    if not performed or not 1 <= mornings <= 2:
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
