"""The page of all components renders whole, passes axe, and answers the keyboard."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.contrib.staticfiles import finders
from django.test import Client
from django.urls import path
from playwright.sync_api import Browser, Page, Route, ViewportSize, sync_playwright

from clinic.urls import urlpatterns as product_routes
from clinic.views import design
from shared.chromium import find

urlpatterns = [path("design/", design.index, name="design"), *product_routes]
pytestmark = pytest.mark.urls(__name__)

KINDS = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml"}
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
POLICY = "Content-Security-Policy"
SMALL = """least => [...document.querySelectorAll("button, input, select, textarea, a[class]")]
  .map(part => part.closest("label") ?? part)
  .filter(part => part.checkVisibility({visibilityProperty: true}))
  .filter(part => !part.closest("[type=hidden]") && !part.classList.contains("skip-link"))
  .filter(part => part.getBoundingClientRect().height < least - 0.5)
  .map(part => part.outerHTML.slice(0, 120))"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        running = playwright.chromium.launch(
            executable_path=find(),
            args=["--no-sandbox", "--disable-gpu"],
        )
        yield running
        running.close()


def _open(browser: Browser, query: str, width: int) -> Page:
    """Open the page with its security headers and static files, without a server."""
    answer = Client().get(f"/design/{query}")
    assert answer.status_code == 200

    def serve(route: Route) -> None:
        address = urlsplit(route.request.url).path
        if address == "/design/":
            route.fulfill(
                body=answer.content.decode(),
                headers={"Content-Type": "text/html", POLICY: answer.headers[POLICY]},
            )
            return
        found = finders.find(address.removeprefix("/static/").lstrip("/"))
        if isinstance(found, str):
            kind = KINDS[Path(found).suffix]
            route.fulfill(path=found, headers={"Content-Type": kind})
        else:
            route.fulfill(status=404, body="")

    page = browser.new_page(viewport=ViewportSize(width=width, height=800))
    page.route("**/*", serve)
    page.goto(f"http://testserver/design/{query}")
    return page


def test_every_component_stylesheet_is_shown() -> None:
    html = Client().get("/design/").content.decode()
    folder = Path(str(finders.find("design/components")))
    unseen = []
    for sheet in sorted(folder.glob("*.css")):
        blocks = set(re.findall(r"^\.([a-z]+(?:-[a-z]+)*)\b", sheet.read_text(), re.MULTILINE))
        if not any(re.search(rf'class="[^"]*\b{block}\b', html) for block in blocks):
            unseen.append(sheet.name)
    assert unseen == []


@pytest.mark.parametrize("query", ["", "?theme=light", "?theme=dark", "?theme=x&as=patient"])
def test_a_theme_is_forced_only_when_it_is_known(query: str) -> None:
    html = Client().get(f"/design/{query}").content.decode()
    known = re.search(r"theme=(light|dark)", query)
    assert re.findall(r'<html[^>]*data-theme="(\w+)"', html) == ([known[1]] if known else [])


@pytest.mark.browser
@pytest.mark.parametrize("width", [320, 1280])
@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize(("viewer", "least"), [("", 44), ("&as=patient", 48)])
def test_axe_finds_nothing_and_nothing_overflows(
    browser: Browser, theme: str, width: int, viewer: str, least: int
) -> None:
    page = _open(browser, f"?theme={theme}{viewer}", width)
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text))
    found = Axe().run(page, options={"runOnly": RULES, "preload": False}).response
    assert [(rule["id"], rule["nodes"][0]["html"]) for rule in found["violations"]] == []
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    assert page.evaluate(SMALL, least) == []
    assert complaints == []
    page.close()


@pytest.mark.browser
def test_a_refused_form_takes_the_focus(browser: Browser) -> None:
    page = _open(browser, "", 1280)
    assert page.evaluate("document.activeElement.className") == "error-summary"
    page.close()


@pytest.mark.browser
def test_a_dialog_opens_holds_the_focus_and_gives_it_back(browser: Browser) -> None:
    page = _open(browser, "", 1280)
    opener = page.get_by_role("button", name="Open a dialog")
    opener.click()
    dialog = page.get_by_role("dialog", name="Close this flag?")
    assert dialog.is_visible()
    dialog.get_by_role("button", name="Leave it open").click()
    assert not dialog.is_visible()
    assert opener.evaluate("button => button === document.activeElement")
    page.close()


@pytest.mark.browser
def test_dark_follows_the_device_and_paper_stays_light(browser: Browser) -> None:
    page = _open(browser, "", 1280)
    ground = "getComputedStyle(document.body).backgroundColor"
    page.emulate_media(color_scheme="dark")
    assert page.evaluate(ground) == "rgb(20, 25, 27)"
    page.emulate_media(color_scheme="light")
    assert page.evaluate(ground) == "rgb(251, 250, 247)"
    page.emulate_media(color_scheme="dark", media="print")
    assert page.evaluate(ground) == "rgb(255, 255, 255)"
    page.close()


@pytest.mark.browser
def test_every_stop_of_the_keyboard_is_ringed(browser: Browser) -> None:
    page = _open(browser, "?theme=light", 1280)
    page.evaluate("document.querySelector('.site-name').focus()")
    ring = """() => {
      const part = document.activeElement;
      if (part === document.body) return null;
      const shown = part.matches("label input") ? part.closest("label") : part;
      const style = getComputedStyle(shown);
      return [part.outerHTML.slice(0, 80), style.outlineStyle, parseFloat(style.outlineWidth)];
    }"""
    bare, stops = [], 0
    for _press in range(200):
        page.keyboard.press("Tab")
        seen = page.evaluate(ring)
        if seen is None:
            break
        stops += 1
        if seen[1] == "none" or seen[2] < 2:
            bare.append(seen)
    assert stops > 60
    assert bare == []
    page.close()
