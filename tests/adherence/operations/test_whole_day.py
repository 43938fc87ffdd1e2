"""A session entered in one go: yesterday from memory, or from paper."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest

from adherence.models import PainRating, SessionLog, SessionStatus, SetLog
from adherence.operations.sessions import Day, SessionRefused, start_session
from adherence.operations.whole_day import Amount, WholeDay, log_whole_day
from programs.rules.dose import planned_sets
from tests.factories import NOW, TODAY

YESTERDAY = Day(on=TODAY - timedelta(days=1), today=TODAY)


@pytest.fixture
def items(issued_program):
    return list(issued_program.revisions.get().prescriptions.order_by("position"))


def enter(patient, items, amounts, *, key=None, worst=3, day=YESTERDAY):
    told = WholeDay(
        amounts={row.pk: amount for row, amount in zip(items, amounts, strict=True)},
        worst=worst,
        effort=5,
        note="In the evening.",
    )
    return log_whole_day(
        patient=patient,
        client_key=key or uuid.uuid4(),
        day=day,
        told=told,
        entered_by_id=patient.user_id,
        now=NOW,
    )


def test_all_of_it_is_a_whole_session_marked_as_entered_later(patient, items):
    session = enter(patient, items, [Amount.ALL] * 3)
    assert (session.status, session.share) == (SessionStatus.COMPLETED, 1)
    assert session.entered_later
    assert session.local_date == YESTERDAY.on
    assert PainRating.objects.get().score == 3


def test_part_of_an_exercise_is_the_first_half_of_its_sets(patient, items):
    session = enter(patient, items, [Amount.PART, Amount.NONE, Amount.ALL])
    logged = [SetLog.objects.filter(prescription=row).count() for row in items]
    assert logged == [2, 0, len(planned_sets(items[2].dose))]
    assert session.status == SessionStatus.STOPPED
    assert session.share == pytest.approx(4 / 9)


def test_entering_it_twice_is_one_session(patient, items):
    key = uuid.uuid4()
    first = enter(patient, items, [Amount.ALL] * 3, key=key)
    again = enter(patient, items, [Amount.PART] * 3, key=key)
    assert first == again
    assert SetLog.objects.count() == SetLog.objects.filter(withdrawn_at=None).count()
    assert SessionLog.objects.get().share == 1


def test_nothing_at_all_is_refused_and_leaves_no_row(patient, items):
    with pytest.raises(SessionRefused) as refused:
        enter(patient, items, [Amount.NONE] * 3)
    assert refused.value.code == "NOTHING_LOGGED"
    assert not SessionLog.objects.exists()


def test_a_session_that_is_open_is_not_written_over(patient, items):
    today = Day(on=TODAY, today=TODAY)
    opened = start_session(
        patient=patient,
        client_key=uuid.uuid4(),
        day=today,
        entered_by_id=patient.user_id,
        now=NOW,
    )
    for day in (today, YESTERDAY):
        with pytest.raises(SessionRefused):
            enter(patient, items, [Amount.ALL] * 3, day=day)
    opened.refresh_from_db()
    assert opened.status == SessionStatus.IN_PROGRESS
    assert not SetLog.objects.exists()
