"""What the team does about a flag: see it, follow it up, close it for good."""

from __future__ import annotations

from datetime import timedelta

import pytest

from adherence.models import FlagStatus, FollowUp, FollowUpKind, FollowUpStatus, Outcome
from adherence.operations.flags import (
    FlagError,
    acknowledge_flag,
    answer_flag,
    close_flag,
    complete_follow_up,
    record_follow_up,
)
from adherence.rules.flags import FlagKind
from tests.adherence.story import Story, rising
from tests.factories import NOW, TODAY


@pytest.fixture
def story(issued_program, patient, therapist) -> Story:
    return Story(issued_program, patient, therapist.user_id)


def test_a_closed_flag_does_not_come_back_for_the_same_entries(story):
    flag = rising(story)
    close_flag(
        flag=flag,
        outcome=Outcome.NEW_LEVEL_ACCEPTED,
        note="Band row went up.",
        by_id=story.by_id,
        now=story.now,
    )
    assert flag.outcome == Outcome.NEW_LEVEL_ACCEPTED
    for _day in range(30):
        story.today += timedelta(days=1)
        story.review()
    assert story.open(FlagKind.RISING_PAIN) is None


def test_after_a_close_the_old_level_is_the_usual_one_and_a_new_rise_is_seen(story):
    flag = rising(story)
    close_flag(
        flag=flag,
        outcome=Outcome.NEW_LEVEL_ACCEPTED,
        note="",
        by_id=story.by_id,
        now=story.now,
    )
    story.today += timedelta(days=8)
    for score in (5, 5, 6, 5, 5, 6, 5):
        story.done(score)
        story.today += timedelta(days=1)
    story.review()
    assert story.open(FlagKind.RISING_PAIN) is None
    for _day in range(6):
        story.done(9)
        story.today += timedelta(days=1)
    story.review()
    second = story.open(FlagKind.RISING_PAIN)
    assert second is not None
    assert second.pk != flag.pk


def test_missed_sessions_before_the_close_are_answered(story):
    story.done()
    story.today += timedelta(days=6)
    story.review()
    flag = story.open(FlagKind.MISSED_SESSIONS)
    close_flag(flag=flag, outcome=Outcome.ADVICE_GIVEN, note="", by_id=story.by_id, now=story.now)
    for _day in range(3):
        story.today += timedelta(days=1)
        story.review()
    assert story.open(FlagKind.MISSED_SESSIONS) is None
    story.today += timedelta(days=6)
    story.review()
    assert story.open(FlagKind.MISSED_SESSIONS) is not None, "new misses are new"


def test_the_first_who_has_seen_it_stays_on_record(story, colleague):
    flag = rising(story)
    acknowledge_flag(flag=flag, by_id=story.by_id, now=story.now)
    acknowledge_flag(flag=flag, by_id=colleague.user_id, now=story.now + timedelta(hours=1))
    flag.refresh_from_db()
    assert flag.acknowledged_by_id == story.by_id


def test_a_flag_is_closed_once(story):
    flag = rising(story)
    values = {"note": "", "by_id": story.by_id, "now": story.now}
    close_flag(flag=flag, outcome=Outcome.REFERRED, **values)
    with pytest.raises(FlagError, match="not open any more"):
        close_flag(flag=flag, outcome=Outcome.ADVICE_GIVEN, **values)
    flag.refresh_from_db()
    assert flag.outcome == Outcome.REFERRED


def test_a_follow_up_sees_the_flag_too_and_may_close_it(story):
    flag = rising(story)
    answer = {"flag": flag, "note": "Goes back to 2 sets.", "by_id": story.by_id, "now": story.now}
    answer_flag(kind=FollowUpKind.CALL, due_on=None, outcome=None, **answer)
    flag.refresh_from_db()
    assert flag.status == FlagStatus.OPEN
    assert flag.acknowledged_by_id == story.by_id
    answer_flag(
        kind=FollowUpKind.CHANGE_PROGRAM, due_on=None, outcome=Outcome.PROGRAM_CHANGED, **answer
    )
    flag.refresh_from_db()
    assert flag.status == FlagStatus.CLOSED
    assert FollowUp.objects.filter(flag=flag, status=FollowUpStatus.DONE).count() == 2


def test_a_follow_up_of_a_flag_that_cannot_be_closed_leaves_nothing_behind(story):
    flag = rising(story)
    close_flag(flag=flag, outcome=Outcome.REFERRED, note="", by_id=story.by_id, now=story.now)
    with pytest.raises(FlagError):
        answer_flag(
            flag=flag,
            kind=FollowUpKind.CALL,
            note="",
            due_on=None,
            outcome=Outcome.ADVICE_GIVEN,
            by_id=story.by_id,
            now=story.now,
        )
    assert not FollowUp.objects.exists()


def test_a_planned_follow_up_is_done_once_and_keeps_both_notes(story):
    planned = record_follow_up(
        patient=story.patient,
        flag=None,
        kind=FollowUpKind.BOOK,
        note="Look at the stairs.",
        due_on=TODAY + timedelta(days=3),
        by_id=story.by_id,
        now=NOW,
    )
    assert (planned.status, planned.done_at) == (FollowUpStatus.PLANNED, None)
    complete_follow_up(follow_up=planned, note="Goes well.", now=NOW)
    complete_follow_up(follow_up=planned, note="Again.", now=NOW + timedelta(days=1))
    planned.refresh_from_db()
    assert planned.status == FollowUpStatus.DONE
    assert planned.done_at == NOW
    assert planned.note == "Look at the stairs.\nGoes well."
