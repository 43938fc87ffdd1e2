"""Answering flags over HTTP: what is kept, what is refused, and where it leads."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client

from adherence.models import FlagStatus, FollowUp, FollowUpStatus
from adherence.rules.flags import FlagKind
from tests import factories
from tests.factories import TODAY

DONE = {"kind": "CALL", "when": "DONE", "note": "Spoke for ten minutes.", "outcome": ""}


@pytest.fixture
def client(therapist, sign_in) -> Client:
    return sign_in(therapist)


@pytest.fixture
def flag(issued_program):
    return factories.FlagFactory(program=issued_program, kind=FlagKind.MISSED_SESSIONS)


def test_acknowledging_twice_is_once(client, flag, therapist):
    for _time in range(2):
        response = client.post(f"/flags/{flag.pk}/acknowledge/")
        assert response["Location"] == f"/patients/{flag.patient_id}/"
    flag.refresh_from_db()
    assert flag.acknowledged_by_id == therapist.user_id


def test_a_link_chooses_the_kind_beforehand(client, flag):
    html = client.get(f"/flags/{flag.pk}/follow-up/?kind=CALL").content.decode()
    assert 'value="CALL"' in html
    assert html.count("checked") == 2
    assert client.get(f"/flags/{flag.pk}/follow-up/?kind=NONSENSE").status_code == 200


def test_a_call_is_recorded_and_the_flag_stays_open(client, flag, therapist):
    response = client.post(f"/flags/{flag.pk}/follow-up/", DONE)
    assert response["Location"] == f"/patients/{flag.patient_id}/"
    row = FollowUp.objects.get()
    assert (row.flag_id, row.note, row.status) == (flag.pk, DONE["note"], FollowUpStatus.DONE)
    assert row.recorded_by_id == therapist.user_id
    flag.refresh_from_db()
    assert flag.status == FlagStatus.OPEN


def test_a_call_can_close_the_flag_at_once(client, flag):
    client.post(f"/flags/{flag.pk}/follow-up/", DONE | {"outcome": "ADVICE_GIVEN"})
    flag.refresh_from_db()
    assert (flag.status, flag.outcome) == (FlagStatus.CLOSED, "ADVICE_GIVEN")


def test_a_change_of_program_goes_on_in_the_program(client, flag):
    response = client.post(f"/flags/{flag.pk}/follow-up/", DONE | {"kind": "CHANGE_PROGRAM"})
    assert response["Location"] == f"/patients/{flag.patient_id}/program/"


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"kind": ""}, "This field is required."),
        ({"kind": "DANCE"}, "Select a valid choice"),
        ({"when": "PLANNED"}, "Choose the day."),
        ({"when": "PLANNED", "due_on": "2020-01-01"}, "Choose a day from today"),
        ({"when": "PLANNED", "due_on": "not a day"}, "Enter a valid date."),
        ({"when": "PLANNED", "due_on": "9999-12-31"}, "Choose a day from today"),
        (
            {"when": "PLANNED", "due_on": "2026-03-12", "outcome": "REFERRED"},
            "Leave it open until what you plan has been done.",
        ),
        ({"note": "x" * 2001}, "at most 2000 characters"),
        ({"outcome": "DANCE"}, "Select a valid choice"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_is_lost(client, flag, change, message):
    response = client.post(f"/flags/{flag.pk}/follow-up/", DONE | change)
    html = response.content.decode()
    assert response.status_code == 200
    assert message in html
    assert change.get("note", DONE["note"]) in html
    assert not FollowUp.objects.exists()


def test_planned_then_done(client, flag):
    tomorrow = TODAY + timedelta(days=1)
    client.post(
        f"/flags/{flag.pk}/follow-up/", DONE | {"when": "PLANNED", "due_on": tomorrow.isoformat()}
    )
    row = FollowUp.objects.get()
    assert (row.status, row.due_on) == (FollowUpStatus.PLANNED, tomorrow)
    address = f"/follow-ups/{row.pk}/done/"
    assert "planned for 12 March" in client.get(address).content.decode()
    client.post(address, {"note": "Goes better."})
    row.refresh_from_db()
    assert row.status == FollowUpStatus.DONE
    assert row.note.endswith("Goes better.")


def test_a_follow_up_needs_no_flag(client, patient):
    address = f"/patients/{patient.pk}/follow-up/"
    assert "And the flag" not in client.get(address).content.decode()
    client.post(address, DONE)
    assert FollowUp.objects.get().flag is None


def test_closing_needs_an_outcome(client, flag):
    address = f"/flags/{flag.pk}/close/"
    assert "This field is required." in client.post(address, {"note": "x"}).content.decode()
    response = client.post(address, {"outcome": "REFERRED", "note": "To the surgeon."})
    assert response["Location"] == f"/patients/{flag.patient_id}/"
    flag.refresh_from_db()
    assert (flag.outcome, flag.closing_note) == ("REFERRED", "To the surgeon.")


def test_a_flag_that_a_colleague_closed_meanwhile_is_said_to_be(client, flag, therapist):
    client.post(f"/flags/{flag.pk}/close/", {"outcome": "REFERRED"})
    again = client.post(f"/flags/{flag.pk}/close/", {"outcome": "ADVICE_GIVEN"})
    assert "not open any more" in again.content.decode()
    flag.refresh_from_db()
    assert flag.outcome == "REFERRED"
    late = client.post(f"/flags/{flag.pk}/follow-up/", DONE | {"outcome": "ADVICE_GIVEN"})
    assert "not open any more" in late.content.decode()
    assert not FollowUp.objects.exists()


@pytest.mark.parametrize("address", ["acknowledge", "follow-up", "close"])
def test_somebody_elses_flag_is_not_there(sign_in, colleague, admin, flag, address):
    for person in (colleague, admin, flag.patient):
        assert sign_in(person).post(f"/flags/{flag.pk}/{address}/", DONE).status_code == 404
    flag.refresh_from_db()
    assert flag.acknowledged_at is None
