"""The doors: whose record opens to whom, now and after a change."""

import uuid
from datetime import timedelta

import pytest
from django.http import Http404

from clinic.access import (
    access_account,
    access_membership,
    access_patient,
    own_clinic,
    own_record,
    own_therapist_role,
    viewer_for,
    visible_patients,
)
from clinic.models import Membership, Patient
from clinic.operations import discharge_patient, end_membership, give_role, transfer_care
from clinic.rules.roles import Role
from tests.factories import NOW, CareRelationshipFactory, PatientFactory, UserFactory


def test_a_therapist_opens_own_patients(therapist, patient, now):
    assert access_patient(viewer_for(therapist.user), patient.pk, at=now) == patient


@pytest.mark.parametrize("who", ["colleague", "admin", "outsider", "other_patient"])
def test_nobody_else_opens_them(who, patient, request, now):
    viewer = viewer_for(request.getfixturevalue(who).user)
    with pytest.raises(Http404):
        access_patient(viewer, patient.pk, at=now)


def test_a_move_closes_one_door_and_opens_the_other(therapist, patient, colleague, now):
    transfer_care(patient=patient, to=colleague, now=now)
    with pytest.raises(Http404):
        access_patient(viewer_for(therapist.user), patient.pk, at=now)
    assert access_patient(viewer_for(colleague.user), patient.pk, at=now) == patient


def test_care_opens_no_door_before_it_starts(patient, colleague, now):
    transfer_care(patient=patient, to=colleague, now=now)
    with pytest.raises(Http404):
        access_patient(viewer_for(colleague.user), patient.pk, at=now - timedelta(seconds=1))


def test_an_ended_role_closes_every_door(therapist, patient, clinic, now):
    Membership.objects.filter(pk=therapist.pk).update(is_active=False)
    assert viewer_for(therapist.user) is None


def test_visible_patients_are_ones_own(therapist, patient, other_patient, now):
    assert list(visible_patients(viewer_for(therapist.user), at=now)) == [patient]
    assert list(visible_patients(viewer_for(other_patient.user), at=now)) == [other_patient]


def test_a_therapist_who_is_a_patient_sees_both(therapist, patient, now):
    own = PatientFactory(clinic=therapist.clinic, user=therapist.user)
    assert set(visible_patients(viewer_for(therapist.user), at=now)) == {patient, own}


def test_nobody_is_their_own_therapist(therapist, patient, now):
    """What the team notes about a patient is the team's, also when the patient works in it."""
    own = PatientFactory(clinic=therapist.clinic, user=therapist.user)
    CareRelationshipFactory(patient=own, therapist=therapist)
    viewer = viewer_for(therapist.user)
    with pytest.raises(Http404):
        access_patient(viewer, own.pk, at=now)
    assert list(Patient.objects.treated_by(therapist.user_id, now)) == [patient]
    assert own_record(viewer) == own


def test_an_admin_sees_no_record(admin, patient, now):
    assert not visible_patients(viewer_for(admin.user), at=now).exists()


def test_a_discharged_patient_has_no_clinic_here(patient, now):
    discharge_patient(patient=patient, now=now)
    assert viewer_for(patient.user) is None


def test_own_record_is_ones_own(patient):
    assert own_record(viewer_for(patient.user)) == patient


def test_staff_have_no_own_record(therapist):
    with pytest.raises(Http404):
        own_record(viewer_for(therapist.user))


def test_the_admin_opens_accounts_of_the_clinic(admin, patient, outside_patient):
    viewer = viewer_for(admin.user)
    assert access_account(viewer, patient.pk) == patient
    for foreign in (outside_patient.pk, uuid.uuid4()):
        with pytest.raises(Http404):
            access_account(viewer, foreign)


def test_a_therapist_opens_no_account_page(therapist, patient):
    with pytest.raises(Http404):
        access_account(viewer_for(therapist.user), patient.pk)


def test_memberships_are_for_the_admin_of_the_clinic(admin, therapist, outsider):
    viewer = viewer_for(admin.user)
    assert access_membership(viewer, therapist.pk) == therapist
    with pytest.raises(Http404):
        access_membership(viewer, outsider.pk)
    with pytest.raises(Http404):
        access_membership(viewer_for(therapist.user), therapist.pk)


def test_the_role_under_which_one_treats(therapist, admin, clinic):
    assert own_therapist_role(viewer_for(therapist.user)) == therapist
    with pytest.raises(Http404):
        own_therapist_role(viewer_for(admin.user))
    give_role(clinic_id=clinic.pk, user_id=admin.user_id, role=Role.THERAPIST)
    assert own_therapist_role(viewer_for(admin.user)).user == admin.user


def test_roles_of_another_clinic_do_not_count_here(outsider, clinic):
    viewer = viewer_for(outsider.user)
    assert viewer.clinic_id == outsider.clinic_id
    assert own_clinic(viewer) == outsider.clinic


def test_staff_live_in_the_clinics_zone_and_patients_in_their_own(therapist, patient):
    patient.timezone = "Pacific/Auckland"
    patient.save()
    assert viewer_for(patient.user).timezone == "Pacific/Auckland"
    assert viewer_for(therapist.user).timezone == "Europe/London"


def test_somebody_without_clinic_is_no_viewer(db):
    assert viewer_for(UserFactory()) is None


def test_a_role_taken_away_works_at_the_next_request(therapist, sign_in):
    browser = sign_in(therapist)
    assert browser.get("/patients/new/").status_code == 200
    end_membership(membership=therapist, now=NOW)
    assert browser.get("/patients/new/").status_code == 404
