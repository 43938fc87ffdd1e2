"""A patient's record as the rules take it: how far back it reaches, and what belongs to it."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest

from adherence.models import PainMoment
from adherence.operations.sessions import rate_pain
from adherence.queries.facts import REVIEW_DAYS, entries_of, ratings_since, review_facts
from adherence.rules.flags import FlagKind, pain_parameters
from adherence.rules.pain import rising_pain
from clinic.rules.policy import Policy
from programs.queries.programs import latest_program
from shared.dates import DateWindow
from tests import factories
from tests.adherence.story import Story
from tests.factories import NOW, STARTED_ON, TODAY


@pytest.fixture
def story(issued_program, patient, therapist) -> Story:
    return Story(issued_program, patient, therapist.user_id)


def facts_on(story: Story, day):
    found = review_facts(story.patient.pk, today=day)
    assert found is not None
    return found[0]


def test_the_usual_level_does_not_move_with_the_window(story):
    """Half a year on, usual is still the mean of the first seven ratings, not of later ones."""
    for offset in range(26 * 7):
        story.done(2 if offset < 7 else 6, on=STARTED_ON + timedelta(days=offset))
    today = STARTED_ON + timedelta(days=26 * 7)
    facts = facts_on(story, today)
    assert len(facts.worst_ratings) == 26 * 7
    assert facts.worst_ratings[0].local_date == STARTED_ON
    judged = rising_pain(facts.worst_ratings, parameters=pain_parameters(Policy()))
    assert judged.usual == pytest.approx(2.0)
    assert min(o.due.due_on for o in facts.outcomes) == today - timedelta(days=REVIEW_DAYS - 1)


def test_ratings_reach_back_two_years_at_most(story):
    program = latest_program(story.patient.pk)
    assert ratings_since(program, today=TODAY) == STARTED_ON
    much_later = STARTED_ON + timedelta(days=3 * 366)
    assert (much_later - ratings_since(program, today=much_later)).days == 731
    assert ratings_since(None, today=TODAY) == TODAY - timedelta(days=83)


def test_what_was_entered_before_the_program_is_no_part_of_it(story):
    story.done(9, on=STARTED_ON - timedelta(days=3))
    story.done(3, on=STARTED_ON)
    facts = facts_on(story, TODAY)
    assert [rating.score for rating in facts.worst_ratings] == [3]
    assert all(outcome.due.due_on >= STARTED_ON for outcome in facts.outcomes)


def test_a_corrected_rating_counts_once(story):
    session = story.done(9)
    rate_pain(
        session=session,
        client_key=uuid.uuid4(),
        moment=PainMoment.WORST,
        score=3,
        occurred_at=NOW,
        now=NOW,
    )
    assert [rating.score for rating in facts_on(story, TODAY).worst_ratings] == [3]


def test_a_session_in_progress_is_no_entry_yet(story):
    factories.SessionLogFactory(revision=story.revision, local_date=TODAY)
    window = DateWindow.trailing(TODAY, 14)
    entries = entries_of([story.patient.pk], window)[story.patient.pk]
    assert entries.done == ()
    assert entries.last_entry_on is None


def test_other_patients_entries_stay_with_them(story, other_patient, colleague, issue_program):
    story.done(3)
    theirs = Story(issue_program(other_patient, colleague), other_patient, colleague.user_id)
    theirs.done(8)
    window = DateWindow.trailing(TODAY, 60)
    found = entries_of([story.patient.pk, other_patient.pk], window)
    assert [r.score for r in found[story.patient.pk].worst] == [3]
    assert [r.score for r in found[other_patient.pk].worst] == [8]


def test_a_patients_first_day_of_ratings_may_differ_from_the_windows(story):
    for offset in range(20):
        story.done(3, on=STARTED_ON + timedelta(days=offset))
    key = story.patient.pk
    window = DateWindow(STARTED_ON + timedelta(days=10), STARTED_ON + timedelta(days=20))
    assert len(entries_of([key], window)[key].worst) == 10
    earlier = entries_of([key], window, ratings_from={key: STARTED_ON})[key]
    assert (len(earlier.worst), len(earlier.done)) == (20, 10)
    later = entries_of([key], window, ratings_from={key: STARTED_ON + timedelta(days=15)})[key]
    assert (len(later.worst), len(later.done)) == (5, 10)


def test_a_patient_without_a_program_has_no_facts(other_patient):
    assert review_facts(other_patient.pk, today=TODAY) is None


def test_a_closed_flag_sets_the_day_from_which_entries_are_new(story):
    factories.FlagFactory(
        program=story.program,
        kind=FlagKind.RISING_PAIN,
        status="CLOSED",
        outcome="REFERRED",
        closed_by_id=story.by_id,
        ended_at=NOW,
        ended_on=TODAY,
        snoozed_until=TODAY + timedelta(days=7),
    )
    facts = facts_on(story, TODAY)
    assert facts.resets == {FlagKind.RISING_PAIN: TODAY}
    assert facts.snoozed_until == {FlagKind.RISING_PAIN: TODAY + timedelta(days=7)}
