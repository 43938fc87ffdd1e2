"""What the editor of a program does: save a draft whole, whether there was one before or not."""

from __future__ import annotations

import uuid
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from programs.models import Program, ProgramRevision, RevisionStatus
from programs.operations.programs import (
    DraftConflict,
    DraftContent,
    ProgramError,
    draft_revision,
    save_draft,
)
from programs.queries.programs import prescribable


@transaction.atomic
def save_program_draft(
    *,
    program: Program,
    draft_id: uuid.UUID | None,
    version: int,
    content: DraftContent,
    edited_by_id: int,
    now: datetime,
    today: date,
) -> ProgramRevision:
    """Save what an editor holds as the program's draft; `draft_id` None begins a new draft.

    Raises DraftConflict when somebody else has begun, saved, issued or discarded the draft since
    the editor was opened, and ProgramError when the program has ended or an exercise is not the
    clinic's to prescribe.
    """
    program = Program.objects.select_for_update().get(pk=program.pk)
    if not program.is_live:
        raise ProgramError(_("This program has ended."))
    _check_exercises(program, content)
    draft = program.revisions.filter(status=RevisionStatus.DRAFT).first()
    if (draft.pk if draft else None) != draft_id:
        raise DraftConflict(_("Somebody else has changed this draft."))
    if draft is None:
        draft = draft_revision(program=program, drafted_by_id=edited_by_id, now=now, today=today)
        version = draft.version
    return save_draft(
        draft=draft, version=version, content=content, edited_by_id=edited_by_id, now=now
    )


def _check_exercises(program: Program, content: DraftContent) -> None:
    revision_ids = {item.exercise_revision_id for item in content.items}
    rung_ids = {item.rung_id for item in content.items if item.rung_id is not None}
    revisions, rungs = prescribable(
        clinic_id=program.clinic_id, revision_ids=list(revision_ids), rung_ids=list(rung_ids)
    )
    if revision_ids - set(revisions) or rung_ids - rungs:
        raise ProgramError(_("This clinic cannot prescribe one of these exercises."))
