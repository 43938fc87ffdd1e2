"""Frozen dataclasses that can be stored as plain data, in the shape of the YAML they came from."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any


@dataclass(frozen=True)
class Plain:
    """A part of the library that can be stored."""

    def to_json(self) -> dict[str, Any]:
        """Return plain data: codes as text, tuples as lists, fields that are not set left out."""
        pairs = ((field.name, getattr(self, field.name)) for field in fields(self))
        return {name: _plain(value) for name, value in pairs if value is not None}


def _plain(value: object) -> Any:
    if isinstance(value, Plain):
        return value.to_json()
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    return str(value) if isinstance(value, str) else value
