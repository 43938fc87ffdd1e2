"""A rating that comes in by itself, perhaps long after its session."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.db import transaction

from adherence.models import PainMoment, PainRating, SessionLog
from adherence.models.session import CLOSED
from adherence.operations.days import day_to_log
from adherence.operations.ratings import rate_morning
from adherence.operations.sessions import rate_pain


@transaction.atomic
def rate_moment(
    *,
    session: SessionLog,
    client_key: uuid.UUID,
    moment: PainMoment,
    score: int,
    occurred_at: datetime,
    now: datetime,
    backfill_hours: int,
) -> PainRating:
    """Record the rating of one moment, or correct it while the day is still remembered well.

    What is usual for a patient rests on the ratings of weeks ago, and with it whether a rise is
    seen: those of a closed session stand once its day could not be logged any more. Raises
    SessionRefused then, and for next-morning pain on any day but the morning after. The same key
    returns the first row whenever it comes.
    """
    same = PainRating.objects.filter(session=session, client_key=client_key).first()
    if same is not None:
        return same
    if moment == PainMoment.NEXT_MORNING:
        return rate_morning(session=session, client_key=client_key, score=score, now=now)
    if session.status in CLOSED:
        day_to_log(
            patient=session.patient,
            on=session.local_date,
            now=now,
            backfill_hours=backfill_hours,
        )
    return rate_pain(
        session=session,
        client_key=client_key,
        moment=moment,
        score=score,
        occurred_at=occurred_at,
        now=now,
    )
