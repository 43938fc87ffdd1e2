"""The start page: each role lands on its own work."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from clinic.access import Viewer
from clinic.rules.roles import Capability


@require_safe
@login_required
def home(request: HttpRequest) -> HttpResponse:
    """Send the viewer on; somebody whom no clinic knows any more is told so."""
    viewer: Viewer | None = getattr(request, "viewer", None)
    if viewer is None:
        return render(request, "clinic/no_clinic.html")
    if viewer.may(Capability.TREAT):
        return redirect("caseload")
    if viewer.may(Capability.MANAGE_PEOPLE):
        return redirect("clinic")
    return redirect("today")
