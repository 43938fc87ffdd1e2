"""Brings the demo's database up to date: tables, library and, where there is none, the clinic."""

from __future__ import annotations

from typing import Any

from django.apps import apps
from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from adherence.management.supervisor import LOADING


class Command(BaseCommand):
    """Run by `demo` in a process of its own, when the Redis-protocol server is up."""

    help = "Prepares the demo's database; `demo` runs this by itself."

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.IS_DEMO:
            raise CommandError("This command is for the demo settings only.")
        call_command("migrate", verbosity=0, interactive=False)
        call_command("load_library", verbosity=0)
        if apps.get_model("clinic", "Clinic").objects.exists():
            return
        self.stdout.write("Loading the demo clinic, which takes up to half a minute.")
        self.stdout.flush()
        # A start that ends in here must not leave half a clinic: the next one finds the mark.
        mark = settings.DATA_DIR / LOADING
        mark.touch()
        call_command("load_demo", verbosity=0)
        mark.unlink()
