"""Dataclasses as plain data."""

from __future__ import annotations

from dataclasses import dataclass

from programs.rules.library_codes import Aim
from programs.rules.plain import Plain


@dataclass(frozen=True)
class Part(Plain):
    aim: Aim
    words: tuple[str, ...] = ()
    limit: int | None = None


@dataclass(frozen=True)
class Whole(Plain):
    parts: tuple[Part, ...]


def test_codes_are_text_tuples_are_lists_and_nothing_is_left_out() -> None:
    data = Whole((Part(Aim.CONTROL, ("a", "b"), 0), Part(Aim.BALANCE))).to_json()
    assert data == {
        "parts": [
            {"aim": "CONTROL", "words": ["a", "b"], "limit": 0},
            {"aim": "BALANCE", "words": []},
        ]
    }
    assert type(data["parts"][0]["aim"]) is str
