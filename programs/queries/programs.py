"""Programs as the screens and the rules read them: revisions, items, spans and pauses."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Prefetch, Q
from django.utils.translation import gettext, ngettext

from programs.models import (
    ExerciseRevision,
    Prescription,
    Program,
    ProgramPause,
    ProgramRevision,
    ProgramStatus,
    RevisionStatus,
    Rung,
)
from programs.rules.dose import Dose, dose_wording
from programs.rules.library import ExerciseEntry
from programs.rules.schedule import Pause, RevisionSpan, Schedule


@dataclass(frozen=True)
class ItemView:
    """One prescription with the wording that the patient was given."""

    prescription_id: uuid.UUID
    position: int
    exercise_id: uuid.UUID
    exercise_revision_id: uuid.UUID
    entry: ExerciseEntry
    dose: Dose
    rung_id: uuid.UUID | None
    note: str

    @property
    def dose_text(self) -> str:
        """The dose in words of the reader's language."""
        return dose_wording(self.dose, gettext, ngettext)


@dataclass(frozen=True)
class RevisionView:
    """A revision without its items: when it is in force and what it says."""

    id: uuid.UUID
    number: int
    status: RevisionStatus
    schedule: Schedule
    effective_from: date | None
    effective_until: date | None
    pain_limit: int
    continue_after_sharp_pain: bool
    note_to_patient: str
    reason: str
    is_step_up: bool
    minutes: int
    issued_at: datetime | None
    issued_by: str

    def holds(self, day: date) -> bool:
        """Return whether this issued revision is in force on `day`."""
        return (
            self.effective_from is not None
            and self.effective_from <= day
            and (self.effective_until is None or day < self.effective_until)
        )


@dataclass(frozen=True)
class ProgramView:
    """A program over its whole life, as the rules take it. Drafts are not in it."""

    id: uuid.UUID
    patient_id: uuid.UUID
    title: str
    status: ProgramStatus
    completed_on: date | None
    revisions: tuple[RevisionView, ...]
    spans: tuple[RevisionSpan, ...]
    pauses: tuple[Pause, ...]
    has_draft: bool

    def revision_on(self, day: date) -> RevisionView | None:
        """Return the revision in force on `day`, None before the first."""
        return next((r for r in self.revisions if r.holds(day)), None)

    @property
    def latest(self) -> RevisionView | None:
        """The revision that was issued last."""
        return self.revisions[-1] if self.revisions else None

    @property
    def starts_on(self) -> date | None:
        """The first day on which a session can be due."""
        first = self.revisions[0] if self.revisions else None
        if first is None or first.effective_from is None:
            return None
        return max(first.effective_from, first.schedule.starts_on)

    def is_paused(self, day: date) -> bool:
        """Return whether a pause holds `day`."""
        return any(
            p.starts_on <= day and (p.ends_on is None or day < p.ends_on) for p in self.pauses
        )


def latest_programs(patient_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, ProgramView]:
    """Return by patient the live program, or else the one that ended last. Three queries."""
    programs = (
        Program.objects.filter(patient_id__in=list(patient_ids))
        .order_by("created_at", "id")
        .prefetch_related(
            Prefetch(
                "revisions",
                ProgramRevision.objects.select_related("issued_by").order_by("number"),
            ),
            Prefetch("pauses", ProgramPause.objects.order_by("starts_on")),
        )
    )
    found: dict[uuid.UUID, ProgramView] = {}
    for program in programs:
        found[program.patient_id] = program_view(program)
    return found


def latest_program(patient_id: uuid.UUID) -> ProgramView | None:
    """Return a patient's live program, or else the one that ended last."""
    return latest_programs([patient_id]).get(patient_id)


def program_view(program: Program) -> ProgramView:
    """Return a program as the rules take it."""
    rows = sorted(program.revisions.all(), key=lambda row: row.number)
    issued = [row for row in rows if row.status != RevisionStatus.DRAFT]
    return ProgramView(
        id=program.id,
        patient_id=program.patient_id,
        title=program.title,
        status=ProgramStatus(program.status),
        completed_on=program.completed_on,
        revisions=tuple(revision_view(row) for row in issued),
        spans=tuple(row.span for row in issued),
        pauses=tuple(pause.span for pause in program.pauses.all()),
        has_draft=len(issued) < len(rows),
    )


def revision_view(row: ProgramRevision) -> RevisionView:
    """Return a revision without its items."""
    return RevisionView(
        id=row.id,
        number=row.number,
        status=RevisionStatus(row.status),
        schedule=row.schedule,
        effective_from=row.effective_from,
        effective_until=row.effective_until,
        pain_limit=row.pain_limit,
        continue_after_sharp_pain=row.continue_after_sharp_pain,
        note_to_patient=row.note_to_patient,
        reason=row.reason,
        is_step_up=row.is_step_up,
        minutes=row.minutes,
        issued_at=row.issued_at,
        issued_by=row.issued_by.name if row.issued_by else "",
    )


def items_of(revision_id: uuid.UUID) -> tuple[ItemView, ...]:
    """Return a revision's items in the order of doing. One query."""
    return items_of_revisions([revision_id]).get(revision_id, ())


def items_of_revisions(
    revision_ids: Sequence[uuid.UUID],
) -> dict[uuid.UUID, tuple[ItemView, ...]]:
    """Return the items of several revisions. One query."""
    found: dict[uuid.UUID, list[ItemView]] = defaultdict(list)
    rows = (
        Prescription.objects.filter(revision_id__in=revision_ids)
        .select_related("exercise_revision")
        .order_by("revision", "position")
    )
    for row in rows:
        found[row.revision_id].append(
            ItemView(
                prescription_id=row.id,
                position=row.position,
                exercise_id=row.exercise_revision.exercise_id,
                exercise_revision_id=row.exercise_revision_id,
                entry=row.exercise_revision.entry,
                dose=row.dose,
                rung_id=row.rung_id,
                note=row.note,
            )
        )
    return {key: tuple(items) for key, items in found.items()}


def prescribable(
    *, clinic_id: uuid.UUID, revision_ids: Sequence[uuid.UUID], rung_ids: Sequence[uuid.UUID]
) -> tuple[dict[uuid.UUID, ExerciseRevision], set[uuid.UUID]]:
    """Return the exercise revisions and rungs among these ids that the clinic may prescribe."""
    shared_or_own = Q(clinic=None) | Q(clinic_id=clinic_id)
    revisions = ExerciseRevision.objects.filter(shared_or_own, pk__in=revision_ids)
    rungs = Rung.objects.filter(shared_or_own, pk__in=rung_ids).values_list("pk", flat=True)
    return {row.pk: row for row in revisions}, set(rungs)
