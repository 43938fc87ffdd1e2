"""A program as other programs read it: what was issued, and what is in force."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import date, datetime

from programs.models import Program, ProgramStatus, RevisionStatus
from programs.queries.programs import ItemView, RevisionView, items_of, revision_view


@dataclass(frozen=True)
class ProgramRecord:
    """A program with its issued revisions; drafts are not in it. `current` was issued last."""

    id: uuid.UUID
    patient_id: uuid.UUID
    title: str
    status: ProgramStatus
    created_at: datetime
    completed_on: date | None
    revisions: tuple[RevisionView, ...]
    current: RevisionView | None
    items: tuple[ItemView, ...]


def program_record(program: Program) -> ProgramRecord:
    """Return the record of a program. Two queries."""
    rows = (
        program.revisions.exclude(status=RevisionStatus.DRAFT)
        .select_related("issued_by")
        .order_by("number")
    )
    revisions = tuple(revision_view(row) for row in rows)
    current = revisions[-1] if revisions else None
    return ProgramRecord(
        id=program.id,
        patient_id=program.patient_id,
        title=program.title,
        status=ProgramStatus(program.status),
        created_at=program.created_at,
        completed_on=program.completed_on,
        revisions=revisions,
        current=current,
        items=items_of(current.id) if current else (),
    )
