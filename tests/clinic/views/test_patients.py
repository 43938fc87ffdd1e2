"""Patients' accounts: the admin's pages, and what a therapist does about own patients."""

import pytest
from django.core import mail

from clinic.models import CareRelationship, Invitation, Patient
from clinic.operations import discharge_patient
from tests.factories import InvitationFactory, PatientFactory

CONTACT = {
    "given_name": "Nils",
    "family_name": "Aker",
    "email": "nils@mail.example",
    "timezone": "Europe/Oslo",
}


@pytest.fixture
def browser(sign_in, admin):
    return sign_in(admin)


@pytest.fixture
def on_paper(therapist):
    row = PatientFactory(clinic=therapist.clinic, user=None, email="new@mail.example")
    CareRelationship.objects.create(
        clinic=row.clinic, patient=row, therapist=therapist, starts_at=row.created_at
    )
    return row


def lead_of(patient):
    return CareRelationship.objects.get(patient=patient, ends_at=None, is_lead=True).therapist


class TestTheAdmin:
    def test_makes_a_record_and_gives_it_to_a_therapist(self, browser, therapist):
        data = CONTACT | {"therapist": str(therapist.pk), "invite": "on"}
        response = browser.post("/clinic/patients/new/", data)
        patient = Patient.objects.get(family_name="Aker")
        assert response["Location"] == f"/clinic/patients/{patient.pk}/"
        assert lead_of(patient) == therapist
        assert [message.to for message in mail.outbox] == [["nils@mail.example"]]

    def test_needs_a_therapist_of_the_own_clinic(self, browser, therapist, outsider, admin):
        for nobody in ("", str(outsider.pk), str(admin.pk), "nonsense"):
            response = browser.post("/clinic/patients/new/", CONTACT | {"therapist": nobody})
            assert response.status_code == 200
            assert 'value="Nils"' in response.content.decode()
        assert not Patient.objects.exists()

    def test_invites_a_therapist_first_where_there_is_none(self, browser):
        response = browser.get("/clinic/patients/new/", follow=True)
        assert response.redirect_chain == [("/clinic/people/invite/", 302)]
        assert "no therapist yet" in response.content.decode()

    def test_writes_nothing_clinical(self, browser, therapist):
        data = CONTACT | {"therapist": str(therapist.pk), "problem": "canary"}
        browser.post("/clinic/patients/new/", data)
        assert Patient.objects.get().problem == ""

    def test_sees_account_and_no_clinical_word(self, browser, patient):
        patient.problem = "canary of a knee"
        patient.save()
        page = browser.get(f"/clinic/patients/{patient.pk}/").content.decode()
        assert "Signs in as pia@mail.example." in page
        assert "In care with Tess Arden" in page
        assert "canary" not in page

    def test_changes_contact(self, browser, patient):
        url = f"/clinic/patients/{patient.pk}/contact/"
        assert 'value="Pia"' in browser.get(url).content.decode()
        response = browser.post(url, CONTACT | {"given_name": "Pia-Maria"})
        assert response["Location"] == f"/clinic/patients/{patient.pk}/"
        patient.refresh_from_db()
        assert (patient.given_name, patient.timezone) == ("Pia-Maria", "Europe/Oslo")
        assert patient.user.email == "pia@mail.example"

    def test_a_slip_in_the_contact_changes_nothing(self, browser, patient):
        url = f"/clinic/patients/{patient.pk}/contact/"
        response = browser.post(url, CONTACT | {"timezone": "Mars/Base"})
        assert response.status_code == 200
        patient.refresh_from_db()
        assert patient.given_name == "Pia"

    def test_moves_a_patient(self, browser, patient, colleague):
        page = browser.get(f"/clinic/patients/{patient.pk}/").content.decode()
        assert "Colm Brandt (0 patients)" in page
        browser.post(f"/clinic/patients/{patient.pk}/move/", {"therapist": str(colleague.pk)})
        assert lead_of(patient) == colleague

    def test_moves_nobody_out_of_the_clinic(self, browser, patient, therapist, outsider):
        for nobody in (outsider.pk, "", "nonsense"):
            browser.post(f"/clinic/patients/{patient.pk}/move/", {"therapist": str(nobody)})
        assert lead_of(patient) == therapist

    def test_invites(self, browser, on_paper):
        page = browser.get(f"/clinic/patients/{on_paper.pk}/").content.decode()
        assert "The invitation would go to new@mail.example." in page
        browser.post(f"/clinic/patients/{on_paper.pk}/invite/")
        assert Invitation.objects.get().patient == on_paper
        page = browser.get(f"/clinic/patients/{on_paper.pk}/").content.decode()
        assert "Invited, not accepted yet" in page

    def test_inviting_somebody_who_signs_in_does_nothing(self, browser, patient):
        url = f"/clinic/patients/{patient.pk}/invite/"
        page = browser.post(url, follow=True).content.decode()
        assert "can sign in already" in page
        assert not mail.outbox

    def test_discharges_after_a_question_and_takes_back(self, browser, patient, colleague):
        url = f"/clinic/patients/{patient.pk}/discharge/"
        assert "Discharge Pia Lund?" in browser.get(url).content.decode()
        patient.refresh_from_db()
        assert patient.discharged_at is None
        browser.post(url)
        patient.refresh_from_db()
        assert patient.discharged_at is not None
        page = browser.get(f"/clinic/patients/{patient.pk}/").content.decode()
        assert "Discharged on 11 March 2026" in page
        browser.post(f"/clinic/patients/{patient.pk}/move/", {"therapist": str(colleague.pk)})
        patient.refresh_from_db()
        assert patient.discharged_at is None
        assert lead_of(patient) == colleague

    def test_discharges_once(self, browser, patient, now):
        discharge_patient(patient=patient, now=now)
        url = f"/clinic/patients/{patient.pk}/discharge/"
        assert browser.get(url)["Location"] == f"/clinic/patients/{patient.pk}/"

    @pytest.mark.parametrize("page", ["", "contact/", "discharge/"])
    def test_finds_no_patient_of_another_clinic(self, page, browser, outside_patient):
        url = f"/clinic/patients/{outside_patient.pk}/{page}"
        assert browser.get(url).status_code == 404

    @pytest.mark.parametrize("page", ["contact/", "move/", "invite/", "discharge/"])
    def test_changes_no_patient_of_another_clinic(self, page, browser, outside_patient, therapist):
        data = CONTACT | {"therapist": str(therapist.pk)}
        url = f"/clinic/patients/{outside_patient.pk}/{page}"
        assert browser.post(url, data).status_code == 404
        outside_patient.refresh_from_db()
        assert outside_patient.given_name == "Uma"
        assert outside_patient.discharged_at is None


