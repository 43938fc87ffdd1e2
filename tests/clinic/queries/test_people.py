"""What the admin's overview counts and finds."""

import pytest

from clinic.models import CareRelationship
from clinic.operations import discharge_patient, end_membership, give_role, transfer_care
from clinic.queries import (
    PatientFilter,
    colleagues_of,
    demo_cast,
    lead_therapist_name,
    lead_therapists,
    open_invitations,
    patient_account,
    patient_counts,
    patients_page,
    therapists_of,
)
from clinic.rules.roles import Role
from tests.factories import NOW, CareRelationshipFactory, InvitationFactory, PatientFactory


def names(page):
    return [row.name for row in page.object_list]


def test_colleagues_come_with_roles_and_the_number_of_patients(
    clinic, therapist, colleague, admin, patient, outsider
):
    give_role(clinic_id=clinic.pk, user_id=therapist.user_id, role=Role.CLINIC_ADMIN)
    people = {person.name: person for person in colleagues_of(clinic.pk)}
    assert list(people) == ["Colm Brandt", "Ines Dahl", "Tess Arden"]
    tess = people["Tess Arden"]
    assert [(held.role, held.patients) for held in tess.roles] == [
        (Role.CLINIC_ADMIN, 0),
        (Role.THERAPIST, 1),
    ]
    assert tess.missing == []
    assert people["Colm Brandt"].missing == [Role.CLINIC_ADMIN]


def test_former_colleagues_stand_last_and_can_come_back(clinic, colleague, admin):
    end_membership(membership=colleague, now=NOW)
    last = colleagues_of(clinic.pk)[-1]
    assert (last.name, list(last.roles)) == ("Colm Brandt", [])
    assert last.missing == list(Role)
    assert [choice.name for choice in therapists_of(clinic.pk)] == []


def test_therapists_come_with_the_number_whom_they_lead(clinic, therapist, colleague, patient):
    CareRelationshipFactory(patient=patient, therapist=colleague, is_lead=False)
    found = [(choice.name, choice.patients) for choice in therapists_of(clinic.pk)]
    assert found == [("Colm Brandt", 0), ("Tess Arden", 1)]


def test_a_page_of_patients_says_who_leads_and_who_can_sign_in(clinic, patient, now):
    paper = PatientFactory(clinic=clinic, user=None, family_name="Able", uses_paper=True)
    invited = PatientFactory(clinic=clinic, user=None, family_name="Baker", email="b@mail.example")
    InvitationFactory(patient=invited)
    rows = patients_page(clinic.pk, now=now).object_list
    assert [(row.id, row.therapist, row.can_sign_in, row.is_invited) for row in rows] == [
        (paper.pk, "", False, False),
        (invited.pk, "", False, True),
        (patient.pk, "Tess Arden", True, False),
    ]


def test_counts_and_filters_agree(clinic, patient, other_patient, outside_patient, now):
    PatientFactory(clinic=clinic, user=None)
    discharge_patient(patient=other_patient, now=now)
    counts = patient_counts(clinic.pk)
    for which in PatientFilter:
        page = patients_page(clinic.pk, now=now, which=which)
        assert page.paginator.count == getattr(counts, which.name.lower()), which
    assert (counts.current, counts.no_sign_in, counts.no_therapist, counts.discharged) == (
        2,
        1,
        1,
        1,
    )


@pytest.mark.parametrize(
    ("search", "found"),
    [
        ("pia", ["Pia Lund"]),
        ("LUND pia", ["Pia Lund"]),
        ("pia@mail", ["Pia Lund"]),
        ("u", ["Pia Lund"]),
        ("pia marsh", []),
        ("\x00", ["Pia Lund", "Otto Marsh"]),
        ("%", []),
        ("uma", []),
    ],
)
def test_every_word_must_be_found(
    search, found, clinic, patient, other_patient, outside_patient, now
):
    assert names(patients_page(clinic.pk, now=now, search=search)) == found


def test_patients_of_one_therapist(clinic, therapist, colleague, patient, other_patient, now):
    page = patients_page(clinic.pk, now=now, therapist_id=colleague.pk)
    assert names(page) == ["Otto Marsh"]
    transfer_care(patient=patient, to=colleague, now=now)
    page = patients_page(clinic.pk, now=now, therapist_id=colleague.pk)
    assert names(page) == ["Pia Lund", "Otto Marsh"]


@pytest.mark.parametrize("page", ["0", "999", "two", ""])
def test_a_page_that_is_none_shows_the_nearest(page, clinic, patient, now):
    assert names(patients_page(clinic.pk, now=now, page=page)) == ["Pia Lund"]


def test_many_patients_come_by_the_page(clinic, now):
    for _number in range(30):
        PatientFactory(clinic=clinic, user=None)
    page = patients_page(clinic.pk, now=now, page="2")
    assert (len(page.object_list), page.paginator.num_pages) == (5, 2)


def test_a_page_of_patients_costs_two_queries(
    clinic, patient, other_patient, django_assert_num_queries, now
):
    with django_assert_num_queries(2):
        patients_page(clinic.pk, now=now)


def test_open_links_stay_listed_when_they_run_out(clinic, patient, now):
    invitation = InvitationFactory(patient__clinic=clinic)
    [link] = open_invitations(clinic.pk, now=now)
    assert (link.id, link.has_run_out) == (invitation.pk, False)
    [link] = open_invitations(clinic.pk, now=invitation.expires_at)
    assert link.has_run_out


@pytest.mark.parametrize("field", ["accepted_at", "revoked_at"])
def test_used_and_withdrawn_links_are_not_listed(field, clinic, now):
    InvitationFactory(patient__clinic=clinic, **{field: now})
    assert open_invitations(clinic.pk, now=now) == []


def test_an_account_tells_who_led_when(patient, therapist, colleague, now):
    transfer_care(patient=patient, to=colleague, now=now)
    account = patient_account(patient, now=now)
    assert account.sign_in_email == "pia@mail.example"
    assert (account.lead, account.lead_membership_id) == ("Colm Brandt", colleague.pk)
    assert [(p.therapist, p.ends_at) for p in account.periods] == [
        ("Colm Brandt", None),
        ("Tess Arden", now),
    ]
    assert not account.can_be_invited


def test_lead_therapists_by_patient(clinic, patient, other_patient, outside_patient):
    assert lead_therapists(clinic.pk) == {patient.pk: "Tess Arden", other_patient.pk: "Colm Brandt"}
    assert lead_therapist_name(patient.pk) == "Tess Arden"
    CareRelationship.objects.all().delete()
    assert lead_therapist_name(patient.pk) == ""


def test_the_cast_lists_everybody_once(clinic, therapist, admin, patient, colleague):
    give_role(clinic_id=clinic.pk, user_id=therapist.user_id, role=Role.CLINIC_ADMIN)
    cast = demo_cast()
    assert [(person.role, person.name) for person in cast] == [
        ("Therapists", "Colm Brandt"),
        ("Therapists", "Tess Arden"),
        ("Clinic admin", "Ines Dahl"),
        ("Patients", "Pia Lund"),
    ]
    assert cast[1].about == "Willow Row Clinic, also clinic admin"
