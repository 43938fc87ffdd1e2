"""Choosing when to be reminded: own times, off, and what cannot be sent."""

from __future__ import annotations

import pytest

from adherence.models import ReminderPreference
from clinic.models import Patient
from tests import factories

ADDRESS = "/reminders/"


@pytest.fixture
def browser(sign_in, patient):
    return sign_in(patient)


def text_of(answer):
    return " ".join(answer.content.decode().split())


def test_nothing_is_on_until_it_is_chosen(browser, patient):
    shown = text_of(browser.get(ADDRESS))
    assert "checked" not in shown
    assert f"A short mail to {patient.user.email}" in shown
    assert not ReminderPreference.objects.exists()


def test_own_times_are_kept_and_shown_again(browser, patient):
    data = {"is_on": "on", "first": "09:30", "second": "18:00", "save": "Save"}
    assert browser.post(ADDRESS, data).url == ADDRESS
    kept = ReminderPreference.objects.get(patient=patient)
    assert (kept.is_on, kept.times) == (True, ["09:30", "18:00"])
    assert 'value="18:00' in text_of(browser.get(ADDRESS))


def test_off_is_off_and_the_times_stay(browser, patient):
    factories.ReminderPreferenceFactory(patient=patient)
    browser.post(ADDRESS, {"first": "09:30", "save": "Save"})
    kept = ReminderPreference.objects.get(patient=patient)
    assert (kept.is_on, kept.times) == (False, ["09:30"])


@pytest.mark.parametrize(
    ("first", "said"),
    [
        ("", "Choose a time of day."),
        ("late", "id_first_error"),
        ("25:00", "id_first_error"),
        ("23:30", "None go out from"),
    ],
)
def test_a_time_that_cannot_be_is_said_beside_the_field(browser, patient, first, said):
    data = {"is_on": "on", "first": first, "second": "17:15", "save": "Save"}
    shown = text_of(browser.post(ADDRESS, data))
    assert said in shown
    assert 'aria-describedby="id_first_error"' in shown
    assert 'value="17:15' in shown
    assert not ReminderPreference.objects.exists()


def test_without_an_address_it_says_whom_to_ask(browser, patient):
    Patient.objects.filter(pk=patient.pk).update(email="")
    patient.user.email = ""
    patient.user.save(update_fields=["email"])
    assert "Ask your clinic to add one." in text_of(browser.get(ADDRESS))


def test_the_page_takes_few_queries(browser, patient, django_assert_max_num_queries):
    factories.ReminderPreferenceFactory(patient=patient)
    with django_assert_max_num_queries(12):
        browser.get(ADDRESS)
