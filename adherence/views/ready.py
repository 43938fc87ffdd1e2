"""Whether the whole installation is ready: database, broker, last sweeps. No names, no numbers."""

from __future__ import annotations

import redis
from django.conf import settings
from django.http import HttpRequest, JsonResponse
from django.views.decorators.http import require_safe

from adherence.queries.reminders import sweeps_state
from shared import clock


@require_safe
def ready(request: HttpRequest) -> JsonResponse:
    """Answer 200 when requests can be served, else 503.

    A broker that is away and a late sweep are told in `status`, and cost nobody their page: a
    patient can log all the same, and the sweeps catch up.
    """
    state = sweeps_state(now=clock.now()) | {"broker": _broker()}
    away = state["database"] == "away"
    state["status"] = "away" if away else "ok" if set(state.values()) == {"ok"} else "degraded"
    return JsonResponse(state, status=503 if away else 200, headers={"Cache-Control": "no-store"})


def _broker() -> str:
    try:
        with redis.Redis.from_url(
            settings.REDIS_URL, socket_timeout=1, socket_connect_timeout=1, retry=None
        ) as client:
            client.ping()
    except (redis.RedisError, OSError):
        return "away"
    return "ok"
