"""A patient's program: what holds, how it came to be, and its life from pause to completion."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from clinic.access import access_patient, therapist_only, viewer_of
from clinic.queries.policy import policy_of_patient
from programs.access import access_program
from programs.forms import NewProgramForm, PauseForm
from programs.operations.programs import (
    ProgramError,
    complete_program,
    discard_draft,
    draft_program,
    pause_program,
    resume_program,
)
from programs.queries.editor import current_draft
from programs.queries.issue_page import handout
from programs.queries.program_page import program_page, revision_page
from shared import clock
from shared.dates import local_date


@require_safe
@therapist_only
def program(request: HttpRequest, patient_id: uuid.UUID) -> HttpResponse:
    """Show what the patient is given now, what changed when, and pauses."""
    viewer, now = viewer_of(request), clock.now()
    patient = access_patient(viewer, patient_id, at=now)
    today = local_date(now, patient.timezone)
    page = program_page(patient.pk, today=today)
    return render(
        request, "programs/program.html", {"patient": patient, "page": page, "today": today}
    )


@require_http_methods(["GET", "HEAD", "POST"])
@therapist_only
def program_new(request: HttpRequest, patient_id: uuid.UUID) -> HttpResponse:
    """Ask for a title and begin a draft."""
    viewer, now = viewer_of(request), clock.now()
    patient = access_patient(viewer, patient_id, at=now)
    form = NewProgramForm(
        request.POST if request.method == "POST" else None, initial={"title": patient.problem}
    )
    if request.method == "POST" and form.is_valid():
        try:
            draft = draft_program(
                patient=patient,
                title=form.cleaned_data["title"],
                drafted_by_id=viewer.user_id,
                pain_limit=policy_of_patient(patient).pain_limit,
                now=now,
                today=local_date(now, patient.timezone),
            )
        except ProgramError as refusal:
            messages.warning(request, str(refusal))
            return redirect("program", patient.pk)
        return redirect("program_edit", draft.program_id)
    context = {"patient": patient, "form": form, "title": _("New program")}
    return render(request, "programs/program_form.html", context)


@require_safe
@therapist_only
def program_revision(request: HttpRequest, program_id: uuid.UUID, number: int) -> HttpResponse:
    """Show one issued revision as it was, and what it changed."""
    viewer, now = viewer_of(request), clock.now()
    record = access_program(viewer, program_id, at=now)
    page = revision_page(record, number)
    if page is None:
        raise Http404
    context = {"patient": record.patient, "program": record, "page": page}
    return render(request, "programs/program_revision.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@therapist_only
def program_pause(request: HttpRequest, program_id: uuid.UUID) -> HttpResponse:
    """Let nothing be due for a while."""
    viewer, now = viewer_of(request), clock.now()
    record = access_program(viewer, program_id, at=now)
    today = local_date(now, record.patient.timezone)
    form = PauseForm(
        request.POST if request.method == "POST" else None, initial={"starts_on": today}
    )
    if request.method == "POST" and form.is_valid():
        try:
            pause_program(program=record, set_by_id=viewer.user_id, now=now, **form.cleaned_data)
        except ProgramError as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, _("Paused. Nothing is due and no reminders are sent."))
            return redirect("program", record.patient_id)
    context = {
        "patient": record.patient,
        "form": form,
        "title": _("Pause the program"),
        "lead": _("Days of a pause are not due, so they never count as missed."),
    }
    return render(request, "programs/program_form.html", context)


@require_POST
@therapist_only
def program_resume(request: HttpRequest, program_id: uuid.UUID) -> HttpResponse:
    """End a pause, and drop one that is to come: sessions are due again from today."""
    viewer, now = viewer_of(request), clock.now()
    record = access_program(viewer, program_id, at=now)
    resume_program(program=record, today=local_date(now, record.patient.timezone))
    messages.success(request, _("Resumed. Sessions are due again from today."))
    return redirect("program", record.patient_id)


@require_http_methods(["GET", "HEAD", "POST"])
@therapist_only
def program_complete(request: HttpRequest, program_id: uuid.UUID) -> HttpResponse:
    """Ask once more, then end the program well."""
    viewer, now = viewer_of(request), clock.now()
    record = access_program(viewer, program_id, at=now)
    if request.method == "POST":
        try:
            complete_program(program=record, today=local_date(now, record.patient.timezone))
        except ProgramError as refusal:
            messages.warning(request, str(refusal))
        else:
            messages.success(request, _("Completed. Nothing is due any more."))
        return redirect("program", record.patient_id)
    context = {
        "patient": record.patient,
        "program": record,
        "title": _("Complete the program?"),
        "text": _(
            "Nothing is due from today on and no reminders are sent. A draft that has not been "
            "issued is dropped. What was done stays on record. A new program can be begun at "
            "any time."
        ),
        "label": _("Complete"),
    }
    return render(request, "programs/program_confirm.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@therapist_only
def program_discard(request: HttpRequest, program_id: uuid.UUID) -> HttpResponse:
    """Ask once more, then throw the draft away; what is in force stays."""
    viewer, now = viewer_of(request), clock.now()
    record = access_program(viewer, program_id, at=now)
    draft = current_draft(record)
    if draft is None:
        messages.info(request, _("There is no draft to discard."))
        return redirect("program", record.patient_id)
    if request.method == "POST":
        discard_draft(draft=draft)
        messages.success(request, _("The draft is discarded."))
        return redirect("program", record.patient_id)
    context = {
        "patient": record.patient,
        "program": record,
        "title": _("Discard the draft?"),
        "text": _("What is typed in it is lost. What has been issued stays as it is."),
        "label": _("Discard"),
        "is_danger": True,
    }
    return render(request, "programs/program_confirm.html", context)


@require_safe
@therapist_only
def program_print(request: HttpRequest, program_id: uuid.UUID) -> HttpResponse:
    """Show the program as a handout for paper, with two weeks to tick."""
    viewer, now = viewer_of(request), clock.now()
    record = access_program(viewer, program_id, at=now)
    today = local_date(now, record.patient.timezone)
    page = program_page(record.patient_id, today=today, program_id=record.pk)
    if page.program is None or page.current is None:
        messages.info(request, _("Nothing has been issued yet, so there is nothing to print."))
        return redirect("program", record.patient_id)
    context = {
        "patient": record.patient,
        "program": record,
        "handout": handout(page.program, page.current, today=today),
        "today": today,
    }
    return render(request, "programs/program_print.html", context)
