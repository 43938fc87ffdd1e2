"""Reads the folder into which the demo writes its mail instead of sending it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from email import message_from_bytes
from email.message import EmailMessage
from email.policy import default
from email.utils import parsedate_to_datetime
from pathlib import Path

_BETWEEN = b"-" * 79
_FILE = re.compile(r"[0-9]{8}-[0-9]{6}-[0-9]+\.log")
_NAME = re.compile(r"([0-9]{8}-[0-9]{6}-[0-9]+)-([0-9]{1,4})")


@dataclass(frozen=True)
class Line:
    """One line of a mail; `is_link` where it is an address and nothing else."""

    text: str
    is_link: bool


@dataclass(frozen=True)
class Mail:
    """One mail. `name` finds it again; `sent_at` is None where the mail has no date."""

    name: str
    to: str
    subject: str
    sent_at: datetime | None
    lines: tuple[Line, ...]


def mail_names(folder: Path) -> list[str]:
    """Return the name of every mail in the folder, newest first; none where there is no folder."""
    if not folder.is_dir():
        return []
    files = [path for path in folder.iterdir() if _FILE.fullmatch(path.name) and path.is_file()]
    files.sort(key=lambda path: (path.stat().st_mtime_ns, path.name), reverse=True)
    return [
        f"{path.stem}-{place}"
        for path in files
        for place in reversed(range(len(_parts(path.read_bytes()))))
    ]


def read_mails(folder: Path, names: Iterable[str]) -> list[Mail]:
    """Return the mails of these names, in this order, without those that are gone."""
    found = (mail_named(folder, name) for name in names)
    return [mail for mail in found if mail is not None]


def mail_named(folder: Path, name: str) -> Mail | None:
    """Return one mail. A name that could lead out of the folder is no name of a mail."""
    parts = _NAME.fullmatch(name)
    if parts is None:
        return None
    path = folder / f"{parts[1]}.log"
    if path.is_symlink() or not path.is_file():
        return None
    sources = _parts(path.read_bytes())
    place = int(parts[2])
    return _read(name, sources[place]) if place < len(sources) else None


def _parts(content: bytes) -> list[bytes]:
    """Split a file at its lines of 79 dashes, one after each mail."""
    parts: list[bytes] = []
    current: list[bytes] = []
    for line in content.splitlines(keepends=True):
        if line.rstrip(b"\r\n") == _BETWEEN:
            parts.append(b"".join(current))
            current = []
        else:
            current.append(line)
    return parts


def _read(name: str, source: bytes) -> Mail:
    message = message_from_bytes(source, policy=default)
    return Mail(
        name=name,
        to=str(message.get("To", "")),
        subject=str(message.get("Subject", "")),
        sent_at=_date(message),
        lines=tuple(
            Line(line, line.startswith(("https://", "http://")) and " " not in line)
            for line in (part.strip() for part in _text(message).strip().splitlines())
        ),
    )


def _date(message: EmailMessage) -> datetime | None:
    try:
        return parsedate_to_datetime(str(message["Date"]))
    except (TypeError, ValueError):
        return None


def _text(message: EmailMessage) -> str:
    body = message.get_body(preferencelist=("plain",))
    return "" if body is None else str(body.get_content())
