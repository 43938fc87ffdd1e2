"""Sessions that nobody ended: what was logged counts all the same, and a new day begins anew."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.db import transaction

from adherence.models import SessionLog, SessionStatus
from adherence.models.session import LEFT_AFTER
from adherence.operations.sessions import close_session, lock_session


@transaction.atomic
def end_left_session(*, session_id: uuid.UUID, now: datetime) -> bool:
    """End a session that was left open, as it stands; False when somebody has ended it by now."""
    session = SessionLog.objects.select_related("patient").get(pk=session_id)
    lock_session(session)
    if not session.is_left_open(now):
        return False
    close_session(session, status=SessionStatus.STOPPED, now=now)
    return True


def left_open(now: datetime) -> list[uuid.UUID]:
    """Return the sessions whose day is over and that nobody has ended."""
    rows = SessionLog.objects.filter(
        status=SessionStatus.IN_PROGRESS, started_at__lte=now - LEFT_AFTER
    )
    return [row.pk for row in rows.order_by("pk") if row.is_left_open(now)]
