"""Logging a session: once by its key, corrected by withdrawing, in any order, and counted right."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest

from adherence.models import PainMoment, PainRating, Review, SessionLog, SessionStatus, SetLog
from adherence.models import SetState as State
from adherence.operations.ratings import finish_with_ratings, rate_morning
from adherence.operations.sessions import (
    MOST_SESSIONS_A_DAY,
    Day,
    SessionRefused,
    day_to_log,
    log_set,
    rate_pain,
)
from adherence.rules.barriers import Barrier
from programs.operations.programs import complete_program
from programs.rules.dose import SetDone, Side, dose_share, planned_sets
from tests import factories
from tests.adherence.sessions import begin, finish, log, say_not_done
from tests.factories import NOW, STARTED_ON, TODAY

YESTERDAY = TODAY - timedelta(days=1)


# Which day


@pytest.mark.parametrize(
    ("on", "code"),
    [(TODAY + timedelta(days=1), "FUTURE_DAY"), (TODAY - timedelta(days=3), "TOO_LATE")],
)
def test_a_day_outside_memory_is_refused(patient, on, code):
    with pytest.raises(SessionRefused) as refused:
        day_to_log(patient=patient, on=on, now=NOW, backfill_hours=48)
    assert refused.value.code == code


def test_yesterday_is_entered_later_and_no_day_is_today(patient):
    day = day_to_log(patient=patient, on=YESTERDAY, now=NOW, backfill_hours=48)
    assert day.entered_later
    assert day_to_log(patient=patient, on=None, now=NOW, backfill_hours=48) == Day(TODAY, TODAY)


# Starting


def test_starting_twice_with_one_key_is_one_session(patient, today):
    key = uuid.uuid4()
    assert begin(patient, today, key=key) == begin(patient, today, key=key)
    assert SessionLog.objects.count() == 1


def test_starting_again_on_the_same_day_goes_back_to_what_is_open(patient, today, session):
    assert begin(patient, today) == session


def test_the_next_session_of_a_day_takes_the_next_slot(patient, today, session, plans):
    log(session, plans[0])
    finish(session)
    assert begin(patient, today).slot == 2


def test_starting_closes_what_was_left_open_on_an_earlier_day(patient, today, plans):
    left = begin(patient, Day(YESTERDAY, YESTERDAY), now=NOW - timedelta(days=1))
    log(left, plans[0], now=NOW - timedelta(days=1))
    begin(patient, today)
    left.refresh_from_db()
    assert left.status == SessionStatus.STOPPED
    assert left.share == pytest.approx(1 / len(plans))


def test_entering_an_earlier_day_leaves_the_open_session_alone(patient, session):
    with pytest.raises(SessionRefused) as refused:
        begin(patient, Day(YESTERDAY, TODAY))
    assert refused.value.code == "IN_PROGRESS"
    session.refresh_from_db()
    assert session.status == SessionStatus.IN_PROGRESS


def test_without_a_program_nothing_starts(other_patient):
    with pytest.raises(SessionRefused) as refused:
        begin(other_patient, Day(TODAY, TODAY))
    assert refused.value.code == "NO_PROGRAM"


def test_before_and_after_the_program_nothing_starts(patient, issued_program):
    for on in (STARTED_ON - timedelta(days=1), TODAY):
        if on == TODAY:
            complete_program(program=issued_program, today=TODAY)
        with pytest.raises(SessionRefused):
            begin(patient, Day(on, TODAY))


def test_a_day_has_an_end_of_sessions(patient, today):
    for _session in range(MOST_SESSIONS_A_DAY):
        say_not_done(patient, today)
    with pytest.raises(SessionRefused) as refused:
        begin(patient, today)
    assert refused.value.code == "TOO_MANY"


# Sets


def test_the_same_key_logs_once(session, plans):
    key = uuid.uuid4()
    first = log(session, plans[0], key=key, repetitions=12)
    again = log(session, plans[0], key=key, repetitions=5)
    assert first == again
    assert SetLog.objects.get().repetitions == 12


def test_another_key_for_the_same_set_corrects_it_and_keeps_the_first(session, plans):
    first = log(session, plans[0], repetitions=5, state=State.PARTLY)
    second = log(session, plans[0], repetitions=12)
    first.refresh_from_db()
    assert first.withdrawn_at is not None
    assert list(SetLog.objects.filter(withdrawn_at=None)) == [second]


def test_done_without_numbers_is_done_as_planned(session, plans):
    rows = [log(session, planned) for planned in plans]
    for row, (_prescription, plan) in zip(rows, plans, strict=True):
        done = (row.repetitions, row.held_seconds, row.moved_seconds)
        assert done == (plan.repetitions, plan.hold_seconds, plan.duration_seconds)
    assert finish(session).share == 1


def test_a_skipped_set_has_no_numbers(session, plans):
    row = log(session, plans[0], state=State.SKIPPED, repetitions=12)
    assert row.repetitions is None


@pytest.mark.parametrize(
    ("number", "side"), [(4, Side.BILATERAL), (1, Side.LEFT), (0, Side.BILATERAL)]
)
def test_a_set_that_is_not_in_the_program_is_refused(session, plans, number, side):
    with pytest.raises(SessionRefused) as refused:
        log_set(
            session=session,
            client_key=uuid.uuid4(),
            prescription_id=plans[0][0].pk,
            number=number,
            side=side,
            state=State.DONE,
            occurred_at=NOW,
            now=NOW,
        )
    assert refused.value.code == "NOT_IN_PROGRAM"
    assert not SetLog.objects.exists()


def test_an_exercise_of_another_program_is_refused(
    session, other_patient, colleague, issue_program
):
    other = issue_program(other_patient, colleague).revisions.get().prescriptions.first()
    with pytest.raises(SessionRefused):
        log(session, (other, planned_sets(other.dose)[0]))


def test_a_session_that_was_not_done_takes_no_set(patient, today, plans):
    with pytest.raises(SessionRefused) as refused:
        log(say_not_done(patient, today), plans[0])
    assert refused.value.code == "NOT_STARTED"


@pytest.mark.parametrize("skew", [timedelta(days=-400), timedelta(hours=5)])
def test_the_time_that_a_device_tells_stays_within_the_session(session, plans, skew):
    row, plan = plans[0]
    logged = log_set(
        session=session,
        client_key=uuid.uuid4(),
        prescription_id=row.pk,
        number=plan.number,
        side=plan.side,
        state=State.DONE,
        occurred_at=NOW + skew,
        now=NOW + timedelta(minutes=1),
    )
    assert NOW <= logged.occurred_at <= NOW + timedelta(minutes=1)


def test_a_set_that_comes_late_is_counted(session, plans):
    log(session, plans[0])
    before = finish(session).share
    log(session, plans[1])
    session.refresh_from_db()
    assert session.status == SessionStatus.COMPLETED
    assert session.share == pytest.approx(before * 2)


def test_the_share_is_what_the_rules_make_of_the_sets(session, plans):
    log(session, plans[0], repetitions=6, state=State.PARTLY)
    log(session, plans[3], held_seconds=40)
    log(session, plans[7], state=State.SKIPPED)
    done = [None] * len(plans)
    done[0], done[3] = SetDone(repetitions=6), SetDone(held_seconds=40)
    expected = dose_share([plan for _row, plan in plans], done)
    closed = finish(session)
    assert (closed.share, closed.over) == pytest.approx((expected.share, expected.over))


# Pain


def test_a_rating_is_once_by_its_key_and_corrected_by_another(session):
    key = uuid.uuid4()
    for again, score in ((key, 3), (key, 9), (uuid.uuid4(), 5)):
        rate_pain(
            session=session,
            client_key=again,
            moment=PainMoment.WORST,
            score=score,
            occurred_at=NOW,
            now=NOW,
        )
    assert PainRating.objects.get(withdrawn_at=None).score == 5
    assert PainRating.objects.count() == 2


def test_the_next_morning_is_asked_on_the_two_mornings_after(session, plans):
    log(session, plans[0])
    session = finish(session)
    for days, is_taken in ((0, False), (1, True), (2, True), (3, False)):
        now = NOW + timedelta(days=days)
        if is_taken:
            rating = rate_morning(session=session, client_key=uuid.uuid4(), score=2, now=now)
            assert rating.local_date == TODAY + timedelta(days=1)
        else:
            with pytest.raises(SessionRefused):
                rate_morning(session=session, client_key=uuid.uuid4(), score=2, now=now)


def test_a_session_that_was_not_done_has_no_next_morning(patient, today):
    with pytest.raises(SessionRefused):
        rate_morning(
            session=say_not_done(patient, today),
            client_key=uuid.uuid4(),
            score=2,
            now=NOW + timedelta(days=1),
        )


# The end


def test_finishing_twice_keeps_the_first(session, plans):
    log(session, plans[0])
    first = finish(session)
    again = finish(session, now=NOW + timedelta(hours=1), stopped_early=True)
    assert (again.status, again.finished_at) == (first.status, first.finished_at)


def test_nothing_done_is_no_session(session, plans):
    log(session, plans[0], state=State.SKIPPED)
    with pytest.raises(SessionRefused) as refused:
        finish(session)
    assert refused.value.code == "NOTHING_LOGGED"


def test_how_it_felt_is_kept_only_together_with_the_end(session):
    with pytest.raises(SessionRefused):
        finish_with_ratings(
            session=session,
            client_key=uuid.uuid4(),
            worst=4,
            after=2,
            stopped_early=False,
            effort=None,
            note="",
            now=NOW,
        )
    assert not PainRating.objects.exists()


def test_an_end_asks_for_a_review(session, plans):
    log(session, plans[0])
    finish(session)
    assert Review.objects.get().wanted_at == NOW


# Not done


def test_not_done_is_once_by_its_key(patient, today):
    key = uuid.uuid4()
    assert say_not_done(patient, today, key=key) == say_not_done(patient, today, key=key)
    assert SessionLog.objects.get().reason == Barrier.NO_TIME


def test_a_session_begun_without_doing_anything_becomes_the_one_not_done(
    patient, today, session, plans
):
    log(session, plans[0], state=State.SKIPPED)
    key = uuid.uuid4()
    assert say_not_done(patient, today, key=key) == session
    assert say_not_done(patient, today, key=key) == session
    assert SessionLog.objects.get().status == SessionStatus.NOT_DONE


def test_a_session_with_something_done_has_to_be_finished(patient, today, session, plans):
    log(session, plans[0])
    with pytest.raises(SessionRefused) as refused:
        say_not_done(patient, today)
    assert refused.value.code == "IN_PROGRESS"


def test_a_set_that_is_filled_in_days_later_marks_its_session(issued_program, now):
    """Entries from memory are shown apart: what was done weeks ago is not remembered well."""
    revision = issued_program.revisions.get()
    session = factories.SessionLogFactory(
        revision=revision, local_date=TODAY - timedelta(days=9), done=True
    )
    item = revision.prescriptions.order_by("position").first()
    log_set(
        session=session,
        client_key=uuid.uuid4(),
        prescription_id=item.pk,
        number=3,
        side=Side.BILATERAL,
        state=State.DONE,
        occurred_at=NOW,
        now=NOW,
    )
    session.refresh_from_db()
    assert session.entered_later
