"""Today, and what hangs on it: yesterday, not done, this morning's pain, a pause."""

from __future__ import annotations

import uuid
from datetime import timedelta

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from adherence.access import access_session
from adherence.forms.session import NextMorningForm, NotDoneForm, PauseForm, WholeDayForm, posted
from adherence.operations.pauses import pause_own_program, resume_own_program
from adherence.operations.ratings import rate_morning
from adherence.operations.sessions import (
    SessionRefused,
    day_to_log,
    record_not_done,
)
from adherence.operations.whole_day import log_whole_day
from adherence.queries.today import items_for_day, today_page
from adherence.rules.barriers import Barrier
from clinic.access import own_record, patient_only, viewer_of
from clinic.queries import policy_of_patient
from programs.operations.programs import ProgramError
from shared import clock
from shared.dates import local_date


@require_safe
@patient_only
def today(request: HttpRequest) -> HttpResponse:
    """Show what is due today, one button to start it, and what is still asked."""
    now = clock.now()
    patient = own_record(viewer_of(request))
    page = today_page(patient, now=now)
    return render(
        request,
        "adherence/today.html",
        {"page": page, "patient": patient, "client_key": uuid.uuid4(), "now": now},
    )


@require_http_methods(["GET", "POST"])
@patient_only
def yesterday(request: HttpRequest) -> HttpResponse:
    """Enter yesterday's session from memory; it is marked as entered later."""
    now, viewer = clock.now(), viewer_of(request)
    patient = own_record(viewer)
    on = local_date(now, patient.timezone) - timedelta(days=1)
    items = items_for_day(patient, on=on)
    if not items:
        raise Http404
    form = WholeDayForm(posted(request), items=items)
    if request.method == "POST" and form.is_valid():
        try:
            log_whole_day(
                patient=patient,
                client_key=form.cleaned_data["client_key"],
                day=day_to_log(
                    patient=patient,
                    on=on,
                    now=now,
                    backfill_hours=policy_of_patient(patient).backfill_hours,
                ),
                told=form.told(),
                entered_by_id=viewer.user_id,
                now=now,
            )
        except SessionRefused as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, _("Yesterday's session is saved."))
            return redirect("today")
    return render(request, "adherence/yesterday.html", {"form": form, "on": on})


@require_http_methods(["GET", "POST"])
@patient_only
def not_done(request: HttpRequest) -> HttpResponse:
    """Say that a session was not done, and why. `on` may name yesterday."""
    now, viewer = clock.now(), viewer_of(request)
    patient = own_record(viewer)
    today_on = local_date(now, patient.timezone)
    on = today_on - timedelta(days=1) if request.GET.get("day") == "yesterday" else today_on
    form = NotDoneForm(posted(request))
    if request.method == "POST" and form.is_valid():
        try:
            record_not_done(
                patient=patient,
                client_key=form.cleaned_data["client_key"],
                day=day_to_log(
                    patient=patient,
                    on=on,
                    now=now,
                    backfill_hours=policy_of_patient(patient).backfill_hours,
                ),
                reason=Barrier(form.cleaned_data["reason"]),
                note=form.cleaned_data["note"],
                entered_by_id=viewer.user_id,
                now=now,
            )
        except SessionRefused as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, _("Saved. Thank you for saying so."))
            return redirect("today")
    return render(
        request,
        "adherence/not_done.html",
        {"form": form, "on": on, "is_yesterday": on < today_on},
    )


@require_http_methods(["GET", "POST"])
@patient_only
def next_morning(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """Answer the one question of the morning after."""
    session = access_session(viewer_of(request), session_id)
    form = NextMorningForm(posted(request))
    if request.method == "POST" and form.is_valid():
        try:
            rate_morning(
                session=session,
                client_key=form.cleaned_data["client_key"],
                score=form.cleaned_data["score"],
                now=clock.now(),
            )
        except SessionRefused as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, _("Saved. Your therapist can see it."))
            return redirect("today")
    return render(request, "adherence/next_morning.html", {"form": form, "session": session})


@require_http_methods(["GET", "POST"])
@patient_only
def pause(request: HttpRequest) -> HttpResponse:
    """Pause for some days in two taps, or go on again before they are over."""
    now, viewer = clock.now(), viewer_of(request)
    patient = own_record(viewer)
    form = PauseForm(posted(request))
    if request.method == "POST" and "resume" in request.POST:
        try:
            resume_own_program(patient=patient, now=now)
        except ProgramError as error:
            messages.info(request, str(error))
        else:
            messages.success(request, _("Welcome back. Your program goes on today."))
        return redirect("today")
    if request.method == "POST" and form.is_valid():
        try:
            pause_own_program(
                patient=patient,
                reason=form.cleaned_data["reason"],
                days=form.cleaned_data["days"],
                set_by_id=viewer.user_id,
                now=now,
            )
        except ProgramError as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, _("Your program is paused. Your therapist can see it."))
            return redirect("today")
    return render(
        request, "adherence/pause.html", {"form": form, "page": today_page(patient, now=now)}
    )
