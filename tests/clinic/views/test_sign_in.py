"""Signing in and out, forgotten and changed passwords."""

import re
from urllib.parse import urlsplit

import pytest
from django.core import mail
from django.test import Client

from clinic.models import User
from tests.factories import PASSWORD, UserFactory

LOGIN = "/account/login/"
NEW = "another harbour lamp"


def enter(browser, email, password, **more):
    return browser.post(LOGIN, {"login": email, "password": password, **more})


def without_tokens(response, email):
    text = response.content.decode().replace(email, "…")
    return re.sub(r'name="csrfmiddlewaretoken" value="\w+"', "", text)


def is_signed_in(browser):
    return "_auth_user_id" in browser.session


def test_e_mail_and_password_lead_home(client, therapist):
    response = enter(client, therapist.user.email, PASSWORD)
    assert response.status_code == 302
    assert response["Location"] == "/"


def test_the_address_counts_whatever_its_case(client, therapist):
    enter(client, therapist.user.email.upper(), PASSWORD)
    assert is_signed_in(client)


def test_unknown_and_wrong_answer_alike(client, therapist):
    email = therapist.user.email
    wrong = enter(client, email, "not the password")
    unknown = enter(Client(), "nobody@mail.example", "not the password")
    assert wrong.status_code == unknown.status_code == 200
    assert without_tokens(wrong, email) == without_tokens(unknown, "nobody@mail.example")
    assert "E-mail and password do not fit together." in wrong.content.decode()
    assert not is_signed_in(client)


def test_the_address_is_kept_and_the_password_is_not(client, therapist):
    page = enter(client, therapist.user.email, "not the password").content.decode()
    assert therapist.user.email in page
    assert "not the password" not in page


def test_a_closed_account_is_told_so_and_stays_out(client, therapist):
    User.objects.update(is_active=False)
    response = client.post(
        LOGIN, {"login": therapist.user.email, "password": PASSWORD}, follow=True
    )
    assert response.status_code == 200
    assert not is_signed_in(client)
    assert response.redirect_chain in ([], [(LOGIN, 302)])


@pytest.mark.parametrize(
    "target", ["https://evil.example/", "//evil.example", "/\\evil.example", "javascript:alert(1)"]
)
def test_the_way_on_never_leaves_the_site(target, client, therapist):
    response = enter(client, therapist.user.email, PASSWORD, next=target)
    assert urlsplit(response["Location"]).netloc == ""
    assert response["Location"] == "/"


def test_the_way_on_is_kept(client, therapist):
    response = client.get("/patients/new/")
    assert response["Location"] == f"{LOGIN}?next=/patients/new/"
    response = client.post(
        response["Location"], {"login": therapist.user.email, "password": PASSWORD}
    )
    assert response["Location"] == "/patients/new/"


def test_a_sign_in_gets_a_new_session(client, therapist):
    session = client.session
    session["x"] = 1
    session.save()
    before = session.session_key
    client.cookies["sessionid"] = before
    enter(client, therapist.user.email, PASSWORD)
    assert client.session.session_key != before


def test_signing_out_takes_a_post(sign_in, therapist):
    browser = sign_in(therapist)
    assert browser.get("/account/logout/").status_code == 200
    assert is_signed_in(browser)
    assert browser.post("/account/logout/")["Location"] == LOGIN
    assert not is_signed_in(browser)


def test_nobody_signs_up(client, db):
    for answer in (
        client.get("/account/signup/"),
        client.post("/account/signup/", {"email": "x@mail.example", "password1": NEW}),
    ):
        assert "Accounts come by invitation" in answer.content.decode()
    assert not User.objects.exists()


def test_the_cast_is_shown_in_the_demo_only(client, therapist, patient, settings):
    assert "Tess Arden" not in client.get(LOGIN).content.decode()
    settings.IS_DEMO = True
    settings.DEMO_PASSWORD = PASSWORD
    page = client.get(LOGIN).content.decode()
    assert "Tess Arden" in page
    assert "Pia Lund" in page
    enter(client, therapist.user.email, PASSWORD)
    assert is_signed_in(client)


