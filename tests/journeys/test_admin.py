"""A clinic admin's day: a colleague comes, a patient moves to them, a rule is mistyped."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from clinic.models import CareRelationship, ClinicPolicy, Membership
from clinic.rules.roles import Role
from tests import factories
from tests.journeys.conftest import link_in_mail, sign_in

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

NEW_MAIL = "nora@mail.example"
CHOSEN = "four plain garden words"


@pytest.fixture
def people(real_clinic):
    """Ines runs the clinic, Tess treats Pia."""
    tess = factories.UserFactory(name="Tess Arden", email="tess@willow-row.example")
    ines = factories.UserFactory(name="Ines Dahl", email="ines@willow-row.example")
    therapist = factories.MembershipFactory(clinic=real_clinic, user=tess)
    factories.MembershipFactory(clinic=real_clinic, user=ines, role=Role.CLINIC_ADMIN)
    patient = factories.PatientFactory(
        clinic=real_clinic, given_name="Pia", family_name="Lund", problem="stiff ankle"
    )
    factories.CareRelationshipFactory(patient=patient, therapist=therapist)
    return patient


def test_a_colleague_comes_and_takes_a_patient(device, people):
    office = sign_in(device(width=1280), "ines@willow-row.example")
    expect(office.get_by_role("heading", level=1)).to_have_text("Willow Row Clinic")
    office.get_by_role("link", name="Invite a colleague").click()
    office.get_by_label("Name", exact=True).fill("Nora Quill")
    office.get_by_label("E-mail").fill(NEW_MAIL)
    office.get_by_role("button", name="Send the invitation").click()
    expect(office.get_by_text("The invitation for Nora Quill is on its way.")).to_be_visible()
    assert "stiff ankle" not in office.content()

    desk = device(width=1280)
    desk.goto(link_in_mail(NEW_MAIL))
    expect(desk.get_by_role("heading", level=1)).to_have_text("Join Willow Row Clinic")
    desk.get_by_label("Your name").fill("Nora Quill")
    desk.get_by_label("Password", exact=True).fill(CHOSEN)
    desk.get_by_label("Password once more").fill(CHOSEN)
    desk.get_by_role("button", name="Accept and go in").click()
    expect(desk.get_by_text("Nobody is under your care yet")).to_be_visible()
    assert Membership.objects.get(user__email=NEW_MAIL).role == Role.THERAPIST

    old = sign_in(device(width=1280), "tess@willow-row.example")
    old.get_by_role("link", name="Pia Lund").first.click()
    expect(old.get_by_role("heading", level=1, name="Pia Lund")).to_be_visible()

    office.get_by_role("link", name="Pia Lund").click()
    nora = Membership.objects.get(user__email=NEW_MAIL)
    office.get_by_label("Move to").select_option(value=str(nora.pk))
    office.get_by_role("button", name="Move the patient").click()
    expect(office.get_by_text("Pia Lund is now with Nora Quill.")).to_be_visible()
    assert CareRelationship.objects.filter(patient=people, ends_at=None).count() == 1

    again = old.reload()
    assert again is not None and again.status == 404
    old.goto("/caseload/")
    expect(old.get_by_text("Nobody is under your care yet")).to_be_visible()
    desk.goto("/caseload/")
    desk.get_by_role("link", name="Pia Lund").first.click()
    expect(desk.get_by_role("heading", level=1, name="Pia Lund")).to_be_visible()


@pytest.mark.parametrize("scripts", [True, False])
def test_a_rule_out_of_range_says_so_beside_its_field_and_loses_nothing(device, people, scripts):
    office = sign_in(device(width=1280, scripts=scripts), "ines@willow-row.example")
    office.goto("/clinic/policy/")
    target = office.get_by_label("Target: agreed sessions done, in per cent")
    snooze = office.get_by_label("A closed flag stays quiet for, in days")
    # The browser's own bubble would come first; what the server says is what is tested.
    office.evaluate("document.querySelector('.policy-form').noValidate = true")
    target.fill("999")
    snooze.fill("9")
    office.get_by_role("button", name="Save the rules").click()

    field = office.locator("#div_id_target_percent")
    expect(field.get_by_text("Choose a value from")).to_be_visible()
    expect(target).to_have_value("999")
    expect(target).to_have_attribute("aria-invalid", "true")
    described = str(target.get_attribute("aria-describedby")).split()
    assert any("Choose a value" in office.locator(f"#{name}").inner_text() for name in described)
    expect(snooze).to_have_value("9")
    summary = office.locator(".error-summary")
    expect(summary.get_by_role("link")).to_have_count(1)
    if scripts:
        expect(summary).to_be_focused()
    assert not ClinicPolicy.objects.filter(snooze_days=9).exists()

    summary.get_by_role("link").click()
    expect(target).to_be_focused()
    target.fill("70")
    office.get_by_role("button", name="Save the rules").click()
    expect(office.locator(".error-summary")).to_have_count(0)
    stored = ClinicPolicy.objects.get()
    assert (stored.target_percent, stored.snooze_days) == (70, 9)
