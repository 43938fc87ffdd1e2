"""Every page of every role through axe and the measuring tape, light and dark, narrow and wide.

What there is to look at comes from the table of who gets what, which lists every route: a new
page is looked at from its first day.
"""

from __future__ import annotations

from collections import defaultdict

import pytest

from tests.access.table import COLUMNS
from tests.access.test_matrix import browser, rows, send
from tests.browser.fullness import fill
from tests.browser.looking import NARROW, WIDE, is_page, look_at

pytestmark = pytest.mark.browser

# Colleagues see what the therapist sees, and the other patient what the patient sees.
ROLES = ("signed_out", "patient", "therapist", "admin")


def readers(method: str) -> dict[str, list[str]]:
    """Return for each page that answers this method the roles that get it."""
    found = {
        row.route: [
            who
            for who, got in zip(COLUMNS, row.expected, strict=True)
            if who in ROLES and got == "200"
        ]
        for row in rows()
        if row.method == method
    }
    # A page that is read without signing in looks the same to everybody but for the header.
    return {name: who[:2] if "signed_out" in who else who for name, who in found.items() if who}


PAGES, REFUSALS = readers("GET"), readers("POST")


@pytest.mark.parametrize("name", PAGES)
def test_every_page_in_every_look(name, world, sign_in, window):
    fill(world)
    url = world.url(world.route(name))
    for who in PAGES[name]:
        client = browser(world, sign_in, who)
        answer = client.get(url)
        assert answer.status_code == 200
        if is_page(answer):
            looks = [(NARROW, False), (NARROW, True), (WIDE, False), (WIDE, True)]
            assert look_at(window, url, answer, client, looks) == [], who


@pytest.mark.parametrize("name", REFUSALS)
def test_every_form_that_asks_again(name, world, sign_in, window):
    """A form sent empty comes back with its messages."""
    route = world.route(name)
    who = REFUSALS[name][0]
    client = browser(world, sign_in, who)
    answer = send(client, "POST", world.url(route), api=route.is_api)
    assert answer.status_code == 200
    if is_page(answer):
        url = world.url(route)
        assert look_at(window, url, answer, client, [(NARROW, True), (WIDE, False)]) == []


@pytest.mark.parametrize("who", ROLES)
def test_no_two_pages_share_a_title(who, world, sign_in):
    """History, tabs and screen readers tell pages apart by their titles."""
    fill(world)
    client = browser(world, sign_in, who)
    titles = defaultdict(list)
    for name, allowed in PAGES.items():
        if who in allowed:
            answer = client.get(world.url(world.route(name)))
            if is_page(answer):
                text = answer.content.decode()
                titles[text.partition("<title>")[2].partition("</title>")[0]].append(name)
    assert {title: names for title, names in titles.items() if len(names) > 1} == {}
    assert all(title.endswith(" · Carryover") for title in titles)