class TestATherapist:
    def test_makes_a_record_under_own_care(self, sign_in, therapist):
        response = sign_in(therapist).post("/patients/new/", CONTACT | {"problem": "left knee"})
        patient = Patient.objects.get()
        assert response["Location"] == f"/patients/{patient.pk}/"
        assert (lead_of(patient), patient.problem) == (therapist, "left knee")
        assert not mail.outbox

    def test_may_invite_in_the_same_step(self, sign_in, therapist):
        sign_in(therapist).post(
            "/patients/new/", CONTACT | {"problem": "canary knee", "invite": "on"}
        )
        [message] = mail.outbox
        assert "canary" not in message.message().as_string()

    def test_a_slip_makes_no_record(self, sign_in, therapist):
        response = sign_in(therapist).post(
            "/patients/new/", CONTACT | {"email": "", "invite": "on"}
        )
        assert "The invitation needs an e-mail address." in response.content.decode()
        assert not Patient.objects.exists()

    def test_the_form_starts_in_the_clinics_zone(self, sign_in, therapist):
        page = sign_in(therapist).get("/patients/new/").content.decode()
        assert '<option value="Europe/London" selected>' in page

    def test_edits_details(self, sign_in, therapist, patient):
        browser = sign_in(therapist)
        url = f"/patients/{patient.pk}/details/"
        assert "Details of Pia Lund" in browser.get(url).content.decode()
        data = CONTACT | {"problem": "left knee", "next_visit_on": "2026-03-20"}
        assert browser.post(url, data)["Location"] == f"/patients/{patient.pk}/"
        patient.refresh_from_db()
        assert (patient.problem, str(patient.next_visit_on)) == ("left knee", "2026-03-20")

    def test_invites_and_is_told_how_it_stands(self, sign_in, therapist, on_paper):
        browser = sign_in(therapist)
        url = f"/patients/{on_paper.pk}/invite/"
        assert "Not invited" in browser.get(url).content.decode()
        assert browser.post(url)["Location"] == f"/patients/{on_paper.pk}/"
        assert len(mail.outbox) == 1
        assert "Invited, not accepted yet" in browser.get(url).content.decode()

    def test_cannot_invite_without_an_address(self, sign_in, therapist, on_paper):
        on_paper.email = ""
        on_paper.save()
        url = f"/patients/{on_paper.pk}/invite/"
        page = sign_in(therapist).post(url, follow=True).content.decode()
        assert "no e-mail address yet" in page
        assert not mail.outbox

    def test_a_link_that_ran_out_can_be_sent_anew(self, sign_in, therapist, on_paper, now):
        InvitationFactory(patient=on_paper, expires_at=now)
        page = sign_in(therapist).get(f"/patients/{on_paper.pk}/invite/").content.decode()
        assert "The link ran out on 11 March 2026" in page
        assert "Send a new link" in page

    @pytest.mark.parametrize("page", ["details/", "invite/"])
    @pytest.mark.parametrize("who", ["colleague", "admin", "outsider", "other_patient"])
    def test_others_find_nothing(self, page, who, sign_in, patient, request):
        browser = sign_in(request.getfixturevalue(who))
        url = f"/patients/{patient.pk}/{page}"
        assert browser.get(url).status_code == 404
        assert browser.post(url, CONTACT).status_code == 404
        patient.refresh_from_db()
        assert patient.given_name == "Pia"

    @pytest.mark.parametrize("who", ["admin", "patient"])
    def test_records_are_made_by_therapists(self, who, sign_in, request):
        browser = sign_in(request.getfixturevalue(who))
        before = Patient.objects.count()
        assert browser.post("/patients/new/", CONTACT).status_code == 404
        assert Patient.objects.count() == before


def test_a_server_that_is_away_keeps_the_record(sign_in, therapist, settings, tmp_path):
    """Mail goes into a folder that is a file: the record is made, and the page says what failed."""
    (tmp_path / "blocked").write_text("")
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT, settings.EMAIL_TIMEOUT = "127.0.0.1", 1, 2
    response = sign_in(therapist).post("/patients/new/", CONTACT | {"invite": "on"})
    assert response.status_code == 302
    assert Patient.objects.get().invitations.count() == 1
