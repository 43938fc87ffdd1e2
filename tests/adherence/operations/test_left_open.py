"""A session that nobody ended: what was logged counts, and the next day begins anew."""

from __future__ import annotations

from datetime import timedelta

import pytest

from adherence.models import Review, SessionStatus
from adherence.operations.days import Day
from adherence.operations.left_open import end_left_session, left_open
from adherence.operations.review_sweep import review_owed
from tests.adherence.sessions import begin, finish, log
from tests.factories import NOW, TODAY

EVENING = NOW + timedelta(hours=13, minutes=30)  # half past eleven
NIGHT = EVENING + timedelta(hours=1)
MORNING = EVENING + timedelta(hours=8)


@pytest.fixture
def late(patient, issued_program):
    """A session begun shortly before midnight."""
    return begin(patient, Day(TODAY, TODAY), now=EVENING)


def test_the_sweep_ends_it_with_what_was_done(patient, late, plans):
    log(late, plans[0], now=EVENING)
    assert review_owed(now=MORNING)["ended"] == 1
    late.refresh_from_db()
    assert late.status == SessionStatus.STOPPED
    assert late.share == pytest.approx(1 / len(plans))
    assert not Review.objects.get(patient=patient).is_owed, "ended before the rules looked"
    assert left_open(MORNING) == []


def test_whoever_is_at_it_over_midnight_is_let_finish(late, plans):
    log(late, plans[0], now=EVENING)
    assert review_owed(now=NIGHT)["ended"] == 0
    assert end_left_session(session_id=late.pk, now=NIGHT) is False
    assert finish(late, now=NIGHT).status == SessionStatus.COMPLETED


def test_on_its_own_day_it_stays_open_however_long(patient, issued_program):
    session = begin(patient, Day(TODAY, TODAY), now=NOW)
    assert review_owed(now=NOW + timedelta(hours=13))["ended"] == 0
    session.refresh_from_db()
    assert session.status == SessionStatus.IN_PROGRESS


def test_the_day_is_over_in_the_patients_own_zone(patient, late):
    type(late).objects.filter(pk=late.pk).update(timezone="Pacific/Honolulu")
    assert left_open(MORNING) == []


def test_one_that_was_ended_meanwhile_stays_as_it_is(late, plans):
    log(late, plans[0], now=EVENING)
    finish(late, now=EVENING)
    assert end_left_session(session_id=late.pk, now=MORNING) is False
    late.refresh_from_db()
    assert late.status == SessionStatus.COMPLETED
