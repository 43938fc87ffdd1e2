"""Flags hold together in whatever order things happen."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from adherence.models import ExerciseStop, Flag, FlagStatus, Outcome, PainMoment
from adherence.operations.flags import acknowledge_flag, close_flag
from adherence.operations.sessions import rate_pain
from adherence.rules.flags import FlagKind
from tests.adherence.story import Story
from tests.factories import STARTED_ON

STEPS = st.one_of(
    st.tuples(st.just("done"), st.one_of(st.none(), st.integers(0, 10))),
    st.tuples(st.just("rise"), st.integers(5, 9)),
    st.tuples(st.just("not done"), st.just(None)),
    st.tuples(st.just("days pass"), st.integers(1, 6)),
    st.tuples(st.just("late"), st.integers(0, 10)),
    st.tuples(st.just("correct"), st.integers(0, 10)),
    st.tuples(st.just("sharp"), st.integers(1, 3)),
    st.tuples(st.just("see"), st.integers(0, 3)),
    st.tuples(st.just("close"), st.integers(0, 3)),
)


def play(story: Story, step: str, value: int | None) -> None:
    """Let one thing happen."""
    open_flags = list(Flag.objects.open().filter(patient=story.patient).order_by("kind"))
    if step == "done":
        story.done(value)
    elif step == "rise":
        for _day in range(3):
            story.done(value)
            story.today += timedelta(days=1)
    elif step == "not done":
        story.not_done()
    elif step == "days pass":
        story.today += timedelta(days=value)
    elif step == "late":
        story.done(value, on=max(STARTED_ON, story.today - timedelta(days=2)))
    elif step == "correct" and story.logged:
        rate_pain(
            session=story.logged[-1],
            client_key=uuid.uuid4(),
            moment=PainMoment.WORST,
            score=value,
            occurred_at=story.now,
            now=story.now,
        )
    elif step == "sharp":
        story.sharp(position=value)
    elif step == "see" and open_flags:
        flag = open_flags[value % len(open_flags)]
        acknowledge_flag(flag=flag, by_id=story.by_id, now=story.now)
    elif step == "close" and open_flags:
        flag = open_flags[value % len(open_flags)]
        close_flag(
            flag=flag,
            outcome=Outcome.ADVICE_GIVEN,
            note="",
            by_id=story.by_id,
            now=story.now,
        )
        story.review()
        assert story.open(FlagKind(flag.kind)) is None, "closed, and back for the same entries"


def record(story: Story) -> list[dict]:
    return list(Flag.objects.filter(patient=story.patient).order_by("pk").values())


def check(story: Story) -> None:
    """What holds whatever happened."""
    flags = list(Flag.objects.filter(patient=story.patient))
    kinds = [flag.kind for flag in flags if flag.status == FlagStatus.OPEN]
    assert len(kinds) == len(set(kinds))
    for flag in flags:
        assert (flag.ended_at is None) == (flag.status == FlagStatus.OPEN)
        assert (flag.ended_on is None) == (flag.status == FlagStatus.OPEN)
        assert bool(flag.outcome) == (flag.status == FlagStatus.CLOSED)
        assert flag.evidence.get("rule_version")
        if flag.kind == FlagKind.SHARP_PAIN:
            assert flag.status != FlagStatus.CLEARED
            assert flag.evidence["stops"]
        if flag.status == FlagStatus.CLOSED:
            assert flag.acknowledged_at is not None
            assert flag.closed_by_id is not None
    stopped = ExerciseStop.objects.filter(session__patient=story.patient).exists()
    assert stopped == any(flag.kind == FlagKind.SHARP_PAIN for flag in flags)


@pytest.mark.databases_differ
@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=st.lists(STEPS, min_size=4, max_size=24))
def test_in_whatever_order_things_happen(issued_program, patient, therapist, steps):
    with transaction.atomic():
        story = Story(issued_program, patient, therapist.user_id)
        for step, value in steps:
            play(story, step, value)
            story.review()
            check(story)
            before = record(story)
            story.review()
            assert record(story) == before, "looking twice is looking once"
        transaction.set_rollback(True)
