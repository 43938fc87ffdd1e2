"""Adherence in figures: shares with their uncertainty, runs of misses, and a patient's state.

Adherence is several numbers (sessions, dose, days), each capped so that over-doing never hides a
missed day.
"""

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from adherence.rules.matching import (
    DayCell,
    DayState,
    DoneSession,
    Matched,
    Outcome,
    day_states,
    dose_shares,
    match_sessions,
)

__all__ = [
    "AdherenceState",
    "DayCell",
    "DayState",
    "DoneSession",
    "Interval",
    "Matched",
    "MissesResult",
    "Outcome",
    "Share",
    "adherence_state",
    "day_states",
    "days_active",
    "dose_adherence",
    "is_silent",
    "match_sessions",
    "misses_cusum",
    "session_adherence",
    "wilson",
]

# Fewer closed due sessions than this say nothing yet about a patient.
NEW_BELOW = 4
# Log-likelihood weights of one session: 80 % done is usual, 50 % done is a lapse.
USUAL_DONE = 0.80
LAPSED_DONE = 0.50
EPSILON = 1e-9


class AdherenceState(StrEnum):
    """Where a patient stands; a description, not a flag."""

    NEW = "NEW"
    SILENT = "SILENT"
    PAUSED = "PAUSED"
    BELOW_TARGET = "BELOW_TARGET"
    ON_TARGET = "ON_TARGET"
    ENDED = "ENDED"
    NO_PROGRAM = "NO_PROGRAM"


@dataclass(frozen=True)
class Interval:
    """Confidence limits of a share, 0 to 1."""

    low: float
    high: float


@dataclass(frozen=True)
class Share:
    """So many of so many, with the 95 % Wilson interval; no interval when nothing was due."""

    done: int
    due: int
    interval: Interval | None

    @property
    def percent(self) -> float | None:
        """Share in percent; None, never 0, when nothing was due."""
        return 100 * self.done / self.due if self.due else None


@dataclass(frozen=True)
class MissesResult:
    """Running score of misses after each session. `signal_index` is where the last run signalled.

    `over` says that the run has been paid back since; `is_signalled` that it is in force now.
    `run_index` is the first session of the run that led to the signal, or of the present run.
    """

    scores: tuple[float, ...]
    signal_index: int | None
    over: bool
    run_index: int | None
    limit: float

    @property
    def is_signalled(self) -> bool:
        """Whether a run of misses is in force at the last session."""
        return self.signal_index is not None and not self.over


def wilson(successes: int, trials: int, z: float = 1.959964) -> Interval | None:
    """Wilson score interval of `successes` of `trials`, within 0 and 1; None for no trials.

    `z` is the normal quantile: 1.959964 for 95 % two-sided (Wilson 1927; NIST handbook 7.2.4.1).
    """
    if trials < 0 or not 0 <= successes <= max(trials, 0):
        raise ValueError("successes must lie between 0 and trials")
    if trials == 0:
        return None
    p = successes / trials
    z2 = z * z
    middle = p + z2 / (2 * trials)
    reach = z * math.sqrt(p * (1 - p) / trials + z2 / (4 * trials * trials))
    scale = 1 + z2 / trials
    # The limits are exactly 0 and 1 at the ends, where arithmetic misses by a rounding error.
    low = 0.0 if successes == 0 else max(0.0, (middle - reach) / scale)
    high = 1.0 if successes == trials else min(1.0, (middle + reach) / scale)
    return Interval(low, high)


def _share(done: int, due: int) -> Share:
    return Share(done, due, wilson(done, due))


def session_adherence(outcomes: Iterable[Outcome]) -> Share:
    """Sessions done, wholly or partly, of sessions due. What is still open is not yet due."""
    closed = [outcome for outcome in outcomes if outcome.is_closed]
    return _share(sum(outcome.is_performed for outcome in closed), len(closed))


def dose_adherence(outcomes: Iterable[Outcome]) -> float | None:
    """Mean share, 0 to 1, of the prescribed dose over due sessions; a missed one counts 0.

    A session done whose dose was not recorded is left out. None when nothing can be counted.
    """
    shares = dose_shares(outcomes)
    return sum(shares) / len(shares) if shares else None


