"""The readiness page: what is away or late, to whoever asks, and nothing about anybody."""

from __future__ import annotations

from datetime import timedelta
from http import HTTPStatus

import pytest
from django.db import connection
from django.test import Client

from tests import factories
from tests.factories import NOW

ALL_OK = {
    "status": "ok",
    "database": "ok",
    "broker": "ok",
    "send_due_reminders": "ok",
    "review_flags": "ok",
}


@pytest.fixture
def swept(db, now):
    for name in ("send_due_reminders", "review_flags"):
        factories.SweepFactory(name=name)


def ask(status: HTTPStatus = HTTPStatus.OK) -> dict[str, str]:
    answer = Client().get("/readyz")
    assert answer.status_code == status
    assert answer["Cache-Control"] == "no-store"
    assert not answer.cookies
    return answer.json()


def test_all_is_well(swept, broker):
    assert ask() == ALL_OK


def test_no_sweep_yet(db, now, broker):
    never = {"send_due_reminders": "never", "review_flags": "never"}
    assert ask() == ALL_OK | never | {"status": "degraded"}


def test_a_sweep_that_is_late_is_told_and_serves_all_the_same(swept, broker, clock):
    clock.move_to(NOW + timedelta(minutes=9))
    assert ask()["status"] == "ok"
    clock.move_to(NOW + timedelta(minutes=10))
    assert ask()["send_due_reminders"] == "late"


def test_a_broker_that_is_away_is_told_and_serves_all_the_same(swept, settings):
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    assert ask() == ALL_OK | {"broker": "away", "status": "degraded"}


def test_without_the_database_nothing_can_be_served(swept, broker):
    """The tables are out of reach as they are on a database that has just been made."""

    def refuse(execute, sql, params, many, context):
        return execute("SELECT no_such_column FROM no_such_table", (), many, context)

    with connection.execute_wrapper(refuse):
        assert ask(HTTPStatus.SERVICE_UNAVAILABLE)["database"] == "away"


def test_heads_only(swept, broker):
    assert Client().head("/readyz").status_code == HTTPStatus.OK
    assert Client().post("/readyz").status_code == HTTPStatus.METHOD_NOT_ALLOWED
