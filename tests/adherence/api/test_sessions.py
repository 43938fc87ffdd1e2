"""Logging through the API: what the stage sends, what comes back, and refusals with a code."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from adherence.models import ExerciseStop, Flag, PainRating, SessionLog, SetLog
from tests import factories
from tests.adherence.sessions import finish, log
from tests.factories import NOW, TODAY


@pytest.fixture
def client(sign_in, patient):
    return sign_in(patient)


@pytest.fixture
def send(client, session):
    """Send JSON to one of the session's addresses: `send("sets", {…})`."""

    def sender(what, data, method="post"):
        address = reverse(f"api_session_{what}", args=[session.pk])
        return getattr(client, method)(address, data, content_type="application/json")

    return sender


def a_set(planned, **more):
    row, plan = planned
    return {
        "client_key": str(uuid.uuid4()),
        "prescription": str(row.pk),
        "number": plan.number,
        "side": plan.side.value,
        "state": "DONE",
        **more,
    }


def assert_problem(answer, status, code):
    assert answer.status_code == status
    assert answer.headers["Content-Type"] == "application/problem+json"
    assert answer.json()["code"] == code


def test_a_session_is_started_once_by_its_key(client, issued_program):
    data = {"client_key": str(uuid.uuid4())}
    answers = [
        client.post(reverse("api_sessions"), data, content_type="application/json")
        for _again in range(2)
    ]
    assert [answer.status_code for answer in answers] == [201, 201]
    assert answers[0].json() == answers[1].json()
    assert answers[0].json()["status"] == "IN_PROGRESS"
    assert SessionLog.objects.count() == 1


@pytest.mark.parametrize(
    ("on", "code"),
    [(TODAY + timedelta(days=1), "future_day"), (TODAY - timedelta(days=9), "too_late")],
)
def test_a_day_that_cannot_be_logged_is_refused(client, issued_program, on, code):
    data = {"client_key": str(uuid.uuid4()), "on": on.isoformat()}
    answer = client.post(reverse("api_sessions"), data, content_type="application/json")
    assert_problem(answer, 409, code)


def test_the_plan_tells_what_is_logged(client, session, plans):
    row = log(session, plans[0], repetitions=9)
    plan = client.get(reverse("api_session", args=[session.pk])).json()
    assert plan["items"][0]["sets"][0]["logged"] == {
        "key": str(row.client_key),
        "state": "DONE",
        "repetitions": 9,
        "held_seconds": None,
        "moved_seconds": None,
    }


def test_a_set_is_logged_once_by_its_key(send, plans):
    data = a_set(plans[0], repetitions=12, occurred_at=NOW.isoformat())
    answers = [send("sets", data) for _again in range(3)]
    assert [answer.status_code for answer in answers] == [201] * 3
    assert len({answer.json()["id"] for answer in answers}) == 1
    assert SetLog.objects.get().occurred_at == NOW


def test_a_set_is_taken_back_by_its_key_as_often_as_it_is_asked(send, plans):
    data = a_set(plans[0])
    send("sets", data)
    for key in (data["client_key"], data["client_key"], str(uuid.uuid4())):
        assert send("sets", {"client_key": key}, "delete").status_code == 204
    assert not SetLog.objects.filter(withdrawn_at=None).exists()


def test_a_set_outside_the_program_is_a_conflict(send, plans):
    assert_problem(send("sets", a_set(plans[0]) | {"number": 9}), 409, "not_in_program")


@pytest.mark.parametrize(
    "change",
    [
        {"client_key": "x"},
        {"number": 0},
        {"side": "BOTH"},
        {"state": "MAYBE"},
        {"repetitions": -1},
        {"repetitions": 10**12},
        {"held_seconds": "long"},
        {"load_value": "NaN"},
        {"occurred_at": "yesterday"},
    ],
)
def test_a_value_that_cannot_be_used_is_named(send, plans, change):
    answer = send("sets", a_set(plans[0]) | change)
    assert_problem(answer, 400, "invalid")
    assert set(answer.json()["errors"]) == set(change)
    assert not SetLog.objects.exists()


