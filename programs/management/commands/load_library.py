"""Read fixtures/library into the database; a mistake names file and key, and nothing changes."""

from __future__ import annotations

from collections.abc import Hashable
from pathlib import Path
from typing import Any

import yaml
from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from programs.operations.library import Imported, LibraryRefused, import_library, read_library
from shared import clock

WORDS = {
    "new": "new",
    "changed": "changed",
    "brought_back": "brought back",
    "retired": "retired",
    "unchanged": "unchanged",
}


class Command(BaseCommand):
    """Bring the starter library up to date."""

    help = (
        "Reads exercises and ladders from YAML files. Running it again changes nothing; a changed "
        "wording becomes a new revision, and what has left the files is retired."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        """Take another folder than the project's own."""
        parser.add_argument(
            "--folder",
            default=str(settings.BASE_DIR / "fixtures" / "library"),
            help="where the folders exercises and ladders are",
        )
        parser.add_argument(
            "--check", action="store_true", help="look for mistakes in the files, change nothing"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Read, import, and say what changed."""
        folder = Path(options["folder"])
        files = {
            "exercise_files": _read(folder, "exercises"),
            "ladder_files": _read(folder, "ladders"),
        }
        try:
            if options["check"]:
                library = read_library(**files)
                counts = len(library.exercises), len(library.ladders)
                said = "no mistakes; exercises: {}; ladders: {}.".format(*counts)
            else:
                done = import_library(**files, now=clock.now())
                said = f"exercises: {_counted(done.exercises)}; ladders: {_counted(done.ladders)}."
                if options["verbosity"] > 1:
                    said += "".join(f"\n{line}" for line in _named(done.exercises, done.ladders))
        except LibraryRefused as error:
            count = len(error.problems)
            mistakes = "1 mistake" if count == 1 else f"{count} mistakes"
            nothing = "" if options["check"] else "Nothing was imported. "
            raise CommandError(f"{nothing}{mistakes} in {folder}:\n{error}") from error
        if options["verbosity"]:
            self.stdout.write(f"Library: {said}")


def _counted(done: Imported) -> str:
    counts = done.counts()
    return ", ".join(f"{counts[name]} {word}" for name, word in WORDS.items() if counts[name])


def _named(*parts: Imported) -> list[str]:
    return [
        f"{WORDS[name]}: {slug}"
        for part in parts
        for name, slugs in vars(part).items()
        for slug in slugs
        if name != "unchanged"
    ]


def _read(folder: Path, kind: str) -> dict[str, object]:
    """Return the loaded YAML by file name; CommandError names a file that cannot be read."""
    found: dict[str, object] = {}
    for path in sorted((folder / kind).glob("*.y*ml")):
        name = f"{kind}/{path.name}"
        if path.suffix != ".yaml":
            raise CommandError(f"{name} would not be read: its name must end in .yaml.")
        try:
            found[name] = yaml.load(path.read_text(encoding="utf-8"), Loader)  # noqa: S506
        except UnicodeDecodeError as error:
            raise CommandError(f"{name} is not UTF-8 text: {error}") from error
        except yaml.YAMLError as error:
            raise CommandError(f"{name} is not readable YAML: {error}") from error
        except OSError as error:
            raise CommandError(f"{name} cannot be read: {error.strerror}.") from error
    if not found:
        raise CommandError(f"There are no files in {folder / kind}.")
    return found


class Loader(yaml.SafeLoader):
    """The safe loader, which also refuses a key that stands twice: the first would be lost."""

    def construct_mapping(self, node: yaml.MappingNode, deep: bool = False) -> dict[Hashable, Any]:
        """Return the mapping; YAMLError names the line of a key that stands there already."""
        seen: set[str] = set()
        for key, _value in node.value:
            if isinstance(key, yaml.ScalarNode):
                if key.value in seen:
                    message = f"the key {key.value!r} stands there twice"
                    raise yaml.MarkedYAMLError(problem=message, problem_mark=key.start_mark)
                seen.add(key.value)
        return super().construct_mapping(node, deep)
