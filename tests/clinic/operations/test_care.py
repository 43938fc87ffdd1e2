"""Records and who treats whom: made, moved, ended, taken back."""

from datetime import timedelta

import pytest

from clinic.models import CareRelationship, Invitation, Patient
from clinic.operations import (
    PeopleError,
    create_patient,
    discharge_patient,
    end_membership,
    readmit_patient,
    transfer_care,
    update_patient,
)
from clinic.rules.roles import Role
from tests.factories import NOW, InvitationFactory, MembershipFactory, PatientFactory
from tests.race import race


def leads(patient):
    return list(
        CareRelationship.objects.filter(patient=patient, ends_at=None, is_lead=True).values_list(
            "therapist", flat=True
        )
    )


def new_record(clinic, therapist, now, **more):
    contact = {"given_name": "Nils", "family_name": "Aker", "timezone": "Europe/Oslo"}
    return create_patient(clinic_id=clinic.pk, therapist=therapist, now=now, **(contact | more))


def test_a_new_record_begins_under_the_therapist(clinic, therapist, now):
    patient = new_record(clinic, therapist, now, email="Nils@Mail.Example")
    assert patient.email == "nils@mail.example"
    assert leads(patient) == [therapist.pk]


def test_nobody_takes_a_patient_whose_role_has_ended(clinic, therapist, now):
    end_membership(membership=therapist, now=NOW)
    with pytest.raises(PeopleError, match="works at this clinic"):
        new_record(clinic, therapist, now)
    assert not Patient.objects.exists()


def test_an_admin_takes_no_patient(clinic, admin, now):
    with pytest.raises(PeopleError):
        new_record(clinic, admin, now)


def test_a_therapist_of_another_clinic_takes_no_patient(clinic, outsider, now):
    with pytest.raises(PeopleError):
        new_record(clinic, outsider, now)


def test_a_move_ends_one_care_and_starts_the_next_at_the_same_instant(
    patient, therapist, colleague, now
):
    new = transfer_care(patient=patient, to=colleague, now=now)
    old = CareRelationship.objects.get(patient=patient, therapist=therapist)
    assert old.ends_at == new.starts_at == now
    assert leads(patient) == [colleague.pk]


def test_a_move_to_the_same_therapist_changes_nothing(patient, therapist, now):
    transfer_care(patient=patient, to=therapist, now=now)
    assert CareRelationship.objects.filter(patient=patient).count() == 1


@pytest.mark.parametrize("who", ["admin", "outsider"])
def test_a_patient_moves_to_therapists_of_the_clinic_only(who, patient, therapist, request, now):
    with pytest.raises(PeopleError):
        transfer_care(patient=patient, to=request.getfixturevalue(who), now=now)
    assert leads(patient) == [therapist.pk]


def test_a_move_on_a_clock_that_lags_ends_no_care_before_it_began(
    patient, therapist, colleague, now
):
    transfer_care(patient=patient, to=colleague, now=now)
    transfer_care(patient=patient, to=therapist, now=now - timedelta(seconds=1))
    assert leads(patient) == [therapist.pk]


def test_a_discharge_ends_care_and_open_links(patient, therapist, now):
    InvitationFactory(patient=patient, email="x@mail.example", invited_by=therapist.user)
    discharge_patient(patient=patient, now=now)
    patient.refresh_from_db()
    assert patient.discharged_at == now
    assert leads(patient) == []
    assert Invitation.objects.get(patient=patient).revoked_at == now


def test_a_second_discharge_keeps_the_first_date(patient, now):
    discharge_patient(patient=patient, now=now)
    discharge_patient(patient=patient, now=now + timedelta(days=3))
    patient.refresh_from_db()
    assert patient.discharged_at == now


def test_a_discharged_patient_does_not_move(patient, colleague, now):
    discharge_patient(patient=patient, now=now)
    with pytest.raises(PeopleError, match="discharged"):
        transfer_care(patient=patient, to=colleague, now=now)


def test_a_discharged_patient_comes_back(patient, colleague, now):
    discharge_patient(patient=patient, now=now)
    readmit_patient(patient=patient, to=colleague, now=now + timedelta(days=9))
    patient.refresh_from_db()
    assert patient.discharged_at is None
    assert leads(patient) == [colleague.pk]


def test_nobody_comes_back_who_has_not_left(patient, colleague, now):
    with pytest.raises(PeopleError, match="in care already"):
        readmit_patient(patient=patient, to=colleague, now=now)


def test_a_new_address_stops_the_links_sent_to_the_old_one(therapist, now):
    patient = PatientFactory(clinic=therapist.clinic, user=None, email="old@mail.example")
    InvitationFactory(patient=patient, invited_by=therapist.user)
    update_patient(patient=patient, now=now, email="New@mail.example")
    assert Patient.objects.get(pk=patient.pk).email == "new@mail.example"
    assert Invitation.objects.get(patient=patient).revoked_at == now


def test_other_changes_leave_links_alone(therapist, now):
    patient = PatientFactory(clinic=therapist.clinic, user=None, email="old@mail.example")
    InvitationFactory(patient=patient, invited_by=therapist.user)
    update_patient(patient=patient, now=now, email="OLD@mail.example", phone="01632 960 111")
    assert Invitation.objects.get(patient=patient).revoked_at is None


def test_a_colleague_who_is_a_patient_is_given_to_somebody_else(therapist, colleague, now):
    """In one's own care nobody would see the flags."""
    own = PatientFactory(clinic=therapist.clinic, user=therapist.user)
    transfer_care(patient=own, to=colleague, now=now)
    with pytest.raises(PeopleError, match="themselves"):
        transfer_care(patient=own, to=therapist, now=now)
    discharge_patient(patient=own, now=now)
    with pytest.raises(PeopleError, match="themselves"):
        readmit_patient(patient=own, to=therapist, now=now)
    own.refresh_from_db()
    assert own.discharged_at is not None


@pytest.mark.databases_differ
@pytest.mark.django_db(transaction=True)
def test_two_moves_at_once_leave_one_lead(patient, therapist, now):
    others = [MembershipFactory(clinic=patient.clinic, role=Role.THERAPIST) for _number in range(6)]
    results = race(6, lambda i: transfer_care(patient=patient, to=others[i], now=now))
    assert not [result for result in results if isinstance(result, Exception)]
    assert len(leads(patient)) == 1


@pytest.mark.databases_differ
@pytest.mark.django_db(transaction=True)
def test_a_role_does_not_end_while_it_is_given_a_patient(patient, colleague, now):
    def act(number):
        if number % 2:
            return transfer_care(patient=patient, to=colleague, now=now)
        return end_membership(membership=colleague, now=NOW)

    race(2, act)
    colleague.refresh_from_db()
    assert colleague.is_active == (leads(patient) == [colleague.pk])
