"""Roles given and ended, thresholds and the clinic's own words."""

import re

import pytest
from django.db import IntegrityError

from clinic.models import Membership
from clinic.operations import (
    InvitationRefused,
    PeopleError,
    accept_invitation,
    change_clinic,
    change_policy,
    end_membership,
    give_role,
    invite_staff,
    transfer_care,
)
from clinic.queries import policy_of
from clinic.rules.policy import REASONS, Policy
from clinic.rules.roles import Role
from tests.factories import NOW, InvitationFactory, MembershipFactory
from tests.race import race


def test_a_colleague_gets_a_second_role(clinic, therapist):
    give_role(clinic_id=clinic.pk, user_id=therapist.user_id, role=Role.CLINIC_ADMIN)
    roles = Membership.objects.filter(user=therapist.user).values_list("role", flat=True)
    assert set(roles) == set(Role)


def test_an_ended_role_is_the_same_row_again(clinic, colleague):
    end_membership(membership=colleague, now=NOW)
    given = give_role(clinic_id=clinic.pk, user_id=colleague.user_id, role=Role.THERAPIST)
    assert given.pk == colleague.pk
    assert given.is_active


def test_strangers_are_invited_not_appointed(clinic, outsider):
    with pytest.raises(PeopleError, match="Invite them"):
        give_role(clinic_id=clinic.pk, user_id=outsider.user_id, role=Role.THERAPIST)


def test_a_therapist_with_patients_keeps_the_role(therapist, patient):
    with pytest.raises(PeopleError, match="1 patient is still with this therapist"):
        end_membership(membership=therapist, now=NOW)
    therapist.refresh_from_db()
    assert therapist.is_active


def test_a_therapist_whose_patients_have_moved_can_go(therapist, patient, colleague, now):
    transfer_care(patient=patient, to=colleague, now=now)
    end_membership(membership=therapist, now=NOW)
    therapist.refresh_from_db()
    assert not therapist.is_active


def test_a_link_that_was_still_open_does_not_bring_an_ended_role_back(
    clinic, admin, colleague, mailoutbox, now
):
    """Invited as admin, given the role by hand, and let go: the mail still lies in the mailbox."""
    invite_staff(
        clinic=clinic,
        email=colleague.user.email.upper(),
        name="Colm Brandt",
        role=Role.CLINIC_ADMIN,
        invited_by_id=admin.user_id,
        site_url="https://portal.example",
        now=NOW,
    )
    token = re.search(r"/invitation/([^/]+)/", mailoutbox[0].body)[1]
    given = give_role(clinic_id=clinic.pk, user_id=colleague.user_id, role=Role.CLINIC_ADMIN)
    end_membership(membership=given, now=NOW)
    with pytest.raises(InvitationRefused):
        accept_invitation(token=token, password="", now=NOW, signed_in=colleague.user)
    given.refresh_from_db()
    assert not given.is_active


def test_the_end_of_one_role_leaves_the_link_to_another(clinic, admin, colleague, mailoutbox, now):
    link = InvitationFactory(
        kind="STAFF",
        patient=None,
        clinic=clinic,
        email=colleague.user.email,
        role=Role.CLINIC_ADMIN,
        invited_by=admin.user,
    )
    end_membership(membership=colleague, now=NOW)
    link.refresh_from_db()
    assert link.revoked_at is None


def test_the_last_admin_stays(admin, other_clinic):
    MembershipFactory(clinic=other_clinic, role=Role.CLINIC_ADMIN)
    with pytest.raises(PeopleError, match="needs one admin"):
        end_membership(membership=admin, now=NOW)


def test_an_admin_whose_role_has_ended_does_not_count(admin, clinic):
    MembershipFactory(clinic=clinic, role=Role.CLINIC_ADMIN, is_active=False)
    with pytest.raises(PeopleError, match="needs one admin"):
        end_membership(membership=admin, now=NOW)


def test_one_of_two_admins_can_go(admin, clinic):
    other = MembershipFactory(clinic=clinic, role=Role.CLINIC_ADMIN)
    end_membership(membership=admin, now=NOW)
    assert Membership.objects.get(role=Role.CLINIC_ADMIN, is_active=True) == other


@pytest.mark.databases_differ
@pytest.mark.django_db(transaction=True)
def test_two_admins_who_end_each_other_leave_one(admin, clinic):
    both = [admin, MembershipFactory(clinic=clinic, role=Role.CLINIC_ADMIN)]
    results = race(2, lambda i: end_membership(membership=both[i], now=NOW))
    assert [type(result) for result in results if result is not None] == [PeopleError]
    assert Membership.objects.filter(role=Role.CLINIC_ADMIN, is_active=True).count() == 1


def test_changed_thresholds_are_what_the_rules_run_on(clinic, admin, now):
    assert policy_of(clinic.pk) == Policy()
    change_policy(clinic=clinic, changed_by_id=admin.user_id, now=now, target_percent=70)
    assert policy_of(clinic.pk) == Policy(target_percent=70)
    change_policy(clinic=clinic, changed_by_id=admin.user_id, now=now, pain_jump=3.5)
    assert policy_of(clinic.pk) == Policy(target_percent=70, pain_jump=3.5)


@pytest.mark.databases_differ
@pytest.mark.parametrize("name", REASONS)
@pytest.mark.parametrize("end", ["low", "high"])
def test_the_database_refuses_what_lies_outside(name, end, clinic, admin, now):
    bound = getattr(REASONS[name], end)
    outside = bound - 1 if end == "low" else bound + 1
    with pytest.raises(IntegrityError):
        change_policy(clinic=clinic, changed_by_id=admin.user_id, now=now, **{name: outside})


def test_the_clinic_changes_what_it_says_about_itself(clinic):
    change_clinic(clinic=clinic, phone="01632 960 999", reading_days="Tuesday and Friday")
    clinic.refresh_from_db()
    assert (clinic.phone, clinic.reading_days) == ("01632 960 999", "Tuesday and Friday")
