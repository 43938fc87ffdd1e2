"""The worked examples of fixtures/cases/reminders.yaml, through the rules."""

from datetime import UTC, datetime, time
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
import yaml

from adherence.rules.reminders import due_reminders, may_send
from clinic.rules.policy import Policy

FILE = Path(__file__).parents[2] / "fixtures" / "cases" / "reminders.yaml"
CASES = yaml.safe_load(FILE.read_text(encoding="utf-8"))


def quiet_of(given):
    texts = given.get("quiet")
    if texts is None:
        return {"quiet_from": Policy().quiet_from, "quiet_until": Policy().quiet_until}
    return dict(zip(("quiet_from", "quiet_until"), map(time.fromisoformat, texts), strict=True))


def test_every_case_has_its_own_name_and_says_why():
    cases = [*CASES["planning"], *CASES["sending"]]
    names = [case["name"] for case in cases]
    assert len(set(names)) == len(names) >= 20
    assert all(set(case) == {"name", "given", "expected", "why"} for case in cases)
    assert all(case["why"].strip() for case in cases)


@pytest.mark.parametrize("case", CASES["planning"], ids=lambda case: case["name"])
def test_planning(case):
    given, zone = case["given"], case["given"]["zone"]
    plans = due_reminders(
        day=given["day"],
        times=[time.fromisoformat(text) for text in given["times"]],
        zone=zone,
        slots_due=given["sessions_due"],
        **quiet_of(given),
    )
    assert {
        "clock": [f"{plan.due_at.astimezone(ZoneInfo(zone)):%H:%M}" for plan in plans],
        "utc": [f"{plan.due_at:%Y-%m-%dT%H:%M}" for plan in plans],
    } == case["expected"]


@pytest.mark.parametrize("case", CASES["sending"], ids=lambda case: case["name"])
def test_sending(case):
    given = case["given"]
    decision = may_send(
        now=datetime.fromisoformat(given["now"]).replace(tzinfo=UTC),
        due_at=datetime.fromisoformat(given["due"]).replace(tzinfo=UTC),
        zone=given["zone"],
        done_today=given.get("done_today", 0),
        slots_due=given.get("sessions_due", 1),
        paused=given.get("paused", False),
        opted_out=given.get("opted_out", False),
        has_address=given.get("has_address", True),
        ended=given.get("ended", False),
        **quiet_of(given),
    )
    assert (decision.reason or decision.action).value == case["expected"]
