"""One tap stops reminders: without a sign-in, without cookies, and never by only looking."""

from __future__ import annotations

import re
from http import HTTPStatus

import pytest
from django.test import Client

from adherence.models import ReminderPreference
from adherence.operations.reminders import send_due
from tests import factories
from tests.factories import NOW


@pytest.fixture
def preference(patient):
    return factories.ReminderPreferenceFactory(patient=patient)


@pytest.fixture
def url(preference):
    return f"/reminders/stop/{preference.stop_token}/"


@pytest.fixture
def browser():
    """Nobody's browser, and one that minds cross-site requests."""
    return Client(enforce_csrf_checks=True)


def is_on() -> bool:
    return ReminderPreference.objects.get().is_on


@pytest.mark.parametrize("multipart", [True, False])
def test_a_mail_program_stops_it_with_one_post(url, browser, multipart):
    body = {"List-Unsubscribe": "One-Click"}
    options = (
        {"data": body}
        if multipart
        else {
            "data": "List-Unsubscribe=One-Click",
            "content_type": "application/x-www-form-urlencoded",
        }
    )
    for _ in range(2):
        answer = browser.post(url, **options)
        assert answer.status_code == HTTPStatus.OK
        assert not answer.cookies
        assert not is_on()
    assert ReminderPreference.objects.get().stopped_at == NOW


@pytest.mark.parametrize("method", ["get", "head"])
def test_looking_changes_nothing(url, browser, method):
    for _ in range(20):
        answer = getattr(browser, method)(url)
        assert answer.status_code == HTTPStatus.OK
        assert not answer.cookies
    assert is_on()
    assert "no-store" in answer["Cache-Control"]


def test_the_page_has_one_button_that_posts_to_itself(url, browser):
    page = browser.get(url).content.decode()
    assert len(re.findall(r'<form method="post"', page)) == 1
    assert "Stop reminders" in page
    assert "Pia" not in page


@pytest.mark.parametrize(
    "token", ["forged", "a" * 43, "%00", "%FF", "a%0Ab", "🙂", "a" * 2000, "' OR 1=1 --"]
)
@pytest.mark.parametrize("method", ["get", "post"])
def test_a_forged_link_is_a_page_that_does_not_exist(preference, browser, token, method):
    answer = getattr(browser, method)(f"/reminders/stop/{token}/")
    assert answer.status_code == HTTPStatus.NOT_FOUND
    assert is_on()


@pytest.mark.parametrize("method", ["put", "patch", "delete"])
def test_no_other_method(url, browser, method):
    assert getattr(browser, method)(url).status_code == HTTPStatus.METHOD_NOT_ALLOWED


def test_it_stops_one_patient_only(url, browser, outside_patient):
    theirs = factories.ReminderPreferenceFactory(patient=outside_patient)
    browser.post(url)
    theirs.refresh_from_db()
    assert theirs.is_on


def test_the_link_in_the_mail_works(preference, issued_program, browser, mailoutbox):
    send_due(clock=lambda: NOW, site_url="https://clinic.example")
    header = mailoutbox[0].extra_headers["List-Unsubscribe"]
    (path,) = re.findall(r"^<https://clinic\.example(/.*)>$", header)
    assert f"https://clinic.example{path}" in mailoutbox[0].body
    assert browser.post(path).status_code == HTTPStatus.OK
    assert not is_on()


class TestOwnPage:
    """The patient's choice of times."""

    def post(self, client, **fields):
        return client.post("/reminders/", fields)

    def test_times_are_stored(self, patient, sign_in):
        client = sign_in(patient)
        answer = self.post(client, is_on="on", first="17:30", second="09:30")
        assert answer.status_code == HTTPStatus.FOUND
        stored = ReminderPreference.objects.get()
        assert (stored.is_on, stored.times) == (True, ["09:30", "17:30"])
        page = client.get("/reminders/").content.decode()
        assert 'value="09:30' in page
        assert 'value="17:30' in page

    def test_a_time_that_never_goes_out_is_refused_beside_the_field(self, patient, sign_in):
        answer = self.post(sign_in(patient), is_on="on", first="21:00")
        assert answer.status_code == HTTPStatus.OK
        page = answer.content.decode()
        assert "None go out from 20:00." in page
        assert 'value="21:00' in page
        assert not ReminderPreference.objects.exists()

    @pytest.mark.parametrize(
        "fields",
        [
            {"is_on": "on"},
            {"is_on": "on", "first": "25:00"},
            {"is_on": "on", "first": "\x00"},
            {"is_on": "on", "first": "09:30", "second": "soon"},
        ],
    )
    def test_bad_input_is_told_and_nothing_is_stored(self, patient, sign_in, fields):
        assert self.post(sign_in(patient), **fields).status_code == HTTPStatus.OK
        assert not ReminderPreference.objects.exists()

    def test_off_needs_no_time(self, patient, sign_in):
        assert self.post(sign_in(patient), first="").status_code == HTTPStatus.FOUND
        assert not is_on()

    def test_a_patient_without_an_address_is_told(self, patient, sign_in):
        patient.user.email = ""
        patient.user.save()
        assert "no e-mail address" in sign_in(patient).get("/reminders/").content.decode()

    def test_three_without_an_answer_are_told(self, preference, patient, sign_in):
        client = sign_in(patient)
        assert "No reminders for now" not in client.get("/reminders/").content.decode()
        for days in (1, 2, 3):
            at = NOW.replace(day=11 - days)
            factories.ReminderFactory(
                patient=patient, local_date=at.date(), due_at=at, sent_at=at, status="SENT"
            )
        page = client.get("/reminders/").content.decode()
        assert "No reminders for now" in page
        assert "call your clinic" in page


class TestClinicPage:
    URL = "/clinic/reminders/"

    def test_the_admin_sees_what_did_not_leave(self, patient, outside_patient, admin, sign_in):
        factories.SweepFactory()
        factories.ReminderFactory(patient=patient, status="FAILED", failure="SMTPRecipientsRefused")
        factories.ReminderFactory(patient=outside_patient, status="UNKNOWN")
        page = sign_in(admin).get(self.URL).content.decode()
        assert "Pia Lund" in page
        assert "refused the address" in page
        assert "Uma Frost" not in page
        assert "late: is the worker running?" in page  # the review has never run

    def test_nothing_failed(self, admin, sign_in):
        assert "Nothing failed" in sign_in(admin).get(self.URL).content.decode()

    def test_the_overview_leads_there(self, admin, sign_in):
        assert f'href="{self.URL}"' in sign_in(admin).get("/clinic/").content.decode()

    def test_it_is_for_admins(self, patient, therapist, sign_in):
        for person in (patient, therapist):
            assert sign_in(person).get(self.URL).status_code == HTTPStatus.NOT_FOUND

    def test_queries_do_not_grow_with_problems(
        self, patient, admin, sign_in, django_assert_max_num_queries
    ):
        for slot in range(1, 30):
            factories.ReminderFactory(patient=patient, slot=slot, status="FAILED")
        client = sign_in(admin)
        client.get(self.URL)
        with django_assert_max_num_queries(9):
            client.get(self.URL)
