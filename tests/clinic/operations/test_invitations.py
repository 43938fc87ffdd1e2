"""One-use links: sent, used once, renewed, withdrawn."""

import re
from datetime import timedelta
from smtplib import SMTPServerDisconnected

import pytest
from django.core import mail

from clinic.models import Invitation, Membership, Patient, User
from clinic.operations import (
    InvitationNotSent,
    InvitationRefused,
    PeopleError,
    accept_invitation,
    admit_patient,
    discharge_patient,
    hash_token,
    invite_patient,
    invite_staff,
    renew_invitation,
    revoke_invitation,
)
from clinic.rules.roles import Role
from tests.factories import (
    PASSWORD,
    CareRelationshipFactory,
    InvitationFactory,
    PatientFactory,
    UserFactory,
)
from tests.race import race

SITE = "https://clinic.example"


@pytest.fixture
def on_paper(therapist):
    return PatientFactory(
        clinic=therapist.clinic,
        user=None,
        given_name="Nora",
        family_name="O’Hara & Sons",
        email="nora@mail.example",
        problem="knee replacement",
    )


@pytest.fixture
def invite(on_paper, therapist, now):
    def send(**changes):
        options = {"patient": on_paper, "invited_by_id": therapist.user_id, "now": now}
        return invite_patient(site_url=SITE, **(options | changes))

    return send


@pytest.fixture
def colleague_to_be(clinic, admin, now):
    def send(**changes):
        options = {
            "clinic": clinic,
            "email": "Nora.Quill@mail.example",
            "name": "Nora Quill",
            "role": Role.THERAPIST,
            "invited_by_id": admin.user_id,
            "now": now,
        }
        return invite_staff(site_url=SITE, **(options | changes))

    return send


def token_in(message):
    return re.search(rf"{SITE}/invitation/([\w-]+)/", message.body)[1]


def newest_token():
    return token_in(mail.outbox[-1])


def test_the_mail_is_neutral_and_its_link_the_only_copy_of_the_token(invite):
    invitation = invite()
    [message] = mail.outbox
    assert message.to == ["nora@mail.example"]
    assert message.subject == "Your invitation"
    assert "knee" not in message.message().as_string()
    assert "Hello Nora O’Hara & Sons," in message.body
    assert invitation.token_hash == hash_token(token_in(message))
    assert token_in(message) not in invitation.token_hash


def test_accepting_makes_the_account_and_ties_the_record(invite, on_paper, now):
    invite()
    user = accept_invitation(token=newest_token(), password=PASSWORD, now=now, name="Nora H")
    on_paper.refresh_from_db()
    assert on_paper.user == user
    assert (user.email, user.name) == ("nora@mail.example", "Nora H")
    assert user.check_password(PASSWORD)


def test_a_link_works_once(invite, now):
    invite()
    accept_invitation(token=newest_token(), password=PASSWORD, now=now)
    with pytest.raises(InvitationRefused, match="used or is too old"):
        accept_invitation(token=newest_token(), password="another lamp eight", now=now)
    assert User.objects.get(email="nora@mail.example").check_password(PASSWORD)


def test_a_link_runs_out(invite, now):
    invitation = invite()
    with pytest.raises(InvitationRefused):
        accept_invitation(token=newest_token(), password=PASSWORD, now=invitation.expires_at)
    assert not User.objects.filter(email="nora@mail.example").exists()


def test_a_new_link_stops_the_one_before(invite, now):
    invite()
    old = newest_token()
    invite()
    with pytest.raises(InvitationRefused):
        accept_invitation(token=old, password=PASSWORD, now=now)
    accept_invitation(token=newest_token(), password=PASSWORD, now=now)


def test_a_discharge_closes_the_link(invite, on_paper, now):
    invite()
    discharge_patient(patient=on_paper, now=now)
    with pytest.raises(InvitationRefused):
        accept_invitation(token=newest_token(), password=PASSWORD, now=now)


