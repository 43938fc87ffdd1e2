"""My progress."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from adherence.queries.progress import progress_page
from clinic.access import own_record, patient_only, viewer_of
from shared import clock


@require_safe
@patient_only
def progress(request: HttpRequest) -> HttpResponse:
    """Show what was done and how it felt."""
    patient = own_record(viewer_of(request))
    return render(
        request, "adherence/progress.html", {"page": progress_page(patient, now=clock.now())}
    )
