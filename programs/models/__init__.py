"""The exercise library, and what one patient is given from it."""

from .exercise import Exercise, ExerciseRevision
from .ladder import Ladder, Rung, RungAlternative
from .program import (
    PauseReason,
    Prescription,
    Program,
    ProgramPause,
    ProgramRevision,
    ProgramStatus,
    RevisionStatus,
)

__all__ = [
    "Exercise",
    "ExerciseRevision",
    "Ladder",
    "PauseReason",
    "Prescription",
    "Program",
    "ProgramPause",
    "ProgramRevision",
    "ProgramStatus",
    "RevisionStatus",
    "Rung",
    "RungAlternative",
]