def test_a_forwarded_link_opens_no_existing_account(invite, now):
    UserFactory(email="nora@mail.example")
    stranger = UserFactory()
    invite()
    for signed_in in (None, stranger):
        with pytest.raises(InvitationRefused, match="Sign in to it first"):
            accept_invitation(
                token=newest_token(), password="stolen lamp nine", now=now, signed_in=signed_in
            )
    assert Invitation.objects.get().accepted_at is None
    assert User.objects.get(email="nora@mail.example").check_password(PASSWORD)


def test_somebody_with_an_account_keeps_it(invite, on_paper, now):
    user = UserFactory(email="Nora@mail.example")
    invite()
    accept_invitation(token=newest_token(), password="", now=now, signed_in=user)
    on_paper.refresh_from_db()
    assert on_paper.user == user
    assert user.check_password(PASSWORD)


def test_one_account_has_one_record_at_a_clinic(invite, on_paper, now):
    """Two people who share an address: the second link stays open, and says why."""
    user = UserFactory(email="nora@mail.example")
    PatientFactory(clinic=on_paper.clinic, user=user)
    invite()
    with pytest.raises(InvitationRefused, match="has a record at this clinic already"):
        accept_invitation(token=newest_token(), password="", now=now, signed_in=user)
    assert Invitation.objects.get().accepted_at is None


def test_a_patient_without_an_address_cannot_be_invited(invite, on_paper):
    on_paper.email = ""
    with pytest.raises(PeopleError, match="no e-mail address"):
        invite()


def test_a_patient_who_can_sign_in_is_not_invited(invite, patient):
    with pytest.raises(PeopleError, match="can sign in already"):
        invite(patient=patient)


def test_a_discharged_patient_is_not_invited(invite, on_paper, now):
    discharge_patient(patient=on_paper, now=now)
    on_paper.refresh_from_db()
    with pytest.raises(PeopleError, match="discharged"):
        invite()


def test_staff_get_the_role_that_was_offered(colleague_to_be, clinic, now):
    colleague_to_be(role=Role.CLINIC_ADMIN)
    user = accept_invitation(token=newest_token(), password=PASSWORD, now=now)
    membership = Membership.objects.get(user=user)
    assert (membership.clinic, membership.role) == (clinic, Role.CLINIC_ADMIN)
    assert user.email == "nora.quill@mail.example"


def test_an_ended_role_comes_back_through_a_link(colleague_to_be, colleague, now):
    Membership.objects.filter(pk=colleague.pk).update(is_active=False)
    colleague_to_be(email=colleague.user.email)
    accept_invitation(token=newest_token(), password="", now=now, signed_in=colleague.user)
    colleague.refresh_from_db()
    assert colleague.is_active


def test_nobody_is_invited_to_a_role_they_hold(colleague_to_be, colleague):
    with pytest.raises(PeopleError, match="has that role already"):
        colleague_to_be(email=colleague.user.email.upper())
    assert not mail.outbox


def test_renewing_sends_a_new_link_for_another_seven_days(invite, admin, now):
    old = invite(now=now - timedelta(days=20))
    new = renew_invitation(
        clinic=old.clinic,
        invitation_id=old.pk,
        invited_by_id=admin.user_id,
        site_url=SITE,
        now=now,
    )
    old.refresh_from_db()
    assert old.revoked_at == now
    assert new.expires_at == now + timedelta(days=7)
    accept_invitation(token=newest_token(), password=PASSWORD, now=now)


def test_renewing_works_for_staff_too(colleague_to_be, admin, now):
    old = colleague_to_be()
    renew_invitation(
        clinic=old.clinic,
        invitation_id=old.pk,
        invited_by_id=admin.user_id,
        site_url=SITE,
        now=now,
    )
    assert len(mail.outbox) == 2


@pytest.mark.parametrize("state", ["used", "other clinic"])
def test_only_the_clinics_own_unused_links_are_renewed(state, invite, admin, other_clinic, now):
    invitation = invite()
    if state == "used":
        accept_invitation(token=newest_token(), password=PASSWORD, now=now)
    with pytest.raises(PeopleError):
        renew_invitation(
            clinic=other_clinic if state == "other clinic" else invitation.clinic,
            invitation_id=invitation.pk,
            invited_by_id=admin.user_id,
            site_url=SITE,
            now=now,
        )
    assert len(mail.outbox) == 1


