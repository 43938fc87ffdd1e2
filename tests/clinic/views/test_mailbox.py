"""The demo's mailbox shows the folder's mail, in the demo only."""

from pathlib import Path

import pytest

from clinic.operations import invite_patient
from tests.factories import PatientFactory


@pytest.fixture
def folder(settings, tmp_path):
    settings.IS_DEMO = True
    settings.EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
    settings.EMAIL_FILE_PATH = tmp_path / "mailbox"
    return settings.EMAIL_FILE_PATH


@pytest.fixture
def sent(folder, therapist, now):
    patient = PatientFactory(
        clinic=therapist.clinic, user=None, email="nora@mail.example", given_name="<b>Nora</b>"
    )
    invite_patient(
        patient=patient, invited_by_id=therapist.user_id, site_url="http://testserver", now=now
    )
    return next(Path(folder).iterdir())


def test_mail_is_listed_and_its_link_works(client, sent):
    page = client.get("/demo/mailbox/").content.decode()
    assert "Your invitation" in page
    assert "to nora@mail.example" in page
    name = f"{sent.stem}-0"
    mail = client.get(f"/demo/mailbox/{name}/").content.decode()
    link = mail.split('href="http://testserver', 1)[1].split('"')[0]
    assert link.startswith("/invitation/")
    assert client.get(link).status_code == 200
    assert "&lt;b&gt;Nora&lt;/b&gt;" in mail
    assert "<b>Nora" not in mail


def test_an_empty_folder_says_so(client, folder):
    assert "No mail yet" in client.get("/demo/mailbox/").content.decode()


@pytest.mark.parametrize(
    "name",
    ["..%2F..%2Fetc%2Fpasswd", "20260311-100000-1-0", "secret", "%2e%2e", "a" * 300, "\x00", "é-0"],
)
def test_names_that_are_none(name, client, folder, sent):
    (folder.parent / "secret").write_text("canary")
    assert client.get(f"/demo/mailbox/{name}/").status_code == 404


def test_outside_the_demo_there_is_no_mailbox(client, sent, settings):
    settings.IS_DEMO = False
    assert client.get("/demo/mailbox/").status_code == 404
    assert client.get(f"/demo/mailbox/{sent.stem}-0/").status_code == 404
