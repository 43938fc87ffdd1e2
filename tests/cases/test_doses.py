"""The worked examples of fixtures/cases/doses.json, through the rules; node runs the same file."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from programs.rules.dose import (
    Dose,
    DoseKind,
    Side,
    exercise_seconds,
    session_minutes,
    weekly_dose,
)
from programs.rules.schedule import Pattern, Schedule, check_schedule, sessions_per_week

FILE = Path(__file__).parents[2] / "fixtures" / "cases" / "doses.json"
CASES = json.loads(FILE.read_text(encoding="utf-8"))


def dose_of(given: dict[str, Any]) -> Dose:
    tempo = given.get("tempo")
    return Dose(
        kind=DoseKind(given["kind"]),
        sets=given["sets"],
        repetitions=given.get("repetitions"),
        hold_seconds=given.get("hold_seconds"),
        duration_seconds=given.get("duration_seconds"),
        rest_seconds=given["rest_seconds"],
        side=Side(given["side"]),
        tempo=tuple(tempo) if tempo else None,
    )


def test_every_case_has_its_own_name_and_says_why() -> None:
    cases = [*CASES["doses"], *CASES["schedules"]]
    assert len({case["name"] for case in cases}) == len(cases) >= 13
    assert all(case["why"].strip() for case in cases)


@pytest.mark.parametrize("case", CASES["doses"], ids=lambda case: case["name"])
def test_doses(case: dict[str, Any]) -> None:
    doses = [dose_of(given) for given in case["doses"]]
    week = weekly_dose(doses, case["sessions_per_week"])
    assert {
        "seconds": [exercise_seconds(dose) for dose in doses],
        "minutes": session_minutes(doses),
        "repetitions": week.repetitions,
        "hold_seconds": week.hold_seconds,
        "moving_seconds": week.moving_seconds,
        "sets": week.sets,
    } == case["expected"]


@pytest.mark.parametrize("case", CASES["schedules"], ids=lambda case: case["name"])
def test_schedules(case: dict[str, Any]) -> None:
    given = case["given"]
    schedule = Schedule(
        pattern=Pattern(given["pattern"]),
        starts_on=date(2026, 3, 2),
        times_per_day=given["times_per_day"],
        weekdays=frozenset(given.get("weekdays", ())),
        every_days=given.get("every_days"),
        weekly_quota=given.get("weekly_quota"),
    )
    assert check_schedule(schedule) == []
    assert sessions_per_week(schedule) == case["sessions_per_week"]
