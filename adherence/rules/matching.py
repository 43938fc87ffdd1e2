"""Which due session became what: matching what was entered with what was due, day by day.

"No entry" stays apart from "entered: not done": the first may be logging, not exercise.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Literal

from programs.rules.schedule import DueSession, Pause
from shared.dates import DateWindow, week_start

# At least this share of the prescribed dose counts as the whole session done.
WHOLE_SHARE = 0.8
# A share is a mean of quotients: a rounding error must not decide.
EPSILON = 1e-9


class DayState(StrEnum):
    """What became of a due session, or of a day."""

    DONE = "DONE"
    PARTLY = "PARTLY"
    NOT_DONE = "NOT_DONE"
    NO_ENTRY = "NO_ENTRY"
    OPEN = "OPEN"
    NOT_DUE = "NOT_DUE"
    PAUSED = "PAUSED"
    EXTRA = "EXTRA"


@dataclass(frozen=True)
class DoneSession:
    """One session as entered. `share` is the dose done, 0 to 1; `reason` a barrier code."""

    local_date: date
    slot: int
    status: Literal["COMPLETED", "STOPPED", "NOT_DONE"]
    share: float | None
    entered_later: bool
    reason: str = ""

    @property
    def is_performed(self) -> bool:
        """Whether any exercise was done. A session stopped before its first set was not."""
        return self.status != "NOT_DONE" and (self.share is None or self.share > 0)


@dataclass(frozen=True)
class Outcome:
    """A due session and what became of it."""

    due: DueSession
    state: DayState
    session: DoneSession | None

    @property
    def is_performed(self) -> bool:
        """Whether the session was done, wholly or partly."""
        return self.state in (DayState.DONE, DayState.PARTLY)

    @property
    def is_closed(self) -> bool:
        """Whether it counts by now: done, entered as not done, or its deadline is past."""
        return self.state != DayState.OPEN


@dataclass(frozen=True)
class Matched:
    """Due sessions with their outcomes, and what was entered beside them.

    Every session entered stands in exactly one place: an outcome, `extras` (done beyond what was
    due) or `unused` (a reason entered where nothing was left to explain).
    """

    outcomes: tuple[Outcome, ...]
    extras: tuple[DoneSession, ...]
    unused: tuple[DoneSession, ...] = ()


@dataclass(frozen=True)
class DayCell:
    """One day of the strip: its state, mean dose share of what was due, sessions due and done."""

    date: date
    state: DayState
    share: float | None
    due: int
    done: int
    extra: int = 0


def _performed_state(session: DoneSession) -> DayState:
    if session.share is None:
        return DayState.DONE if session.status == "COMPLETED" else DayState.PARTLY
    return DayState.DONE if session.share >= WHOLE_SHARE - EPSILON else DayState.PARTLY


def _better_first(session: DoneSession) -> tuple[bool, float, int]:
    full = 1.0 if session.status == "COMPLETED" else 0.5
    return (
        not session.is_performed,
        -(full if session.share is None else session.share),
        session.slot,
    )


def _fixed_day(
    due: Sequence[DueSession], entered: Sequence[DoneSession]
) -> tuple[dict[DueSession, DoneSession], list[DoneSession]]:
    """Give each due slot of one day at most one entry: its own slot's first, then any other."""
    chosen = sorted(entered, key=_better_first)[: len(due)]
    left = [session for session in entered if not any(session is one for one in chosen)]
    pairs: dict[DueSession, DoneSession] = {}
    waiting = sorted(due, key=lambda one: one.slot)
    for session in list(chosen):
        same = next((one for one in waiting if one.slot == session.slot), None)
        if same is not None:
            pairs[same] = session
            waiting.remove(same)
    unplaced = [s for s in chosen if not any(s is one for one in pairs.values())]
    pairs.update(zip(waiting, unplaced, strict=False))
    return pairs, left


def _flexible_week(
    due: Sequence[DueSession], entered: Sequence[DoneSession], today: date
) -> tuple[dict[DueSession, DoneSession], list[DoneSession]]:
    """Give the deadlines of one week to sessions on distinct days, the earliest deadline first.

    A session after a deadline fills a later one while there is one, so that a missed deadline
    stays where it was missed. A reason explains only a deadline that has been reached.
    """
    best: dict[date, DoneSession] = {}
    for session in sorted(entered, key=_better_first):
        best.setdefault(session.local_date, session)
    deadlines = sorted(due, key=lambda one: (one.due_on, one.slot))
    pairs: dict[DueSession, DoneSession] = {}
    days = sorted(day for day, session in best.items() if session.is_performed)
    late: list[date] = []
    for day in days:
        target = next((d for d in deadlines if d not in pairs and d.due_on >= day), None)
        if target is None:
            late.append(day)
        else:
            pairs[target] = best[day]
    free = [d for d in deadlines if d not in pairs]
    for day, target in zip(late, free, strict=False):
        pairs[target] = best[day]
    for day in sorted(day for day, session in best.items() if not session.is_performed):
        target = next(
            (
                d
                for d in deadlines
                if d not in pairs and d.due_on >= day and (d.due_on < today or d.due_on == day)
            ),
            None,
        )
        if target is not None:
            pairs[target] = best[day]
    left = [s for s in entered if not any(s is one for one in pairs.values())]
    return pairs, left


