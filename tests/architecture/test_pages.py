"""What a browser gets: every page as it is rendered, in the hands of whoever may read it."""

from __future__ import annotations

from collections import Counter
from html.parser import HTMLParser

import pytest

from tests.access.table import COLUMNS
from tests.access.test_matrix import browser, rows

READERS = {
    row.route: [who for who, got in zip(COLUMNS, row.expected, strict=True) if got == "200"]
    for row in rows()
    if row.method == "GET" and "200" in row.expected
}
# Mail programs post here without a session (RFC 8058); the address itself is the right to act.
NO_TOKEN = "a form that posts without a token"
NEEDS_NO_TOKEN = {"reminder_stop"}
REFERRING = ("for", "aria-describedby", "aria-labelledby", "aria-controls", "form")


class Page(HTMLParser):
    """Notes what is wrong with a page while reading it."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.faults: list[str] = []
        self.tags: Counter[str] = Counter()
        self.ids: Counter[str] = Counter()
        self.referred: set[str] = set()
        self.language = ""
        self._forms: list[dict[str, str]] = []
        self._in_heading = False
        self.headings: list[str] = []  # without those that a script fills later
        self.feed(text)
        self.close()
        self._check_whole()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        self.tags[tag] += 1
        self._in_heading |= tag == "h1"
        if "id" in given:
            self.ids[given["id"]] += 1
        for name in REFERRING:
            self.referred |= set(given.get(name, "").split())
        for name in given:
            if name == "style" or name.startswith("on"):
                self.faults.append(f"{name}= on <{tag}>")
        if tag == "html":
            self.language = given.get("lang", "")
        elif tag == "style" or (tag == "script" and "src" not in given):
            if given.get("type") not in ("application/json", "speculationrules"):
                self.faults.append(f"an inline <{tag}>")
        elif tag == "form":
            if self._forms:
                self.faults.append("a form inside a form")
            self._forms.append(given | {"has token": ""})
        elif tag == "input" and given.get("name") == "csrfmiddlewaretoken" and self._forms:
            self._forms[-1]["has token"] = "yes"
        elif tag == "img" and "alt" not in given:
            self.faults.append("a picture without a text in its place")
        elif tag == "a" and given.get("target") == "_blank":
            self.faults.append("a link that opens a window of its own")

    def handle_data(self, data: str) -> None:
        if self._in_heading and data.strip():
            self.headings.append(data.strip())
            self._in_heading = False

    def handle_endtag(self, tag: str) -> None:
        if tag == "h1":
            self._in_heading = False
        if tag == "form" and self._forms:
            form = self._forms.pop()
            if form.get("method", "get").lower() == "post" and not form["has token"]:
                self.faults.append(NO_TOKEN)

    def _check_whole(self) -> None:
        if not self.language:
            self.faults.append("no language")
        if len(self.headings) != 1:
            self.faults.append(f"main headings: {self.headings}")
        if self.tags["main"] != 1:
            self.faults.append(f"{self.tags['main']} main parts")
        twice = sorted(name for name, count in self.ids.items() if count > 1)
        if twice:
            self.faults.append(f"ids twice: {twice}")
        lost = sorted(self.referred - set(self.ids))
        if lost:
            self.faults.append(f"nothing has the ids {lost}")


@pytest.mark.parametrize("name", READERS)
def test_every_page_is_sound(name, world, sign_in):
    route = world.route(name)
    for who in READERS[name]:
        response = browser(world, sign_in, who).get(world.url(route))
        if not response.headers["Content-Type"].startswith("text/html"):
            continue
        faults = Page(response.content.decode()).faults
        if name in NEEDS_NO_TOKEN:
            faults.remove(NO_TOKEN)
        assert faults == [], who


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("<form><form></form></form>", "a form inside a form"),
        ('<p style="color: red">', "style= on <p>"),
        ("<script>1</script>", "an inline <script>"),
        ('<form method="post"></form>', NO_TOKEN),
        ('<p id="a"><p id="a">', "ids twice: ['a']"),
        ('<label for="b">', "nothing has the ids ['b']"),
    ],
)
def test_the_reader_finds_faults(text, fault):
    assert fault in Page(text).faults