def test_withdrawing_is_for_the_clinics_own_open_links(invite, other_clinic, now):
    invitation = invite()
    revoke = {"invitation_id": invitation.pk, "now": now}
    assert not revoke_invitation(clinic_id=other_clinic.pk, **revoke)
    assert revoke_invitation(clinic_id=invitation.clinic_id, **revoke)
    assert not revoke_invitation(clinic_id=invitation.clinic_id, **revoke)
    with pytest.raises(InvitationRefused):
        accept_invitation(token=newest_token(), password=PASSWORD, now=now)


def test_a_mail_that_fails_leaves_an_invitation_to_renew(invite, settings):
    settings.EMAIL_BACKEND = f"{__name__}.DeadServer"
    with pytest.raises(InvitationNotSent):
        invite()
    assert Invitation.objects.get().revoked_at is None


class DeadServer:
    """A mail server that hangs up."""

    def __init__(self, **options):
        pass

    def send_messages(self, messages):
        raise SMTPServerDisconnected("gone")


def test_admitting_keeps_the_record_when_the_mail_fails(therapist, settings, now):
    settings.EMAIL_BACKEND = f"{__name__}.DeadServer"
    with pytest.raises(InvitationNotSent):
        admit_patient(
            clinic_id=therapist.clinic_id,
            therapist=therapist,
            now=now,
            invite=True,
            invited_by_id=therapist.user_id,
            site_url=SITE,
            given_name="Nils",
            family_name="Aker",
            timezone="Europe/Oslo",
            email="nils@mail.example",
        )
    assert Patient.objects.get(given_name="Nils").invitations.count() == 1


@pytest.mark.databases_differ
@pytest.mark.django_db(transaction=True)
def test_fifty_people_with_one_link_make_one_account(now):
    InvitationFactory(token="shared", email="new@mail.example")
    results = race(
        50, lambda i: accept_invitation(token="shared", password=f"{PASSWORD} {i}", now=now)
    )
    winners = [result for result in results if isinstance(result, User)]
    assert len(winners) == 1
    assert all(isinstance(r, InvitationRefused) for r in results if r not in winners)
    assert User.objects.filter(email="new@mail.example").count() == 1
    assert Patient.objects.get().user == winners[0]


@pytest.mark.databases_differ
@pytest.mark.django_db(transaction=True)
def test_two_links_for_one_new_address_make_one_account(clinic, therapist, now):
    """The clinic sends one as patient and one as staff; both are opened at once."""
    for token in ("first", "second"):
        InvitationFactory(
            token=token,
            patient__clinic=clinic,
            patient__email="new@mail.example",
            invited_by=therapist.user,
        )
    tokens = ["first", "second"]
    results = race(2, lambda i: accept_invitation(token=tokens[i], password=PASSWORD, now=now))
    assert sum(isinstance(result, User) for result in results) == 1
    assert sum(isinstance(result, InvitationRefused) for result in results) == 1
    assert User.objects.filter(email="new@mail.example").count() == 1


@pytest.mark.databases_differ
@pytest.mark.django_db(transaction=True)
def test_two_people_who_invite_one_patient_at_once_leave_one_open_link(therapist, now):
    patient = PatientFactory(clinic=therapist.clinic, user=None, email="nora@mail.example")
    results = race(
        4,
        lambda _i: invite_patient(
            patient=patient, invited_by_id=therapist.user_id, site_url=SITE, now=now
        ),
    )
    assert not [result for result in results if isinstance(result, Exception)]
    assert Invitation.objects.filter(patient=patient, revoked_at=None).count() == 1


def test_nobody_accepts_a_record_that_they_treat(therapist, now):
    """Or their flags would be shown to nobody."""
    own = PatientFactory(clinic=therapist.clinic, user=None, email=therapist.user.email)
    CareRelationshipFactory(patient=own, therapist=therapist)
    invitation = InvitationFactory(patient=own, token="of-the-therapist")
    with pytest.raises(InvitationRefused, match="colleague"):
        accept_invitation(token="of-the-therapist", password="", now=now, signed_in=therapist.user)
    own.refresh_from_db()
    invitation.refresh_from_db()
    assert own.user is None
    assert invitation.accepted_at is None
