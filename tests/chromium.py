"""The browser that tests drive, and a window that shows pages without a server."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from axe_playwright_python.base import AXE_SCRIPT
from django.contrib.staticfiles import finders
from django.http import HttpResponse
from django.test import Client
from playwright.sync_api import Browser, Route, sync_playwright

from shared.chromium import find

ORIGIN = "http://testserver"
KINDS = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml"}
KEPT_HEADERS = ("Content-Type", "Content-Security-Policy")
# Django refuses its tables where an event loop runs, and the browser's driver leaves one running
# in this thread. Nothing here is asynchronous: calls take turns.
UNSAFE = "DJANGO_ALLOW_ASYNC_UNSAFE"
AXE_OPTIONS = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    "resultTypes": ["violations"],
    "preload": False,
}
# The rules that read colors: all that a second color scheme can change.
COLOR_RULES = ["color-contrast", "link-in-text-block"]
AXE_RUN = """options => axe.run(options).then(found => found.violations.map(
  rule => [rule.id, rule.nodes.length, rule.nodes[0].html.slice(0, 160), rule.nodes[0].any
    .concat(rule.nodes[0].all, rule.nodes[0].none).map(check => check.message).join(" ")]))"""


@contextmanager
def chromium(**options: Any) -> Iterator[Browser]:
    """Start the browser; it is gone at the end, and with it the event loop of its driver."""
    with sync_playwright() as playwright:
        running = playwright.chromium.launch(
            executable_path=find(), args=["--no-sandbox", "--disable-gpu"], **options
        )
        before = os.environ.get(UNSAFE)
        os.environ[UNSAFE] = "1"
        try:
            yield running
        finally:
            os.environ.pop(UNSAFE)
            if before is not None:
                os.environ[UNSAFE] = before
            running.close()


class Window:
    """One page, used again for every document: what the application answered, as it answered it.

    Documents, styles, scripts and what scripts fetch come from this process, so that the rows of
    the running test are what is shown. What the browser had to say against it is in `complaints`.
    """

    def __init__(self, browser: Browser) -> None:
        self.page = browser.new_page()
        self.page.set_default_timeout(10_000)
        self.page.route("**/*", self._serve)
        self.page.on("console", self._heard)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.complaints: list[str] = []
        self._client = Client()
        self._document: tuple[str, HttpResponse] | None = None

    def show(self, url: str, answer: HttpResponse, client: Client) -> None:
        """Show an answer as the page at this address; `client` answers what scripts ask for."""
        self.complaints.clear()
        self._client, self._document = client, (urlsplit(url).path, answer)
        self.page.goto(f"{ORIGIN}{url}")

    def look(self, *, width: int, dark: bool = False) -> None:
        """See the whole of what is shown at this width and in this color scheme.

        The viewport is as tall as the page, so that no bar at its edge covers anything; colors
        change at once.
        """
        scheme = "dark" if dark else "light"
        self.page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
        self.page.set_viewport_size({"width": width, "height": 800})
        tall = int(self.page.evaluate("document.documentElement.scrollHeight"))
        if tall > 800:
            self.page.set_viewport_size({"width": width, "height": min(tall, 12_000)})

    def violations(self, *, colors_only: bool = False) -> list[list[Any]]:
        """Return what axe has against what is shown: rule, count, first place and why."""
        options = AXE_OPTIONS | ({"runOnly": COLOR_RULES} if colors_only else {})
        if not self.page.evaluate("'axe' in window"):
            self.page.evaluate(AXE_SCRIPT)
        found: list[list[Any]] = self.page.evaluate(AXE_RUN, options)
        return found

    def _heard(self, message: Any) -> None:
        if message.type in ("error", "warning"):
            self.complaints.append(f"{message.type}: {message.text}")

    def _serve(self, route: Route) -> None:
        address = urlsplit(route.request.url)
        if f"{address.scheme}://{address.netloc}" != ORIGIN:
            self.complaints.append(f"asked for {route.request.url}")
            route.abort()
            return
        if address.path.startswith("/static/"):
            self._serve_static(route, address.path.removeprefix("/static/"))
            return
        shown, answer = self._document or ("", HttpResponse())
        if not (route.request.is_navigation_request() and address.path == shown):
            answer = self._client.get(f"{address.path}?{address.query}")
        kept = {name: answer.headers[name] for name in KEPT_HEADERS if name in answer.headers}
        # The browser would speak of the status of an error page; the page is what is looked at.
        status = 200 if route.request.is_navigation_request() else answer.status_code
        route.fulfill(status=status, body=answer.content, headers=kept)

    @staticmethod
    def _serve_static(route: Route, name: str) -> None:
        found = finders.find(name)
        if isinstance(found, str):
            kind = KINDS.get(Path(found).suffix, "application/octet-stream")
            route.fulfill(path=found, headers={"Content-Type": kind})
        else:
            route.fulfill(status=404, body=json.dumps(name))
