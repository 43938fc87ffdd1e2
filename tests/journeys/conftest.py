"""Browsers for journeys against the real server, on the real clock."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

import pytest
from django.core import mail
from playwright.sync_api import Browser, Page

from clinic.models import Clinic
from tests import factories
from tests.chromium import chromium
from tests.factories import PASSWORD


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One browser for the journeys of a module."""
    with chromium() as running:
        yield running


@pytest.fixture
def device(browser: Browser, live_server, settings) -> Iterator[Callable[..., Page]]:
    """Return a function that opens a browser of its own: `device(width=360)`."""
    settings.SITE_URL = live_server.url
    opened = []

    def open_one(*, width: int, height: int = 900, scripts: bool = True) -> Page:
        context = browser.new_context(
            java_script_enabled=scripts,
            viewport={"width": width, "height": height},
            base_url=live_server.url,
        )
        opened.append(context)
        page = context.new_page()
        page.set_default_timeout(20_000)
        return page

    yield open_one
    for context in opened:
        context.close()


@pytest.fixture
def real_clinic(transactional_db) -> Clinic:
    """A clinic in UTC whose rows everybody sees."""
    return factories.ClinicFactory(
        name="Willow Row Clinic", slug="willow-row", timezone="UTC", phone="01632 960 000"
    )


def sign_in(page: Page, email: str) -> Page:
    """Sign in as people do."""
    page.goto("/account/login/")
    page.get_by_label("E-mail").fill(email)
    page.get_by_label("Password", exact=True).fill(PASSWORD)
    page.locator("main").get_by_role("button", name="Sign in").click()
    page.wait_for_url(lambda url: "/account/login/" not in url)
    return page


def link_in_mail(to: str) -> str:
    """Return the path of the link in the newest mail to this address."""
    newest = [message for message in mail.outbox if message.to == [to]][-1]
    found = re.search(r"https?://[^/\s]+(/invitation/\S+/)", str(newest.body))
    assert found, newest.body
    return found[1]
