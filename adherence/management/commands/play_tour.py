"""Plays the main job against a running demo and fails unless each step held."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from adherence.management.tour import run


class Command(BaseCommand):
    """Run by `demo --tour` in a process of its own, beside the running parts."""

    help = "Plays the main job against a running demo; `demo --tour` runs this by itself."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("address", help="where the demo runs, such as http://127.0.0.1:8000")

    def handle(self, *args: Any, **options: Any) -> None:
        if not run(options["address"], settings.DATA_DIR, self.stdout):
            raise CommandError("The tour did not hold.")
