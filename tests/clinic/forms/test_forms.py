"""What the clinic's forms take, refuse, and say."""

import string
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.forms import (
    AdmissionForm,
    ClinicForm,
    ContactForm,
    InvitationForm,
    NewPatientForm,
    PolicyForm,
    TherapistForm,
    policy_values,
)
from clinic.rules.policy import REASONS, Policy
from shared.zones import zone_choices
from tests.factories import TODAY

CONTACT = {"given_name": "Nils", "family_name": "Aker", "timezone": "Europe/Oslo"}


def contact(**changes):
    return ContactForm(CONTACT | changes, today=TODAY)


def policy(**changes):
    return PolicyForm(policy_values(Policy()) | changes, stored=Policy())


def test_the_least_a_record_needs():
    assert contact().is_valid()


@pytest.mark.parametrize("zone", ["Europe/Oslo", "UTC", "America/Argentina/Ushuaia", "US/Eastern"])
def test_zones_that_exist(zone):
    assert contact(timezone=zone).is_valid()


@pytest.mark.parametrize("zone", ["", "Mars/Base", "../../etc/passwd", "Europe", "\x00", "a" * 300])
def test_zones_that_do_not(zone):
    assert "timezone" in contact(timezone=zone).errors


def test_a_stored_zone_outside_the_regions_stays_selected():
    form = ContactForm(today=TODAY, initial=CONTACT | {"timezone": "US/Eastern"})
    assert '<option value="US/Eastern" selected>' in str(form["timezone"])


def test_zones_are_grouped_by_region():
    regions = dict(zone_choices())
    assert ("Europe/Oslo", "Oslo") in regions["Europe"]
    assert ("America/Argentina/Ushuaia", "Argentina, Ushuaia") in regions["America"]
    assert all(
        "/" in name for region, places in regions.items() if region != "UTC" for name, _ in places
    )


@pytest.mark.parametrize(
    ("born", "message"),
    [
        ("2026-03-12", "This date lies in the future."),
        ("1899-12-31", "Check the year, please."),
        ("yesterday", "Enter a valid date."),
    ],
)
def test_dates_of_birth_that_cannot_be(born, message):
    assert contact(date_of_birth=born).errors["date_of_birth"] == [message]


def test_born_today_is_possible():
    form = contact(date_of_birth="2026-03-11")
    assert form.is_valid()
    assert form.cleaned_data["date_of_birth"] == date(2026, 3, 11)


@pytest.mark.parametrize("phone", ["call me", "<b>", "01632\n960"])
def test_phones_that_are_none(phone):
    assert "phone" in contact(phone=phone).errors


def test_an_invitation_needs_an_address():
    form = NewPatientForm(CONTACT | {"invite": "on"}, today=TODAY)
    assert form.errors["email"] == ["The invitation needs an e-mail address."]


def test_the_admins_form_asks_for_no_problem():
    form = AdmissionForm(today=TODAY, therapists=[])
    assert "problem" not in form.fields
    assert "problem" not in ContactForm.base_fields


def test_a_therapist_must_be_one_of_the_clinic():
    form = TherapistForm({"therapist": "80e35d98-6142-40a2-bb10-0307ecbac2ef"}, therapists=[])
    assert "therapist" in form.errors


@pytest.mark.parametrize(
    ("password", "message"),
    [
        ("short lamp", "at least 12 characters"),
        ("password1234", "too common"),
        ("nora@mail.example", "too similar to the e-mail"),
        ("Nora Quill 12", "too similar to the name"),
    ],
)
def test_passwords_that_are_too_weak(password, message, db):
    form = InvitationForm(
        {"name": "Nora Quill", "password": password, "again": password}, email="nora@mail.example"
    )
    assert message in form.errors["password"][0]


@pytest.mark.parametrize(
    "password", ["harbour lamp seven", "ü" * 128, "🦊🦊🦊🦊🦊🦊🦊🦊🦊🦊🦊🦊", "  spaces count  "]
)
def test_passwords_that_are_fine(password, db):
    form = InvitationForm({"name": "N", "password": password, "again": password}, email="n@x.org")
    assert form.is_valid(), form.errors
    assert form.cleaned_data["password"] == password


def test_two_different_passwords_are_a_slip(db):
    form = InvitationForm(
        {"name": "N", "password": "harbour lamp seven", "again": "harbour lamp eight"},
        email="n@mail.example",
    )
    assert "again" in form.errors


def test_the_defaults_are_valid():
    assert policy().is_valid()


@pytest.mark.parametrize("name", REASONS)
def test_a_threshold_outside_its_range_is_refused_beside_its_field(name):
    reason = REASONS[name]
    form = policy(**{name: reason.high + 1})
    assert form.errors == {
        name: [f"Choose a value from {reason.low:g} to {reason.high:g}."],
    }
    assert not policy(**{name: reason.low - 1}).is_valid()
    assert policy(**{name: reason.low}).is_valid()
    assert policy(**{name: reason.high}).is_valid()


@pytest.mark.parametrize("name", REASONS)
def test_a_threshold_shows_reason_default_and_range(name):
    hint = str(PolicyForm(stored=Policy()).fields[name].help_text)
    assert REASONS[name].why in hint
    assert f"Default {getattr(Policy(), name):g}." in hint
    assert f"From {REASONS[name].low:g} to {REASONS[name].high:g}." in hint
    assert "differs" not in hint


def test_a_changed_threshold_is_marked():
    form = PolicyForm(stored=Policy(target_percent=70))
    assert "Yours differs" in str(form.fields["target_percent"].help_text)


@pytest.mark.parametrize(("begin", "end"), [("08:00", "20:00"), ("09:00", "09:00")])
def test_quiet_hours_span_a_night(begin, end):
    assert "quiet_from" in policy(quiet_from=begin, quiet_until=end).errors


def test_the_clinic_needs_an_emergency_number():
    form = ClinicForm({"name": "X", "timezone": "UTC", "reading_days": "Monday"})
    assert set(form.errors) == {"emergency_number", "reply_within_days"}


text = st.text(max_size=200) | st.text(alphabet=string.printable, max_size=200)


@given(values=st.dictionaries(st.sampled_from([*REASONS, "quiet_from", "quiet_until"]), text))
def test_no_text_breaks_the_policy_form(values):
    form = policy(**values)
    if form.is_valid():
        for name, reason in REASONS.items():
            assert reason.low <= form.cleaned_data[name] <= reason.high


@given(values=st.dictionaries(st.sampled_from([*ContactForm.base_fields]), text))
def test_no_text_breaks_the_contact_form(values):
    form = contact(**values)
    if form.is_valid():
        assert "\x00" not in "".join(str(value) for value in form.cleaned_data.values())
        assert len(form.cleaned_data["given_name"]) <= 80
