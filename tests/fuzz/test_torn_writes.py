"""A database that goes away at any write of a request leaves nothing of the request behind."""

from __future__ import annotations

import json

import pytest

from tests.fuzz.sending import send
from tests.fuzz.targets import Target, writing_routes

# What a careful person sends here is refused, in this world.
REFUSED = {
    "account_signup": "nobody signs up without an invitation",
    "account_reset_password_from_key": "the address holds no sound key",
}


def sound(target: Target) -> bytes | dict:
    """Return what a careful person or the page's own script sends."""
    return json.dumps(target.body).encode() if target.route.is_api else target.form.filled()


ALL = [*writing_routes(api=False), *writing_routes(api=True)]


@pytest.mark.parametrize("target", ALL, indirect=True, ids=lambda r: r.name)
def test_what_a_careful_person_sends_is_taken(target):
    """Otherwise the payloads made from it would all be refused at the first door."""
    answer = send(target, sound(target))
    refused = target.route.name in REFUSED
    assert answer.accepted is not refused, (answer.status, sound(target))


@pytest.mark.parametrize("target", ALL, indirect=True, ids=lambda r: r.name)
def test_a_write_that_breaks_takes_the_others_with_it(target):
    target.client.raise_request_exception = False
    writes = send(target, sound(target)).writes
    for number in range(1, writes + 1):
        answer = send(target, sound(target), break_at=number)
        assert answer.kept == [], f"Write {number} of {writes} broke."
