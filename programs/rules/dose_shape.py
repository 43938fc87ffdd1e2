"""What a dose consists of: kinds, sides, loads, limits, and the range a library suggests."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Any

from programs.rules.plain import Plain


class DoseKind(StrEnum):
    """What one set consists of."""

    REPETITIONS = "REPETITIONS"
    HELD_REPETITIONS = "HELD_REPETITIONS"
    HOLD = "HOLD"
    TIMED = "TIMED"


class Side(StrEnum):
    """The side that works: BILATERAL has none, BOTH is one after the other."""

    BILATERAL = "BILATERAL"
    LEFT = "LEFT"
    RIGHT = "RIGHT"
    BOTH = "BOTH"
    ALTERNATE = "ALTERNATE"


class SideMode(StrEnum):
    """How an exercise uses the two sides of the body."""

    BOTH_TOGETHER = "BOTH_TOGETHER"
    ONE_SIDE = "ONE_SIDE"
    ALTERNATING = "ALTERNATING"


class LoadUnit(StrEnum):
    """What a load is measured in."""

    NONE = "NONE"
    KG = "KG"
    BAND = "BAND"


class Band(StrEnum):
    """How hard an elastic band pulls, in words of our own: makers' colors differ."""

    LIGHT = "LIGHT"
    MEDIUM = "MEDIUM"
    FIRM = "FIRM"


SECONDS_PER_REPETITION = 4
"""Out and back without a tempo: common practice, no source."""

LIMITS: Mapping[str, tuple[int, int]] = {
    "sets": (1, 10),
    "repetitions": (1, 100),
    "hold_seconds": (1, 600),
    "duration_seconds": (5, 3600),
    "rest_seconds": (0, 600),
    "tempo": (0, 10),
    "load_value": (0, 200),
    "effort_target": (0, 10),
}
"""The hardest limits of a field, both ends allowed: beyond them it is a slip of the finger."""

AMOUNTS: Mapping[DoseKind, tuple[str, ...]] = {
    DoseKind.REPETITIONS: ("repetitions",),
    DoseKind.HELD_REPETITIONS: ("repetitions", "hold_seconds"),
    DoseKind.HOLD: ("hold_seconds",),
    DoseKind.TIMED: ("duration_seconds",),
}
"""The fields that say how much one set of a kind is."""

SIDES: Mapping[SideMode, tuple[Side, ...]] = {
    SideMode.BOTH_TOGETHER: (Side.BILATERAL,),
    SideMode.ONE_SIDE: (Side.LEFT, Side.RIGHT, Side.BOTH),
    SideMode.ALTERNATING: (Side.ALTERNATE,),
}
"""The sides that can be prescribed for an exercise of a mode."""


def sides_allowed(mode: SideMode) -> tuple[Side, ...]:
    """Return the sides that can be prescribed for an exercise of this mode."""
    return SIDES[mode]


@dataclass(frozen=True)
class Dose:
    """How much of one exercise is done in one session. Times in seconds, sets per side."""

    kind: DoseKind
    sets: int
    repetitions: int | None
    hold_seconds: int | None
    duration_seconds: int | None
    rest_seconds: int
    side: Side
    tempo: tuple[int, int, int] | None = None
    load_value: Decimal | None = None
    load_unit: LoadUnit = LoadUnit.NONE
    band: str = ""
    effort_target: int | None = None


@dataclass(frozen=True)
class FieldRange:
    """The usual value of one field and the range that the library calls ordinary."""

    low: int
    high: int
    usual: int

    def __contains__(self, value: object) -> bool:
        return isinstance(value, int) and self.low <= value <= self.high


@dataclass(frozen=True)
class DoseRange(Plain):
    """The doses that the library calls ordinary for an exercise."""

    kind: DoseKind
    sets: FieldRange
    rest_seconds: FieldRange
    repetitions: FieldRange | None = None
    hold_seconds: FieldRange | None = None
    duration_seconds: FieldRange | None = None
    tempo: tuple[int, int, int] | None = None
    load_units: tuple[LoadUnit, ...] = ()

    def ranges(self) -> dict[str, FieldRange]:
        """Return the range of every field that this kind of dose has."""
        named = {name: getattr(self, name) for name in ("sets", *AMOUNTS[self.kind])}
        named["rest_seconds"] = self.rest_seconds
        return {name: value for name, value in named.items() if value is not None}

    def usual_dose(self, side: Side) -> Dose:
        """Return the dose that the team starts with, on this side and without a load."""
        usual = {name: span.usual for name, span in self.ranges().items()}
        return Dose(
            kind=self.kind,
            sets=usual["sets"],
            repetitions=usual.get("repetitions"),
            hold_seconds=usual.get("hold_seconds"),
            duration_seconds=usual.get("duration_seconds"),
            rest_seconds=usual["rest_seconds"],
            side=side,
            tempo=self.tempo,
        )

    def to_json(self) -> dict[str, Any]:
        """Return the dose part of a library entry."""
        data: dict[str, Any] = {"kind": self.kind.value}
        for name, span in self.ranges().items():
            data[name] = {"from": span.low, "to": span.high, "usual": span.usual}
        if self.tempo is not None:
            data["tempo"] = list(self.tempo)
        if self.load_units:
            data["load_units"] = [unit.value for unit in self.load_units]
        return data
