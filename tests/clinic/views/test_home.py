"""Each role lands on its own work."""

import pytest

from clinic.operations import discharge_patient, give_role
from clinic.rules.roles import Role
from tests.factories import PatientFactory, UserFactory


@pytest.mark.parametrize(
    ("who", "place"),
    [("patient", "/today/"), ("therapist", "/caseload/"), ("admin", "/clinic/")],
)
def test_the_start_page_follows_the_role(who, place, sign_in, request):
    assert sign_in(request.getfixturevalue(who)).get("/")["Location"] == place


def test_of_several_roles_the_caseload_comes_first(therapist, clinic, sign_in):
    give_role(clinic_id=clinic.pk, user_id=therapist.user_id, role=Role.CLINIC_ADMIN)
    PatientFactory(clinic=clinic, user=therapist.user)
    assert sign_in(therapist).get("/")["Location"] == "/caseload/"


def test_an_admin_who_is_a_patient_lands_on_the_clinic(admin, sign_in):
    PatientFactory(clinic=admin.clinic, user=admin.user)
    assert sign_in(admin).get("/")["Location"] == "/clinic/"


def test_signed_out_leads_to_the_sign_in(client, db):
    assert client.get("/")["Location"] == "/account/login/?next=/"


def test_a_discharged_patient_is_told_so(patient, sign_in, now):
    discharge_patient(patient=patient, now=now)
    page = sign_in(patient).get("/")
    assert page.status_code == 200
    assert "No clinic at the moment" in page.content.decode()


def test_somebody_without_a_clinic_gets_no_further(sign_in, db):
    browser = sign_in(UserFactory())
    assert browser.get("/").status_code == 200
    assert browser.get("/clinic/").status_code == 404
    assert browser.get("/patients/new/").status_code == 404


def test_healthz_answers_without_a_database(client):
    """No `db` fixture: a query would fail here."""
    response = client.get("/healthz")
    assert (response.status_code, response.content) == (200, b"ok")
    assert response["Content-Type"].startswith("text/plain")


def test_about_is_open_to_everybody(client):
    page = client.get("/about/").content.decode()
    for words in ("Not for emergencies", "No flag is no reassurance", "reported by the patient"):
        assert words in page


def test_about_names_the_clinics_emergency_number(sign_in, patient):
    assert "In an emergency call 112." in sign_in(patient).get("/about/").content.decode()
