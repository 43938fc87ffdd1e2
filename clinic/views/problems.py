"""Answers to requests that could not be taken as they came."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Say that the page was open too long. `reason` is Django's, for developers only."""
    return render(request, "403_csrf.html", status=403)
