"""The editor as a browser without scripts uses it: what the page holds is what is sent."""

from __future__ import annotations

import re

from tests.factories import TODAY

PLAN = {
    "title": "Stronger calf",
    "pattern": "DAILY",
    "times_per_day": "1",
    "starts_on": TODAY.isoformat(),
    "pain_limit": "5",
    "note_to_patient": "Slow and steady.",
}


def form_of(answer):
    """Return what a browser would send: every field of the page as it stands."""
    assert answer.status_code == 200
    page = answer.content.decode()
    form = page[page.index("data-editor") : page.index("</form>", page.index("data-editor"))]
    data = {}
    for tag in re.findall(r"<input\b[^>]*>", form):
        attributes = dict(re.findall(r'([\w-]+)="([^"]*)"', tag))
        kind = attributes.get("type", "text")
        if kind in ("radio", "checkbox") and not re.search(r"\bchecked\b", tag):
            continue
        if kind == "checkbox":
            data.setdefault(attributes["name"], []).append(attributes.get("value", "on"))
        else:
            data[attributes["name"]] = attributes.get("value", "")
    for name, options in re.findall(
        r'<select\b[^>]*name="([^"]+)"[^>]*>(.*?)</select>', form, re.S
    ):
        chosen = re.search(r'<option value="([^"]*)"[^>]*selected', options)
        data[name] = chosen.group(1) if chosen else ""
    for name, value in re.findall(
        r'<textarea\b[^>]*name="([^"]+)"[^>]*>(.*?)</textarea>', form, re.S
    ):
        data[name] = value.strip()
    return data


def names(answer):
    return [line.exercise.entry.name for line in answer.context["page"].lines]


def press(browser, address, answer, action, **typed):
    return browser.post(address, form_of(answer) | typed | {"action": action})


def added(browser, address, *exercises):
    answer = browser.get(address)
    for exercise in exercises:
        answer = press(browser, address, answer, f"add:{exercise.pk}")
    return answer
