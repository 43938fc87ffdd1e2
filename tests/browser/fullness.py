"""Records as full and names as long as the product has to bear, made on top of the world."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from typing import Any

from django.db.models import F, Value
from django.db.models.functions import Concat

from adherence.models import FlagStatus, FollowUpStatus, Outcome, SessionLog, SessionStatus
from adherence.operations.flags import review_patient
from adherence.rules.barriers import Barrier
from adherence.rules.flags import FlagKind, Severity
from clinic.models import Clinic, Membership, Patient, User
from programs.models import (
    Exercise,
    ExerciseRevision,
    Ladder,
    PauseReason,
    Prescription,
    Program,
    ProgramRevision,
    ProgramStatus,
)
from programs.operations.programs import pause_program
from tests import factories
from tests.factories import JOINED, NOW, STARTED_ON, TODAY
from tests.world import World

LONG_WORD = "Donaudampfschifffahrtsgesellschaft"
LONG_NOTE = (
    "Slow on the way down, please, and stop a little before the end of the movement for now. "
    "The first week may feel like a lot; a tired leg is fine, a sharp pain is not. "
) * 2
REASONS = (Barrier.PAIN_FLARE, Barrier.FORGOT, Barrier.FEELS_BETTER)


def fill(world: World) -> World:
    """Give `patient` five weeks of entries with rising pain, a past, and everybody long names."""
    therapist, patient = world.people["therapist"], world.people["patient"]
    assert isinstance(patient, Patient) and isinstance(therapist, Membership)
    program = Program.objects.get(pk=world.ours["program_id"])
    log_weeks(program.revisions.get(number=1), until=TODAY - timedelta(days=2))
    _past(program, therapist)
    review_patient(patient_id=patient.pk, now=NOW)
    lengthen_names()
    return world


def log_weeks(revision: ProgramRevision, *, until: date) -> None:
    """Log a session for most days from the start: pain goes up, and some were not done."""
    day = STARTED_ON
    while day <= until:
        age = (until - day).days
        started = datetime.combine(day, time(9), NOW.tzinfo)
        if age % 9 == 4:
            factories.SessionLogFactory(
                revision=revision,
                local_date=day,
                status=SessionStatus.NOT_DONE,
                finished_at=started,
                reason=REASONS[age % len(REASONS)],
                note=LONG_NOTE if age < 9 else "",
            )
        elif age % 7 != 3:
            session = factories.SessionLogFactory(revision=revision, local_date=day, done=True)
            score = 7 if age < 8 else 2 + age % 2
            factories.PainRatingFactory(session=session, score=score)
        day += timedelta(days=1)


def _past(program: Program, therapist: Membership) -> None:
    """Add ended flags, follow-ups of each kind, an earlier program and a pause that is over."""
    patient, user = program.patient, therapist.user
    ended = {"program": program, "raised_on": STARTED_ON, "ended_at": NOW, "ended_on": TODAY}
    factories.FlagFactory(kind=FlagKind.NOT_STARTED, status=FlagStatus.CLEARED, **ended)
    factories.FlagFactory(
        kind=FlagKind.SHARP_PAIN,
        severity=Severity.ACT_NOW,
        status=FlagStatus.CLOSED,
        closed_by=user,
        outcome=Outcome.ADVICE_GIVEN,
        closing_note=LONG_NOTE,
        **ended,
    )
    factories.FollowUpFactory(patient=patient, note=LONG_NOTE, recorded_by=user)
    factories.FollowUpFactory(
        patient=patient,
        status=FollowUpStatus.PLANNED,
        due_on=TODAY - timedelta(days=3),
        done_at=None,
        note=LONG_NOTE,
        recorded_by=user,
    )
    earlier = factories.ProgramFactory(
        patient=patient,
        title="Gentle start after the operation",
        status=ProgramStatus.COMPLETED,
        completed_on=STARTED_ON - timedelta(days=3),
        created_by=user,
        created_at=JOINED,
    )
    revision = factories.ProgramRevisionFactory(
        program=earlier,
        starts_on=JOINED.date(),
        effective_from=JOINED.date(),
        issued_at=JOINED,
        edited_at=JOINED,
    )
    factories.PrescriptionFactory(revision=revision, position=1, note=LONG_NOTE[:200])
    factories.ProgramPauseFactory(
        program=program,
        starts_on=STARTED_ON + timedelta(days=12),
        ends_on=STARTED_ON + timedelta(days=15),
        reason=PauseReason.UNWELL,
        set_by=user,
    )


def lengthen_names() -> None:
    """Make every name and title as long as people's are, some of them without a space."""
    Patient.objects.update(
        given_name=Concat(F("given_name"), Value("-Magdalena Theodora")),
        family_name=Concat(F("family_name"), Value(f"-{LONG_WORD}")),
        problem="Torn meniscus of the right knee, six weeks after the operation, and a stiff ankle",
    )
    User.objects.update(name=Concat(F("name"), Value(f" van {LONG_WORD}")))
    Clinic.objects.update(name=Concat(F("name"), Value(" for Rehabilitation and Movement")))
    Program.objects.update(title=Concat(F("title"), Value(" and confidence on uneven ground")))
    ProgramRevision.objects.filter(status="DRAFT").update(note_to_patient=LONG_NOTE)
    Ladder.objects.update(name=Concat(F("name"), Value(" from sitting to standing on one leg")))
    for exercise in Exercise.objects.all():
        name = f"{exercise.name} against a {LONG_WORD.lower()} with both arms forward"
        Exercise.objects.filter(pk=exercise.pk).update(name=name)
        for wording in ExerciseRevision.objects.filter(exercise=exercise):
            # The wording of an issued revision is immutable: written beside the rules, for looks.
            ExerciseRevision.objects.filter(pk=wording.pk).update(
                content=wording.content | {"name": name}
            )


def caseload_of_every_kind(
    therapist: Membership, issue_program: Callable[..., Program]
) -> dict[str, Patient]:
    """Give the therapist a patient in each state that a caseload shows; return them by state."""
    made: dict[str, Patient] = {}

    def add(state: str, **fields: Any) -> Patient:
        made[state] = factories.PatientFactory(
            clinic=therapist.clinic, given_name=state.title(), **fields
        )
        factories.CareRelationshipFactory(patient=made[state], therapist=therapist)
        return made[state]

    add("new")
    issue_program(add("silent"), therapist)
    issue_program(add("paper", user=None, uses_paper=True, phone="01632 960 111"), therapist)
    issue_program(add("fresh"), therapist, at=NOW)
    paused = issue_program(add("paused"), therapist)
    pause_program(
        program=paused,
        starts_on=TODAY - timedelta(days=2),
        ends_on=None,
        reason=PauseReason.AWAY,
        set_by_id=therapist.user_id,
        now=NOW,
    )
    steady = issue_program(add("steady", next_visit_on=TODAY + timedelta(days=6)), therapist)
    log_weeks(steady.revisions.get(), until=TODAY - timedelta(days=1))
    sharp = issue_program(add("sharp"), therapist).revisions.get()
    session = factories.SessionLogFactory(revision=sharp, local_date=TODAY)
    factories.ExerciseStopFactory(
        session=session, prescription=Prescription.objects.filter(revision=sharp).first()
    )
    for patient in made.values():
        review_patient(patient_id=patient.pk, now=NOW)
    assert SessionLog.objects.filter(patient=made["steady"]).exists()
    return made
