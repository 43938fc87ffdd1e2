"""The admin's overview: everybody found, roles given and ended, links renewed and withdrawn."""

import pytest
from django.core import mail

from clinic.models import Invitation, Membership
from clinic.operations import end_membership
from clinic.rules.roles import Role
from tests.factories import (
    NOW,
    CareRelationshipFactory,
    InvitationFactory,
    MembershipFactory,
    PatientFactory,
)

OFFER = {"name": "Nora Quill", "email": "nora@mail.example", "role": "THERAPIST"}


@pytest.fixture
def browser(sign_in, admin):
    return sign_in(admin)


def test_the_overview_shows_people_and_no_clinical_word(
    browser, therapist, patient, other_patient, outside_patient
):
    patient.problem = "canary of a knee"
    patient.save()
    page = browser.get("/clinic/").content.decode()
    for name in ("Tess Arden", "Pia Lund", "Otto Marsh"):
        assert name in page
    assert "Uma Frost" not in page
    assert "canary" not in page


@pytest.mark.parametrize(
    ("query", "there", "gone"),
    [
        ("?q=pia", "Pia Lund", "Otto Marsh"),
        ("?show=discharged", "No patient stands like this now.", "Pia Lund"),
        ("?show=nonsense", "Pia Lund", "Nobody here"),
        ("?q=zzz", "Nobody found", "Pia Lund"),
        ("?therapist=nonsense&page=-4", "Otto Marsh", "Nobody found"),
        ("?q=%00%27%22%3Cb%3E", "&#x27;&quot;&lt;b&gt;", "<b>"),
    ],
)
def test_words_and_filters(query, there, gone, browser, patient, other_patient):
    page = browser.get(f"/clinic/{query}").content.decode()
    assert there in page
    assert gone not in page


def test_one_therapists_patients(browser, therapist, patient, other_patient):
    page = browser.get(f"/clinic/?therapist={therapist.pk}").content.decode()
    assert "With Tess Arden" in page
    assert "Otto Marsh" not in page


def test_a_therapist_of_another_clinic_filters_nothing(browser, outsider, patient):
    assert "Pia Lund" in browser.get(f"/clinic/?therapist={outsider.pk}").content.decode()


def test_a_clinic_that_begins_is_told_what_to_do(browser):
    assert "No patients yet" in browser.get("/clinic/").content.decode()


def test_the_pages_keep_the_search(browser, clinic):
    for number in range(30):
        PatientFactory(clinic=clinic, user=None, family_name=f"Sato {number:02}")
    page = browser.get("/clinic/?q=sato").content.decode()
    assert "?q=sato&amp;show=current&amp;page=2" in page
    second = browser.get("/clinic/?q=sato&page=2").content.decode()
    assert "Sato 29" in second
    assert "Sato 00" not in second


def test_the_overview_costs_the_same_for_few_and_many(
    browser, clinic, therapist, patient, django_assert_max_num_queries
):
    for _number in range(40):
        row = PatientFactory(clinic=clinic)
        CareRelationshipFactory(patient=row, therapist=therapist)
    for _number in range(5):
        MembershipFactory(clinic=clinic)
        InvitationFactory(patient__clinic=clinic)
    with django_assert_max_num_queries(10):
        browser.get("/clinic/")


def test_a_colleague_is_invited(browser, clinic):
    assert browser.post("/clinic/people/invite/", OFFER)["Location"] == "/clinic/"
    [message] = mail.outbox
    assert message.to == ["nora@mail.example"]
    page = browser.get("/clinic/").content.decode()
    assert "The invitation for Nora Quill is on its way." in page
    assert "Works until 18 March 2026" in page


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"email": "nora"}, "Enter a valid email address."),
        ({"role": "OWNER"}, "Select a valid choice."),
        ({"name": ""}, "This field is required."),
        ({"email": "colm@willow-row.example"}, "This person has that role already."),
        ({"email": "a@b.example\nBcc: x@mail.example"}, "Enter a valid email address."),
    ],
)
def test_a_slip_sends_nothing_and_keeps_what_was_typed(change, message, browser, colleague):
    response = browser.post("/clinic/people/invite/", OFFER | change)
    assert response.status_code == 200
    page = response.content.decode()
    assert message in page
    if "name" not in change:
        assert 'value="Nora Quill"' in page
    assert not mail.outbox
    assert not Invitation.objects.exists()


