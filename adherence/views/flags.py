"""What a therapist does about a flag, and follow-ups without one."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from adherence.access import access_flag, access_follow_up
from adherence.forms.follow_up import (
    CloseFlagForm,
    FlagAnswerForm,
    FollowUpDoneForm,
    FollowUpForm,
)
from adherence.operations.flags import (
    FlagError,
    acknowledge_flag,
    answer_flag,
    close_flag,
    complete_follow_up,
    record_follow_up,
)
from adherence.queries.follow_up import flag_page
from adherence.queries.words import follow_up_title
from clinic.access import access_patient, therapist_only, viewer_of
from shared import clock
from shared.dates import local_date

form_page = require_http_methods(["GET", "HEAD", "POST"])


@require_POST
@therapist_only
def acknowledge(request: HttpRequest, flag_id: uuid.UUID) -> HttpResponse:
    """Note that the viewer has seen a flag; back to where the button was."""
    viewer, now = viewer_of(request), clock.now()
    flag = access_flag(viewer, flag_id, at=now)
    acknowledge_flag(flag=flag, by_id=viewer.user_id, now=now)
    messages.success(
        request, _("Noted: you have seen the flag of %(name)s.") % {"name": flag.patient.name}
    )
    if request.POST.get("back") == "caseload":
        return redirect("caseload")
    return redirect("patient", flag.patient_id)


@form_page
@therapist_only
def follow_up(request: HttpRequest, flag_id: uuid.UUID) -> HttpResponse:
    """Record what was done about a flag, or plan it; perhaps close the flag with it."""
    viewer, now = viewer_of(request), clock.now()
    flag = access_flag(viewer, flag_id, at=now)
    form = FlagAnswerForm(
        request.POST if request.method == "POST" else None,
        today=local_date(now, flag.patient.timezone),
        initial=_suggested(request),
    )
    if request.method == "POST" and form.is_valid():
        try:
            answer_flag(flag=flag, by_id=viewer.user_id, now=now, **form.told())
        except FlagError as error:
            form.add_error("outcome", str(error))
        else:
            messages.success(request, _("Saved."))
            return redirect(_next_page(form.cleaned_data, flag.patient_id))
    context = {"form": form, "patient": flag.patient, "page": flag_page(flag)}
    return render(request, "adherence/follow_up_form.html", context)


@form_page
@therapist_only
def close(request: HttpRequest, flag_id: uuid.UUID) -> HttpResponse:
    """Close a flag with what came of it."""
    viewer, now = viewer_of(request), clock.now()
    flag = access_flag(viewer, flag_id, at=now)
    form = CloseFlagForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            close_flag(flag=flag, by_id=viewer.user_id, now=now, **form.told())
        except FlagError as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, _("The flag is closed."))
            return redirect("patient", flag.patient_id)
    context = {"form": form, "patient": flag.patient, "page": flag_page(flag)}
    return render(request, "adherence/flag_close.html", context)


@form_page
@therapist_only
def follow_up_new(request: HttpRequest, patient_id: uuid.UUID) -> HttpResponse:
    """Record or plan a follow-up that answers no flag."""
    viewer, now = viewer_of(request), clock.now()
    patient = access_patient(viewer, patient_id, at=now)
    form = FollowUpForm(
        request.POST if request.method == "POST" else None,
        today=local_date(now, patient.timezone),
        initial=_suggested(request),
    )
    if request.method == "POST" and form.is_valid():
        record_follow_up(patient=patient, flag=None, by_id=viewer.user_id, now=now, **form.told())
        messages.success(request, _("Saved."))
        return redirect(_next_page(form.cleaned_data, patient.pk))
    context = {"form": form, "patient": patient}
    return render(request, "adherence/follow_up_form.html", context)


@form_page
@therapist_only
def follow_up_done(request: HttpRequest, follow_up_id: uuid.UUID) -> HttpResponse:
    """Mark a planned follow-up as done, with how it went."""
    viewer, now = viewer_of(request), clock.now()
    planned = access_follow_up(viewer, follow_up_id, at=now)
    form = FollowUpDoneForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        complete_follow_up(follow_up=planned, note=form.cleaned_data["note"], now=now)
        messages.success(request, _("Marked as done."))
        return redirect("patient", planned.patient_id)
    context = {
        "form": form,
        "patient": planned.patient,
        "planned": planned,
        "what": follow_up_title(planned.kind),
    }
    return render(request, "adherence/follow_up_done.html", context)


def _suggested(request: HttpRequest) -> dict[str, Any]:
    """Return what a link has chosen beforehand: `?kind=CALL`."""
    kind = request.GET.get("kind", "")
    return {"kind": kind, "when": "DONE"} if kind else {"when": "DONE"}


def _next_page(data: dict[str, Any], patient_id: uuid.UUID) -> str:
    """A change of program said to be done now goes on in the program."""
    if data["kind"] == "CHANGE_PROGRAM" and data["when"] == "DONE":
        return reverse("program", args=[patient_id])
    return reverse("patient", args=[patient_id])
