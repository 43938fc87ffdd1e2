"""Puts the viewer on the request and their time zone in force."""

from __future__ import annotations

from collections.abc import Callable
from typing import cast

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from clinic.access import ClinicRequest, viewer_for


class ViewerMiddleware:
    """Reads roles afresh at every request; signed-in pages are never stored by a shared cache."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Handle one request."""
        page = cast(ClinicRequest, request)
        page.viewer = viewer_for(page.user) if page.user.is_authenticated else None
        if page.viewer is None:
            return self.get_response(request)
        with timezone.override(page.viewer.timezone):
            response = self.get_response(request)
        response.headers.setdefault("Cache-Control", "no-store")
        return response
