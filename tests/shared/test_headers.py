"""What every answer says to the browser, whatever its status; and cookies of a deployment."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.test import Client, override_settings

ROOT = Path(__file__).resolve().parents[2]
POLICY = {
    "default-src 'none'",
    "script-src 'self'",
    "style-src 'self'",
    "img-src 'self' data:",
    "font-src 'self'",
    "connect-src 'self'",
    "manifest-src 'self'",
    "worker-src 'self'",
    "form-action 'self'",
    "frame-ancestors 'none'",
    "base-uri 'none'",
    "object-src 'none'",
}
SAME_EVERYWHERE = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
}
DEPLOYED = {
    "DJANGO_SETTINGS_MODULE": "clinic.settings.production",
    "SECRET_KEY": "x" * 60 + "0123456789abcdefghij",
    "ALLOWED_HOSTS": "clinic.example",
    "SITE_URL": "https://clinic.example",
    "DATABASE_URL": "sqlite:///:memory:",
    "EMAIL_URL": "smtp://mail.example",
}
ASK_DEPLOYED = """
import json, django
django.setup()
from django.conf import settings
print(json.dumps({name: getattr(settings, name) for name in dir(settings)
    if name.isupper() and name.startswith(("SESSION_COOKIE", "CSRF_COOKIE", "SECURE"))}))
"""


def check_headers(answer) -> None:
    """Hold an answer against what all of them say."""
    assert {name: answer.headers.get(name) for name in SAME_EVERYWHERE} == SAME_EVERYWHERE
    directives = answer.headers["Content-Security-Policy"].split(";")
    assert {directive.strip() for directive in directives} == POLICY
    allowed = answer.headers["Permissions-Policy"]
    for power in ("camera", "microphone", "geolocation", "payment", "usb"):
        assert f"{power}=()" in allowed
    assert "screen-wake-lock=(self)" in allowed or "screen-wake-lock=self" in allowed
    assert "Server" not in answer.headers
    assert "X-Powered-By" not in answer.headers


@pytest.mark.parametrize(
    ("who", "path", "status"),
    [
        ("", "/account/login/", 200),
        ("", "/healthz", 200),
        ("", "/", 302),
        ("", "/caseload/", 302),
        ("", "/no-such-page/", 404),
        ("", "/api/v1/flags/", 403),
        ("", "/api/v1/no-such-thing/", 404),
        ("therapist", "/caseload/", 200),
        ("therapist", "/api/v1/flags/", 200),
        ("therapist", "/api/schema/", 200),
        ("therapist", "/today/", 404),
        ("patient", "/today/", 200),
        ("patient", "/api/v1/flags/", 403),
        ("patient", "/caseload/", 404),
        ("admin", "/clinic/", 200),
    ],
)
def test_every_answer_carries_the_whole_set(who, path, status, request, sign_in, clinic):
    client = sign_in(request.getfixturevalue(who)) if who else Client()
    answer = client.get(path)
    assert answer.status_code == status
    check_headers(answer)


@pytest.mark.parametrize(("method", "path"), [("post", "/about/"), ("delete", "/api/v1/flags/")])
def test_a_method_that_is_not_served(method, path, sign_in, therapist):
    answer = getattr(sign_in(therapist), method)(path)
    assert answer.status_code == 405
    check_headers(answer)


def test_a_post_without_a_token_is_refused(sign_in, therapist):
    answer = sign_in(therapist, enforce_csrf_checks=True).post("/patients/new/", {})
    assert answer.status_code == 403
    check_headers(answer)


def test_an_api_post_without_a_token_is_refused_as_a_problem(sign_in, patient, issued_program):
    client = sign_in(patient, enforce_csrf_checks=True)
    answer = client.post("/api/v1/sessions/", {}, content_type="application/json")
    assert answer.status_code == 403
    assert answer.headers["Content-Type"].startswith("application/problem+json")
    assert answer.json()["code"]
    check_headers(answer)


def test_an_error_of_ours(db, settings):
    """A page that fails says sorry, and says nothing about how it is made."""
    settings.ROOT_URLCONF = "tests.shared.failing_urls"
    client = Client(raise_request_exception=False)
    answer = client.get("/fails/")
    assert answer.status_code == 500
    assert "canary" not in answer.content.decode()
    check_headers(answer)


def test_what_is_read_signed_in_is_never_stored(sign_in, therapist, patient):
    for person, path in ((therapist, "/caseload/"), (patient, "/today/"), (therapist, "/")):
        kept = sign_in(person).get(path).headers["Cache-Control"]
        assert "no-store" in kept or "private" in kept, path


def test_static_files_cannot_be_taken_for_something_else(db):
    answer = Client().get("/static/design/main.css")
    assert answer.status_code == 200
    assert answer.headers["Content-Type"].startswith("text/css")
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    answer.close()


@pytest.fixture(scope="module")
def deployed() -> dict:
    """What the production settings say about cookies and transport, read in their own process."""
    told = subprocess.run(
        [sys.executable, "-c", ASK_DEPLOYED],
        cwd=ROOT,
        env=os.environ | DEPLOYED,
        capture_output=True,
        text=True,
        check=True,
    )
    settings: dict = json.loads(told.stdout)
    return settings


def test_cookies_of_a_deployment(deployed, therapist):
    """`__Host-` binds a cookie to this host: Secure, the whole path, no domain."""
    cookies = {n: v for n, v in deployed.items() if n.startswith(("SESSION_COOKIE", "CSRF_COOKIE"))}
    with override_settings(**cookies, ALLOWED_HOSTS=["clinic.example"]):
        client = Client(headers={"host": "clinic.example"})
        client.get("/account/login/", secure=True)
        signed_in = client.post(
            "/account/login/",
            {"login": therapist.user.email, "password": "harbour lamp seven"},
            secure=True,
        )
    assert signed_in.status_code == 302
    assert set(client.cookies) >= {"__Host-sessionid", "__Host-csrftoken"}
    for name, cookie in client.cookies.items():
        if name == "messages":
            continue
        assert (cookie["secure"], cookie["path"], cookie["domain"]) == (True, "/", ""), name
        assert cookie["samesite"] in ("Lax", "Strict"), name
    assert client.cookies["__Host-sessionid"]["httponly"]
    assert int(client.cookies["__Host-sessionid"]["max-age"] or 0) <= 12 * 60 * 60


def test_transport_of_a_deployment(deployed):
    transport = {n: v for n, v in deployed.items() if n.startswith("SECURE_")}
    with override_settings(**transport, ALLOWED_HOSTS=["clinic.example"]):
        client = Client(headers={"host": "clinic.example"})
        plain = client.get("/account/login/")
        assert (plain.status_code, plain["Location"]) == (
            301,
            "https://clinic.example/account/login/",
        )
        for path in ("/about/", "/no-such-page/", "/api/v1/flags/"):
            kept = client.get(path, secure=True).headers["Strict-Transport-Security"]
            assert int(kept.partition("max-age=")[2].partition(";")[0]) >= 31_536_000
            assert "includeSubDomains" in kept
        assert client.get("/healthz").status_code == 200
