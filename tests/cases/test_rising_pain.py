"""The worked examples of fixtures/cases/rising_pain.yaml, through the rules."""

from datetime import date, timedelta
from pathlib import Path

import pytest
import yaml

from adherence.rules.flags import Facts, FlagKind, decide, flag_sentence
from adherence.rules.pain import PainParameters, Rating, rising_pain
from clinic.rules.policy import Policy
from programs.rules.wording import plain, plain_plural

FILE = Path(__file__).parents[2] / "fixtures" / "cases" / "rising_pain.yaml"
CASES = yaml.safe_load(FILE.read_text(encoding="utf-8"))
FIRST = date(2026, 1, 5)


def day(offset):
    return FIRST + timedelta(days=offset)


def sentence_of(ratings, closed_on):
    facts = Facts(
        today=ratings[-1].local_date + timedelta(days=1),
        outcomes=(),
        worst_ratings=tuple(ratings),
        next_morning_ratings=(),
        due_per_week=7,
        program_started_on=FIRST,
        program_is_live=True,
        resets={} if closed_on is None else {FlagKind.RISING_PAIN: day(closed_on)},
    )
    decision = next(d for d in decide(facts, policy=Policy()) if d.kind == FlagKind.RISING_PAIN)
    return flag_sentence(decision.kind, decision.evidence, plain, plain_plural)


def test_every_case_has_its_own_name_and_says_why():
    names = [case["name"] for case in CASES]
    assert len(set(names)) == len(names) >= 12
    assert all(set(case) == {"name", "given", "expected", "why"} for case in CASES)
    assert all(case["why"].strip() for case in CASES)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["name"])
def test_case(case):
    given, expected = case["given"], case["expected"]
    ratings = [
        Rating(day(offset), int(score))
        for offset, score in enumerate(given["ratings"].split())
        if score != "."
    ]
    closed_on = given.get("closed_on")
    judged = rising_pain(
        ratings,
        parameters=PainParameters(),
        reset_on=None if closed_on is None else day(closed_on + 1),
    )
    by_day = dict(zip([(r.local_date - FIRST).days for r in ratings], judged.evidence, strict=True))
    found = {
        "state": judged.state.value,
        "signalled_on": judged.signalled_on and (judged.signalled_on - FIRST).days,
        "since": judged.since and (judged.since - FIRST).days,
        "usual": judged.usual and pytest.approx(judged.usual, abs=0.005),
        "evidence": {
            key: pytest.approx(by_day[key], abs=0.005) for key in expected.get("evidence", {})
        },
        "is_over": judged.is_over,
        "sentence": sentence_of(ratings, closed_on),
    }
    assert expected == {key: found[key] for key in expected}
    if expected["state"] in ("STEADY", "LEARNING") and "signalled_on" not in expected:
        assert judged.signals == ()
