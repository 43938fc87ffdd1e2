"""Exercises, ladders and programs."""

from __future__ import annotations

import hashlib

import factory
from factory import LazyAttribute, LazyFunction, SelfAttribute, Sequence, SubFactory
from factory.django import DjangoModelFactory

from programs import models
from programs.rules.dose import DoseKind, Side, SideMode
from programs.rules.library import Aim, AlternativeReason, Position, Region
from tests.factories.entries import library_entry
from tests.factories.people import PatientFactory, UserFactory
from tests.factories.times import JOINED, NOW, STARTED_AT, STARTED_ON, TODAY


class ExerciseFactory(DjangoModelFactory):
    """An exercise of the starter library with its first revision, as the library stores it."""

    class Meta:
        model = models.Exercise
        skip_postgeneration_save = True

    slug = Sequence("exercise-{}".format)
    name = LazyAttribute(lambda row: row.slug.replace("-", " ").capitalize())
    region = Region.ANKLE_FOOT
    aim = Aim.STRENGTH
    position = Position.STANDING
    equipment = LazyFunction(list)
    dose_kind = DoseKind.REPETITIONS
    side_mode = SideMode.BOTH_TOGETHER
    search_text = LazyAttribute(lambda row: row.name.lower())

    @factory.post_generation
    def current(self, create, extracted, **kwargs):
        """Give the exercise its first revision."""
        self.current = extracted or ExerciseRevisionFactory(exercise=self)
        self.save(update_fields=["current"])


class ExerciseRevisionFactory(DjangoModelFactory):
    """The wording of an exercise, made to fit its columns."""

    class Meta:
        model = models.ExerciseRevision

    exercise = SubFactory(ExerciseFactory)
    clinic = SelfAttribute("exercise.clinic")
    number = LazyAttribute(lambda row: row.exercise.revisions.count() + 1)
    content = LazyAttribute(
        lambda row: library_entry(
            row.exercise.slug,
            name=row.exercise.name,
            kind=row.exercise.dose_kind,
            side_mode=row.exercise.side_mode,
            region=row.exercise.region,
            aim=row.exercise.aim,
            position=row.exercise.position,
            equipment=tuple(row.exercise.equipment),
        ).to_json()
    )
    digest = LazyAttribute(lambda row: hashlib.sha256(repr(row.content).encode()).hexdigest())
    published_at = JOINED


class LadderFactory(DjangoModelFactory):
    """A ladder of the starter library, without rungs."""

    class Meta:
        model = models.Ladder

    slug = Sequence("ladder-{}".format)
    name = LazyAttribute(lambda row: row.slug.replace("-", " ").capitalize())
    region = Region.ANKLE_FOOT
    aim = Aim.STRENGTH
    purpose = "From sitting to standing on one leg."


class RungFactory(DjangoModelFactory):
    """A step of a ladder."""

    class Meta:
        model = models.Rung

    ladder = SubFactory(LadderFactory)
    clinic = SelfAttribute("ladder.clinic")
    position = Sequence(lambda number: number + 1)
    exercise = SubFactory(ExerciseFactory)
    go_on_when = LazyFunction(
        lambda: {
            "sessions": 3,
            "dose_percent": 100,
            "pain_at_most": 3,
            "effort_at_most": 5,
            "settled_by_morning": True,
            "say": "Three sessions at full dose, pain 3 or less, settled by morning.",
        }
    )
    stay_when = LazyFunction(lambda: {"say": "The dose is not yet full."})
    go_back_when = LazyFunction(
        lambda: {"sessions": 2, "pain_above": 5, "say": "Pain above 5 in two sessions."}
    )


class RungAlternativeFactory(DjangoModelFactory):
    """Another exercise for a rung."""

    class Meta:
        model = models.RungAlternative

    rung = SubFactory(RungFactory)
    clinic = SelfAttribute("rung.clinic")
    exercise = SubFactory(ExerciseFactory)
    because = AlternativeReason.PLACE


class ProgramFactory(DjangoModelFactory):
    """An active program without revisions: give it one with ProgramRevisionFactory."""

    class Meta:
        model = models.Program

    patient = SubFactory(PatientFactory)
    clinic = SelfAttribute("patient.clinic")
    title = "Ankle strength"
    status = models.ProgramStatus.ACTIVE
    created_by = SubFactory(UserFactory)
    created_at = STARTED_AT


class ProgramRevisionFactory(DjangoModelFactory):
    """An issued revision, daily from STARTED_ON; `draft=True` for one that is not issued."""

    class Meta:
        model = models.ProgramRevision

    class Params:
        draft = factory.Trait(
            status=models.RevisionStatus.DRAFT,
            issued_at=None,
            issued_by=None,
            effective_from=None,
        )

    program = SubFactory(ProgramFactory)
    clinic = SelfAttribute("program.clinic")
    number = 1
    status = models.RevisionStatus.ISSUED
    starts_on = STARTED_ON
    edited_by = SelfAttribute("program.created_by")
    edited_at = STARTED_AT
    issued_by = SelfAttribute("program.created_by")
    issued_at = STARTED_AT
    effective_from = STARTED_ON


class PrescriptionFactory(DjangoModelFactory):
    """Three sets of twelve, both legs together."""

    class Meta:
        model = models.Prescription

    revision = SubFactory(ProgramRevisionFactory)
    clinic = SelfAttribute("revision.clinic")
    position = Sequence(lambda number: number + 1)
    exercise_revision = LazyAttribute(
        lambda row: (
            ExerciseFactory(
                dose_kind=row.kind,
                side_mode=SideMode.BOTH_TOGETHER
                if row.side == Side.BILATERAL
                else SideMode.ALTERNATING
                if row.side == Side.ALTERNATE
                else SideMode.ONE_SIDE,
            ).current
        )
    )
    side = Side.BILATERAL
    kind = DoseKind.REPETITIONS
    sets = 3
    repetitions = 12
    rest_seconds = 45


class ProgramPauseFactory(DjangoModelFactory):
    """An open pause from today."""

    class Meta:
        model = models.ProgramPause

    program = SubFactory(ProgramFactory)
    clinic = SelfAttribute("program.clinic")
    starts_on = TODAY
    reason = models.PauseReason.AWAY
    set_by = SelfAttribute("program.created_by")
    created_at = NOW
