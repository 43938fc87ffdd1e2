"""When a flag is raised, kept, and cleared by itself; and sharp pain, which is told at once."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from adherence.models import ExerciseStop, Flag, FlagStatus, Outcome, PainMoment, PainRating, Review
from adherence.operations.flags import acknowledge_flag, close_flag, stop_exercise
from adherence.operations.sessions import rate_pain
from adherence.rules.flags import FlagKind, Severity
from programs.models import PauseReason
from programs.operations.programs import pause_program
from tests import factories
from tests.adherence.story import Story, rising
from tests.factories import STARTED_ON


@pytest.fixture
def story(issued_program, patient, therapist) -> Story:
    return Story(issued_program, patient, therapist.user_id)


def test_the_published_rise_opens_one_flag_with_its_evidence(story):
    flag = rising(story)
    assert flag.severity == Severity.LOOK
    assert flag.evidence["usual"] == pytest.approx(3.0)
    assert flag.evidence["evidence"] == pytest.approx(7.0)
    assert flag.evidence["signalled_on"] == (STARTED_ON + timedelta(days=14)).isoformat()
    assert [one["score"] for one in flag.evidence["ratings"]] == [5, 5, 4, 6, 5, 6]
    assert flag.rule_version


def test_reviewing_again_keeps_the_flag_and_its_first_day(story):
    flag = rising(story)
    story.done(6)
    story.today += timedelta(days=1)
    story.review()
    kept = story.open(FlagKind.RISING_PAIN)
    assert kept.pk == flag.pk
    assert kept.raised_on == flag.raised_on
    assert kept.refreshed_at > flag.refreshed_at
    assert kept.evidence["later"][-1]["score"] == 6


def test_a_flag_clears_by_itself_when_pain_has_settled_and_stays_in_the_record(story):
    flag = rising(story)
    for score in (3, 3, 3):
        story.done(score)
        story.today += timedelta(days=1)
    story.review()
    flag.refresh_from_db()
    assert flag.status == FlagStatus.CLEARED
    assert flag.ended_on == story.today
    assert flag.outcome == ""
    assert flag.evidence["ratings"], "what was seen is kept"


def test_a_corrected_rating_takes_the_flag_back(story):
    """A slip of the finger, 9 for 3, opens a flag; the correction clears it."""
    for score in (3, 3, 2, 3, 3, 3, 3, 3):
        story.done(score)
        story.today += timedelta(days=1)
    slip = story.done(9)
    story.review()
    flag = story.open(FlagKind.RISING_PAIN)
    assert flag is not None
    rate_pain(
        session=slip,
        client_key=uuid.uuid4(),
        moment=PainMoment.WORST,
        score=3,
        occurred_at=story.now,
        now=story.now,
    )
    assert Review.objects.get(patient=story.patient).is_owed
    story.review()
    flag.refresh_from_db()
    assert flag.status == FlagStatus.CLEARED
    assert story.open(FlagKind.RISING_PAIN) is None


def test_sessions_logged_late_take_back_what_was_missed(story):
    for _day in range(5):
        story.done()
        story.today += timedelta(days=1)
    missed = story.today
    story.today += timedelta(days=5)
    story.review()
    flag = story.open(FlagKind.MISSED_SESSIONS)
    assert [one["state"] for one in flag.evidence["sessions"]] == ["NO_ENTRY"] * 5
    for offset in range(5):
        story.done(on=missed + timedelta(days=offset))
    story.review()
    flag.refresh_from_db()
    assert flag.status == FlagStatus.CLEARED


def test_a_reason_is_named_and_does_not_undo_the_miss(story):
    story.done()
    for _day in range(5):
        story.today += timedelta(days=1)
        story.not_done("FEELS_BETTER")
    story.review()
    flag = story.open(FlagKind.MISSED_SESSIONS)
    assert {one["reason"] for one in flag.evidence["sessions"]} == {"FEELS_BETTER"}


def test_a_program_not_started_is_another_flag_and_the_first_entry_clears_it(story):
    story.today += timedelta(days=4)
    story.review()
    assert story.open(FlagKind.MISSED_SESSIONS) is None
    flag = story.open(FlagKind.NOT_STARTED)
    assert flag.evidence["due"] == 4
    story.done()
    story.review()
    flag.refresh_from_db()
    assert flag.status == FlagStatus.CLEARED


def test_paused_days_are_not_missed(story):
    story.done()
    pause_program(
        program=story.program,
        starts_on=STARTED_ON + timedelta(days=1),
        ends_on=STARTED_ON + timedelta(days=15),
        reason=PauseReason.UNWELL,
        set_by_id=story.by_id,
        now=story.now,
    )
    story.today += timedelta(days=14)
    story.review()
    assert not Flag.objects.exists()


def test_an_old_entry_still_says_that_a_program_was_started(story):
    """Fourteen weeks on, the first entries lie before the sessions that are looked at."""
    story.done(score=None)
    story.today += timedelta(days=98)
    story.review()
    assert story.open(FlagKind.NOT_STARTED) is None
    assert story.open(FlagKind.MISSED_SESSIONS) is not None


def test_a_flag_of_an_earlier_program_waits_for_a_person(story, issue_program, therapist):
    flag = rising(story)
    story.program.status = "COMPLETED"
    story.program.completed_on = story.today
    story.program.save()
    issue_program(story.patient, therapist, at=story.now)
    story.today += timedelta(days=1)
    story.review()
    flag.refresh_from_db()
    assert flag.status == FlagStatus.OPEN


def test_sharp_pain_is_open_at_once(story):
    stop = story.sharp()
    flag = story.open(FlagKind.SHARP_PAIN)
    assert flag.severity == Severity.ACT_NOW
    assert flag.raised_at == story.now
    assert flag.evidence["stops"][0]["id"] == str(stop.pk)
    assert PainRating.objects.get(session=stop.session, moment=PainMoment.WORST).score == 7


def test_sharp_pain_and_its_flag_are_kept_together_or_not_at_all(story):
    with transaction.atomic():
        story.sharp()
        transaction.set_rollback(True)
    assert not ExerciseStop.objects.exists()
    assert not Flag.objects.exists()


def test_another_stop_joins_the_open_flag_and_asks_for_somebody_again(story):
    story.sharp()
    flag = story.open(FlagKind.SHARP_PAIN)
    acknowledge_flag(flag=flag, by_id=story.by_id, now=story.now)
    story.today += timedelta(days=1)
    story.sharp(position=2)
    flag.refresh_from_db()
    assert len(flag.evidence["stops"]) == 2
    assert flag.acknowledged_at is None


def test_a_stop_after_the_close_tells_nothing_of_the_stop_before(story):
    story.sharp()
    first = story.open(FlagKind.SHARP_PAIN)
    close_flag(flag=first, outcome=Outcome.ADVICE_GIVEN, note="", by_id=story.by_id, now=story.now)
    story.today += timedelta(days=1)
    again = story.sharp(position=2)
    story.review()
    second = story.open(FlagKind.SHARP_PAIN)
    assert second.pk != first.pk
    assert [one["id"] for one in second.evidence["stops"]] == [str(again.pk)]


def test_sharp_pain_never_clears_itself(story):
    story.sharp()
    story.today += timedelta(days=60)
    story.review()
    flag = story.open(FlagKind.SHARP_PAIN)
    assert flag is not None
    assert flag.evidence["stops"]


def test_pressing_twice_is_one_stop(story):
    stop = story.sharp()
    again = stop_exercise(
        session=stop.session,
        client_key=uuid.uuid4(),
        prescription_id=stop.prescription_id,
        score=9,
        note="",
        occurred_at=story.now,
        now=story.now,
    )
    assert again.pk == stop.pk
    assert len(story.open(FlagKind.SHARP_PAIN).evidence["stops"]) == 1


def press_again(story: Story, stop: ExerciseStop, *, score: int | None, **other) -> ExerciseStop:
    values = {"client_key": uuid.uuid4(), "prescription_id": stop.prescription_id, "note": ""}
    return stop_exercise(
        session=stop.session,
        score=score,
        occurred_at=story.now,
        now=story.now,
        **(values | other),
    )


@pytest.mark.parametrize("score", [None, 3, 9])
def test_sharp_pain_again_after_the_close_is_told_again(story, score):
    stop = story.sharp()
    first = story.open(FlagKind.SHARP_PAIN)
    close_flag(flag=first, outcome=Outcome.ADVICE_GIVEN, note="", by_id=story.by_id, now=story.now)
    press_again(story, stop, score=score)
    story.review()
    second = story.open(FlagKind.SHARP_PAIN)
    assert second is not None
    assert [one["id"] for one in second.evidence["stops"]] == [str(stop.pk)]


def test_the_same_report_sent_twice_does_not_open_a_closed_flag(story):
    stop = story.sharp()
    first = story.open(FlagKind.SHARP_PAIN)
    close_flag(flag=first, outcome=Outcome.ADVICE_GIVEN, note="", by_id=story.by_id, now=story.now)
    press_again(story, stop, score=7, client_key=stop.client_key)
    assert story.open(FlagKind.SHARP_PAIN) is None


def test_sharper_pain_than_was_told_asks_for_somebody_again(story):
    stop = story.sharp(score=2)
    acknowledge_flag(flag=story.open(FlagKind.SHARP_PAIN), by_id=story.by_id, now=story.now)
    press_again(story, stop, score=9, note="worse now")
    flag = story.open(FlagKind.SHARP_PAIN)
    assert [one["score"] for one in flag.evidence["stops"]] == [9]
    assert flag.acknowledged_at is None
    worst = PainRating.objects.get(session=stop.session, moment="WORST", withdrawn_at=None)
    assert worst.score == 9
    stop.refresh_from_db()
    assert (stop.score, stop.note) == (9, "worse now")


def test_a_key_used_before_costs_nobody_the_report_of_another_exercise(story):
    stop = story.sharp(score=2)
    other = story.revision.prescriptions.get(position=2).pk
    for _time in range(2):
        press_again(story, stop, score=9, prescription_id=other, client_key=stop.client_key)
    stops = story.open(FlagKind.SHARP_PAIN).evidence["stops"]
    assert [one["score"] for one in stops] == [2, 9]
    worst = PainRating.objects.get(session=stop.session, moment="WORST", withdrawn_at=None)
    assert worst.score == 9


@pytest.mark.databases_differ
def test_the_database_holds_one_open_flag_of_a_kind(story):
    factories.FlagFactory(program=story.program, kind=FlagKind.RISING_PAIN)
    with pytest.raises(IntegrityError), transaction.atomic():
        factories.FlagFactory(program=story.program, kind=FlagKind.RISING_PAIN)
