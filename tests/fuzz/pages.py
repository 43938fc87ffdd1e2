"""Reads the forms of a page as a browser does, and fills them in as a careful person would."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

from tests.factories import PASSWORD

BY_NAME = {
    "login": "pia@mail.example",
    "password": PASSWORD,
    "oldpassword": PASSWORD,
    "again": PASSWORD,
    "date_of_birth": "1980-05-17",
    "ends_on": "2026-03-18",
    "worst": "2",
    "client_key": "5a2c1d3e-0b7f-4c69-8f21-7d9be0a4c310",
}
PRESSED = "save"  # of several buttons with one name
USUAL = {
    "email": "new.person@mail.example",
    "date": "2026-03-11",
    "time": "09:30",
    "tel": "01632 960 001",
    "password": PASSWORD + " new",
    "datetime-local": "2026-03-11T09:00",
}
TOKEN = "csrfmiddlewaretoken"


@dataclass
class Field:
    """One control by name: what it is, what it offers, and what is chosen."""

    name: str
    kind: str
    values: list[str] = field(default_factory=list)
    options: list[str] = field(default_factory=list)
    required: bool = False
    low: str = ""

    def filled(self) -> list[str]:
        """Return what a careful person leaves in it."""
        if self.kind in ("checkbox", "radio", "select", "submit"):
            usual = [value for value in (PRESSED, BY_NAME.get(self.name)) if value in self.options]
            chosen = usual or [value for value in self.values if value]
            return chosen or ([o for o in self.options if o][:1] if self._wants_one else [])
        if any(self.values) and self.kind != "date":
            return self.values
        if self.kind == "number":
            return [self.low or "1"] if self.required else []
        usual = BY_NAME.get(self.name) or USUAL.get(self.kind, "Some words")
        return [usual] if self.kind != "hidden" or self.name in BY_NAME else self.values

    @property
    def _wants_one(self) -> bool:
        return self.kind == "submit" or self.required


@dataclass
class Form:
    """A form: where it goes, and its controls."""

    action: str
    method: str
    fields: dict[str, Field] = field(default_factory=dict)

    def filled(self) -> dict[str, list[str]]:
        """Return the data that a careful person sends."""
        filled = {name: one.filled() for name, one in self.fields.items()}
        return {name: values for name, values in filled.items() if values}


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.forms: list[Form] = []
        self._open: Form | None = None
        self._by_id: dict[str, Form] = {}
        self._select: Field | None = None
        self._text: Field | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form" and self._open is None:  # a browser leaves out a form inside a form
            form = Form(given.get("action", ""), given.get("method", "get").lower())
            self._open = form
            self.forms.append(form)
            self._by_id[given.get("id", "")] = form
        elif tag == "option" and self._select is not None:
            value = given.get("value", "")
            self._select.options.append(value)
            if "selected" in given:
                self._select.values.append(value)
        elif tag in ("input", "select", "textarea", "button"):
            self._control(tag, given)

    def _control(self, tag: str, given: dict[str, str]) -> None:
        form = self._by_id.get(given["form"]) if "form" in given else self._open
        name = given.get("name", "")
        if form is None or not name or "disabled" in given or name == TOKEN:
            return
        kind = given.get("type", "text") if tag in ("input", "button") else tag
        kind = "number" if "inputmode" in given and kind == "text" else kind
        one = form.fields.setdefault(name, Field(name, kind, required="required" in given))
        if kind in ("checkbox", "radio"):
            one.options.append(given.get("value", "on"))
            if "checked" in given:
                one.values.append(given.get("value", "on"))
        elif tag == "select":
            self._select = one
        elif tag == "textarea":
            self._text = one
        elif kind == "submit" or tag == "button":
            one.kind = "submit"  # one of the buttons is pressed
            one.options.append(given.get("value", ""))
        else:
            one.low = given.get("min", "")
            one.values.append(given.get("value", ""))

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._open = None
        elif tag == "select":
            self._select = None
        elif tag == "textarea":
            self._text = None

    def handle_data(self, data: str) -> None:
        if self._text is not None:
            self._text.values.append(data.strip())


def forms_of(page: str) -> list[Form]:
    """Return the forms of a page that write."""
    reader = _Reader()
    reader.feed(page)
    reader.close()
    return [form for form in reader.forms if form.method == "post"]
