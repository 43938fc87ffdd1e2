"""The worked examples of fixtures/cases/adherence.yaml, through the rules."""

from datetime import date, timedelta
from pathlib import Path

import pytest
import yaml

from adherence.rules.adherence import (
    adherence_state,
    days_active,
    dose_adherence,
    session_adherence,
)
from adherence.rules.flags import Action, Facts, FlagKind, decide, flag_sentence
from adherence.rules.matching import DoneSession, day_states, match_sessions
from clinic.rules.policy import Policy
from programs.rules.schedule import (
    Pattern,
    Pause,
    RevisionSpan,
    Schedule,
    due_sessions,
    sessions_per_week,
)
from programs.rules.wording import plain, plain_plural
from shared.dates import DateWindow

FILE = Path(__file__).parents[2] / "fixtures" / "cases" / "adherence.yaml"
CASES = yaml.safe_load(FILE.read_text(encoding="utf-8"))
FIRST = date(2026, 1, 5)
POLICY = Policy()
MARKS = {
    "+": [("COMPLETED", 1.0, "")],
    "++": [("COMPLETED", 1.0, "")] * 2,
    "5": [("COMPLETED", 0.5, "")],
    "s": [("STOPPED", 0.0, "")],
    ".": [],
}


def day(offset):
    return FIRST + timedelta(days=offset)


def entries(marks):
    """The sessions that a patient entered, from one mark a day."""
    found = []
    for offset, mark in enumerate(marks):
        held = MARKS.get(mark, [("NOT_DONE", None, mark.upper())])
        for slot, (status, share, reason) in enumerate(held, start=1):
            found.append(DoneSession(day(offset), slot, status, share, False, reason))
    return found


def schedule_of(given):
    written = dict(given["schedule"])
    weekdays = frozenset(written.pop("weekdays", ()))
    pattern = Pattern(written.pop("pattern"))
    return Schedule(pattern=pattern, starts_on=FIRST, weekdays=weekdays, **written)


def test_every_case_has_its_own_name_and_says_why():
    names = [case["name"] for case in CASES]
    assert len(set(names)) == len(names) >= 15
    assert all(set(case) == {"name", "given", "expected", "why"} for case in CASES)
    assert all(case["why"].strip() for case in CASES)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["name"])
def test_case(case):
    given, expected = case["given"], case["expected"]
    marks = given["days"].split()
    today = day(given.get("today", len(marks)))
    window = DateWindow(FIRST, day(len(marks)))
    schedule = schedule_of(given)
    pauses = [Pause(day(start), day(end)) for start, end in given.get("pauses", [])]
    due = due_sessions([RevisionSpan("r1", schedule, FIRST)], pauses, window)
    done = entries(marks)
    matched = match_sessions(due, done, today=today)
    share = session_adherence(matched.outcomes)
    active = days_active(matched.outcomes)
    dose = dose_adherence(matched.outcomes)
    facts = Facts(
        today=today,
        outcomes=tuple(outcome for outcome in matched.outcomes if outcome.is_closed),
        worst_ratings=(),
        next_morning_ratings=(),
        due_per_week=sessions_per_week(schedule),
        program_started_on=FIRST,
        program_is_live=True,
    )
    raised = [d for d in decide(facts, policy=POLICY) if d.action == Action.RAISE]
    found = {
        "strip": [cell.state.value for cell in day_states(window, matched, pauses)],
        "sessions": [share.done, share.due],
        "percent": share.percent
        if share.percent is None
        else pytest.approx(share.percent, abs=0.05),
        "range": share.interval
        and pytest.approx((100 * share.interval.low, 100 * share.interval.high), abs=0.05),
        "dose": dose if dose is None else pytest.approx(100 * dose, abs=0.05),
        "days": [active.done, active.due],
        "extras": len(matched.extras),
        "state": adherence_state(
            outcomes=matched.outcomes,
            paused_today=False,
            last_entry_on=max((one.local_date for one in done), default=None),
            today=today,
            target_percent=given.get("target", POLICY.target_percent),
            silent_days=POLICY.silent_days,
            silent_sessions=POLICY.silent_sessions,
        ).value,
        "flag": raised[0].kind.value if raised else "none",
        "sentence": (
            flag_sentence(raised[0].kind, raised[0].evidence, plain, plain_plural) if raised else ""
        ),
    }
    assert len(raised) <= 1
    assert all(one.kind in (FlagKind.MISSED_SESSIONS, FlagKind.NOT_STARTED) for one in raised)
    assert expected == {key: found[key] for key in expected}
