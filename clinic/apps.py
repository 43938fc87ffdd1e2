"""App configuration: loads the Celery app so that tasks find it."""

from django.apps import AppConfig


class ClinicConfig(AppConfig):
    name = "clinic"

    def ready(self) -> None:
        from . import celery, checks  # noqa: F401, PLC0415
