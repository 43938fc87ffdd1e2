"""Pages in the states that a table of routes does not name: nothing yet, paused, gone, refused."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest
from django.http import HttpResponse
from django.template.loader import render_to_string
from django.test import Client
from django.urls import reverse

from adherence.models import SessionLog
from clinic.models import Patient
from clinic.rules.roles import Role
from programs.models import Program
from tests import factories
from tests.browser.fullness import caseload_of_every_kind, lengthen_names
from tests.browser.looking import NARROW, WIDE, look_at
from tests.factories import NOW

pytestmark = pytest.mark.browser

LOOKS = [(NARROW, False), (WIDE, True)]


@pytest.fixture
def look(window):
    """Return a function that looks at an address, or at an answer that came from it."""

    def at(client: Client, url: str, answer: HttpResponse | None = None, status: int = 200) -> None:
        answer = answer or client.get(url)
        assert answer.status_code == status, url
        assert look_at(window, url, answer, client, LOOKS) == [], url

    return at


@pytest.fixture
def caseload(therapist, issue_program):
    """A patient in every state, all with long names."""
    made = caseload_of_every_kind(therapist, issue_program)
    lengthen_names()
    return made


STATES = ("new", "silent", "paper", "fresh", "paused", "steady", "sharp")


@pytest.mark.parametrize("query", ["", "?q=nobody-of-this-name", "?show=paused", "?show=silent"])
def test_a_caseload_with_everybody(query, look, caseload, therapist, sign_in):
    look(sign_in(therapist), f"/caseload/{query}")


@pytest.mark.parametrize("state", STATES)
def test_the_therapists_pages_of_a_patient_in_each_state(state, look, caseload, therapist, sign_in):
    client = sign_in(therapist)
    for name in ("patient", "program", "patient_invite"):
        look(client, reverse(name, args=[caseload[state].pk]))


@pytest.mark.parametrize("state", [state for state in STATES if state != "paper"])
def test_the_patients_own_pages_in_each_state(state, look, caseload, sign_in):
    client = sign_in(caseload[state])
    for name in ("today", "progress", "today_pause"):
        look(client, reverse(name))


def test_a_session_from_its_first_question_to_its_end(look, patient, issued_program, sign_in):
    client = sign_in(patient)
    client.post(reverse("session_start"), {"client_key": uuid.uuid4()})
    session = SessionLog.objects.get()
    look(client, reverse("session", args=[session.pk]))
    before = {"client_key": uuid.uuid4(), "score": "2"}
    assert client.post(reverse("session_before", args=[session.pk]), before).status_code == 302
    look(client, reverse("session", args=[session.pk]))
    first = issued_program.revisions.get().prescriptions.get(position=1)
    stop = reverse("session_stop", args=[session.pk, first.pk])
    look(client, stop)
    told = {"client_key": uuid.uuid4(), "prescription": first.pk, "score": "8"}
    stopped = client.post(stop, told)
    assert stopped.status_code == 302
    look(client, stopped["Location"])
    ended = {"client_key": uuid.uuid4(), "worst": "8", "after": "4", "effort": "5"}
    finish = reverse("session_finish", args=[session.pk])
    look(client, finish)
    done = client.post(finish, ended)
    assert done.status_code == 302
    look(client, done["Location"])
    look(client, reverse("today"))


def test_nobody_and_nothing_yet(look, clinic, sign_in):
    therapist = factories.MembershipFactory(clinic=clinic)
    admin = factories.MembershipFactory(clinic=clinic, role=Role.CLINIC_ADMIN)
    for url in ("/caseload/", "/library/", "/library/ladders/"):
        look(sign_in(therapist), url)
    for url in ("/clinic/", "/clinic/?show=discharged", "/clinic/?q=nobody", "/clinic/reminders/"):
        look(sign_in(admin), url)
    gone = factories.UserFactory()
    look(sign_in(gone), "/")


def test_links_that_work_no_longer(look, patient, admin, sign_in):
    kinds = {
        "used": {"accepted_at": NOW},
        "revoked": {"revoked_at": NOW},
        "expired": {"expires_at": NOW - timedelta(days=1)},
        "open": {},
    }
    for token, fields in kinds.items():
        record = factories.PatientFactory(
            clinic=patient.clinic, user=None, email=f"{token}@post.example"
        )
        factories.InvitationFactory(patient=record, token=token, invited_by=admin.user, **fields)
        where = reverse("invitation_accept", args=[token])
        look(Client(), where, status=410 if fields else 200)
    look(sign_in(patient), reverse("invitation_accept", args=["open"]))
    look(Client(), reverse("invitation_accept", args=["nonsense"]), status=404)
    factories.UserFactory(email="open@post.example")
    look(Client(), reverse("invitation_accept", args=["open"]))


def test_a_discharged_patient(look, patient, therapist, admin, issued_program, sign_in):
    Patient.objects.filter(pk=patient.pk).update(discharged_at=NOW)
    look(sign_in(admin), reverse("clinic_patient", args=[patient.pk]))
    look(sign_in(therapist), reverse("patient", args=[patient.pk]))


def test_an_ended_program(look, patient, therapist, issued_program, sign_in):
    Program.objects.filter(pk=issued_program.pk).update(
        status="COMPLETED", completed_on=NOW.date() - timedelta(days=1)
    )
    for name in ("patient", "program"):
        look(sign_in(therapist), reverse(name, args=[patient.pk]))
    look(sign_in(patient), reverse("today"))


def test_the_mailbox_of_the_demo(look, db, settings, tmp_path):
    settings.IS_DEMO, settings.EMAIL_FILE_PATH = True, str(tmp_path)
    look(Client(), reverse("demo_mailbox"))
    (tmp_path / "20260311-100000-1.log").write_text(
        "Content-Type: text/plain; charset=utf-8\nSubject: Your exercises at home\n"
        "From: clinic@clinic.example\nTo: pia@mail.example\n"
        "Date: Wed, 11 Mar 2026 10:00:00 -0000\n\nHello,\n\n"
        f"http://testserver/invitation/{'x' * 43}/\n\n{'-' * 79}\n"
    )
    look(Client(), reverse("demo_mailbox"))
    look(Client(), reverse("demo_mail", args=["20260311-100000-1-0"]))


@pytest.mark.parametrize("name", ["400", "403", "403_csrf", "404", "429", "500"])
def test_problem_pages(name, look):
    look(Client(), "/", HttpResponse(render_to_string(f"{name}.html")))


def test_a_page_that_is_not_there_for_somebody_signed_in(look, therapist, patient, sign_in):
    for person in (therapist, patient):
        look(sign_in(person), "/no-such-page/", status=404)
