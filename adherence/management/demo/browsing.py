"""A person with a browser, as far as a tour needs one: pages, forms, cookies."""

from __future__ import annotations

import json
import urllib.error
import urllib.parse
import urllib.request
from dataclasses import dataclass, field
from html import unescape
from html.parser import HTMLParser
from http.cookiejar import CookieJar
from typing import Any

NOT_SENT = "\0"  # a choice that is not ticked: a name that the form knows, nothing to send


class TourFailed(Exception):
    """A step did not hold; the message says what was seen instead."""


@dataclass
class Form:
    """A form as it stands on a page: where it goes and what it would send."""

    action: str
    fields: list[tuple[str, str]] = field(default_factory=list)

    @property
    def names(self) -> set[str]:
        """The names of its fields."""
        return {name for name, _value in self.fields}


class _Forms(HTMLParser):
    """Reads the forms of a page with the values that they would send untouched."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: list[Form] = []
        self._inside: Form | None = None
        self._select = self._area = ""
        self._chosen: str | None = None
        self._text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Open forms and note fields."""
        given = {name: value or "" for name, value in attrs}
        if tag == "form" and given.get("method", "").lower() == "post":
            self._inside = Form(action=given.get("action", ""))
            self.forms.append(self._inside)
        if self._inside is None or ("name" not in given and tag != "option"):
            return
        names = dict(attrs)
        if tag == "input" and given.get("type") not in ("submit", "button"):
            choice = given.get("type") in ("radio", "checkbox")
            value = given.get("value", "on" if choice else "")
            untouched = NOT_SENT if choice and "checked" not in names else value
            self._inside.fields.append((given["name"], untouched))
        elif tag == "select":
            self._select, self._chosen = given["name"], None
        elif tag == "option" and self._select:
            if "selected" in names or self._chosen is None:
                self._chosen = given.get("value", "")
        elif tag == "textarea":
            self._area, self._text = given["name"], ""

    def handle_endtag(self, tag: str) -> None:
        """Close forms and fields."""
        if self._inside is None:
            return
        if tag == "form":
            self._inside = None
        elif tag == "select" and self._select:
            self._inside.fields.append((self._select, self._chosen or ""))
            self._select = ""
        elif tag == "textarea" and self._area:
            self._inside.fields.append((self._area, self._text.lstrip("\n")))
            self._area = ""

    def handle_data(self, data: str) -> None:
        """Collect what stands in a text area."""
        if self._area:
            self._text += data


class Person:
    """Somebody who walks through pages. Every answer must be 200 after redirects."""

    def __init__(self, base_url: str) -> None:
        self.base_url = base_url.rstrip("/")
        self.cookies = CookieJar()
        self._opener = urllib.request.build_opener(
            urllib.request.HTTPCookieProcessor(self.cookies)
        )
        self.page = self.url = ""

    def open(self, path: str, *, status: int = 200) -> str:
        """Open a page that answers `status` and return its text."""
        request = urllib.request.Request(self._absolute(path))  # noqa: S310 - own address
        return self._send(request, status=status)

    def submit(self, *, having: str, **values: Any) -> str:
        """Fill the page's first form that has the field `having`, send it, return what came."""
        reader = _Forms()
        reader.feed(self.page)
        form = next((f for f in reader.forms if having in f.names or having in f.action), None)
        if form is None:
            raise TourFailed(f"{self.url} has no form with {having!r}")
        kept = [(n, v) for n, v in form.fields if n not in values and v != NOT_SENT]
        for name, value in values.items():
            each = value if isinstance(value, (list, tuple)) else [value]
            kept += [(name, str(one)) for one in each]
        request = urllib.request.Request(  # noqa: S310 - own address
            self._absolute(form.action or self.url),
            data=urllib.parse.urlencode(kept).encode(),
            headers={"Referer": self.url},
        )
        return self._send(request)

    def call(self, path: str, data: dict[str, Any] | None = None) -> Any:
        """Call the API as the page's script does; return the JSON."""
        token = next((c.value for c in self.cookies if "csrftoken" in c.name), "")
        headers = {"Content-Type": "application/json", "X-CSRFToken": token or ""}
        body = None if data is None else json.dumps(data).encode()
        request = urllib.request.Request(  # noqa: S310 - own address
            self._absolute(path), data=body, headers=headers
        )
        page, url = self.page, self.url
        answer = json.loads(self._send(request))
        self.page, self.url = page, url
        return answer

    def expect(self, *texts: str) -> None:
        """Fail unless the page shows each text."""
        shown = " ".join(unescape(self.page).split())
        for text in texts:
            if text not in shown:
                raise TourFailed(f"{self.url} does not show {text!r}")

    def _absolute(self, path: str) -> str:
        return urllib.parse.urljoin(self.url or self.base_url + "/", path)

    def _send(self, request: urllib.request.Request, *, status: int = 200) -> str:
        try:
            answer = self._opener.open(request, timeout=30)
        except urllib.error.HTTPError as error:
            answer = error
        with answer:
            self.page = answer.read().decode(errors="replace")
            self.url = answer.geturl()
        if answer.status not in (status, 201):
            raise TourFailed(f"{request.full_url} answered {answer.status}: {self.page[:300]}")
        return self.page
