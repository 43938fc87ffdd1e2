"""Pages and limits go on while Redis is away, and count together while it is there."""

from __future__ import annotations

import time
import uuid
from collections.abc import Callable, Iterator
from http import HTTPStatus

import pytest
from django.conf import settings
from django.core.cache import cache
from django.test import override_settings

from shared.cache import SteadyCache, SteadyClient

AWAY = "redis://127.0.0.1:1/0"


@pytest.fixture
def opened() -> Iterator[Callable[[str], SteadyCache]]:
    """Return a function that opens a cache as another process would."""
    caches = []

    def one(url: str) -> SteadyCache:
        caches.append(SteadyCache(url, {"OPTIONS": settings.CACHES["default"]["OPTIONS"]}))
        return caches[-1]

    yield one
    for steady in caches:
        for pool in steady._cache._redis._pools.values():
            pool.disconnect()


@pytest.fixture(autouse=True)
def rested() -> Iterator[None]:
    """No earlier failure counts, and none of ours stays."""
    SteadyClient.away_until = 0.0
    yield
    SteadyClient.away_until = 0.0


def test_two_processes_share_one_count(broker, opened):
    one, other = opened(settings.REDIS_URL), opened(settings.REDIS_URL)
    one.set("tries", 1, 60)
    assert other.incr("tries") == 2
    assert one.get("tries") == 2
    one.set("times", [1.5, 2.5], 60)
    assert other.get("times") == [1.5, 2.5]


def test_what_is_stored_is_data_and_no_code(broker, opened):
    opened(settings.REDIS_URL).set("times", [1.5], 60)
    assert broker.get(":1:times") == b"[1.5]"


def test_while_the_server_is_away_a_process_counts_alone(opened):
    away = opened(AWAY)
    key = uuid.uuid4().hex
    assert away.get(key) is None
    away.set(key, 1, 60)
    assert away.incr(key) == 2
    assert away.get_many([key]) == {key: 2}
    assert away.add(key, 5, 60) is False
    away.delete(key)
    assert away.get(key, "none") == "none"


def test_it_is_not_asked_again_and_again(opened):
    away = opened(AWAY)
    away.get("x")
    began = time.perf_counter()
    for _ in range(100):
        away.get("x")
    assert time.perf_counter() - began < 0.5


def test_it_is_asked_again_after_a_rest(broker, opened):
    SteadyClient.away_until = time.monotonic() + 0.05
    there = opened(settings.REDIS_URL)
    there.set("rested", 1, 60)
    assert broker.get(":1:rested") is None
    time.sleep(0.06)
    there.set("rested", 1, 60)
    assert broker.get(":1:rested") == b"1"


class TestPagesWithoutRedis:
    @pytest.fixture(autouse=True)
    def away(self) -> Iterator[None]:
        caches = {"default": settings.CACHES["default"] | {"LOCATION": AWAY}}
        with override_settings(CACHES=caches, REDIS_URL=AWAY):
            assert cache.get("anything") is None
            yield

    def test_signing_in(self, patient, client):
        answer = client.post(
            "/account/login/", {"login": patient.user.email, "password": "harbour lamp seven"}
        )
        assert (answer.status_code, answer["Location"]) == (HTTPStatus.FOUND, "/")

    def test_a_patient_records(self, patient, issued_program, sign_in):
        client = sign_in(patient)
        assert client.get("/today/").status_code == HTTPStatus.OK
        started = client.post(
            "/api/v1/sessions/",
            {"client_key": str(uuid.uuid4())},
            content_type="application/json",
        )
        assert started.status_code == HTTPStatus.CREATED
        path = f"/api/v1/sessions/{started.json()['id']}/sets/"
        item = issued_program.revisions.get().prescriptions.get(position=1)
        logged = client.post(
            path,
            {
                "client_key": str(uuid.uuid4()),
                "prescription": str(item.pk),
                "number": 1,
                "side": "BILATERAL",
                "state": "DONE",
                "repetitions": 12,
            },
            content_type="application/json",
        )
        assert logged.status_code == HTTPStatus.CREATED, logged.content

    def test_a_therapist_looks(self, therapist, patient, issued_program, sign_in):
        client = sign_in(therapist)
        assert client.get("/caseload/").status_code == HTTPStatus.OK
        assert client.get("/api/v1/flags/").status_code == HTTPStatus.OK
