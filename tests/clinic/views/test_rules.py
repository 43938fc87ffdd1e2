"""The admin's rules and the clinic's details."""

import pytest

from clinic.models import ClinicPolicy
from clinic.queries import policy_of
from clinic.rules.policy import REASONS, Policy

VALUES = {name: f"{getattr(Policy(), name):g}" for name in REASONS} | {
    "quiet_from": "20:00",
    "quiet_until": "09:00",
}
DETAILS = {
    "name": "Willow Row",
    "timezone": "Europe/Dublin",
    "phone": "01632 960 001",
    "emergency_number": "999",
    "reading_days": "Monday to Thursday",
    "reply_within_days": "3",
}


@pytest.fixture
def browser(sign_in, admin):
    return sign_in(admin)


def test_every_threshold_stands_with_its_reason_and_range(browser):
    page = browser.get("/clinic/policy/").content.decode()
    for reason in REASONS.values():
        assert reason.why in page
        assert f"From {reason.low:g} to {reason.high:g}." in page


def test_looking_stores_nothing(browser):
    browser.get("/clinic/policy/?defaults=1")
    assert not ClinicPolicy.objects.exists()


def test_saved_thresholds_hold_and_say_who_set_them(browser, clinic, admin, now):
    response = browser.post(
        "/clinic/policy/", VALUES | {"target_percent": "70", "pain_jump": "3.5"}
    )
    assert response["Location"] == "/clinic/policy/"
    assert policy_of(clinic.pk) == Policy(target_percent=70, pain_jump=3.5)
    stored = ClinicPolicy.objects.get()
    assert (stored.changed_by, stored.changed_at) == (admin.user, now)
    assert "Yours differs" in browser.get("/clinic/policy/").content.decode()


def test_a_value_outside_is_refused_beside_its_field_and_kept(browser, clinic):
    page = browser.post("/clinic/policy/", VALUES | {"pain_limit": "9"}).content.decode()
    assert "Choose a value from 0 to 8." in page
    assert 'id="id_pain_limit_error"' in page
    assert 'value="9"' in page
    assert policy_of(clinic.pk) == Policy()


def test_defaults_are_filled_in_for_a_look(browser, clinic):
    browser.post("/clinic/policy/", VALUES | {"target_percent": "70"})
    page = browser.get("/clinic/policy/?defaults=1").content.decode()
    assert "Nothing has changed until you save." in page
    assert 'name="target_percent" value="80"' in page
    assert policy_of(clinic.pk).target_percent == 70


def test_rules_of_one_clinic_leave_the_other_alone(browser, other_clinic):
    browser.post("/clinic/policy/", VALUES | {"target_percent": "70"})
    assert policy_of(other_clinic.pk) == Policy()


def test_the_clinics_details_show_on_patients_pages(browser, clinic, sign_in, patient):
    assert browser.post("/clinic/details/", DETAILS)["Location"] == "/clinic/details/"
    clinic.refresh_from_db()
    assert (clinic.timezone, clinic.reply_within_days) == ("Europe/Dublin", 3)
    page = sign_in(patient).get("/account/password/").content.decode()
    assert "In an emergency call 999." in page
    assert "01632 960 001" in page
    assert "Monday to Thursday" in page


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"name": ""}, "name"),
        ({"timezone": "Mars/Base"}, "timezone"),
        ({"emergency_number": ""}, "emergency_number"),
        ({"emergency_number": "call"}, "emergency_number"),
        ({"reply_within_days": "0"}, "reply_within_days"),
    ],
)
def test_a_slip_changes_nothing(change, field, browser, clinic):
    page = browser.post("/clinic/details/", DETAILS | change).content.decode()
    assert f'id="id_{field}_error"' in page
    clinic.refresh_from_db()
    assert clinic.name == "Willow Row Clinic"
