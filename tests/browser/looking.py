"""What is measured on every page beside axe: nothing runs over, targets are hit, text is read."""

from __future__ import annotations

from django.http import HttpResponse
from django.test import Client

from tests.chromium import Window

NARROWEST, NARROW, WIDE = 320, 360, 1280

# How far the page can be scrolled sideways, and the first things that stick out.
OVER = """() => {
  const room = document.documentElement.clientWidth;
  if (document.documentElement.scrollWidth <= room) return [];
  const out = [...document.body.querySelectorAll("*")].filter(part => {
    const box = part.getBoundingClientRect();
    return box.width && box.right > room + 1;
  });
  const first = out.slice(0, 4).map(p => p.outerHTML.slice(0, 120));
  return [document.documentElement.scrollWidth, ...first];
}"""
# What a finger has to hit. A choice is hit on its label; a link in a sentence is excused (2.5.8).
SMALL = """least => {
  const parts = document.querySelectorAll(
    "button, input, select, textarea, summary, a.button, .chip, .tab");
  return [...new Set([...parts].map(part => part.closest("label") ?? part))]
    .filter(part => part.checkVisibility({visibilityProperty: true}))
    .filter(part => !part.closest("[type=hidden]"))
    .filter(part => !part.matches(".skip-link, [aria-hidden=true]"))
    .filter(part => part.getBoundingClientRect().height < least - 0.5)
    .map(part => part.outerHTML.slice(0, 140));
}"""
TINY_TEXT = """least => {
  const found = new Map();
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const part = walk.currentNode.parentElement;
    if (!walk.currentNode.data.trim()) continue;
    if (part.closest("svg, script, template, .visually-hidden")) continue;
    if (!part.checkVisibility({visibilityProperty: true})) continue;
    const size = parseFloat(getComputedStyle(part).fontSize);
    if (size < least - 0.1) found.set(part.className || part.tagName, size);
  }
  return [...found];
}"""
HEADINGS = "[...document.querySelectorAll('h1')].filter(h => h.checkVisibility()).length"
IS_PATIENTS = "document.body.classList.contains('patient')"


def faults_of(window: Window, *, width: int) -> list[str]:
    """Return what is wrong with what is shown at this width, apart from what axe finds."""
    page = window.page
    faults = [f"sticks out at {width}: {part}" for part in page.evaluate(OVER)]
    is_patients = page.evaluate(IS_PATIENTS)
    faults += [f"too small: {part}" for part in page.evaluate(SMALL, 44 if is_patients else 24)]
    if is_patients:
        faults += [f"tiny text: {part}" for part in page.evaluate(TINY_TEXT, 18)]
    headings = page.evaluate(HEADINGS)
    if headings != 1:
        faults.append(f"{headings} main headings are seen")
    return faults


def is_page(answer: HttpResponse) -> bool:
    """Return whether people see this answer, and not programs."""
    return answer.headers["Content-Type"].startswith("text/html")


def look_at(
    window: Window, url: str, answer: HttpResponse, client: Client, looks: list[tuple[int, bool]]
) -> list[object]:
    """Return everything that is wrong with a page in these widths and color schemes.

    Where a width has been seen in one scheme, only the colors of the other are looked at.
    """
    window.show(url, answer, client)
    found: list[object] = []
    seen: set[int] = set()
    for width, dark in looks:
        window.look(width=width, dark=dark)
        faults = window.violations(colors_only=width in seen)
        found += [(width, "dark" if dark else "light", *fault) for fault in faults]
        seen.add(width)
    for width in (NARROWEST, WIDE):
        window.look(width=width)
        found += faults_of(window, width=width)
    return found + window.complaints
