"""What Carryover is for, and what it is not for; open to everybody."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe


@require_safe
def about(request: HttpRequest) -> HttpResponse:
    """Show intended use and cautions."""
    return render(request, "clinic/about.html")
