"""Short ways to say a dose in a test, and a strategy that draws any sound dose."""

from __future__ import annotations

from hypothesis import strategies as st

from programs.rules.dose import Dose, DoseKind, DoseRange, FieldRange, LoadUnit, Side

RANGE = DoseRange(
    DoseKind.REPETITIONS,
    sets=FieldRange(1, 4, 3),
    rest_seconds=FieldRange(15, 120, 45),
    repetitions=FieldRange(6, 20, 12),
    tempo=(2, 1, 3),
    load_units=(LoadUnit.KG,),
)


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


@st.composite
def doses(draw: st.DrawFn) -> Dose:
    kind = draw(st.sampled_from(DoseKind))
    repeats = kind in (DoseKind.REPETITIONS, DoseKind.HELD_REPETITIONS)
    holds = kind in (DoseKind.HOLD, DoseKind.HELD_REPETITIONS)
    return Dose(
        kind,
        sets=draw(st.integers(1, 10)),
        repetitions=draw(st.integers(1, 100)) if repeats else None,
        hold_seconds=draw(st.integers(1, 600)) if holds else None,
        duration_seconds=draw(st.integers(5, 3600)) if kind is DoseKind.TIMED else None,
        rest_seconds=draw(st.integers(0, 600)),
        side=draw(st.sampled_from(Side)),
    )
