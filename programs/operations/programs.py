"""The life of a program: draft, issue, pause, resume, complete. Issued revisions never change."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import IntegrityError, transaction
from django.db.models import F, Max, Q, Value
from django.db.models.functions import Greatest
from django.utils.translation import gettext as _

from clinic.models import Patient
from programs.models import (
    PauseReason,
    Prescription,
    Program,
    ProgramPause,
    ProgramRevision,
    ProgramStatus,
    RevisionStatus,
)
from programs.models.program import LIVE
from programs.rules.dose import Dose, check_dose, session_minutes
from programs.rules.progression import is_step_up
from programs.rules.schedule import Schedule, check_schedule
from programs.rules.wording import Problem


class ProgramError(Exception):
    """A step that the program's state does not allow; the message says why in plain words."""


class DraftConflict(ProgramError):
    """Somebody else has saved this draft since it was opened."""


class NotReady(ProgramError):
    """The draft cannot be issued; `problems` are (position, problem), position None: the whole."""

    def __init__(self, problems: list[tuple[int | None, Problem]]) -> None:
        super().__init__(_("This program cannot be issued yet."))
        self.problems = problems


@dataclass(frozen=True)
class Item:
    """One exercise of a draft with its dose, in the order of doing."""

    exercise_revision_id: uuid.UUID
    dose: Dose
    rung_id: uuid.UUID | None = None
    note: str = ""


@dataclass(frozen=True)
class DraftContent:
    """Everything that an editor can change in a draft."""

    title: str
    items: Sequence[Item]
    schedule: Schedule
    pain_limit: int = 5
    continue_after_sharp_pain: bool = False
    note_to_patient: str = ""
    reason: str = ""


@transaction.atomic
def draft_program(
    *, patient: Patient, title: str, drafted_by_id: int, pain_limit: int, now: datetime, today: date
) -> ProgramRevision:
    """Begin a program for a patient and return its first draft, due daily from today.

    Raises ProgramError when the patient has a live program.
    """
    try:
        with transaction.atomic():
            program = Program.objects.create(
                clinic_id=patient.clinic_id,
                patient=patient,
                title=title,
                created_by_id=drafted_by_id,
                created_at=now,
            )
    except IntegrityError as error:
        raise ProgramError(_("This patient has a program already.")) from error
    return ProgramRevision.objects.create(
        clinic_id=patient.clinic_id,
        program=program,
        number=1,
        starts_on=today,
        pain_limit=pain_limit,
        edited_by_id=drafted_by_id,
        edited_at=now,
    )


@transaction.atomic
def draft_revision(
    *, program: Program, drafted_by_id: int, now: datetime, today: date
) -> ProgramRevision:
    """Return the program's draft, copied from the latest issued revision if there is none yet."""
    program = _lock(program)
    if program.status not in LIVE:
        raise ProgramError(_("This program has ended."))
    draft = program.revisions.filter(status=RevisionStatus.DRAFT).first()
    if draft is not None:
        return draft
    issued = program.revisions.get(status=RevisionStatus.ISSUED)
    items = list(issued.prescriptions.order_by("position"))
    draft = issued
    draft.pk = uuid.uuid4()
    draft._state.adding = True
    draft.number = _next_number(program)
    draft.status = RevisionStatus.DRAFT
    draft.starts_on = max(issued.starts_on, today)
    if issued.ends_on is not None and issued.ends_on < draft.starts_on:
        draft.ends_on = None
    draft.issued_by = None
    draft.issued_at = draft.effective_from = draft.effective_until = None
    draft.note_to_patient = draft.reason = ""
    draft.is_step_up = False
    draft.version = 1
    draft.edited_by_id, draft.edited_at = drafted_by_id, now
    draft.save(force_insert=True)
    for item in items:
        item.pk = uuid.uuid4()
        item.revision = draft
        item._state.adding = True
    Prescription.objects.bulk_create(items)
    return draft


