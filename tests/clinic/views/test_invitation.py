"""The page behind a link: looking never uses it, accepting does, once."""

import pytest
from django.test import Client

from clinic.models import Invitation, Membership, User
from clinic.operations import revoke_invitation
from clinic.rules.roles import Role
from tests.factories import PASSWORD, InvitationFactory, UserFactory
from tests.race import race

URL = "/invitation/the-token/"
CHOICE = {"name": "Nora Quill", "password": PASSWORD, "again": PASSWORD}


@pytest.fixture
def invitation(clinic, therapist):
    return InvitationFactory(
        token="the-token",
        patient__clinic=clinic,
        patient__given_name="Nora",
        patient__problem="knee canary",
        invited_by=therapist.user,
        name="Nora Quill",
    )


@pytest.fixture
def offer(clinic, admin):
    return InvitationFactory(
        token="the-token",
        clinic=clinic,
        kind="STAFF",
        patient=None,
        role=Role.THERAPIST,
        email="new@mail.example",
        invited_by=admin.user,
    )


def signed_in_as(browser):
    user_id = browser.session.get("_auth_user_id")
    return User.objects.get(pk=user_id) if user_id else None


def test_the_page_says_who_invites_and_nothing_clinical(client, invitation):
    page = client.get(URL).content.decode()
    assert "Tess Arden of Willow Row Clinic invites you" in page
    assert "new@mail.example" in page
    assert "knee canary" not in page


def test_looking_ten_times_uses_nothing_up(client, invitation):
    for _time in range(10):
        assert client.get(URL).status_code == 200
        assert client.head(URL).status_code == 200
    invitation.refresh_from_db()
    assert invitation.accepted_at is None
    assert client.post(URL, CHOICE).status_code == 302


def test_accepting_signs_the_person_in_and_leads_home(client, invitation):
    response = client.post(URL, CHOICE)
    assert response["Location"] == "/"
    user = signed_in_as(client)
    assert (user.email, user.name) == ("new@mail.example", "Nora Quill")
    assert client.get("/")["Location"] == "/today/"
    assert client.session.get_expire_at_browser_close()


def test_a_colleague_lands_on_the_caseload(client, offer):
    client.post(URL, CHOICE)
    assert client.get("/")["Location"] == "/caseload/"


def test_a_used_link_says_so(client, invitation):
    client.post(URL, CHOICE)
    again = Client().post(URL, CHOICE | {"password": "x" * 12, "again": "x" * 12})
    assert again.status_code == 410
    page = Client().get(URL)
    assert page.status_code == 410
    assert "This link has been used" in page.content.decode()
    assert "/account/login/" in page.content.decode()


def test_a_link_that_ran_out_says_whom_to_ask(client, invitation, clock):
    clock.move_to(invitation.expires_at)
    for answer in (client.get(URL), client.post(URL, CHOICE)):
        assert answer.status_code == 410
        assert "This link has run out" in answer.content.decode()
        assert "01632 960 000" in answer.content.decode()
    assert not User.objects.filter(email="new@mail.example").exists()


def test_a_withdrawn_link_says_so(client, invitation, now):
    revoke_invitation(clinic_id=invitation.clinic_id, invitation_id=invitation.pk, now=now)
    for answer in (client.get(URL), client.post(URL, CHOICE)):
        assert answer.status_code == 410
        assert "Look for the newest mail" in answer.content.decode()


@pytest.mark.parametrize("token", ["nope", "the-token-", "%00", "é", "a" * 2000])
def test_an_unknown_link_is_not_found(token, client, invitation):
    response = client.get(f"/invitation/{token}/")
    assert response.status_code == 404
    assert client.post(f"/invitation/{token}/", CHOICE).status_code == 404


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"name": ""}, "This field is required."),
        ({"password": "short", "again": "short"}, "at least 12 characters"),
        ({"again": "something else"}, "The two passwords differ."),
        ({"password": "new@mail.example", "again": "new@mail.example"}, "too similar"),
    ],
)
def test_a_slip_keeps_the_link_and_what_was_typed(change, message, client, invitation):
    response = client.post(URL, CHOICE | change)
    page = response.content.decode()
    assert response.status_code == 200
    assert message in page
    assert PASSWORD not in page
    if "name" not in change:
        assert 'value="Nora Quill"' in page
    invitation.refresh_from_db()
    assert invitation.accepted_at is None


class TestSomebodyWithAnAccount:
    @pytest.fixture
    def user(self, db):
        return UserFactory(email="new@mail.example", password="my own old lamp")

    def test_signs_in_first(self, user, client, invitation):
        for answer in (client.get(URL), client.post(URL, CHOICE)):
            page = answer.content.decode()
            assert "Sign in to it, then accept." in page
            assert f"/account/login/?next={URL}" in page
        user.refresh_from_db()
        assert user.check_password("my own old lamp")
        assert signed_in_as(client) is None

    def test_then_accepts_with_one_button(self, user, client, invitation):
        data = {"login": user.email, "password": "my own old lamp"}
        back = client.post(f"/account/login/?next={URL}", data)
        assert back["Location"] == URL
        assert "You are signed in as" in client.get(URL).content.decode()
        assert client.post(URL)["Location"] == "/"
        invitation.patient.refresh_from_db()
        assert invitation.patient.user == user
        user.refresh_from_db()
        assert user.check_password("my own old lamp")

    def test_a_refusal_is_shown_and_uses_nothing_up(self, user, sign_in, invitation):
        InvitationFactory._meta.model.objects.exclude(pk=invitation.pk).delete()
        other = InvitationFactory(token="second", patient__clinic=invitation.clinic)
        browser = sign_in(user)
        browser.post("/invitation/second/")
        refused = browser.post(URL, follow=True)
        assert "has a record at this clinic already" in refused.content.decode()
        invitation.refresh_from_db()
        other.refresh_from_db()
        assert (invitation.accepted_at is None, other.accepted_at is None) == (True, False)

    def test_somebody_else_is_asked_to_sign_out(self, user, sign_in, therapist, invitation):
        browser = sign_in(therapist)
        for answer in (browser.get(URL), browser.post(URL, CHOICE)):
            assert "Another person is signed in" in answer.content.decode()
        assert browser.post("/account/logout/", {"next": URL})["Location"] == URL
        invitation.refresh_from_db()
        assert invitation.accepted_at is None


def test_somebody_else_signed_in_does_not_make_the_account(sign_in, therapist, invitation):
    sign_in(therapist).post(URL, CHOICE)
    assert not User.objects.filter(email="new@mail.example").exists()


def test_a_link_gives_no_more_than_its_role(client, offer):
    client.post(URL, CHOICE | {"role": "CLINIC_ADMIN", "is_staff": "on", "is_superuser": "on"})
    user = signed_in_as(client)
    assert not (user.is_staff or user.is_superuser)
    assert [m.role for m in Membership.objects.filter(user=user)] == [Role.THERAPIST]


def test_the_page_is_not_stored_and_sends_no_address_abroad(client, invitation):
    response = client.get(URL)
    assert "no-store" in response["Cache-Control"]
    assert response["Referrer-Policy"] == "same-origin"


@pytest.mark.databases_differ
@pytest.mark.django_db(transaction=True)
def test_twenty_browsers_at_once_have_one_winner(invitation):
    answers = race(20, lambda _i: Client().post(URL, CHOICE))
    assert [answer.status_code for answer in answers if answer.status_code >= 500] == []
    assert sum(answer.get("Location") == "/" for answer in answers) == 1
    assert User.objects.filter(email="new@mail.example").count() == 1
    assert Invitation.objects.get().accepted_at is not None
