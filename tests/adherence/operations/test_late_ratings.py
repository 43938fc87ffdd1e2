"""Ratings that come by themselves: while the day is remembered, and on the morning after."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest

from adherence.models import PainRating
from adherence.operations.late_ratings import rate_moment
from adherence.operations.sessions import PainMoment, SessionRefused
from tests import factories
from tests.factories import NOW, TODAY


def rate(session, moment=PainMoment.WORST, *, score=0, key=None):
    return rate_moment(
        session=session,
        client_key=key or uuid.uuid4(),
        moment=moment,
        score=score,
        occurred_at=NOW,
        now=NOW,
        backfill_hours=48,
    )


def session_of(program, *, days_ago, **more):
    return factories.SessionLogFactory(
        revision=program.revisions.get(),
        local_date=TODAY - timedelta(days=days_ago),
        **({"done": True} | more),
    )


@pytest.mark.parametrize("days_ago", [0, 1, 2])
def test_a_slip_is_corrected_while_the_day_is_remembered(issued_program, now, days_ago):
    session = session_of(issued_program, days_ago=days_ago)
    slip = factories.PainRatingFactory(session=session, score=9)
    rate(session, score=3)
    slip.refresh_from_db()
    assert slip.withdrawn_at == NOW
    assert PainRating.objects.get(session=session, withdrawn_at=None).score == 3


@pytest.mark.parametrize("moment", list(PainMoment))
def test_what_was_felt_weeks_ago_is_not_told_anew(issued_program, now, moment):
    """Who could lower old ratings could make a rise that stands on them disappear."""
    session = session_of(issued_program, days_ago=14)
    felt = factories.PainRatingFactory(session=session, score=8, moment=moment)
    with pytest.raises(SessionRefused):
        rate(session, moment)
    felt.refresh_from_db()
    assert felt.withdrawn_at is None


def test_a_rating_that_arrives_again_is_the_one_that_is_there(issued_program, now):
    session = session_of(issued_program, days_ago=14)
    felt = factories.PainRatingFactory(session=session, score=8)
    assert rate(session, key=felt.client_key) == felt


def test_the_session_that_was_left_open_is_rated_whenever_it_is_ended(issued_program, now):
    session = session_of(issued_program, days_ago=5, done=False)
    assert rate(session, score=4).score == 4


def test_next_morning_is_not_told_on_the_evening_before(issued_program, now):
    session = session_of(issued_program, days_ago=0)
    with pytest.raises(SessionRefused) as refused:
        rate(session, PainMoment.NEXT_MORNING)
    assert refused.value.code == "NOT_ASKED"


def test_next_morning_is_told_on_the_morning_after(issued_program, now):
    session = session_of(issued_program, days_ago=1)
    assert rate(session, PainMoment.NEXT_MORNING, score=2).local_date == TODAY