@transaction.atomic
def save_draft(
    *,
    draft: ProgramRevision,
    version: int,
    content: DraftContent,
    edited_by_id: int,
    now: datetime,
) -> ProgramRevision:
    """Replace a draft's content. `version` is the one that the editor opened.

    Raises DraftConflict when it has been saved or issued by somebody else since.
    """
    _lock(Program(pk=draft.program_id))  # in the order of issuing, or the two wait in a circle
    schedule = content.schedule
    saved = ProgramRevision.objects.filter(
        pk=draft.pk, status=RevisionStatus.DRAFT, version=version
    ).update(
        version=F("version") + 1,
        pattern=schedule.pattern,
        times_per_day=schedule.times_per_day,
        weekdays=sorted(schedule.weekdays),
        every_days=schedule.every_days,
        weekly_quota=schedule.weekly_quota,
        starts_on=schedule.starts_on,
        ends_on=schedule.ends_on,
        pain_limit=content.pain_limit,
        continue_after_sharp_pain=content.continue_after_sharp_pain,
        note_to_patient=content.note_to_patient,
        reason=content.reason,
        minutes=session_minutes([item.dose for item in content.items]),
        edited_by_id=edited_by_id,
        edited_at=now,
    )
    if saved != 1:
        raise DraftConflict(_("Somebody else has changed this draft."))
    Program.objects.filter(pk=draft.program_id).update(title=content.title)
    Prescription.objects.filter(revision=draft).delete()
    Prescription.objects.bulk_create(
        [_prescription(draft, position, item) for position, item in enumerate(content.items, 1)]
    )
    draft.refresh_from_db()
    return draft


def _prescription(draft: ProgramRevision, position: int, item: Item) -> Prescription:
    dose = item.dose
    return Prescription(
        clinic_id=draft.clinic_id,
        revision=draft,
        position=position,
        exercise_revision_id=item.exercise_revision_id,
        rung_id=item.rung_id,
        side=dose.side,
        kind=dose.kind,
        sets=dose.sets,
        repetitions=dose.repetitions,
        hold_seconds=dose.hold_seconds,
        duration_seconds=dose.duration_seconds,
        rest_seconds=dose.rest_seconds,
        tempo=list(dose.tempo) if dose.tempo else None,
        load_value=dose.load_value,
        load_unit=dose.load_unit,
        band=dose.band,
        effort_target=dose.effort_target,
        note=item.note,
    )


def problems_of(draft: ProgramRevision) -> list[tuple[int | None, Problem]]:
    """Return what stands against issuing a draft, and notices: (position or None, problem)."""
    items = list(draft.prescriptions.select_related("exercise_revision").order_by("position"))
    found: list[tuple[int | None, Problem]] = [
        (None, problem) for problem in check_schedule(draft.schedule)
    ]
    if not items:
        found.append((None, Problem("items", "EMPTY", "Choose at least one exercise.")))
    for item in items:
        entry = item.exercise_revision.entry
        found += [
            (item.position, problem)
            for problem in check_dose(
                item.dose,
                allowed_kind=entry.dose.kind,
                side_mode=entry.side_mode,
                dose_range=entry.dose,
            )
        ]
    return found


@transaction.atomic
def issue_revision(
    *, draft: ProgramRevision, version: int, issued_by_id: int, now: datetime, today: date
) -> ProgramRevision:
    """Issue a draft: from `today` or its later start it is in force, and the one before ends there.

    `today` is the patient's local date. Raises NotReady with every error, DraftConflict when the
    draft is not the one that was looked at.
    """
    program = _lock(Program(pk=draft.program_id))
    draft = ProgramRevision.objects.get(pk=draft.pk)
    if draft.status != RevisionStatus.DRAFT or draft.version != version:
        raise DraftConflict(_("This draft has changed since you opened it. Look at it again."))
    problems = [(position, p) for position, p in problems_of(draft) if p.is_error]
    if draft.ends_on is not None and draft.ends_on < today:
        problems.append((None, Problem("ends_on", "PAST", "The last day has passed already.")))
    if problems:
        raise NotReady(problems)
    in_force = program.revisions.filter(status=RevisionStatus.ISSUED).first()
    start = max(today, draft.starts_on)
    step_up = False
    if in_force is not None:
        step_up = is_step_up(_doses(in_force), _doses(draft))
        _end_spans_at(program, in_force, start)
    ProgramRevision.objects.filter(pk=draft.pk).update(
        status=RevisionStatus.ISSUED,
        issued_by_id=issued_by_id,
        issued_at=now,
        effective_from=start,
        is_step_up=step_up,
        minutes=session_minutes(list(_doses(draft).values())),
    )
    Program.objects.filter(pk=program.pk).update(status=ProgramStatus.ACTIVE)
    draft.refresh_from_db()
    return draft


