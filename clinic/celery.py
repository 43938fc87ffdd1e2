"""The Celery app. Its Beat table stands in settings: UTC ticks, local time is our own sum."""

from __future__ import annotations

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clinic.settings.production")

app = Celery("carryover")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
