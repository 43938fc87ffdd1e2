"""What people, scripts and broken devices send: mostly right, with something wrong in places."""

from __future__ import annotations

import json
from typing import Any

from hypothesis import strategies as st

from tests.fuzz.pages import Form

NASTY_TEXT = (
    "", " ", "0", "-1", "-0", "1.5", "11", "99999999999999999999", "1e309", "NaN", "Infinity",
    "٣", "0x10", "true", "None", "on", "[]", "{}", "\x00", "a\x00b", "é" * 5000, "\u202eg",
    "\ufeff", "<script>alert(1)</script>", "'; DROP TABLE clinic_user; --", "{{ 7*7 }}", "%s%d",
    "../../etc/passwd", "2026-02-30", "0000-00-00", "0001-01-01", "9999-12-31", "10000-01-01",
    "0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00", "2026-03-11T10:00:00", "24:61",
    "23:59", "Europe/Nowhere", "../London", "UTC", "a@b", "x" * 300 + "@mail.example",
    "pia@mail.example", "00000000-0000-0000-0000-000000000000", "not-a-uuid", "LEFT",
    "BOTH", "DONE", "THERAPIST", "up:99", "add:x", "swap:0:1:2:3", "remove:-1", "restore:",
)  # fmt: skip
NASTY_JSON: tuple[Any, ...] = (
    None, True, False, 0, -1, 1, 11, 2**31, 2**63, 10**40, 0.5, -0.0, 1e308, [], {}, [[]], [None],
    {"a": 1}, ["x", "y"], {"$ne": None}, float("nan"), float("inf"),
)  # fmt: skip
BROKEN_BODIES = (
    b"", b"null", b"[]", b"{}", b"1", b'"text"', b"{", b'{"a":', b"\xff\xfe", b"\x00", b"NaN",
    b"[" * 20_000, b'{"a":' * 20_000, b"client_key=1&score=2", b'{"client_key":1,"client_key":2}',
    b'{"score": 1e400}', b'{"score": ' + b"9" * 5000 + b"}", b'{"note": "\\ud800"}',
)  # fmt: skip

nasty_text = st.one_of(st.sampled_from(NASTY_TEXT), st.text(max_size=30))
nasty_json = st.one_of(st.sampled_from(NASTY_JSON), nasty_text)
# Most stay as they are: what is wrong everywhere is refused at the first door.
what_to_do = st.sampled_from(("keep", "keep", "keep", "replace", "drop", "double"))


@st.composite
def form_data(draw: st.DrawFn, form: Form) -> dict[str, list[str]]:
    """Return the data of a form with some controls changed, left out or sent twice."""
    filled = form.filled()
    data: dict[str, list[str]] = {}
    for name, one in sorted(form.fields.items()):
        values = filled.get(name, [])
        match draw(what_to_do):
            case "keep":
                data[name] = values
            case "replace":
                options = st.sampled_from(one.options) if one.options else nasty_text
                data[name] = [draw(st.one_of(options, nasty_text))]
            case "double":
                data[name] = [*values, draw(nasty_text)]
    return {name: values for name, values in data.items() if values}


@st.composite
def json_body(draw: st.DrawFn, sound: dict[str, Any]) -> bytes:
    """Return the body of a call with some members changed, left out or added; or no JSON at all."""
    if draw(st.integers(0, 9)) == 0:
        return draw(st.sampled_from(BROKEN_BODIES))
    data = {}
    for name, value in sound.items():
        match draw(what_to_do):
            case "keep":
                data[name] = value
            case "replace":
                data[name] = draw(nasty_json)
            case "double":
                data[name] = [value, value]
    if draw(st.booleans()):
        data[draw(st.sampled_from(("id", "status", "patient", "clinic", "__proto__")))] = 1
    return json.dumps(data).encode()
