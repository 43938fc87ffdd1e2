"""The program editor and the step from draft to issued."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from clinic.access import therapist_only, viewer_of
from programs.access import access_program
from programs.forms import LABELS, DraftEditor, editor_page
from programs.operations.drafting import save_program_draft
from programs.operations.programs import (
    DraftConflict,
    NotReady,
    ProgramError,
    issue_revision,
    problems_of,
)
from programs.queries.draft_conflict import conflict_notice
from programs.queries.editor import editor_source
from programs.queries.issue_page import draft_against_force
from shared import clock
from shared.dates import local_date


@require_http_methods(["GET", "HEAD", "POST"])
@therapist_only
def program_edit(request: HttpRequest, program_id: uuid.UUID) -> HttpResponse:
    """Edit the draft on one page; without one, begin from what is in force.

    Buttons that add, remove or move an exercise answer with the changed page and store nothing.
    """
    viewer, now = viewer_of(request), clock.now()
    program = access_program(viewer, program_id, at=now)
    today = local_date(now, program.patient.timezone)
    source = editor_source(program, today=today)
    if source is None or (request.method != "POST" and not program.is_live):
        messages.info(request, _("This program has ended. Begin a new one to change something."))
        return redirect("program", program.patient_id)
    context: dict[str, Any] = {"patient": program.patient, "program": program, "source": source}
    if request.method != "POST":
        editor = DraftEditor.opened(source, clinic_id=viewer.clinic_id)
        return _editor_page(request, editor, context)
    editor = DraftEditor.posted(request.POST, clinic_id=viewer.clinic_id)
    action = request.POST.get("action", "save")
    if action not in ("save", "review"):
        editor.act(action)
        return _editor_page(request, editor, context)
    if not editor.is_valid():
        return _editor_page(request, editor, context)
    try:
        draft = save_program_draft(
            program=program,
            draft_id=editor.draft_id,
            version=editor.version,
            content=editor.content(),
            edited_by_id=viewer.user_id,
            now=now,
            today=today,
        )
    except DraftConflict:
        context["conflict"] = conflict_notice(
            program, source, editor.plan(), opened=editor.draft_id
        )
        editor.take_over(source)
        return _editor_page(request, editor, context)
    except ProgramError as refusal:
        context["refusal"] = str(refusal)
        return _editor_page(request, editor, context)
    if action == "review":
        return redirect("program_issue", draft.program_id)
    messages.success(request, _("The draft is saved. The patient does not see it yet."))
    return redirect("program_edit", draft.program_id)


def _editor_page(
    request: HttpRequest, editor: DraftEditor, context: dict[str, Any]
) -> HttpResponse:
    page = editor_page(editor)
    return render(request, "programs/program_edit.html", context | {"editor": editor, "page": page})


@require_http_methods(["GET", "HEAD", "POST"])
@therapist_only
def program_issue(request: HttpRequest, program_id: uuid.UUID) -> HttpResponse:
    """Show in words what issuing changes; POST issues exactly what was shown."""
    viewer, now = viewer_of(request), clock.now()
    program = access_program(viewer, program_id, at=now)
    today = local_date(now, program.patient.timezone)
    row = draft_against_force(program, today=today)
    if row is None:
        messages.info(request, _("There is no draft to issue."))
        return redirect("program", program.patient_id)
    context: dict[str, Any] = {"patient": program.patient, "program": program, "row": row}
    problems = problems_of(row.draft)
    if request.method == "POST":
        try:
            issued = issue_revision(
                draft=row.draft,
                version=_version(request.POST.get("version", "")),
                issued_by_id=viewer.user_id,
                now=now,
                today=today,
            )
        except DraftConflict as refusal:
            context["refusal"] = str(refusal)
        except NotReady as refusal:
            context["refusal"], problems = str(refusal), refusal.problems
        else:
            waits = (issued.effective_from or today) > today
            messages.success(request, _issued_text(program.patient.given_name, waits=waits))
            return redirect("program", program.patient_id)
    names = {item.position: item.name for item in row.items}
    context["problems"] = [
        {
            "subject": names.get(position, "") if position else "",
            "field": LABELS.get(problem.field, ""),
            "text": problem.text(_),
            "is_error": problem.is_error,
        }
        for position, problem in problems
    ]
    context["is_ready"] = not any(problem.is_error for _position, problem in problems)
    return render(request, "programs/program_issue.html", context)


def _issued_text(name: str, *, waits: bool) -> str:
    if waits:
        return _("Issued. %(name)s gets it when it begins.") % {"name": name}
    return _("Issued. %(name)s gets it today.") % {"name": name}


def _version(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else 0
