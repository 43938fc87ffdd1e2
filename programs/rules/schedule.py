"""Which sessions are due on which local dates, across revisions, pauses and the end of a program.

Fixed patterns name their days. A weekly quota ("3 times a week, on any days") names only a number;
its due days are deadlines: the last days on which the quota of that ISO week can still be met.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Any

from programs.rules.schedule_shape import (
    MOST_EVERY_DAYS,
    MOST_TIMES_PER_DAY,
    Pattern,
    Schedule,
    ScheduleProblem,
    field_problems,
    schedule_wording,
    sessions_per_week,
)
from programs.rules.wording import gettext_noop
from shared.dates import DateWindow

__all__ = [
    "MOST_EVERY_DAYS",
    "MOST_TIMES_PER_DAY",
    "DueSession",
    "Pattern",
    "Pause",
    "RevisionSpan",
    "Schedule",
    "ScheduleProblem",
    "TodayKind",
    "TodayState",
    "check_schedule",
    "due_sessions",
    "first_due_on",
    "is_due_today",
    "schedule_wording",
    "sessions_per_week",
    "to_rrule",
    "today_state",
]

_FAR = date.max.toordinal()
_day_of = date.fromordinal


def check_schedule(schedule: Schedule) -> list[ScheduleProblem]:
    """Return what is wrong with a schedule; an empty list where it can be issued."""
    problems = list(field_problems(schedule))
    if schedule.ends_on is not None and schedule.ends_on < schedule.starts_on:
        text = gettext_noop("The last day lies before the first day.")
        problems.append(ScheduleProblem("ends_on", "ENDS_BEFORE_START", text))
    elif not problems and _first_due_ordinal(schedule) is None:
        text = gettext_noop("No session is due between the first and the last day.")
        problems.append(ScheduleProblem("ends_on", "NOTHING_DUE", text))
    return problems


@dataclass(frozen=True)
class RevisionSpan:
    """The days on which one revision is in force: [effective_from, effective_until)."""

    revision_id: Any
    schedule: Schedule
    effective_from: date
    effective_until: date | None = None


@dataclass(frozen=True)
class Pause:
    """Days on which nothing is due: [starts_on, ends_on); without an end until it is resumed."""

    starts_on: date
    ends_on: date | None = None


@dataclass(frozen=True)
class DueSession:
    """One session that is due. A flexible one belongs to the ISO week that starts on `week`."""

    due_on: date
    slot: int
    revision_id: Any
    flexible: bool
    week: date | None


# A stretch is a half-open range of day ordinals on which a revision can make sessions due.
_Stretch = tuple[int, int]


def due_sessions(
    spans: Iterable[RevisionSpan],
    pauses: Iterable[Pause],
    window: DateWindow,
    *,
    completed_on: date | None = None,
) -> tuple[DueSession, ...]:
    """Return the sessions due in the window, oldest first; none from completed_on on.

    Every due day lies in exactly one revision; ValueError where spans overlap or end before they
    start. A quota is shared out by the days of the week that are available, rounded half up, so
    the answer for a day never depends on the window asked for.
    """
    low, high = window.start.toordinal(), window.end.toordinal()
    closed = _merged(pauses)
    due: list[DueSession] = []
    for span in _ordered(spans):
        schedule, revision = span.schedule, span.revision_id
        start, end = _reach(span, completed_on)
        if start >= high or end <= low:
            continue
        if schedule.pattern is Pattern.WEEKLY_QUOTA:
            quota = schedule.weekly_quota or 0
            for monday, days in _weeks(_open(start, end, closed), low, high):
                week = _day_of(monday)
                for day in _deadlines(days, quota):
                    if low <= day < high:
                        due.append(DueSession(_day_of(day), 1, revision, True, week))
            continue
        slots = range(1, schedule.times_per_day + 1)
        for stretch in _open(max(start, low), min(end, high), closed):
            for day in _fixed_days(schedule, stretch):
                due_on = _day_of(day)
                for slot in slots:
                    due.append(DueSession(due_on, slot, revision, False, None))
    return tuple(due)


def _ordered(spans: Iterable[RevisionSpan]) -> list[RevisionSpan]:
    """Return the spans that hold a day, in order of time."""
    ordered = sorted(spans, key=lambda span: span.effective_from)
    kept: list[RevisionSpan] = []
    for span in ordered:
        until = span.effective_until
        if until is not None and until < span.effective_from:
            raise ValueError(f"Revision {span.revision_id} ends before it takes effect.")
        if until == span.effective_from:
            continue
        if kept:
            last = kept[-1].effective_until
            if last is None or last > span.effective_from:
                raise ValueError(
                    f"Revisions {kept[-1].revision_id} and {span.revision_id} overlap."
                )
        kept.append(span)
    return kept


def _reach(span: RevisionSpan, completed_on: date | None) -> _Stretch:
    """Return the days that revision, schedule and completion leave, pauses aside."""
    schedule = span.schedule
    start = max(span.effective_from, schedule.starts_on).toordinal()
    end = _FAR
    if span.effective_until is not None:
        end = span.effective_until.toordinal()
    if schedule.ends_on is not None:
        end = min(end, schedule.ends_on.toordinal() + 1)
    if completed_on is not None:
        end = min(end, completed_on.toordinal())
    return start, end


def _merged(pauses: Iterable[Pause]) -> list[_Stretch]:
    """Return the paused days as stretches in order that do not touch each other."""
    merged: list[_Stretch] = []
    for pause in sorted(pauses, key=lambda pause: pause.starts_on):
        start = pause.starts_on.toordinal()
        end = _FAR if pause.ends_on is None else pause.ends_on.toordinal()
        if end <= start:
            continue
        if merged and start <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        else:
            merged.append((start, end))
    return merged


def _open(start: int, end: int, closed: Sequence[_Stretch]) -> Iterator[_Stretch]:
    """Yield what the paused stretches leave of [start, end)."""
    for paused_from, paused_until in closed:
        if paused_until <= start:
            continue
        if paused_from >= end:
            break
        if paused_from > start:
            yield start, paused_from
        start = paused_until
    if start < end:
        yield start, end


def _fixed_days(schedule: Schedule, stretch: _Stretch) -> Iterable[int]:
    """Return the due days of a fixed pattern inside a stretch."""
    start, end = stretch
    if schedule.pattern is Pattern.EVERY_N_DAYS:
        every = schedule.every_days or 1
        return range(start + (schedule.starts_on.toordinal() - start) % every, end, every)
    if schedule.pattern is Pattern.WEEKDAYS:
        return (day for day in range(start, end) if (day - 1) % 7 in schedule.weekdays)
    return range(start, end)


def _weeks(stretches: Iterable[_Stretch], low: int, high: int) -> Iterator[tuple[int, list[int]]]:
    """Yield every ISO week that meets [low, high), as its Monday and its available days."""
    low = _monday(low)
    high = _monday(high - 1) + 7
    monday, days = 0, list[int]()
    for start, end in stretches:
        if start >= high:
            break
        for day in range(max(start, low), min(end, high)):
            if _monday(day) != monday:
                if days:
                    yield monday, days
                monday, days = _monday(day), []
            days.append(day)
    if days:
        yield monday, days


def _monday(day: int) -> int:
    """Return the Monday of the week: ordinal 1, the first of January of year 1, was one."""
    return day - (day - 1) % 7


def _deadlines(days: list[int], quota: int) -> list[int]:
    """Return the last days of a week on which its share of the quota can still be met."""
    due = min(len(days), (2 * quota * len(days) + 7) // 14)
    return days[len(days) - due :]


class TodayKind(StrEnum):
    """What a patient meets today. ANY_DAY: sessions of this week that have no fixed day."""

    NOT_STARTED = "NOT_STARTED"
    DUE = "DUE"
    ANY_DAY = "ANY_DAY"
    NOTHING_DUE = "NOTHING_DUE"
    PAUSED = "PAUSED"
    ENDED = "ENDED"


@dataclass(frozen=True)
class TodayState:
    """What is due today and what comes next.

    slots: the sessions due today, one by one. quota: sessions due in the ISO week that starts on
    `week` (ANY_DAY only). next_due_on: the first day after today on which a session is due or, with
    a quota, can be done. starts_on: the first day of a program that has not started. paused_until:
    the first day after the pause, None while no end is set.
    """

    kind: TodayKind
    slots: tuple[int, ...] = ()
    next_due_on: date | None = None
    quota: int | None = None
    week: date | None = None
    starts_on: date | None = None
    paused_until: date | None = None


def today_state(
    spans: Iterable[RevisionSpan],
    pauses: Iterable[Pause],
    today: date,
    completed_on: date | None = None,
) -> TodayState:
    """Return what today holds by the schedule alone: sessions already done are not known here."""
    ordered, closed = _ordered(spans), _merged(pauses)
    day = today.toordinal()
    reaches = [_reach(span, completed_on) for span in ordered]
    coming = [(start, end) for start, end in reaches if end > max(day, start)]
    upcoming = _next_day(ordered, closed, day + 1, completed_on)
    if not coming:
        return TodayState(TodayKind.ENDED)
    first = min(start for start, _ in coming)
    if first > day and not any(start < end and start <= day for start, end in reaches):
        return TodayState(TodayKind.NOT_STARTED, next_due_on=upcoming, starts_on=_day_of(first))
    for start, end in closed:
        if start <= day < end:
            until = None if end == _FAR else _day_of(end)
            return TodayState(TodayKind.PAUSED, next_due_on=upcoming, paused_until=until)
    for span, (start, end) in zip(ordered, reaches, strict=True):
        if not start <= day < end:
            continue
        if span.schedule.pattern is not Pattern.WEEKLY_QUOTA:
            if day in _fixed_days(span.schedule, (day, day + 1)):
                slots = tuple(range(1, span.schedule.times_per_day + 1))
                return TodayState(TodayKind.DUE, slots=slots, next_due_on=upcoming)
            continue
        for monday, days in _weeks(_open(start, end, closed), day, day + 1):
            quota = len(_deadlines(days, span.schedule.weekly_quota or 0))
            if quota:
                return TodayState(
                    TodayKind.ANY_DAY, (1,), upcoming, quota=quota, week=_day_of(monday)
                )
    return TodayState(TodayKind.NOTHING_DUE, next_due_on=upcoming)


def _next_day(
    ordered: Iterable[RevisionSpan],
    closed: Sequence[_Stretch],
    after: int,
    completed_on: date | None,
) -> date | None:
    """Return the first day from `after` on which a session is due or can be done."""
    for span in ordered:
        start, end = _reach(span, completed_on)
        if span.schedule.pattern is Pattern.WEEKLY_QUOTA:
            quota = span.schedule.weekly_quota or 0
            for _, days in _weeks(_open(start, end, closed), after, _FAR):
                if days[-1] >= after and _deadlines(days, quota):
                    return _day_of(max(after, next(day for day in days if day >= after)))
            continue
        for stretch in _open(max(start, after), end, closed):
            for day in _fixed_days(span.schedule, stretch):
                return _day_of(day)
    return None


def is_due_today(
    spans: Iterable[RevisionSpan],
    pauses: Iterable[Pause],
    today: date,
    completed_on: date | None = None,
) -> bool:
    """Return whether a session is due today or, with a weekly quota, can be done today."""
    kind = today_state(spans, pauses, today, completed_on).kind
    return kind in (TodayKind.DUE, TodayKind.ANY_DAY)


def _first_due_ordinal(schedule: Schedule) -> int | None:
    span = RevisionSpan(None, schedule, schedule.starts_on)
    first = _next_day([span], [], schedule.starts_on.toordinal(), None)
    return None if first is None else first.toordinal()


def first_due_on(schedule: Schedule) -> date | None:
    """Return the first day of a schedule on which a session is due: DTSTART beside `to_rrule`."""
    first = _first_due_ordinal(schedule)
    return None if first is None else _day_of(first)


def to_rrule(schedule: Schedule) -> str | None:
    """Return the due days as an RFC 5545 recurrence rule of whole days, to go with `first_due_on`.

    None for a weekly quota, which a recurrence rule cannot say. Several sessions a day are the
    same day to the rule.
    """
    if schedule.pattern is Pattern.WEEKLY_QUOTA:
        return None
    parts = ["FREQ=DAILY"]
    if schedule.pattern is Pattern.WEEKDAYS:
        codes = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")
        days = ",".join(codes[day] for day in sorted(schedule.weekdays))
        parts = ["FREQ=WEEKLY", f"BYDAY={days}"]
    elif schedule.pattern is Pattern.EVERY_N_DAYS:
        parts.append(f"INTERVAL={schedule.every_days}")
    if schedule.ends_on is not None:
        parts.append(f"UNTIL={schedule.ends_on:%Y%m%d}")
    return ";".join(parts)
