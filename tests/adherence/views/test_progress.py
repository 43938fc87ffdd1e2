"""My progress: words first, no blame, and the same figures as the rules."""

from __future__ import annotations

from datetime import timedelta

import pytest

from adherence.models import SessionStatus
from tests import factories
from tests.factories import TODAY


@pytest.fixture
def browser(sign_in, patient):
    return sign_in(patient)


def text_of(answer):
    return " ".join(answer.content.decode().split())


def days(program, count, score=None, **more):
    for back in range(1, count + 1):
        session = factories.SessionLogFactory(
            revision=program.revisions.get(),
            local_date=TODAY - timedelta(days=back),
            done=True,
            **more,
        )
        if score is not None:
            factories.PainRatingFactory(session=session, score=score(back))


@pytest.mark.parametrize("has_program", [False, True])
def test_before_the_first_session_it_says_what_will_be_here(browser, request, has_program):
    if has_program:
        request.getfixturevalue("issued_program")
    assert "After your first session you see here" in text_of(browser.get("/progress/"))


def test_days_and_weeks_are_counted(browser, issued_program):
    days(issued_program, 9)
    shown = text_of(browser.get("/progress/"))
    assert "You exercised on 9 days in the weeks below." in shown
    assert "7 of 7 done" in shown
    assert "Tuesday 10 March: done" in shown
    assert "After seven sessions you see here how pain has moved." in shown


def test_a_day_that_was_not_done_is_no_day_of_exercise(browser, issued_program):
    days(issued_program, 1)
    factories.SessionLogFactory(
        revision=issued_program.revisions.get(),
        local_date=TODAY - timedelta(days=2),
        done=True,
        status=SessionStatus.NOT_DONE,
        reason="UNWELL",
        share=None,
    )
    assert "You exercised on 1 day in the weeks below." in text_of(browser.get("/progress/"))


def test_pain_is_told_from_the_first_week_to_the_last(browser, issued_program):
    days(issued_program, 16, score=lambda back: 2 if back <= 7 else 6)
    shown = text_of(browser.get("/progress/"))
    assert "Worst pain was about 6 of 10 at first, and about 2 in your last seven sessions" in shown


def test_the_page_takes_few_queries(browser, issued_program, django_assert_max_num_queries):
    days(issued_program, 30, score=lambda back: back % 5)
    with django_assert_max_num_queries(12):
        browser.get("/progress/")
