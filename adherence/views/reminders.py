"""When to be reminded, one tap to stop it, and for the clinic whether reminders leave."""

from __future__ import annotations

from datetime import time

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_safe

from adherence.forms.reminders import ReminderForm
from adherence.operations.reminders import set_preference, stop_by_token
from adherence.queries.reminders import delivery_page, own_reminders, reminders_can_stop
from clinic.access import admin_only, own_record, patient_only, viewer_of
from shared import clock


@require_http_methods(["GET", "HEAD", "POST"])
@patient_only
def preference(request: HttpRequest) -> HttpResponse:
    """Choose times of day on the own clock, or switch reminders off."""
    patient, now = own_record(viewer_of(request)), clock.now()
    own = own_reminders(patient, now=now)
    times = [time.fromisoformat(text) for text in own.times] + [None, None]
    form = ReminderForm(
        request.POST or None,
        initial={"is_on": own.is_on, "first": times[0] or time(9), "second": times[1]},
        quiet=(own.quiet_from, own.quiet_until),
    )
    if request.method == "POST" and form.is_valid():
        set_preference(
            patient=patient, is_on=form.cleaned_data["is_on"], times=form.times(), now=now
        )
        messages.success(request, _("Saved."))
        return redirect("reminder_preference")
    return render(request, "adherence/reminders.html", {"form": form, "own": own})


@csrf_exempt  # mail programs post here without a session (RFC 8058); the token is the right to act
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def stop(request: HttpRequest, token: str) -> HttpResponse:
    """Stop reminders without signing in. Looking (a link scanner does) changes nothing."""
    if not reminders_can_stop(token):
        raise Http404
    is_stopped = request.method == "POST"
    if is_stopped:
        stop_by_token(token=token, now=clock.now())
    return render(request, "adherence/reminders_stopped.html", {"is_stopped": is_stopped})


@require_safe
@admin_only
def delivery(request: HttpRequest) -> HttpResponse:
    """Show the clinic admin when sweeps last ran, and which reminders did not surely leave."""
    page = delivery_page(viewer_of(request).clinic_id, now=clock.now())
    return render(request, "adherence/reminder_delivery.html", {"page": page})