def _doses(revision: ProgramRevision) -> dict[uuid.UUID, Dose]:
    rows = revision.prescriptions.select_related("exercise_revision").order_by("position")
    return {row.exercise_revision.exercise_id: row.dose for row in rows}


def _end_spans_at(program: Program, in_force: ProgramRevision, start: date) -> None:
    """End every earlier span at `start`; one that was to begin later becomes empty."""
    program.revisions.filter(status=RevisionStatus.SUPERSEDED, effective_until__gt=start).update(
        effective_until=Greatest(F("effective_from"), Value(start))
    )
    program.revisions.filter(pk=in_force.pk).update(
        status=RevisionStatus.SUPERSEDED,
        effective_until=max(start, in_force.effective_from or start),
    )


@transaction.atomic
def discard_draft(*, draft: ProgramRevision) -> None:
    """Throw a draft away; a program that was never issued goes with it."""
    program = _lock(Program(pk=draft.program_id))
    ProgramRevision.objects.filter(pk=draft.pk, status=RevisionStatus.DRAFT).delete()
    if program.status == ProgramStatus.DRAFT:
        program.delete()


@transaction.atomic
def pause_program(
    *,
    program: Program,
    starts_on: date,
    ends_on: date | None,
    reason: PauseReason,
    set_by_id: int,
    now: datetime,
) -> ProgramPause:
    """Let nothing be due over [starts_on, ends_on). ProgramError when a pause is there already."""
    program = _lock(program)
    if program.status != ProgramStatus.ACTIVE:
        raise ProgramError(_("Only a program that has been issued can be paused."))
    if ends_on is not None and ends_on <= starts_on:
        raise ProgramError(_("The program goes on after the pause has begun: choose a later day."))
    overlap = program.pauses.filter(Q(ends_on=None) | Q(ends_on__gt=starts_on))
    if ends_on is not None:
        overlap = overlap.filter(starts_on__lt=ends_on)
    if overlap.exists():
        raise ProgramError(_("There is a pause on these days already."))
    return ProgramPause.objects.create(
        clinic_id=program.clinic_id,
        program=program,
        starts_on=starts_on,
        ends_on=ends_on,
        reason=reason,
        set_by_id=set_by_id,
        created_at=now,
    )


@transaction.atomic
def resume_program(*, program: Program, today: date) -> int:
    """End what holds today or is to come; sessions are due again from today. Return how many."""
    program = _lock(program)
    program.pauses.filter(starts_on__gt=today).delete()
    return program.pauses.filter(Q(ends_on=None) | Q(ends_on__gt=today)).update(ends_on=today)


@transaction.atomic
def complete_program(*, program: Program, today: date) -> Program:
    """End a program well: nothing is due from today on, and its draft is dropped."""
    program = _lock(program)
    if program.status != ProgramStatus.ACTIVE:
        raise ProgramError(_("Only a program that has been issued can be completed."))
    program.revisions.filter(status=RevisionStatus.DRAFT).delete()
    program.status = ProgramStatus.COMPLETED
    program.completed_on = today
    program.save(update_fields=["status", "completed_on"])
    return program


def _lock(program: Program) -> Program:
    """Take the program's row, so that two people change it one after the other."""
    return Program.objects.select_for_update().get(pk=program.pk)


def _next_number(program: Program) -> int:
    latest = program.revisions.aggregate(latest=Max("number"))["latest"]
    return int(latest or 0) + 1
