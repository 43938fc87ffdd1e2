"""Many threads that start at the same instant, each with a database connection of its own."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from django.db import connection


def race(count: int, function: Callable[[int], Any]) -> list[Any]:
    """Call `function(0)` to `function(count - 1)` at once; return results, or what they raised.

    The test needs `django_db(transaction=True)`: threads see only what has been committed.
    """
    start = threading.Barrier(count)

    def run(index: int) -> Any:
        try:
            connection.ensure_connection()
            start.wait(timeout=60)
            return function(index)
        except Exception as error:
            return error
        finally:
            connection.close()

    with ThreadPoolExecutor(max_workers=count) as threads:
        return list(threads.map(run, range(count)))
