"""How a session felt, told at its end and on the morning after."""

from __future__ import annotations

import uuid

import pytest

from adherence.models import PainRating
from adherence.operations.flags import stop_exercise
from adherence.operations.ratings import finish_with_ratings, rate_morning
from adherence.operations.sessions import PainMoment, SessionRefused
from tests import factories
from tests.factories import NOW, TODAY


@pytest.fixture
def session(issued_program, now):
    return factories.SessionLogFactory(revision=issued_program.revisions.get(), local_date=TODAY)


def finish(session, *, worst=3, after=1):
    return finish_with_ratings(
        session=session,
        client_key=uuid.uuid4(),
        worst=worst,
        after=after,
        stopped_early=False,
        effort=None,
        note="",
        now=NOW,
    )


def scores(session):
    rows = PainRating.objects.filter(session=session, withdrawn_at=None)
    return dict(rows.values_list("moment", "score"))


def test_how_it_felt_is_kept_with_the_end(session):
    item = session.revision.prescriptions.first()
    factories.SetLogFactory(session=session, prescription=item)
    assert finish(session).finished_at == NOW
    assert scores(session) == {"WORST": 3, "AFTER": 1}


def test_without_a_set_nothing_is_kept(session):
    with pytest.raises(SessionRefused):
        finish(session)
    assert scores(session) == {}


def test_the_worst_is_never_below_the_sharp_pain_that_was_told(session):
    item = session.revision.prescriptions.first()
    stop_exercise(
        session=session,
        client_key=uuid.uuid4(),
        prescription_id=item.pk,
        score=7,
        note="",
        occurred_at=NOW,
        now=NOW,
    )
    finish(session, worst=2)
    assert scores(session)["WORST"] == 7


def test_next_morning_is_not_asked_on_the_same_day(session):
    with pytest.raises(SessionRefused) as refusal:
        rate_morning(session=session, client_key=uuid.uuid4(), score=2, now=NOW)
    assert refusal.value.code == "NOT_ASKED"
    assert PainMoment.NEXT_MORNING not in scores(session)
