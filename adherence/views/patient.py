"""The patient page: flags, the course of work and pain, the program, and what was done."""

from __future__ import annotations

import uuid

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from adherence.queries.course import course_page
from clinic.access import access_patient, therapist_only, viewer_of
from shared import clock


@require_safe
@therapist_only
def patient(request: HttpRequest, patient_id: uuid.UUID) -> HttpResponse:
    """Show one patient of the viewer's. `span` chooses how far back the course goes."""
    now = clock.now()
    record = access_patient(viewer_of(request), patient_id, at=now)
    page = course_page(record, span=request.GET.get("span", ""), now=now)
    spans = (("2w", _("2 weeks")), ("6w", _("6 weeks")), ("12w", _("12 weeks")), ("all", _("All")))
    return render(request, "adherence/patient.html", {"page": page, "spans": spans})
