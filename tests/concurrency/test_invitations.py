"""A link is consumed once, however many people follow it at the same instant."""

from __future__ import annotations

import threading
import time

import pytest
from django.db import transaction

from clinic.models import Invitation, InvitationKind, Membership, Patient, User
from clinic.operations.invitations import InvitationRefused, accept_invitation
from clinic.rules.roles import Role
from tests import factories
from tests.factories import NOW, PASSWORD
from tests.race import race

TOKEN = "a-token-that-was-forwarded"

pytestmark = [pytest.mark.databases_differ, pytest.mark.django_db(transaction=True)]


def accept(_index: int) -> User:
    """Follow the link as somebody without an account."""
    return accept_invitation(token=TOKEN, password=PASSWORD, now=NOW)


def check_one_winner(results: list) -> User:
    """Return who won; all others were refused in plain words."""
    winners = [result for result in results if isinstance(result, User)]
    others = [result for result in results if not isinstance(result, User)]
    assert {type(other) for other in others} == {InvitationRefused}
    assert len(winners) == 1
    return winners[0]


def test_fifty_people_follow_a_patients_link_and_one_wins():
    invitation = factories.InvitationFactory(token=TOKEN)
    winner = check_one_winner(race(50, accept))
    assert Patient.objects.get(pk=invitation.patient_id).user == winner
    assert User.objects.filter(email=invitation.email).count() == 1
    assert Invitation.objects.get().accepted_at == NOW


def test_fifty_people_follow_a_colleagues_link_and_one_wins():
    clinic = factories.ClinicFactory()
    factories.InvitationFactory(
        clinic=clinic,
        kind=InvitationKind.STAFF,
        role=Role.THERAPIST,
        patient=None,
        email="new@mail.example",
        token=TOKEN,
    )
    winner = check_one_winner(race(50, accept))
    membership = Membership.objects.get(clinic=clinic)
    assert (membership.user, membership.role) == (winner, Role.THERAPIST)


def test_a_signed_in_person_who_taps_twice_joins_once():
    """The losing tap is told that the link is used; it undoes nothing of the winning one."""
    user = factories.UserFactory(email="new@mail.example")
    invitation = factories.InvitationFactory(token=TOKEN)

    def tap(_index: int) -> User:
        return accept_invitation(token=TOKEN, password="", now=NOW, signed_in=user)

    assert check_one_winner(race(8, tap)) == user
    assert Patient.objects.get(pk=invitation.patient_id).user == user


def test_a_link_that_is_revoked_while_it_is_followed_ends_in_one_state():
    invitation = factories.InvitationFactory(token=TOKEN)
    revoked = Invitation.objects.filter(pk=invitation.pk, accepted_at=None, revoked_at=None)

    def follow_or_revoke(index: int) -> User | int:
        return accept(index) if index % 2 else revoked.update(revoked_at=NOW)

    race(10, follow_or_revoke)
    invitation.refresh_from_db()
    assert (invitation.accepted_at is None) != (invitation.revoked_at is None)
    patient = Patient.objects.get(pk=invitation.patient_id)
    assert (patient.user is None) == (invitation.accepted_at is None)


def test_a_link_that_is_followed_while_a_new_one_is_made_does_not_wait_in_a_circle():
    """Who makes a new link, or discharges, holds the record and then ends the links for it."""
    invitation = factories.InvitationFactory(token=TOKEN)
    holds = threading.Event()

    def follow_or_renew(index: int) -> User | int:
        if index:
            holds.wait(timeout=60)
            return accept(index)
        with transaction.atomic():
            Patient.objects.select_for_update().get(pk=invitation.patient_id)
            holds.set()
            time.sleep(0.5)
            ended = Invitation.objects.filter(pk=invitation.pk, accepted_at=None)
            return ended.update(revoked_at=NOW)

    revoked, refused = race(2, follow_or_renew)
    assert revoked == 1, revoked
    assert isinstance(refused, InvitationRefused), refused
    assert Patient.objects.get().user is None
