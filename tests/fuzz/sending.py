"""Sends one payload, undoes what it did, and tells what came of it."""

from __future__ import annotations

from dataclasses import dataclass
from http.cookies import SimpleCookie
from typing import Any
from urllib.parse import urlencode

from django.db import connection, transaction

from tests.fuzz.targets import Target
from tests.fuzz.watch import Watch

# A page that says "done" in place of sending the browser on.
SAYS_SO_ITSELF = {"reminder_stop"}


@dataclass(frozen=True)
class Answer:
    """The status, the answer itself, and the tables of the writes that stayed."""

    status: int
    response: Any
    kept: list[str]
    writes: int
    accepted: bool


def send(
    target: Target, content: bytes | dict, *, method: str = "POST", break_at: int | None = None
) -> Answer:
    """Send a body of bytes to the API, or the data of a form."""
    watch = Watch(break_at)
    client = target.client
    cookies = client.cookies.output(header="", sep=";")
    if isinstance(content, dict):
        body = urlencode(content, doseq=True, errors="replace").encode()
        kind = "application/x-www-form-urlencoded"
    else:
        body, kind = content, "application/json"
    with transaction.atomic():
        with connection.execute_wrapper(watch):
            response = client.generic(method, target.url, body, content_type=kind)
        transaction.set_rollback(True)
    client.cookies = SimpleCookie(cookies)
    status = response.status_code
    accepted = status < 400 and (
        status != 200 or target.route.is_api or target.route.name in SAYS_SO_ITSELF
    )
    return Answer(status, response, watch.kept, watch.count, accepted)
