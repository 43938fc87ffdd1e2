"""What was done and felt, what it means, and what the team did about it."""

from .flag import Flag, FlagStatus, FollowUp, FollowUpKind, FollowUpStatus, Outcome, Review
from .reminder import Reminder, ReminderPreference, Sweep
from .session import (
    ExerciseStop,
    PainMoment,
    PainRating,
    SessionLog,
    SessionStatus,
    SetLog,
    SetState,
)

__all__ = [
    "ExerciseStop",
    "Flag",
    "FlagStatus",
    "FollowUp",
    "FollowUpKind",
    "FollowUpStatus",
    "Outcome",
    "PainMoment",
    "PainRating",
    "Reminder",
    "ReminderPreference",
    "Review",
    "SessionLog",
    "SessionStatus",
    "SetLog",
    "SetState",
    "Sweep",
]
