"""When to be reminded, and one tap to stop it."""

from __future__ import annotations

from datetime import time

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from adherence.forms.session import ReminderForm
from adherence.operations.reminders import set_preference, stop_by_token
from adherence.queries.reminders import own_reminders, reminders_can_stop
from clinic.access import own_record, patient_only, viewer_of
from shared import clock


@require_http_methods(["GET", "POST"])
@patient_only
def preference(request: HttpRequest) -> HttpResponse:
    """Choose times of day on the own clock, or switch reminders off."""
    patient = own_record(viewer_of(request))
    own = own_reminders(patient)
    times = [time.fromisoformat(text) for text in own.times] + [None, None]
    form = ReminderForm(
        request.POST or None,
        initial={"is_on": own.is_on, "first": times[0] or time(9), "second": times[1]},
    )
    if request.method == "POST" and form.is_valid():
        set_preference(
            patient=patient,
            is_on=form.cleaned_data["is_on"],
            times=form.times(),
            now=clock.now(),
        )
        messages.success(request, _("Saved."))
        return redirect("reminder_preference")
    return render(request, "adherence/reminders.html", {"form": form, "own": own})


@csrf_exempt  # mail programs post here without a session (RFC 8058); the token is the right to act
@require_http_methods(["GET", "POST"])
def stop(request: HttpRequest, token: str) -> HttpResponse:
    """Stop reminders without signing in. Looking (a link scanner does) changes nothing."""
    if request.method == "POST":
        if not stop_by_token(token=token, now=clock.now()):
            raise Http404
        return render(request, "adherence/reminders_stopped.html", {"is_stopped": True})
    if not reminders_can_stop(token):
        raise Http404
    return render(request, "adherence/reminders_stopped.html", {"is_stopped": False})
