"""The rules may look at a record twice at once: there is one flag, closed by one person."""

from __future__ import annotations

import threading
import time
import uuid
from collections import Counter
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import transaction

from adherence.models import Flag, FlagStatus, FollowUpKind, Outcome, Review, SessionLog
from adherence.operations.days import Day
from adherence.operations.flags import (
    FlagError,
    acknowledge_flag,
    answer_flag,
    close_flag,
    review_patient,
)
from adherence.operations.pauses import pause_own_program, resume_own_program
from adherence.operations.review_sweep import review_owed
from adherence.operations.sessions import lock_record, record_not_done
from adherence.rules.barriers import Barrier
from adherence.rules.flags import FlagKind
from tests import factories
from tests.factories import NOW, TODAY
from tests.race import race

MANY = 6

pytestmark = [pytest.mark.databases_differ, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def struggling(transactional_db, patient, issued_program):
    """Ten days in a row entered as not done, and not a session before."""
    revision = issued_program.revisions.get()
    for days in range(1, 11):
        on = TODAY - timedelta(days=days)
        factories.SessionLogFactory(
            revision=revision,
            local_date=on,
            status="NOT_DONE",
            reason="FATIGUE",
            finished_at=NOW - timedelta(days=days),
        )
    return patient


def no_errors(results: list) -> None:
    assert not [result for result in results if isinstance(result, Exception)], results


def test_reviews_at_once_raise_one_flag(struggling):
    no_errors(race(MANY, lambda _: review_patient(patient_id=struggling.pk, now=NOW)))
    flag = Flag.objects.get()
    assert (flag.kind, flag.status) == (FlagKind.MISSED_SESSIONS, FlagStatus.OPEN)
    assert Review.objects.get().done_for == TODAY


def test_sweeps_at_once_raise_one_flag(struggling):
    results = race(MANY, lambda _: review_owed(now=NOW))
    no_errors(results)
    assert not any(result["failed"] for result in results), results
    assert Flag.objects.count() == 1
    assert review_owed(now=NOW) == {}


def test_an_entry_during_a_review_is_not_forgotten(struggling, issued_program):
    """Either the review has seen the entry, or it is owed another look; never neither."""
    revision = issued_program.revisions.get()

    def enter_or_review(index: int) -> object:
        if index:
            return review_patient(patient_id=struggling.pk, now=NOW)
        return record_not_done(
            patient=struggling,
            client_key=uuid.uuid4(),
            day=Day(on=TODAY, today=TODAY),
            reason=Barrier.FATIGUE,
            note="",
            entered_by_id=struggling.user_id,
            now=NOW,
        )

    no_errors(race(MANY, enter_or_review))
    assert SessionLog.objects.filter(revision=revision, local_date=TODAY).exists()
    is_owed = Review.objects.get().is_owed
    before = Flag.objects.get().evidence
    review_patient(patient_id=struggling.pk, now=NOW)
    assert is_owed or Flag.objects.get().evidence == before


def test_the_first_who_saw_it_stays_on_record(struggling, therapist, colleague):
    review_patient(patient_id=struggling.pk, now=NOW)
    people = [therapist.user_id, colleague.user_id]
    flag = Flag.objects.get()
    no_errors(
        race(
            MANY,
            lambda index: acknowledge_flag(
                flag=flag, by_id=people[index % 2], now=NOW + timedelta(seconds=index)
            ),
        )
    )
    flag.refresh_from_db()
    seen = (flag.acknowledged_at, flag.acknowledged_by_id)
    acknowledge_flag(flag=flag, by_id=therapist.user_id, now=NOW + timedelta(hours=1))
    flag.refresh_from_db()
    assert seen == (flag.acknowledged_at, flag.acknowledged_by_id)
    assert flag.acknowledged_by_id in people


def test_one_of_many_closes_it(struggling, therapist):
    review_patient(patient_id=struggling.pk, now=NOW)
    flag = Flag.objects.get()

    def close(_index: int) -> Flag:
        return close_flag(
            flag=Flag.objects.get(pk=flag.pk),
            outcome=Outcome.ADVICE_GIVEN,
            note="",
            by_id=therapist.user_id,
            now=NOW,
        )

    assert Counter(type(result) for result in race(MANY, close)) == {Flag: 1, FlagError: MANY - 1}


def test_closing_while_the_rules_look_leaves_one_end(struggling, therapist):
    review_patient(patient_id=struggling.pk, now=NOW)
    flag = Flag.objects.get()

    def close_or_review(index: int) -> object:
        if index == 0:
            return close_flag(
                flag=flag,
                outcome=Outcome.ADVICE_GIVEN,
                note="",
                by_id=therapist.user_id,
                now=NOW,
            )
        return review_patient(patient_id=struggling.pk, now=NOW)

    no_errors(race(MANY, close_or_review))
    flag = Flag.objects.get()
    assert (flag.status, flag.closed_by_id) == (FlagStatus.CLOSED, therapist.user_id)


def during_a_review(patient, ends_with: Callable[[], object], meanwhile: Callable[[], object]):
    """Let `meanwhile` begin while a review holds the record, which then writes `ends_with`."""
    holds = threading.Event()

    def run(index: int) -> object:
        if index:
            holds.wait(timeout=60)
            return meanwhile()
        with transaction.atomic():
            lock_record(patient)
            holds.set()
            time.sleep(0.5)
            return ends_with()

    no_errors(race(2, run))


def test_answering_a_flag_and_the_rules_do_not_wait_in_a_circle(struggling, therapist):
    review_patient(patient_id=struggling.pk, now=NOW)
    flag = Flag.objects.get()
    during_a_review(
        struggling,
        ends_with=lambda: Flag.objects.filter(pk=flag.pk).update(refreshed_at=NOW),
        meanwhile=lambda: answer_flag(
            flag=Flag.objects.get(pk=flag.pk),
            kind=FollowUpKind.CALL,
            note="",
            due_on=None,
            outcome=Outcome.ADVICE_GIVEN,
            by_id=therapist.user_id,
            now=NOW,
        ),
    )
    assert Flag.objects.get().status == FlagStatus.CLOSED


def test_a_pause_during_a_review_is_looked_at_again(struggling):
    review_patient(patient_id=struggling.pk, now=NOW)
    seen = Review.objects.filter(patient=struggling)
    during_a_review(
        struggling,
        ends_with=lambda: seen.update(wanted_at=None, done_at=NOW),
        meanwhile=lambda: pause_own_program(
            patient=struggling, reason="AWAY", days=3, set_by_id=struggling.user_id, now=NOW
        ),
    )
    assert seen.get().is_owed


def test_going_on_during_a_review_is_looked_at_again(struggling):
    pause_own_program(
        patient=struggling, reason="AWAY", days=3, set_by_id=struggling.user_id, now=NOW
    )
    seen = Review.objects.filter(patient=struggling)
    during_a_review(
        struggling,
        ends_with=lambda: seen.update(wanted_at=None, done_at=NOW),
        meanwhile=lambda: resume_own_program(patient=struggling, now=NOW),
    )
    assert seen.get().is_owed
