"""Who gets what from every route: the table, and that other people's records look like none."""

from __future__ import annotations

import re
from dataclasses import dataclass

import pytest
from django.db import transaction
from django.test import Client

from tests.access.table import COLUMNS, TABLE
from tests.routes import all_routes

SIGN_IN = "in"
NO_SERVICE = ("PUT", "PATCH", "DELETE", "OPTIONS", "TRACE")


@dataclass(frozen=True)
class Row:
    """One line of the table: what each member of the cast gets."""

    route: str
    method: str
    expected: tuple[str, ...]


def rows() -> list[Row]:
    """Read the table."""
    read = []
    for line in TABLE.strip().splitlines():
        cells = line.split("#")[0].split()
        if cells:
            assert len(cells) == 2 + len(COLUMNS), f"Not {len(COLUMNS)} cells: {line!r}"
            read.append(Row(cells[0], cells[1], tuple(cells[2:])))
    return read


def browser(world, sign_in, who: str) -> Client:
    """Return a browser of this member of the cast that gets a page for every error."""
    client = Client() if who == "signed_out" else sign_in(world.people[who])
    client.raise_request_exception = False
    return client


def send(client: Client, method: str, url: str, *, api: bool):
    """Send a request without content, and undo what it did."""
    content = {"data": "{}", "content_type": "application/json"} if api else {}
    if method == "POST" and not api:
        content = {"data": "", "content_type": "application/x-www-form-urlencoded"}
    with transaction.atomic():
        response = client.generic(method, url, **content)
        transaction.set_rollback(True)
    return response


def seen(response) -> str:
    """Return the status, or `in` for being sent to the sign-in page."""
    if response.status_code == 302 and response["Location"].startswith("/account/login/"):
        return SIGN_IN
    return str(response.status_code)


def test_the_table_lists_every_route_and_no_other():
    """A new route fails here until somebody has said who may use it."""
    listed = {(row.route, row.method) for row in rows()}
    real = {(route.name, method) for route in all_routes() for method in route.methods}
    assert sorted(real - listed) == [], "These routes have no row in tests/access/table.py."
    assert sorted(listed - real) == [], "These rows speak of routes that are gone."


def test_no_two_routes_share_a_name():
    names = [route.name for route in all_routes()]
    assert len(names) == len(set(names))


@pytest.mark.parametrize("row", rows(), ids=lambda row: f"{row.route}-{row.method}")
def test_each_member_of_the_cast_gets_what_the_table_says(row, world, sign_in):
    route = world.route(row.route)
    url = world.url(route)
    got = tuple(
        seen(send(browser(world, sign_in, who), row.method, url, api=route.is_api))
        for who in COLUMNS
    )
    assert dict(zip(COLUMNS, got, strict=True)) == dict(zip(COLUMNS, row.expected, strict=True))


@pytest.mark.parametrize("route", all_routes(), ids=lambda route: route.name)
def test_no_route_serves_a_method_that_it_does_not_list(route, world, sign_in):
    """PUT, PATCH, DELETE and TRACE do nothing anywhere; OPTIONS tells at most what is allowed."""
    url = world.url(route)
    for who in ("signed_out", "patient", "therapist", "admin"):
        client = browser(world, sign_in, who)
        for method in set(NO_SERVICE) - route.methods:
            response = send(client, method, url, api=route.is_api)
            if method == "OPTIONS" and response.status_code == 200:
                assert route.is_api
                continue
            assert seen(response) in (SIGN_IN, "302", "403", "404", "405"), (who, method)


# What differs between two answers that say the same: tokens, and the address that was asked for.
CHANGING = re.compile(
    r"name=\"csrfmiddlewaretoken\" value=\"\w+\"|X-CSRFToken[^\w]+\w+|csrf-token\" content=\"\w+\""
)


def told(response, values: dict) -> tuple[str, str]:
    """Return what an answer tells, without what must differ."""
    text = response.content.decode()
    for value in values.values():
        text = text.replace(str(value), "…")
    return seen(response), CHANGING.sub("", text)


@pytest.mark.parametrize(
    ("route", "method"),
    [
        (route, method)
        for route in all_routes()
        if route.parameters
        for method in sorted(route.methods)
    ],
    ids=lambda value: value if isinstance(value, str) else value.name,
)
def test_another_clinics_record_answers_as_an_absent_one(route, method, world, sign_in):
    """Status, headers' names and text are the same: nothing tells that the record exists."""
    foreign, absent = world.foreign(route), world.absent(route)
    for who in COLUMNS:
        if who == "outsider" or not foreign:
            continue
        client = browser(world, sign_in, who)
        theirs = send(client, method, world.url(route, **foreign), api=route.is_api)
        none = send(client, method, world.url(route, **absent), api=route.is_api)
        assert told(theirs, foreign) == told(none, absent), who
        assert set(theirs.headers) == set(none.headers), who
        assert theirs.status_code < 500
        assert theirs.status_code != 200