def days_active(outcomes: Iterable[Outcome]) -> Share:
    """Distinct due days with at least one set done, of distinct due days."""
    days: dict[date, list[Outcome]] = defaultdict(list)
    for outcome in outcomes:
        days[outcome.due.due_on].append(outcome)
    active = due = 0
    for held in days.values():
        performed = any(outcome.is_performed for outcome in held)
        if performed or all(outcome.is_closed for outcome in held):
            due += 1
            active += performed
    return _share(active, due)


def misses_cusum(
    outcomes_in_order: Sequence[bool],
    *,
    limit: float,
    usual_done: float = USUAL_DONE,
    lapsed_done: float = LAPSED_DONE,
) -> MissesResult:
    """Running evidence that a patient has lapsed, from due sessions in order (True = done).

    A Bernoulli cumulative sum: a miss adds ln(.5/.2) = .9163, a session done takes .4700 away,
    never below 0, never more than one miss above the limit (so that a long gap can be paid back).
    It signals at `limit`: 3.0 reads "four misses in a row, or as bad", 2.0 "three". A signal is
    over when the score falls below half the limit.
    """
    miss = math.log((1 - lapsed_done) / (1 - usual_done))
    done_weight = math.log(lapsed_done / usual_done)
    scores: list[float] = []
    score = 0.0
    signal_index: int | None = None
    signal_run: int | None = None
    run_index: int | None = None
    over = False
    for index, done in enumerate(outcomes_in_order):
        before = score
        score = min(limit + miss, max(0.0, score + (done_weight if done else miss)))
        scores.append(score)
        if score <= 0:
            run_index = None
        elif before <= 0:
            run_index = index
        in_force = signal_index is not None and not over
        if not in_force and score >= limit - EPSILON:
            signal_index, signal_run, over = index, run_index, False
        elif in_force and score < limit / 2 - EPSILON:
            over = True
    in_force = signal_index is not None and not over
    return MissesResult(
        scores=tuple(scores),
        signal_index=signal_index,
        over=over,
        run_index=signal_run if in_force else run_index,
        limit=limit,
    )


def is_silent(
    outcomes: Iterable[Outcome],
    *,
    last_entry_on: date | None,
    today: date,
    silent_days: int,
    silent_sessions: int,
) -> bool:
    """No entry and no reason for `silent_days` with something due, or for the last due sessions."""
    closed = sorted((o for o in outcomes if o.is_closed), key=lambda o: (o.due.due_on, o.due.slot))
    if not closed:
        return False
    unanswered = [o for o in closed if o.state == DayState.NO_ENTRY]
    last = closed[-silent_sessions:]
    if (
        len(last) == silent_sessions
        and all(o.state == DayState.NO_ENTRY for o in last)
        and (last_entry_on is None or last_entry_on < last[0].due.due_on)
    ):
        return True
    quiet_since = last_entry_on if last_entry_on is not None else closed[0].due.due_on
    if (today - quiet_since).days < silent_days:
        return False
    horizon = today - timedelta(days=silent_days)
    return any(o.due.due_on >= horizon for o in unanswered)


def adherence_state(
    *,
    outcomes: Sequence[Outcome],
    paused_today: bool,
    last_entry_on: date | None,
    today: date,
    target_percent: float,
    silent_days: int,
    silent_sessions: int,
    has_program: bool = True,
    has_ended: bool = False,
    new_below: int = NEW_BELOW,
) -> AdherenceState:
    """The one state that describes a patient; the first that holds, in this order.

    No program, ended, paused today, silent, new (fewer than `new_below` sessions closed), below
    target (even the upper Wilson limit lies below the agreed target), on target.
    `last_entry_on` is the local date of the last entry of any kind, reasons included.
    """
    if not has_program:
        return AdherenceState.NO_PROGRAM
    if has_ended:
        return AdherenceState.ENDED
    if paused_today:
        return AdherenceState.PAUSED
    if is_silent(
        outcomes,
        last_entry_on=last_entry_on,
        today=today,
        silent_days=silent_days,
        silent_sessions=silent_sessions,
    ):
        return AdherenceState.SILENT
    share = session_adherence(outcomes)
    if share.due < new_below or share.interval is None:
        return AdherenceState.NEW
    if share.interval.high < target_percent / 100:
        return AdherenceState.BELOW_TARGET
    return AdherenceState.ON_TARGET
