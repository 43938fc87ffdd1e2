"""Reading loaded YAML or JSON field by field: every fault is noted with its file and key."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeVar

Code = TypeVar("Code", bound=StrEnum)
Entry = TypeVar("Entry")
_SLUG = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")


@dataclass(frozen=True)
class LibraryProblem:
    """What is wrong where: `key` is a path such as "heel-raise-at-wall.dose.sets.from"."""

    file: str
    key: str
    message: str

    def __str__(self) -> str:
        return ": ".join(part for part in (self.file, self.key, self.message) if part)


class Reader:
    """One mapping of a library file. A faulty field is noted and replaced by a stand-in.

    Whoever passes in `problems` checks it in the end, and builds nothing where there are any.
    """

    def __init__(self, data: object, *, file: str, key: str, problems: list[LibraryProblem]):
        self.file = file
        self.key = key
        self.problems = problems
        self._asked: set[str] = set()
        self._data: Mapping[object, object] = {}
        if isinstance(data, Mapping):
            self._data = data
        else:
            self.note("", "must be a mapping of keys to values.")
            self.problems = []  # one problem is enough: its fields are not noted one by one

    def note(self, name: str, message: str) -> None:
        """Add a problem with the field `name`, or with the mapping itself."""
        self.problems.append(LibraryProblem(self.file, self._path(name), message))

    def _path(self, name: str) -> str:
        return ".".join(part for part in (self.key, name) if part).replace(".[", "[")

    def has(self, name: str) -> bool:
        """Return whether the key is there, and count it as known."""
        self._asked.add(name)
        return name in self._data

    def _get(self, name: str) -> object:
        if not self.has(name):
            self.note(name, "is missing.")
            return None
        value = self._data[name]
        if value is None:
            self.note(name, "is empty.")
        return value

    def child(self, name: str) -> Reader:
        """Return a reader of the mapping under `name`."""
        value = self._get(name)
        problems = self.problems if value is not None else []
        data = {} if value is None else value
        return Reader(data, file=self.file, key=self._path(name), problems=problems)

    def children(self, name: str, *, at_least: int = 0) -> Iterator[Reader]:
        """Yield a reader for each mapping of the list under `name`."""
        for index, item in enumerate(self._items(name, at_least)):
            key = self._path(f"{name}[{index}]")
            yield Reader(item, file=self.file, key=key, problems=self.problems)

    def _items(self, name: str, at_least: int) -> list[object]:
        value = self._get(name)
        if value is None:
            return []
        if not isinstance(value, list | tuple):
            self.note(name, "must be a list.")
            return []
        if len(value) < at_least:
            self.note(name, f"must have at least {at_least}.")
        return list(value)

    def text(self, name: str, *, longest: int | None = None) -> str:
        """Return the text under `name`, with runs of white space made one space."""
        value = self._get(name)
        return "" if value is None else self._text(name, value, longest)

    def _text(self, name: str, value: object, longest: int | None = None) -> str:
        if not isinstance(value, str):
            self.note(name, "must be text; a line with a colon needs quotation marks.")
            return ""
        text = " ".join(value.split())
        if not text:
            self.note(name, "is empty.")
        elif longest is not None and len(text) > longest:
            self.note(name, f"has {len(text)} characters, {longest} is the most.")
        return text

    def texts(self, name: str, *, at_least: int = 1) -> tuple[str, ...]:
        """Return the list of texts under `name`; no text may stand twice."""
        items = self._items(name, at_least)
        found = tuple(self._text(f"{name}[{index}]", item) for index, item in enumerate(items))
        self._note_twice(name, found)
        return found

    def slug(self, name: str) -> str:
        """Return the slug under `name`: lower-case words with hyphens between."""
        slug = self.text(name, longest=80)
        if slug and not _SLUG.fullmatch(slug):
            self.note(name, f"{slug!r} must be lower-case words with hyphens between.")
        return slug

    def code(self, name: str, codes: type[Code]) -> Code:
        """Return the code under `name`, one of `codes`."""
        value = self._get(name)
        return next(iter(codes)) if value is None else self._code(name, value, codes)

    def codes(self, name: str, codes: type[Code]) -> tuple[Code, ...]:
        """Return the list of codes under `name`, which may be empty; none may stand twice."""
        items = self._items(name, 0)
        found = tuple(
            self._code(f"{name}[{index}]", item, codes) for index, item in enumerate(items)
        )
        self._note_twice(name, found)
        return found

    def _code(self, name: str, value: object, codes: type[Code]) -> Code:
        for code in codes:
            if code.value == value:
                return code
        self.note(name, f"{value!r} is not one of {', '.join(codes)}.")
        return next(iter(codes))

    def _note_twice(self, name: str, found: tuple[str, ...]) -> None:
        for index, item in enumerate(found):
            if item and item in found[:index]:
                self.note(f"{name}[{index}]", f"{str(item)!r} stands there twice.")

    def whole(self, name: str, low: int, high: int) -> int:
        """Return the whole number under `name`, from low to high."""
        value = self._get(name)
        return low if value is None else self._whole(name, value, low, high)

    def _whole(self, name: str, value: object, low: int, high: int) -> int:
        if not isinstance(value, int) or isinstance(value, bool):
            self.note(name, "must be a whole number.")
        elif not low <= value <= high:
            self.note(name, f"must be from {low} to {high}, not {value}.")
        else:
            return value
        return low

    def wholes(self, name: str, low: int, high: int) -> tuple[int, ...]:
        """Return the list of whole numbers under `name`, each from low to high."""
        return tuple(
            self._whole(f"{name}[{index}]", item, low, high)
            for index, item in enumerate(self._items(name, 0))
        )

    def truth(self, name: str) -> bool:
        """Return the true or false under `name`."""
        value = self._get(name)
        if value is not None and not isinstance(value, bool):
            self.note(name, "must be true or false.")
        return value is True

    def close(self) -> None:
        """Note every key that nobody asked for: it is a slip, or it would be lost in silence."""
        for name in self._data:
            if name not in self._asked:
                known = ", ".join(sorted(self._asked))
                self.note(str(name), f"is not a key here; known are {known}.")


def key_of(data: object, fallback: str) -> str:
    """Return the slug that `data` goes by, or the fallback where it has none."""
    slug = data.get("slug") if isinstance(data, Mapping) else None
    return slug if isinstance(slug, str) and slug else fallback


def sound(entry: Entry | None, problems: list[LibraryProblem]) -> Entry:
    """Return the entry; ValueError with every problem where there is none."""
    if entry is None:
        raise ValueError("\n".join(map(str, problems)))
    return entry
