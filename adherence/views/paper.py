"""Entering the paper log of a patient, day by day."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from adherence.forms.follow_up import PaperDayChoiceForm, PaperForm
from adherence.operations.paper import PAPER_DAYS, log_paper_day
from adherence.operations.sessions import SessionRefused
from adherence.queries.paper import paper_page
from clinic.access import access_patient, therapist_only, viewer_of
from shared import clock


@require_http_methods(["GET", "HEAD", "POST"])
@therapist_only
def paper_log(request: HttpRequest, patient_id: uuid.UUID) -> HttpResponse:
    """Enter one day from paper. `on` chooses the day; without it the oldest missing one."""
    viewer, now = viewer_of(request), clock.now()
    patient = access_patient(viewer, patient_id, at=now)
    choice = PaperDayChoiceForm(request.GET)
    on = choice.cleaned_data["on"] if choice.is_valid() else None
    page = paper_page(patient, on=on, days=PAPER_DAYS, now=now)
    form = None
    if page.on is not None and page.items:
        form = PaperForm(request.POST if request.method == "POST" else None, items=page.items)
        form.helper.form_action = f"?on={page.on.isoformat()}"
        if request.method == "POST" and form.is_valid():
            try:
                log_paper_day(
                    patient=patient,
                    client_key=form.cleaned_data["client_key"],
                    on=page.on,
                    paper=form.paper(),
                    entered_by_id=viewer.user_id,
                    now=now,
                )
            except SessionRefused as error:
                form.add_error(None, str(error))
            else:
                day = date_format(page.on, "l j F")
                messages.success(request, _("%(day)s is saved.") % {"day": day})
                return redirect("paper_log", patient.pk)
    context = {"patient": patient, "page": page, "form": form, "days": PAPER_DAYS}
    return render(request, "adherence/paper_log.html", context)