def match_sessions(
    due: Iterable[DueSession], done: Iterable[DoneSession], *, today: date
) -> Matched:
    """Match what was entered with what was due.

    Fixed days: an entry of the same local date, one a slot, whatever slot it names. Weekly quota:
    one session a day, any day of the same ISO week. A double session never repays a missed day.
    What is due today or later and not entered is OPEN; what is past is NO_ENTRY.
    """
    ordered = sorted(due, key=lambda one: (one.due_on, one.slot))
    fixed: dict[date, list[DueSession]] = defaultdict(list)
    weekly: dict[date, list[DueSession]] = defaultdict(list)
    for one in ordered:
        if one.flexible:
            weekly[week_start(one.due_on)].append(one)
        else:
            fixed[one.due_on].append(one)
    by_day: dict[date, list[DoneSession]] = defaultdict(list)
    for session in sorted(done, key=lambda s: (s.local_date, s.slot)):
        by_day[session.local_date].append(session)

    pairs: dict[DueSession, DoneSession] = {}
    left: list[DoneSession] = []
    by_week: dict[date, list[DoneSession]] = defaultdict(list)
    for day, entered in by_day.items():
        if day in fixed:
            found, rest = _fixed_day(fixed[day], entered)
            pairs.update(found)
            left.extend(rest)
        elif week_start(day) in weekly:
            by_week[week_start(day)].extend(entered)
        else:
            left.extend(entered)
    for week, entered in by_week.items():
        found, rest = _flexible_week(weekly[week], entered, today)
        pairs.update(found)
        left.extend(rest)

    outcomes = []
    for one in ordered:
        matched = pairs.get(one)
        if matched is not None:
            state = _performed_state(matched) if matched.is_performed else DayState.NOT_DONE
        else:
            state = DayState.NO_ENTRY if one.due_on < today else DayState.OPEN
        outcomes.append(Outcome(one, state, matched))
    left.sort(key=lambda s: (s.local_date, s.slot))
    return Matched(
        outcomes=tuple(outcomes),
        extras=tuple(s for s in left if s.is_performed),
        unused=tuple(s for s in left if not s.is_performed),
    )


def dose_shares(outcomes: Iterable[Outcome]) -> list[float]:
    """Dose share, 0 to 1, of each closed session; 0 when missed, left out when not recorded."""
    shares = []
    for outcome in outcomes:
        if not outcome.is_closed:
            continue
        if not outcome.is_performed or outcome.session is None:
            shares.append(0.0)
        elif outcome.session.share is not None:
            shares.append(min(1.0, max(0.0, outcome.session.share)))
    return shares


def _cell_state(held: Sequence[Outcome]) -> DayState:
    states = {outcome.state for outcome in held}
    if states == {DayState.DONE}:
        return DayState.DONE
    if DayState.OPEN in states:
        return DayState.OPEN
    if states & {DayState.DONE, DayState.PARTLY}:
        return DayState.PARTLY
    return DayState.NOT_DONE if DayState.NOT_DONE in states else DayState.NO_ENTRY


def day_states(
    window: DateWindow, matched: Matched, pauses: Sequence[Pause] = ()
) -> tuple[DayCell, ...]:
    """One cell a day of the window, in order.

    A session done towards a weekly quota stands on the day it was done; a quota session not done
    stands on its deadline. A day with two sessions due and one done is PARTLY, or OPEN while the
    other can still be done.
    """
    by_day: dict[date, list[Outcome]] = defaultdict(list)
    for outcome in matched.outcomes:
        moved = outcome.due.flexible and outcome.is_performed and outcome.session is not None
        day = outcome.session.local_date if moved and outcome.session else outcome.due.due_on
        by_day[day].append(outcome)
    extras: dict[date, int] = defaultdict(int)
    for session in matched.extras:
        extras[session.local_date] += 1

    cells = []
    for day in window.days():
        held = by_day.get(day, [])
        extra = extras.get(day, 0)
        shares = dose_shares(held)
        if held:
            state = _cell_state(held)
        elif extra:
            state = DayState.EXTRA
        elif any(p.starts_on <= day and (p.ends_on is None or day < p.ends_on) for p in pauses):
            state = DayState.PAUSED
        else:
            state = DayState.NOT_DUE
        cells.append(
            DayCell(
                date=day,
                state=state,
                share=sum(shares) / len(shares) if shares else None,
                due=len(held),
                done=sum(outcome.is_performed for outcome in held),
                extra=extra,
            )
        )
    return tuple(cells)
