"""Read fixtures/library into the database; a mistake names file and key, and nothing changes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import yaml
from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from programs.operations.library import LibraryRefused, import_library
from shared import clock


class Command(BaseCommand):
    """Bring the starter library up to date."""

    help = "Reads exercises and ladders from YAML files. Running it again changes nothing."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take another folder than the project's own."""
        parser.add_argument("--folder", default=str(settings.BASE_DIR / "fixtures" / "library"))

    def handle(self, *args: Any, **options: Any) -> None:
        """Read, import, and say what changed."""
        folder = Path(options["folder"])
        try:
            counts = import_library(
                exercise_files=_read(folder, "exercises"),
                ladder_files=_read(folder, "ladders"),
                now=clock.now(),
            )
        except LibraryRefused as error:
            raise CommandError(f"Nothing was imported.\n{error}") from error
        said = ", ".join(f"{count} {what}" for what, count in sorted(counts.items()) if count)
        self.stdout.write(f"Library: {said or 'nothing to do'}.")


def _read(folder: Path, kind: str) -> dict[str, object]:
    """Return the loaded YAML by file name; CommandError names a file that is no YAML."""
    found: dict[str, object] = {}
    for path in sorted((folder / kind).glob("*.yaml")):
        try:
            found[f"{kind}/{path.name}"] = yaml.safe_load(path.read_text(encoding="utf-8"))
        except yaml.YAMLError as error:
            raise CommandError(f"{kind}/{path.name} is not readable YAML: {error}") from error
    if not found:
        raise CommandError(f"There are no files in {folder / kind}.")
    return found
