"""On paper: the handout and a patient's page fit A4, and nothing of them is cut off or lost."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from tests.access.test_matrix import browser as signed_in
from tests.browser.fullness import fill
from tests.chromium import Window, chromium

pytestmark = pytest.mark.browser

# The width of A4 less the margins of print.css, at 96 pixels an inch.
A4 = round((210 - 2 * 14) / 25.4 * 96)
CUT = """() => [...document.querySelectorAll("main, main *")].filter(part => {
    if (part.closest("svg, .visually-hidden") || !part.checkVisibility()) return false;
    const box = part.getBoundingClientRect();
    const style = getComputedStyle(part);
    const hides = style.overflowX !== "visible" || style.overflowY !== "visible";
    return box.right > document.documentElement.clientWidth + 1
      || (hides && (part.scrollWidth > part.clientWidth + 1
        || part.scrollHeight > part.clientHeight + 1));
  }).map(part => part.outerHTML.slice(0, 160))"""
SEEN_ON_SCREEN_ONLY = """() => [...document.querySelectorAll(
    "nav a, .site-header, main button, main a.button, main input, main select, .skip-link")]
  .filter(part => part.checkVisibility({visibilityProperty: true}))
  .filter(part => part.getBoundingClientRect().top >= 0)
  .map(part => part.outerHTML.slice(0, 120))"""
INK = """() => {
  const rgb = getComputedStyle(document.body);
  return [rgb.backgroundColor, rgb.color];
}"""


@pytest.fixture(scope="module")
def window() -> Iterator[Window]:
    with chromium() as running:
        yield Window(running)


def pages_of(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf))


def printed(window: Window) -> bytes:
    """Print what is shown, as the browser of somebody who prefers dark pages would."""
    window.page.set_viewport_size({"width": A4, "height": 1000})
    window.page.emulate_media(media="print", color_scheme="dark")
    return bytes(window.page.pdf(format="A4", prefer_css_page_size=True))


@pytest.mark.parametrize(
    ("route", "who", "most"), [("program_print", "therapist", 4), ("patient", "therapist", 6)]
)
@pytest.mark.parametrize("names", ["plain", "long"])
def test_paper_shows_everything_and_nothing_to_press(
    route, who, most, names, world, sign_in, window
):
    if names == "long":
        fill(world)
    client = signed_in(world, sign_in, who)
    url = world.url(world.route(route))
    window.show(url, client.get(url), client)
    pdf = printed(window)
    assert 1 <= pages_of(pdf) <= most
    assert window.page.evaluate(CUT) == []
    assert window.page.evaluate(SEEN_ON_SCREEN_ONLY) == []
    assert window.page.evaluate(INK) == ["rgb(255, 255, 255)", "rgb(0, 0, 0)"]
    assert window.complaints == []
    window.page.emulate_media(media="screen")


def test_the_handout_has_what_a_patient_needs(world, sign_in, window):
    """Every exercise with its dose and steps, when to stop, whom to call, and room to write."""
    client = signed_in(world, sign_in, "therapist")
    url = world.url(world.route("program_print"))
    window.show(url, client.get(url), client)
    printed(window)
    text = window.page.locator("main").inner_text()
    for words in ("3 sets of 12", "Move out slowly.", "Sharp or catching pain.", "01632 960 000"):
        assert words in text
    assert "emergenc" in text.lower()
    window.page.emulate_media(media="screen")
