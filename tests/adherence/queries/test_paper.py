"""Which days can be entered from paper, and which is offered first."""

from __future__ import annotations

from datetime import timedelta

import pytest

from adherence.queries.paper import paper_page
from programs.operations.programs import complete_program
from tests.adherence.story import Story
from tests.factories import NOW, STARTED_ON, TODAY


@pytest.fixture
def story(issued_program, patient, therapist) -> Story:
    return Story(issued_program, patient, therapist.user_id, today=TODAY)


def page_of(story: Story, *, on=None, now=NOW):
    return paper_page(story.patient, on=on, days=28, now=now)


def test_the_oldest_missing_day_is_offered_first(story):
    page = page_of(story)
    assert page.on == TODAY - timedelta(days=28)
    assert len(page.items) == 3
    assert len(page.choices) == 29
    story.done(on=page.on)
    assert page_of(story).on == TODAY - timedelta(days=27)


def test_with_nothing_missing_yesterday_is_offered(story):
    for offset in range((TODAY - STARTED_ON).days):
        story.done(on=STARTED_ON + timedelta(days=offset))
    page = page_of(story)
    assert page.on == TODAY - timedelta(days=1)
    assert page.chosen.words == "done"


def test_days_are_newest_first_and_say_what_is_known(story):
    story.not_done()
    page = page_of(story, on=TODAY)
    assert [choice.words for choice in page.choices[:2]] == ["not done", "no entry"]
    assert [choice.is_chosen for choice in page.choices[:2]] == [True, False]


@pytest.mark.parametrize("days", [-1, 29, 400])
def test_other_days_have_no_exercises(story, days):
    page = page_of(story, on=TODAY - timedelta(days=days))
    assert page.items == ()
    assert page.chosen is None


def test_a_program_that_has_just_begun_has_its_days_only(story):
    page = page_of(story, now=NOW - (TODAY - STARTED_ON) - timedelta(days=0))
    assert [choice.cell.date for choice in page.choices] == [STARTED_ON]
    assert page.on == STARTED_ON


def test_after_its_end_a_program_can_still_be_entered(story):
    complete_program(program=story.program, today=TODAY - timedelta(days=3))
    page = page_of(story)
    assert page.choices[0].cell.date == TODAY - timedelta(days=4)
    assert page.items
    assert page_of(story, now=NOW + timedelta(days=60)).choices == ()


def test_without_a_program_there_is_nothing_to_enter(other_patient):
    page = paper_page(other_patient, on=None, days=28, now=NOW)
    assert (page.choices, page.items) == ((), ())