def test_a_password_never_stands_in_the_page_outside_the_demo(client, therapist, settings):
    settings.DEMO_PASSWORD = "canary-password"
    assert "canary-password" not in client.get(LOGIN).content.decode()


class TestForgottenPassword:
    def ask(self, browser, email):
        return browser.post("/account/password/reset/", {"email": email})

    def link(self):
        return re.search(r"http\S+/account/password/reset/key/\S+", mail.outbox[-1].body)[0]

    def test_known_and_unknown_addresses_answer_alike(self, client, db):
        user = UserFactory()
        known, unknown = self.ask(client, user.email), self.ask(Client(), "nobody@mail.example")
        assert known.status_code == unknown.status_code == 302
        assert known["Location"] == unknown["Location"] == "/account/password/reset/sent/"
        assert [message.subject for message in mail.outbox] == ["Your new password"] * 2
        assert "There is no account for it." in mail.outbox[1].body
        assert "/account/" not in mail.outbox[1].body

    def test_the_link_sets_a_password_and_works_once(self, client, db):
        user = UserFactory()
        self.ask(client, user.email)
        form = client.get(urlsplit(self.link()).path, follow=True)
        set_at = form.redirect_chain[-1][0]
        done = client.post(set_at, {"password1": NEW, "password2": NEW}, follow=True)
        assert "The new password is set" in done.content.decode()
        user.refresh_from_db()
        assert user.check_password(NEW)
        again = Client().get(urlsplit(self.link()).path, follow=True)
        assert "This link no longer works" in again.content.decode()

    def test_a_weak_password_is_refused_beside_its_field(self, client, db):
        user = UserFactory()
        self.ask(client, user.email)
        set_at = client.get(urlsplit(self.link()).path, follow=True).redirect_chain[-1][0]
        refused = client.post(set_at, {"password1": "short", "password2": "short"})
        assert refused.status_code == 200
        assert "at least 12 characters" in refused.content.decode()

    def test_links_are_built_from_the_sites_own_address(self, client, db, settings):
        settings.ALLOWED_HOSTS = ["*"]
        settings.SITE_URL = "https://carryover.clinic.example"
        user = UserFactory()
        client.post(
            "/account/password/reset/", {"email": user.email}, headers={"host": "evil.example"}
        )
        assert self.link().startswith("https://carryover.clinic.example/account/")
        assert "evil.example" not in mail.outbox[-1].message().as_string()

    def test_a_link_cut_short_says_what_to_do(self, client, db):
        page = client.get("/account/password/reset/key/1-broken/").content.decode()
        assert "Send me a new link" in page


class TestChangedPassword:
    def change(self, browser, old, new=NEW):
        data = {"oldpassword": old, "password1": new, "password2": new}
        return browser.post("/account/password/", data)

    def test_it_needs_the_old_one(self, sign_in, therapist):
        refused = self.change(sign_in(therapist), "not it")
        assert "This is not your password until now." in refused.content.decode()
        therapist.user.refresh_from_db()
        assert therapist.user.check_password(PASSWORD)

    def test_it_signs_other_devices_out(self, sign_in, therapist):
        here, elsewhere = sign_in(therapist), sign_in(therapist)
        assert self.change(here, PASSWORD)["Location"] == "/"
        assert here.get("/account/password/").status_code == 200
        assert elsewhere.get("/account/password/").status_code == 302


def test_signed_in_pages_are_not_stored(sign_in, therapist, client):
    response = sign_in(therapist).get("/account/password/")
    assert "no-store" in response["Cache-Control"]


@pytest.mark.parametrize("method", ["put", "patch", "delete", "options", "trace"])
def test_account_pages_serve_get_and_post_only(method, client, db):
    assert getattr(client, method)(LOGIN).status_code == 405


def test_a_form_without_its_token_is_refused_in_plain_words(db):
    browser = Client(enforce_csrf_checks=True)
    refused = browser.post(LOGIN, {"login": "a@mail.example", "password": "b"})
    assert refused.status_code == 403
    assert "This page was open too long" in refused.content.decode()
