"""Whether the whole installation is ready: database, broker, last sweeps. No names, no numbers."""

from __future__ import annotations

import redis
from django.conf import settings
from django.db.utils import DatabaseError
from django.http import HttpRequest, JsonResponse
from django.views.decorators.http import require_safe

from adherence.queries.reminders import sweeps_state
from shared import clock


@require_safe
def ready(request: HttpRequest) -> JsonResponse:
    """Answer 200 when requests can be served, else 503; a late sweep is told, not fatal."""
    state = {"database": "ok", "broker": "ok"}
    try:
        state |= sweeps_state(now=clock.now())
    except DatabaseError:
        state["database"] = "away"
    try:
        redis.Redis.from_url(settings.REDIS_URL, socket_timeout=1, socket_connect_timeout=1).ping()
    except redis.RedisError:
        state["broker"] = "away"
    status = 200 if state["database"] == state["broker"] == "ok" else 503
    return JsonResponse(state, status=status, headers={"Cache-Control": "no-store"})
