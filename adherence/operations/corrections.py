"""Taking back a set. The row stays, marked as withdrawn: nothing that was logged is lost."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.db import transaction

from adherence.models import SessionLog, SetLog
from adherence.operations.sessions import lock_session, recount_if_closed


@transaction.atomic
def undo_last_set(*, session: SessionLog, now: datetime) -> SetLog | None:
    """Withdraw the set that was logged last; None when there is none."""
    lock_session(session)
    last = (
        SetLog.objects.filter(session=session, withdrawn_at=None)
        .order_by("-recorded_at", "-occurred_at", "-number")
        .first()
    )
    if last is None:
        return None
    last.withdrawn_at = now
    last.save(update_fields=["withdrawn_at"])
    recount_if_closed(session, now=now)
    return last


@transaction.atomic
def withdraw_set(*, session: SessionLog, client_key: uuid.UUID, now: datetime) -> None:
    """Withdraw the set that was logged under a key. Again, or under no known key: nothing."""
    lock_session(session)
    withdrawn = SetLog.objects.filter(
        session=session, client_key=client_key, withdrawn_at=None
    ).update(withdrawn_at=now)
    if withdrawn:
        recount_if_closed(session, now=now)
