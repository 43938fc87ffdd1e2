"""A cache that outlives its server: while Redis is away, each process counts for itself.

Only limits are kept here, so a loss is a few attempts more or less. A request must never fail, or
wait, because the broker's server is away: a patient can always record.
"""

from __future__ import annotations

import json
import logging
import time
from collections.abc import Callable
from typing import Any

from django.core.cache.backends.base import BaseCache
from django.core.cache.backends.locmem import LocMemCache
from django.core.cache.backends.redis import RedisCache, RedisCacheClient
from redis.exceptions import RedisError

logger = logging.getLogger(__name__)

# After a failure the server is left alone for so long, in seconds, before it is tried again.
REST = 5.0


class JsonSerializer:
    """What is read back from the server is data, never code."""

    def dumps(self, value: Any) -> Any:
        """Return what to store; whole numbers as they are, so that the server can count."""
        return value if type(value) is int else json.dumps(value)

    def loads(self, data: Any) -> Any:
        """Return what was stored."""
        return json.loads(data)


class SteadyClient:
    """The client that a Redis cache talks to, with a store in memory to fall back on."""

    away_until = 0.0  # on the monotonic clock, for all threads of the process

    def __init__(self, servers: list[str], **options: Any) -> None:
        self._redis = RedisCacheClient(servers, serializer=JsonSerializer(), **options)
        self._memory: BaseCache = LocMemCache("while-redis-is-away", {})

    def __getattr__(self, name: str) -> Callable[..., Any]:
        """Return an operation that asks Redis, or the memory of this process when it is away."""

        def ask(*arguments: Any, **options: Any) -> Any:
            if time.monotonic() >= SteadyClient.away_until:
                try:
                    return getattr(self._redis, name)(*arguments, **options)
                except (RedisError, OSError) as error:
                    SteadyClient.away_until = time.monotonic() + REST
                    logger.warning("cache away (%s), counting alone", type(error).__name__)
            return getattr(self._memory, name)(*arguments, **options)

        return ask


class SteadyCache(RedisCache):
    """Django's Redis cache, which answers also while its server does not."""

    def __init__(self, server: str, params: dict[str, Any]) -> None:
        super().__init__(server, params)
        self._class = SteadyClient
