"""Short ways to say a dose in a test."""

from __future__ import annotations

from programs.rules.dose import Dose, DoseKind, Side


def repetitions(
    sets: int,
    count: int,
    *,
    side: Side = Side.BILATERAL,
    tempo: tuple[int, int, int] | None = None,
    rest_seconds: int = 30,
) -> Dose:
    """Return sets of repetitions."""
    return Dose(DoseKind.REPETITIONS, sets, count, None, None, rest_seconds, side=side, tempo=tempo)


def held(sets: int, count: int, seconds: int, *, side: Side = Side.BILATERAL) -> Dose:
    """Return sets of held repetitions."""
    return Dose(DoseKind.HELD_REPETITIONS, sets, count, seconds, None, 30, side=side)


def hold(sets: int, seconds: int, *, side: Side = Side.BILATERAL, rest_seconds: int = 30) -> Dose:
    """Return holds, one a set."""
    return Dose(DoseKind.HOLD, sets, None, seconds, None, rest_seconds, side=side)


def timed(sets: int, seconds: int, *, side: Side = Side.BILATERAL) -> Dose:
    """Return sets of moving for a time."""
    return Dose(DoseKind.TIMED, sets, None, None, seconds, 30, side=side)
