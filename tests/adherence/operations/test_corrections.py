"""Taking back a set: the last one, or one by its key."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest

from adherence.models import SetLog
from adherence.operations.corrections import undo_last_set, withdraw_set
from tests.adherence.sessions import finish, log
from tests.factories import NOW


def test_the_last_set_is_taken_back(session, plans):
    log(session, plans[0])
    last = log(session, plans[1], now=NOW + timedelta(minutes=1))
    assert undo_last_set(session=session, now=NOW) == last
    assert SetLog.objects.filter(withdrawn_at=None).count() == 1
    undo_last_set(session=session, now=NOW)
    assert undo_last_set(session=session, now=NOW) is None


def test_a_set_is_taken_back_by_its_key_and_does_not_come_again(session, plans):
    key = uuid.uuid4()
    log(session, plans[0], key=key)
    log(session, plans[1])
    finish(session)
    for _again in range(2):
        withdraw_set(session=session, client_key=key, now=NOW)
    log(session, plans[0], key=key)  # the same log once more, on a slow line
    session.refresh_from_db()
    assert session.share == pytest.approx(1 / len(plans))


def test_taking_back_an_unknown_key_changes_nothing(session, plans):
    log(session, plans[0])
    withdraw_set(session=session, client_key=uuid.uuid4(), now=NOW)
    assert SetLog.objects.filter(withdrawn_at=None).count() == 1
