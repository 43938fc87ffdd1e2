"""Reading mail from a folder: order, several in one file, and nothing outside."""

import os

import pytest

from shared.mailbox import mail_named, mail_names, read_mails

DASHES = "-" * 79


def message(to, body="Hello"):
    return (
        'Content-Type: text/plain; charset="utf-8"\nMIME-Version: 1.0\n'
        "Content-Transfer-Encoding: 8bit\nSubject: A word\nFrom: c@clinic.example\n"
        f"To: {to}\nDate: Wed, 11 Mar 2026 10:00:00 -0000\n\n{body}\n"
    )


@pytest.fixture
def folder(tmp_path):
    box = tmp_path / "mailbox"
    box.mkdir()
    return box


def write(folder, stem, *messages, age=0):
    path = folder / f"{stem}.log"
    path.write_text("".join(f"{text}{DASHES}\n" for text in messages))
    os.utime(path, ns=(10**18 - age * 10**9,) * 2)


def test_no_folder_has_no_mail(tmp_path):
    assert mail_names(tmp_path / "nowhere") == []


def test_the_newest_comes_first(folder):
    write(folder, "20260311-100000-1", message("old@x.org"), age=60)
    write(folder, "20260311-090000-2", message("new@x.org"))
    found = read_mails(folder, mail_names(folder))
    assert [mail.to for mail in found] == ["new@x.org", "old@x.org"]


def test_one_file_may_hold_several(folder):
    write(folder, "20260311-100000-1", message("a@x.org"), message("b@x.org"))
    assert mail_names(folder) == ["20260311-100000-1-1", "20260311-100000-1-0"]
    assert mail_named(folder, "20260311-100000-1-1").to == "b@x.org"
    assert mail_named(folder, "20260311-100000-1-2") is None


def test_lines_that_are_links_are_marked(folder):
    body = "Open:\nhttp://clinic.example/x/?a=1\nhttp://two words\njavascript:alert(1)\nürsula"
    write(folder, "20260311-100000-1", message("a@x.org", body))
    lines = mail_named(folder, "20260311-100000-1-0").lines
    assert [line.text for line in lines if line.is_link] == ["http://clinic.example/x/?a=1"]
    assert lines[-1].text == "ürsula"


def test_other_files_are_no_mail(folder):
    (folder / "notes.log").write_text(message("a@x.org") + DASHES)
    (folder / "20260311-100000-1.log").symlink_to(folder / "notes.log")
    assert mail_named(folder, "notes-0") is None
    assert mail_named(folder, "20260311-100000-1-0") is None


@pytest.mark.parametrize("content", [b"", b"\xff\xfe\x00", DASHES.encode(), b"no end"])
def test_broken_files_break_nothing(content, folder):
    (folder / "20260311-100000-1.log").write_bytes(content)
    for mail in read_mails(folder, mail_names(folder)):
        assert mail.sent_at is None


@pytest.mark.parametrize("name", ["", "..", "../mailbox/20260311-100000-1-0", "x" * 500, "1-2-3-4"])
def test_names_that_lead_nowhere(name, folder):
    write(folder, "20260311-100000-1", message("a@x.org"))
    assert mail_named(folder, name) is None
