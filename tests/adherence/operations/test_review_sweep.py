"""The sweep finds every record that the rules have not seen as it now stands."""

from __future__ import annotations

from datetime import timedelta

import pytest

from adherence.models import Flag, Review, Sweep
from adherence.operations.review_sweep import review_owed
from adherence.operations.reviews import want_review
from adherence.queries.reminders import REVIEW_SWEEP
from adherence.rules.flags import FlagKind
from programs.operations.programs import complete_program
from tests.adherence.story import RISING, Story
from tests.factories import NOW, TODAY


@pytest.fixture
def story(issued_program, patient, therapist) -> Story:
    return Story(issued_program, patient, therapist.user_id)


def test_everybody_is_looked_at_once_a_local_day(story):
    assert review_owed(now=NOW)["reviewed"] == 1
    assert review_owed(now=NOW + timedelta(hours=1))["reviewed"] == 0
    assert Review.objects.get(patient=story.patient).done_for == TODAY
    assert review_owed(now=NOW + timedelta(hours=15))["reviewed"] == 1, "midnight has passed"


def test_new_entries_are_looked_at_at_once(story):
    review_owed(now=NOW)
    want_review(patient=story.patient, now=NOW)
    assert review_owed(now=NOW + timedelta(minutes=1))["reviewed"] == 1
    assert not Review.objects.get(patient=story.patient).is_owed


def test_the_day_is_the_patients_own(story):
    story.patient.timezone = "Pacific/Auckland"
    story.patient.save()
    review_owed(now=NOW)
    assert Review.objects.get(patient=story.patient).done_for == TODAY
    assert review_owed(now=NOW + timedelta(hours=1, minutes=1))["reviewed"] == 1, "midnight there"


def test_the_sweep_raises_what_the_rules_decide(story):
    for score in RISING:
        story.done(score)
        story.today += timedelta(days=1)
    review_owed(now=story.now)
    assert Flag.objects.get().kind == FlagKind.RISING_PAIN


def test_ended_programs_and_discharged_patients_rest(
    story, other_patient, colleague, issue_program
):
    issue_program(other_patient, colleague)
    other_patient.discharged_at = NOW
    other_patient.save()
    complete_program(program=story.program, today=TODAY)
    assert review_owed(now=NOW)["reviewed"] == 0


def test_the_sweep_says_that_it_has_been(story):
    review_owed(now=NOW)
    sweep = Sweep.objects.get(name=REVIEW_SWEEP)
    assert sweep.finished_at == NOW
    assert sweep.counts == {"reviewed": 1}
