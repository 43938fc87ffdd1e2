"""Thresholds of a clinic: the defaults, the range each may take, and why."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import time


@dataclass(frozen=True)
class Policy:
    """What a clinic's rules run on. Ratings 0 to 10, times in the patient's zone."""

    target_percent: int = 80
    pain_limit: int = 5
    pain_evidence_limit: float = 6.0
    pain_jump: float = 4.0
    baseline_ratings: int = 7
    snooze_days: int = 7
    misses_limit_daily: float = 3.0
    misses_limit_weekly: float = 2.0
    silent_days: int = 7
    silent_sessions: int = 3
    backfill_hours: int = 48
    morning_above: int = 4
    quiet_from: time = time(20)
    quiet_until: time = time(9)


@dataclass(frozen=True)
class Reason:
    """Why a default is what it is, and the range a clinic may choose from."""

    low: float
    high: float
    why: str


REASONS: dict[str, Reason] = {
    "target_percent": Reason(
        50, 100, "Trials most often call 80 % of the agreed sessions satisfactory."
    ),
    "pain_limit": Reason(
        0,
        8,
        "Pain during exercise up to 5 of 10 is usually accepted when it settles by next morning. "
        "A program can set its own limit.",
    ),
    "pain_evidence_limit": Reason(
        5,
        8,
        "How much rise above usual pain adds up before the flag opens: 5 watchful, 6 standard, "
        "8 quiet. In simulation, 6 gave about 3 false flags per 100 patient-weeks and saw about "
        "6 in 10 rises of two points within 14 days.",
    ),
    "pain_jump": Reason(3, 6, "One rating this far above usual opens the flag by itself."),
    "snooze_days": Reason(3, 21, "No flag of the same kind opens for so long after a close."),
    "misses_limit_daily": Reason(
        2,
        5,
        "For five or more due sessions a week: 3 means four misses in a row, or as bad.",
    ),
    "misses_limit_weekly": Reason(
        1.5, 4, "For four or fewer due sessions a week: 2 means three in a row, or as bad."
    ),
    "silent_days": Reason(
        3, 21, "No entry and no reason for so long: it may be the logging, so it is no flag."
    ),
    "backfill_hours": Reason(
        0, 72, "Memory of pain fades within days, so late entries are limited and marked."
    ),
    "morning_above": Reason(
        0, 8, "After a session with pain above this, next-morning pain is asked."
    ),
}
