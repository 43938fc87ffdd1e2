"""Ring the worker's bell once a transaction has committed; a row already holds the work."""

from __future__ import annotations

import logging
from functools import partial
from typing import Any

from celery import Task
from django.db import transaction
from kombu.exceptions import OperationalError

logger = logging.getLogger(__name__)


def enqueue(task: Task, **ids: Any) -> None:
    """Send `task` after commit. A broker that is away is forgiven: a sweep finds the row."""
    transaction.on_commit(partial(_send, task, ids), robust=True)


def _send(task: Task, ids: dict[str, Any]) -> None:
    try:
        task.apply_async(kwargs=ids)
    except OperationalError:
        logger.warning("broker away, %s left to the sweep", task.name)
