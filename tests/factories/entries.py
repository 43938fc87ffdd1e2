"""Sound library entries of each kind of dose, with no words worth testing for."""

from __future__ import annotations

from programs.rules.dose import DoseKind, DoseRange, FieldRange, LoadUnit, SideMode
from programs.rules.library import (
    Aim,
    Equipment,
    ExerciseEntry,
    Fault,
    KeepStill,
    Position,
    Region,
)

DOSES = {
    DoseKind.REPETITIONS: DoseRange(
        kind=DoseKind.REPETITIONS,
        sets=FieldRange(1, 4, 3),
        repetitions=FieldRange(6, 20, 12),
        rest_seconds=FieldRange(15, 120, 45),
        tempo=(2, 1, 3),
        load_units=(LoadUnit.KG, LoadUnit.BAND),
    ),
    DoseKind.HELD_REPETITIONS: DoseRange(
        kind=DoseKind.HELD_REPETITIONS,
        sets=FieldRange(1, 4, 2),
        repetitions=FieldRange(5, 15, 10),
        hold_seconds=FieldRange(3, 10, 5),
        rest_seconds=FieldRange(15, 120, 30),
    ),
    DoseKind.HOLD: DoseRange(
        kind=DoseKind.HOLD,
        sets=FieldRange(1, 5, 3),
        hold_seconds=FieldRange(10, 60, 30),
        rest_seconds=FieldRange(15, 120, 30),
    ),
    DoseKind.TIMED: DoseRange(
        kind=DoseKind.TIMED,
        sets=FieldRange(1, 3, 2),
        duration_seconds=FieldRange(20, 120, 60),
        rest_seconds=FieldRange(15, 120, 60),
    ),
}


def library_entry(
    slug: str,
    *,
    name: str = "",
    kind: DoseKind = DoseKind.REPETITIONS,
    side_mode: SideMode = SideMode.BOTH_TOGETHER,
    region: Region = Region.ANKLE_FOOT,
    aim: Aim = Aim.STRENGTH,
    position: Position = Position.STANDING,
    equipment: tuple[Equipment, ...] = (),
) -> ExerciseEntry:
    """Return an entry that passes the library's own checks."""
    return ExerciseEntry(
        slug=slug,
        name=name or slug.replace("-", " ").capitalize(),
        also_called=("another name",),
        region=region,
        aim=aim,
        position=position,
        equipment=equipment,
        purpose="Makes walking easier.",
        set_up=("Stand tall.",),
        steps=("Move out slowly.", "Come back slowly."),
        keep_still=KeepStill(what="Your back", why="so that the leg does the work"),
        breathing="Keep breathing.",
        should_feel=("Work in the leg.",),
        is_fine=("A painless click.",),
        stop_if=("Sharp or catching pain.",),
        precautions=(),
        faults=(Fault(fault="The back bends.", cue="Stay tall."),),
        side_mode=side_mode,
        dose=DOSES[kind],
        one_line="Out slowly, back slowly.",
        keep_still_line="Back still.",
        source="Common practice, no source.",
    )
