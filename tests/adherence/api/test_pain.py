"""Ratings over the API: now, and not into weeks that have passed."""

from __future__ import annotations

import uuid
from datetime import timedelta

from adherence.models import PainRating
from tests import factories
from tests.factories import TODAY


def rate(client, session, moment, score):
    return client.post(
        f"/api/v1/sessions/{session.pk}/pain/",
        {"client_key": str(uuid.uuid4()), "moment": moment, "score": score},
        content_type="application/json",
    )


def test_ratings_of_weeks_ago_are_not_rewritten(sign_in, patient, issued_program):
    session = factories.SessionLogFactory(
        revision=issued_program.revisions.get(), local_date=TODAY - timedelta(days=14), done=True
    )
    factories.PainRatingFactory(session=session, score=8)
    answer = rate(sign_in(patient), session, "WORST", 0)
    assert (answer.status_code, answer.json()["code"]) == (409, "too_late")
    assert PainRating.objects.get(withdrawn_at=None).score == 8


def test_tomorrow_morning_cannot_be_told_today(sign_in, patient, issued_program):
    session = factories.SessionLogFactory(
        revision=issued_program.revisions.get(), local_date=TODAY, done=True
    )
    answer = rate(sign_in(patient), session, "NEXT_MORNING", 0)
    assert (answer.status_code, answer.json()["code"]) == (409, "not_asked")
    assert not PainRating.objects.exists()
