"""Whether this process answers at all, for a load balancer."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe


@require_safe
def healthz(request: HttpRequest) -> HttpResponse:
    """Answer without touching database or broker."""
    return HttpResponse("ok", content_type="text/plain; charset=utf-8")