def test_a_role_is_given_and_ended(browser, colleague):
    browser.post(f"/clinic/people/{colleague.pk}/role/give/", {"role": "CLINIC_ADMIN"})
    assert Membership.objects.filter(user=colleague.user, is_active=True).count() == 2
    end = f"/clinic/people/{colleague.pk}/role/end/"
    assert "End Colm Brandt’s role as therapist?" in browser.get(end).content.decode()
    colleague.refresh_from_db()
    assert colleague.is_active
    assert browser.post(end).status_code == 302
    colleague.refresh_from_db()
    assert not colleague.is_active


def test_no_role_comes_from_an_unknown_code(browser, colleague):
    browser.post(f"/clinic/people/{colleague.pk}/role/give/", {"role": "OWNER"})
    assert Membership.objects.filter(user=colleague.user).count() == 1


def test_a_therapist_with_patients_is_kept_and_the_patients_are_shown(browser, therapist, patient):
    response = browser.post(f"/clinic/people/{therapist.pk}/role/end/")
    assert response.status_code == 409
    page = response.content.decode()
    assert "1 patient is still with this therapist" in page
    assert f"/clinic/?therapist={therapist.pk}" in page


def test_the_last_admin_is_kept(browser, admin):
    response = browser.post(f"/clinic/people/{admin.pk}/role/end/")
    assert "needs one admin" in response.content.decode()
    admin.refresh_from_db()
    assert admin.is_active


def test_an_admin_who_leaves_is_out_at_once(browser, admin, clinic):
    MembershipFactory(clinic=clinic, role=Role.CLINIC_ADMIN)
    browser.post(f"/clinic/people/{admin.pk}/role/end/")
    assert browser.get("/clinic/").status_code == 404


def test_somebody_who_left_can_come_back(browser, colleague):
    end_membership(membership=colleague, now=NOW)
    assert "No role any more" in browser.get("/clinic/").content.decode()
    browser.post(f"/clinic/people/{colleague.pk}/role/give/", {"role": "THERAPIST"})
    colleague.refresh_from_db()
    assert colleague.is_active


def test_a_link_is_renewed_and_withdrawn(browser, clinic):
    old = InvitationFactory(patient__clinic=clinic)
    browser.post(f"/clinic/invitations/{old.pk}/renew/")
    old.refresh_from_db()
    assert old.revoked_at is not None
    new = Invitation.objects.get(revoked_at=None)
    assert len(mail.outbox) == 1
    browser.post(f"/clinic/invitations/{new.pk}/revoke/")
    assert not Invitation.objects.filter(revoked_at=None).exists()
    page = browser.post(f"/clinic/invitations/{new.pk}/renew/", follow=True).content.decode()
    assert "has been used or withdrawn already" in page


@pytest.mark.parametrize("what", ["renew", "revoke"])
def test_another_clinics_link_stays_as_it_is(what, browser, other_clinic):
    theirs = InvitationFactory(patient__clinic=other_clinic)
    browser.post(f"/clinic/invitations/{theirs.pk}/{what}/")
    theirs.refresh_from_db()
    assert theirs.revoked_at is None
    assert not mail.outbox


@pytest.mark.parametrize("what", ["give", "end"])
def test_another_clinics_people_are_not_found(what, browser, outsider):
    url = f"/clinic/people/{outsider.pk}/role/{what}/"
    assert browser.post(url, {"role": "CLINIC_ADMIN"}).status_code == 404


@pytest.mark.parametrize("who", ["patient", "therapist", "outsider"])
def test_the_overview_is_the_admins_alone(who, sign_in, clinic, request):
    browser = sign_in(request.getfixturevalue(who))
    for url in ("/clinic/", "/clinic/policy/", "/clinic/details/", "/clinic/people/invite/"):
        assert browser.get(url).status_code == 404
    assert browser.post("/clinic/people/invite/", OFFER).status_code == 404
