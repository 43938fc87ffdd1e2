"""The one reader of the clock. Everything below the interfaces takes the time as an argument."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.conf import settings
from django.utils import timezone


def now() -> datetime:
    """Return the present instant (aware, UTC), moved only where the demo names a clock file."""
    instant = timezone.now()
    if settings.DEMO_CLOCK_FILE is None:
        return instant
    return instant + offset()


def offset() -> timedelta:
    """Return how far the demo clock stands ahead of the real one."""
    file = settings.DEMO_CLOCK_FILE
    try:
        return timedelta(seconds=float(file.read_text())) if file else timedelta()
    except (OSError, ValueError):
        return timedelta()


def move(by: timedelta) -> None:
    """Set the demo clock to stand `by` ahead of the real one; RuntimeError outside the demo."""
    if settings.DEMO_CLOCK_FILE is None:
        raise RuntimeError("Only the demo's clock can be moved.")
    settings.DEMO_CLOCK_FILE.parent.mkdir(parents=True, exist_ok=True)
    settings.DEMO_CLOCK_FILE.write_text(str(by.total_seconds()))
