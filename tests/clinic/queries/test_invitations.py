"""What somebody who holds a link may know."""

import pytest

from clinic.operations import discharge_patient, hash_token
from clinic.queries import Standing, invitation_page, open_invitation
from tests.factories import InvitationFactory, UserFactory


@pytest.fixture
def invitation(clinic, therapist):
    return InvitationFactory(
        token="t", patient__clinic=clinic, invited_by=therapist.user, name="Nora"
    )


def page(now, token="t"):
    return invitation_page(hash_token(token), now=now)


def test_an_open_link_says_who_invites_whom(invitation, now):
    shown = page(now)
    assert shown.standing == Standing.OPEN
    assert (shown.name, shown.email) == ("Nora", "new@mail.example")
    assert (shown.clinic_name, shown.invited_by) == ("Willow Row Clinic", "Tess Arden")
    assert not shown.has_account
    UserFactory(email="new@mail.example")
    assert page(now).has_account


@pytest.mark.parametrize(
    ("field", "standing"), [("accepted_at", Standing.USED), ("revoked_at", Standing.REVOKED)]
)
def test_a_closed_link_says_why(field, standing, invitation, now):
    setattr(invitation, field, now)
    invitation.save()
    assert page(now).standing == standing
    assert open_invitation(hash_token("t"), now=now) is None


def test_a_link_runs_out_to_the_second(invitation):
    assert page(invitation.expires_at).standing == Standing.EXPIRED
    assert open_invitation(hash_token("t"), now=invitation.expires_at) is None


def test_a_discharge_withdraws_the_link(invitation, now):
    discharge_patient(patient=invitation.patient, now=now)
    assert page(now).standing == Standing.REVOKED


def test_an_unknown_link_tells_nothing(invitation, now):
    shown = page(now, token="other")
    assert shown.standing == Standing.UNKNOWN
    assert (shown.clinic_name, shown.email) == ("", "")
