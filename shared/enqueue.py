"""Ring the worker's bell once a transaction has committed; a row already holds the work."""

from __future__ import annotations

import logging
from typing import Any

from celery import Task
from django.db import transaction

from shared.failures import kind_and_place

logger = logging.getLogger(__name__)


def enqueue(task: Task, **ids: Any) -> None:
    """Send `task` after commit. A broker that is away is forgiven: a sweep finds the row."""

    def ring() -> None:
        try:
            task.apply_async(kwargs=ids)
        except Exception as error:  # noqa: BLE001 - the work is in the database, whatever it was
            logger.warning("%s left to the sweep: %s", task.name, kind_and_place(error))

    transaction.on_commit(ring)
