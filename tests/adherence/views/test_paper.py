"""Staff enter a paper log: day by day, marked as entered later, for their own patients."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest
from django.test import Client

from adherence.models import PainMoment, PainRating, SessionLog, SessionStatus
from tests import factories
from tests.factories import TODAY


@pytest.fixture
def client(therapist, sign_in) -> Client:
    return sign_in(therapist)


@pytest.fixture
def address(issued_program, patient) -> str:
    return f"/patients/{patient.pk}/paper/"


def told(**change) -> dict[str, str]:
    values = {
        "client_key": str(uuid.uuid4()),
        "amount_1": "ALL",
        "amount_2": "PART",
        "amount_3": "NONE",
        "worst": "4",
        "effort": "6",
        "note": "Stairs went well.",
        "reason": "",
    }
    return values | change


def on(days: int) -> str:
    return f"?on={(TODAY - timedelta(days=days)).isoformat()}"


def test_a_day_is_entered_with_who_entered_it(client, address, patient, therapist):
    response = client.post(address + on(20), told())
    assert response["Location"] == address
    session = SessionLog.objects.get()
    assert session.local_date == TODAY - timedelta(days=20)
    assert session.entered_later
    assert session.entered_by_id == therapist.user_id
    assert session.status == SessionStatus.STOPPED
    assert 0 < session.share < 1
    assert session.note == "Stairs went well."
    assert PainRating.objects.get(moment=PainMoment.WORST).score == 4
    assert patient.review.is_owed, "the rules look again"


def test_the_next_missing_day_comes_next(client, address):
    first = client.get(address).content.decode()
    assert (TODAY - timedelta(days=28)).strftime("%A") in first
    client.post(address + on(28), told())
    assert f"?on={(TODAY - timedelta(days=27)).isoformat()}" in client.get(address).content.decode()


def test_sending_twice_enters_once(client, address):
    content = told()
    for _time in range(2):
        client.post(address + on(5), content)
    assert SessionLog.objects.count() == 1


def test_nothing_done_needs_a_reason(client, address):
    nothing = {"amount_1": "NONE", "amount_2": "NONE", "amount_3": "NONE", "worst": ""}
    refused = client.post(address + on(5), told(**nothing))
    assert "Say why nothing was done." in refused.content.decode()
    assert not SessionLog.objects.exists()
    client.post(address + on(5), told(**nothing, reason="UNWELL"))
    session = SessionLog.objects.get()
    assert (session.status, session.reason) == (SessionStatus.NOT_DONE, "UNWELL")


@pytest.mark.parametrize("days", [-1, 29, 300])
def test_days_out_of_reach_are_refused(client, address, days):
    html = client.post(address + on(days), told()).content.decode()
    assert "Choose another." in html
    assert not SessionLog.objects.exists()


@pytest.mark.parametrize("query", ["?on=yesterday", "?on=9999-99-99", "?on=0001-01-01", "?on=%00"])
def test_odd_days_are_answered(client, address, query):
    assert client.get(address + query).status_code == 200


def test_a_session_under_way_is_not_ended_by_paper(client, address, issued_program):
    begun = factories.SessionLogFactory(revision=issued_program.revisions.get(), local_date=TODAY)
    html = client.post(address + on(5), told()).content.decode()
    assert "doing a session just now" in html
    assert "Stairs went well." in html, "nothing typed is lost"
    begun.refresh_from_db()
    assert begun.status == SessionStatus.IN_PROGRESS


def test_without_a_program_there_is_nothing_to_enter(sign_in, colleague, other_patient):
    html = sign_in(colleague).get(f"/patients/{other_patient.pk}/paper/").content.decode()
    assert "nothing to enter" in html


def test_only_those_who_treat_the_patient(sign_in, colleague, admin, patient, address):
    for person in (colleague, admin, patient):
        assert sign_in(person).post(address + on(5), told()).status_code == 404
    assert not SessionLog.objects.exists()