def test_pain_is_rated_and_corrected(send):
    for score in (3, 5):
        data = {"client_key": str(uuid.uuid4()), "moment": "WORST", "score": score}
        assert send("pain", data).status_code == 201
    assert PainRating.objects.get(withdrawn_at=None).score == 5


def test_a_stop_opens_the_flag_before_it_answers(send, plans):
    data = {"client_key": str(uuid.uuid4()), "prescription": str(plans[0][0].pk), "score": 8}
    for _again in range(2):
        assert send("stops", data).status_code == 201
    assert ExerciseStop.objects.count() == Flag.objects.count() == 1


def test_a_session_ends_with_its_share(send, session, plans):
    log(session, plans[0])
    answer = send("finish", {"stopped_early": True, "effort": 3})
    assert answer.status_code == 200
    assert (answer.json()["status"], answer.json()["effort"]) == ("STOPPED", 3)
    assert answer.json()["share"] == pytest.approx(1 / len(plans))


def test_an_end_without_a_set_is_refused(send):
    assert_problem(send("finish", {}), 409, "nothing_logged")


def test_a_set_after_the_end_is_kept(send, session, plans):
    log(session, plans[0])
    finish(session)
    assert send("sets", a_set(plans[1])).status_code == 201
    session.refresh_from_db()
    assert session.share == pytest.approx(2 / len(plans))


@pytest.mark.parametrize("what", ["sets", "pain", "stops", "finish"])
def test_another_patients_session_is_as_absent(sign_in, other_patient, session, what):
    client = sign_in(other_patient)
    for key in (session.pk, uuid.uuid4()):
        answer = client.post(
            reverse(f"api_session_{what}", args=[key]), {}, content_type="application/json"
        )
        assert_problem(answer, 404, "not_found")


def test_logging_a_set_takes_ten_queries(send, plans):
    data = a_set(plans[0])
    with CaptureQueriesContext(
        connection,
    ) as queries:
        send("sets", data)
    asked = [q["sql"] for q in queries if not q["sql"].startswith(("SAVEPOINT", "RELEASE"))]
    assert len(asked) <= 10, asked


ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=5,
)
AMOUNTS = ("repetitions", "held_seconds", "moved_seconds", "load_value")
OTHERS = ("number", "score", "effort", "stopped_early", "moment", "note", "on")
NAMES = ("client_key", "prescription", "side", "state", "occurred_at")
FIELDS = st.sampled_from((*AMOUNTS, *OTHERS, *NAMES))


@settings(
    max_examples=150,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(
    what=st.sampled_from(["sets", "pain", "stops", "finish"]),
    changes=st.dictionaries(FIELDS, ANYTHING, min_size=1, max_size=3),
    method=st.sampled_from(["post", "delete"]),
)
def test_no_content_breaks_the_server(send, plans, what, changes, method):
    data = a_set(plans[0]) | {"moment": "WORST", "score": 4} | changes
    answer = send(what, data, method)
    assert answer.status_code < 500, (what, data)


def test_the_end_of_a_session_rings_for_a_review(
    sign_in, patient, issued_program, broker, now, django_capture_on_commit_callbacks
):
    """The team sees in seconds, not at the next sweep, what a session means."""
    session = factories.SessionLogFactory(revision=issued_program.revisions.get())
    item = session.revision.prescriptions.order_by("position").first()
    factories.SetLogFactory(session=session, prescription=item)
    with django_capture_on_commit_callbacks(execute=True):
        answer = sign_in(patient).post(
            f"/api/v1/sessions/{session.pk}/finish/", {}, content_type="application/json"
        )
    assert answer.status_code == 200
    assert broker.llen("celery") == 1
