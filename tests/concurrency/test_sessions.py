"""A double tap logs once, and both taps are answered as if they had been the only one."""

from __future__ import annotations

import uuid
from http import HTTPStatus

import pytest

from adherence.models import (
    ExerciseStop,
    Flag,
    PainMoment,
    PainRating,
    SessionLog,
    SetLog,
    SetState,
)
from adherence.operations.days import Day
from adherence.operations.flags import stop_exercise
from adherence.operations.sessions import (
    finish_session,
    log_set,
    rate_pain,
    record_not_done,
    start_session,
)
from adherence.rules.barriers import Barrier
from programs.rules.dose import Side
from tests import factories
from tests.factories import NOW, TODAY
from tests.race import race

TAPS = 6
DAY = Day(on=TODAY, today=TODAY)

pytestmark = [pytest.mark.databases_differ, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def revision(transactional_db, issued_program):
    return issued_program.revisions.get()


@pytest.fixture
def session(revision):
    return factories.SessionLogFactory(revision=revision)


def one_answer(answers: list) -> object:
    """Return the row that every tap was answered with."""
    assert not [answer for answer in answers if isinstance(answer, Exception)], answers
    (found,) = {answer.pk for answer in answers}
    return found


class TestStart:
    def start(self, patient, key: uuid.UUID) -> SessionLog:
        return start_session(
            patient=patient,
            client_key=key,
            day=DAY,
            entered_by_id=patient.user_id,
            now=NOW,
        )

    def test_the_same_tap_starts_once(self, patient, revision):
        key = uuid.uuid4()
        found = one_answer(race(TAPS, lambda _: self.start(patient, key)))
        assert SessionLog.objects.get().pk == found

    def test_two_devices_lead_through_the_same_session(self, patient, revision):
        found = one_answer(race(TAPS, lambda _: self.start(patient, uuid.uuid4())))
        assert SessionLog.objects.get().pk == found

    def test_an_open_session_of_yesterday_is_closed_once(self, patient, revision):
        before = factories.SessionLogFactory(revision=revision, local_date=DAY.on.replace(day=10))
        one_answer(race(TAPS, lambda _: self.start(patient, uuid.uuid4())))
        before.refresh_from_db()
        assert (before.status, SessionLog.objects.count()) == ("STOPPED", 2)

    def test_two_requests_are_answered_alike(self, patient, revision, sign_in):
        clients = [sign_in(patient) for _ in range(TAPS)]
        key = str(uuid.uuid4())

        def tap(index: int):
            return clients[index].post(
                "/api/v1/sessions/", {"client_key": key}, content_type="application/json"
            )

        answers = race(TAPS, tap)
        assert {answer.status_code for answer in answers} <= {HTTPStatus.OK, HTTPStatus.CREATED}
        assert {answer.json()["id"] for answer in answers} == {str(SessionLog.objects.get().pk)}


class TestNotDone:
    def test_the_same_tap_is_recorded_once(self, patient, revision):
        key = uuid.uuid4()

        def tap(_index: int) -> SessionLog:
            return record_not_done(
                patient=patient,
                client_key=key,
                day=DAY,
                reason=Barrier.FATIGUE,
                note="",
                entered_by_id=patient.user_id,
                now=NOW,
            )

        assert one_answer(race(TAPS, tap)) == SessionLog.objects.get().pk


class TestSets:
    @pytest.fixture
    def log(self, session):
        prescription = session.revision.prescriptions.get(position=1)

        def one(key: uuid.UUID) -> SetLog:
            # As a request does: each opens the record for itself.
            return log_set(
                session=SessionLog.objects.select_related("patient").get(pk=session.pk),
                client_key=key,
                prescription_id=prescription.pk,
                number=1,
                side=Side.BILATERAL,
                state=SetState.DONE,
                repetitions=12,
                occurred_at=NOW,
                now=NOW,
            )

        return one

    def test_the_same_tap_logs_once(self, log):
        key = uuid.uuid4()
        assert one_answer(race(TAPS, lambda _: log(key))) == SetLog.objects.get().pk

    def test_the_same_set_from_two_devices_counts_once(self, log):
        answers = race(TAPS, lambda _: log(uuid.uuid4()))
        assert not [answer for answer in answers if isinstance(answer, Exception)]
        assert SetLog.objects.count() == TAPS
        assert SetLog.objects.filter(withdrawn_at=None).count() == 1

    def test_a_set_that_comes_in_while_the_session_is_finished_is_counted(self, session, log):
        """Whichever is first: one of 3 + 4 + 2 sets is in the share at the end."""
        factories.SetLogFactory(
            session=session, prescription=session.revision.prescriptions.get(position=1), number=2
        )

        def tap(index: int) -> object:
            if index % 2:
                return log(uuid.UUID(int=index))
            return finish_session(
                session=SessionLog.objects.select_related("patient").get(pk=session.pk),
                stopped_early=True,
                effort=None,
                note="",
                now=NOW,
            )

        answers = race(TAPS, tap)
        assert not [answer for answer in answers if isinstance(answer, Exception)], answers
        session.refresh_from_db()
        assert session.status == "STOPPED"
        prescribed_sets = session.revision.prescriptions.get(position=1).sets
        assert prescribed_sets == 3
        assert session.share == pytest.approx(2 / 9)


class TestPain:
    def rate(self, session, key: uuid.UUID, score: int) -> PainRating:
        return rate_pain(
            session=SessionLog.objects.select_related("patient").get(pk=session.pk),
            client_key=key,
            moment=PainMoment.WORST,
            score=score,
            occurred_at=NOW,
            now=NOW,
        )

    def test_the_same_tap_rates_once(self, session):
        key = uuid.uuid4()
        found = one_answer(race(TAPS, lambda _: self.rate(session, key, 3)))
        assert PainRating.objects.get().pk == found

    def test_two_devices_leave_one_rating_that_counts(self, session):
        answers = race(TAPS, lambda index: self.rate(session, uuid.uuid4(), index))
        assert not [answer for answer in answers if isinstance(answer, Exception)], answers
        assert PainRating.objects.filter(withdrawn_at=None).count() == 1


class TestFinish:
    def test_finishing_twice_keeps_the_first(self, session):
        factories.SetLogFactory(
            session=session, prescription=session.revision.prescriptions.get(position=1)
        )

        def tap(index: int) -> SessionLog:
            return finish_session(
                session=session, stopped_early=False, effort=index, note="", now=NOW
            )

        found = race(TAPS, tap)
        one_answer(found)
        assert len({answer.effort for answer in found}) == 1
        session.refresh_from_db()
        assert session.effort == found[0].effort


class TestSharpPain:
    def stop(self, session, prescription, key: uuid.UUID) -> ExerciseStop:
        return stop_exercise(
            session=SessionLog.objects.select_related("patient").get(pk=session.pk),
            client_key=key,
            prescription_id=prescription.pk,
            score=7,
            note="",
            occurred_at=NOW,
            now=NOW,
        )

    def test_the_same_tap_stops_once_and_raises_one_flag(self, session):
        prescription = session.revision.prescriptions.get(position=1)
        key = uuid.uuid4()
        answers = race(TAPS, lambda _: self.stop(session, prescription, key))
        assert one_answer(answers) == ExerciseStop.objects.get().pk
        assert len(Flag.objects.get().evidence["stops"]) == 1
        assert PainRating.objects.get().score == 7

    def test_three_exercises_at_once_are_in_one_flag(self, session):
        prescriptions = list(session.revision.prescriptions.order_by("position"))
        answers = race(3, lambda index: self.stop(session, prescriptions[index], uuid.uuid4()))
        assert not [answer for answer in answers if isinstance(answer, Exception)], answers
        assert len(Flag.objects.get().evidence["stops"]) == 3
