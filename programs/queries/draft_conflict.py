"""What became of a draft while somebody else had it open."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _

from programs.models import Program, RevisionStatus
from programs.queries.editor import EditorSource
from programs.queries.program_page import changes_in_words, plan_of
from programs.rules.changes import Change, Plan


@dataclass(frozen=True)
class ConflictNotice:
    """Who did what with the draft and when, and how the typed version differs from theirs."""

    text: str
    at: datetime | None
    differences: tuple[Change, ...]
    has_draft: bool


def conflict_notice(
    program: Program, stored: EditorSource, typed: Plan | None, *, opened: uuid.UUID | None
) -> ConflictNotice:
    """Return the notice for an editor that opened `opened` (None: no draft) and came too late."""
    theirs = plan_of(
        stored.items,
        stored.schedule,
        pain_limit=stored.pain_limit,
        goes_on=stored.continue_after_sharp_pain,
    )
    text, at = _what_happened(program, stored, opened)
    return ConflictNotice(
        text=text,
        at=at,
        differences=changes_in_words(theirs, typed) if typed is not None else (),
        has_draft=stored.draft_id is not None,
    )


def _what_happened(
    program: Program, stored: EditorSource, opened: uuid.UUID | None
) -> tuple[str, datetime | None]:
    if stored.draft_id is not None:
        return _("%(name)s has saved this draft") % {"name": stored.edited_by}, stored.edited_at
    issued = (
        program.revisions.exclude(status=RevisionStatus.DRAFT)
        .filter(pk__in=[opened])
        .select_related("issued_by")
        .first()
    )
    if issued is not None and issued.issued_by is not None:
        name = {"name": issued.issued_by.name}
        return _("%(name)s has issued this draft") % name, issued.issued_at
    return _("This draft has been discarded"), None
