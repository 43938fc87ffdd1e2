"""Progression ladders: the list, and one drawn as steps."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from clinic.access import staff_only, viewer_of
from programs.access import access_ladder
from programs.queries.ladders import ladder_list, ladder_page


@require_safe
@staff_only
def ladders(request: HttpRequest) -> HttpResponse:
    """List the ladders."""
    rows = ladder_list(viewer_of(request).clinic_id)
    return render(request, "programs/ladders.html", {"ladders": rows})


@require_safe
@staff_only
def ladder(request: HttpRequest, slug: str) -> HttpResponse:
    """Show a ladder with what stands on each rung, and when to go on, stay or go back."""
    page = ladder_page(access_ladder(viewer_of(request), slug))
    return render(request, "programs/ladder.html", {"page": page})
