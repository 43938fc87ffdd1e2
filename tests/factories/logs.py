"""Sessions, pain, reminders, flags and what was done about them."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime, time, timedelta

import factory
from factory import LazyAttribute, LazyFunction, SelfAttribute, SubFactory
from factory.django import DjangoModelFactory

from adherence import models
from adherence.rules.flags import RULE_VERSION, FlagKind, Severity
from adherence.rules.reminders import ReminderStatus
from programs.rules.dose import Side
from tests.factories.library_and_programs import (
    PrescriptionFactory,
    ProgramFactory,
    ProgramRevisionFactory,
)
from tests.factories.people import PatientFactory, UserFactory
from tests.factories.times import JOINED, NOW, TODAY


class SessionLogFactory(DjangoModelFactory):
    """Today's session, begun; `done=True` for one that is completed in full."""

    class Meta:
        model = models.SessionLog

    class Params:
        done = factory.Trait(
            status=models.SessionStatus.COMPLETED,
            finished_at=LazyAttribute(lambda row: row.started_at + timedelta(minutes=15)),
            share=1.0,
        )

    revision = SubFactory(ProgramRevisionFactory)
    patient = SelfAttribute("revision.program.patient")
    clinic = SelfAttribute("patient.clinic")
    client_key = LazyFunction(uuid.uuid4)
    local_date = TODAY
    timezone = SelfAttribute("patient.timezone")
    entered_by = SelfAttribute("patient.user")
    started_at = LazyAttribute(lambda row: datetime.combine(row.local_date, time(9), UTC))
    recorded_at = SelfAttribute("started_at")


class SetLogFactory(DjangoModelFactory):
    """The first set, done in full."""

    class Meta:
        model = models.SetLog

    session = SubFactory(SessionLogFactory)
    clinic = SelfAttribute("session.clinic")
    prescription = SubFactory(PrescriptionFactory, revision=SelfAttribute("..session.revision"))
    client_key = LazyFunction(uuid.uuid4)
    number = 1
    side = Side.BILATERAL
    state = models.SetState.DONE
    repetitions = 12
    occurred_at = SelfAttribute("session.started_at")
    recorded_at = SelfAttribute("session.started_at")


class PainRatingFactory(DjangoModelFactory):
    """Worst pain of a session, 3 of 10."""

    class Meta:
        model = models.PainRating

    session = SubFactory(SessionLogFactory)
    patient = SelfAttribute("session.patient")
    clinic = SelfAttribute("session.clinic")
    client_key = LazyFunction(uuid.uuid4)
    moment = models.PainMoment.WORST
    score = 3
    local_date = SelfAttribute("session.local_date")
    occurred_at = SelfAttribute("session.started_at")
    recorded_at = SelfAttribute("session.started_at")


class ExerciseStopFactory(DjangoModelFactory):
    """An exercise stopped for sharp pain."""

    class Meta:
        model = models.ExerciseStop

    session = SubFactory(SessionLogFactory)
    clinic = SelfAttribute("session.clinic")
    prescription = SubFactory(PrescriptionFactory, revision=SelfAttribute("..session.revision"))
    client_key = LazyFunction(uuid.uuid4)
    score = 7
    occurred_at = SelfAttribute("session.started_at")
    recorded_at = SelfAttribute("session.started_at")


class ReminderPreferenceFactory(DjangoModelFactory):
    """Reminders on, at half past nine."""

    class Meta:
        model = models.ReminderPreference

    patient = SubFactory(PatientFactory)
    clinic = SelfAttribute("patient.clinic")
    is_on = True
    times = LazyFunction(lambda: ["09:30"])
    changed_at = JOINED


class ReminderFactory(DjangoModelFactory):
    """A reminder for today, due half an hour ago and waiting."""

    class Meta:
        model = models.Reminder

    patient = SubFactory(PatientFactory)
    clinic = SelfAttribute("patient.clinic")
    local_date = TODAY
    slot = 1
    due_at = NOW - timedelta(minutes=30)
    status = ReminderStatus.PENDING
    created_at = NOW - timedelta(minutes=30)


class SweepFactory(DjangoModelFactory):
    """A sweep that finished a minute ago."""

    class Meta:
        model = models.Sweep

    name = "send_due_reminders"
    finished_at = NOW - timedelta(minutes=1)


class FlagFactory(DjangoModelFactory):
    """An open flag, raised today."""

    class Meta:
        model = models.Flag

    program = SubFactory(ProgramFactory)
    patient = SelfAttribute("program.patient")
    clinic = SelfAttribute("program.clinic")
    kind = FlagKind.MISSED_SESSIONS
    severity = Severity.LOOK
    rule_version = RULE_VERSION
    raised_at = NOW
    raised_on = TODAY
    refreshed_at = NOW


class FollowUpFactory(DjangoModelFactory):
    """A call that was made today."""

    class Meta:
        model = models.FollowUp

    patient = SubFactory(PatientFactory)
    clinic = SelfAttribute("patient.clinic")
    kind = models.FollowUpKind.CALL
    status = models.FollowUpStatus.DONE
    done_at = NOW
    recorded_by = SubFactory(UserFactory)
    recorded_at = NOW


class ReviewFactory(DjangoModelFactory):
    """A review that is owed."""

    class Meta:
        model = models.Review

    patient = SubFactory(PatientFactory)
    clinic = SelfAttribute("patient.clinic")
    wanted_at = NOW
