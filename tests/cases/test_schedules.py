"""The worked examples of due sessions in fixtures/cases/schedules.yaml, run as they stand."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
import yaml

from programs.rules.schedule import (
    Pattern,
    Pause,
    RevisionSpan,
    Schedule,
    check_schedule,
    due_sessions,
)
from shared.dates import DateWindow

FILE = Path(__file__).parents[2] / "fixtures" / "cases" / "schedules.yaml"
CASES: list[dict[str, Any]] = yaml.safe_load(FILE.read_text(encoding="utf-8"))
WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
PATTERNS = {
    "daily": Pattern.DAILY,
    "weekdays": Pattern.WEEKDAYS,
    "every": Pattern.EVERY_N_DAYS,
    "quota": Pattern.WEEKLY_QUOTA,
}


def schedule_of(given: dict[str, Any]) -> Schedule:
    (pattern,) = (PATTERNS[key] for key in given if key in PATTERNS)
    return Schedule(
        pattern,
        given.get("starts", given["from"]),
        times_per_day=given.get("times_a_day", 1),
        weekdays=frozenset(WEEKDAYS.index(day) for day in given.get("weekdays", ())),
        every_days=given.get("every"),
        weekly_quota=given.get("quota"),
        ends_on=given.get("ends"),
    )


@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_the_example_holds(case: dict[str, Any]) -> None:
    given, expected = case["given"], case["expected"]
    assert case["why"]
    assert given.keys() <= {"revisions", "pauses", "completed", "look_at"}
    spans = [
        RevisionSpan(one["id"], schedule_of(one), one["from"], one.get("until"))
        for one in given["revisions"]
    ]
    assert not any(check_schedule(span.schedule) for span in spans)
    pauses = [Pause(one["from"], one.get("until")) for one in given.get("pauses", ())]
    first, last = given["look_at"]
    window = DateWindow(first, last + timedelta(days=1))
    due = due_sessions(spans, pauses, window, completed_on=given.get("completed"))
    assert [session.due_on for session in due] == expected["due"]
    if "revisions" in expected:
        assert [session.revision_id for session in due] == expected["revisions"]


def test_the_names_of_the_examples_are_all_different() -> None:
    names = [case["name"] for case in CASES]
    assert len(set(names)) == len(names) > 0
