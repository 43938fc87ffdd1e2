"""A patient's record as the rules take it: due sessions, what became of them, ratings, flags."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal, cast

from adherence.models import ExerciseStop, Flag, FlagStatus, PainMoment, PainRating, SessionLog
from adherence.models.session import CLOSED
from adherence.rules.flags import Facts, FlagKind, SharpStop
from adherence.rules.matching import DoneSession, Matched, match_sessions
from adherence.rules.pain import Rating
from programs.queries.programs import ProgramView, latest_programs
from programs.rules.schedule import due_sessions, sessions_per_week
from shared.dates import DateWindow

REVIEW_DAYS = 12 * 7
# A program older than this is judged by the ratings of its last two years.
RATINGS_DAYS = 2 * 366

ClosedStatus = Literal["COMPLETED", "STOPPED", "NOT_DONE"]


@dataclass(frozen=True)
class Entries:
    """What one patient entered over a window, without what was withdrawn."""

    done: tuple[DoneSession, ...] = ()
    worst: tuple[Rating, ...] = ()
    next_morning: tuple[Rating, ...] = ()

    @property
    def last_entry_on(self) -> date | None:
        """The latest local day with an entry of any kind."""
        days = [d.local_date for d in self.done]
        days += [r.local_date for r in (*self.worst, *self.next_morning)]
        return max(days, default=None)


def ratings_since(program: ProgramView | None, *, today: date) -> date:
    """Return the day from which ratings count: the first ones of the program say what is usual.

    A window that moves along would move the first ratings with it, so the record of ratings begins
    with the program, or two years ago where that is later.
    """
    longest = today - timedelta(days=RATINGS_DAYS - 1)
    if program is None or program.starts_on is None:
        return today - timedelta(days=REVIEW_DAYS - 1)
    return max(program.starts_on, longest)


def entries_of(
    patient_ids: Iterable[uuid.UUID],
    window: DateWindow,
    *,
    ratings_from: Mapping[uuid.UUID, date] | None = None,
) -> dict[uuid.UUID, Entries]:
    """Return what these patients entered in `window`. Two queries, however many patients.

    `ratings_from` gives a patient's ratings an earlier first day than the window's, or a later one.
    """
    ids = list(patient_ids)
    firsts = ratings_from or {}
    done: dict[uuid.UUID, list[DoneSession]] = defaultdict(list)
    for row in SessionLog.objects.filter(
        patient_id__in=ids,
        status__in=CLOSED,
        local_date__gte=window.start,
        local_date__lt=window.end,
    ).values_list("patient_id", "local_date", "slot", "status", "share", "entered_later", "reason"):
        patient_id, on, slot, status, share, entered_later, reason = row
        done[patient_id].append(
            DoneSession(on, slot, cast(ClosedStatus, status), share, entered_later, reason)
        )
    worst: dict[uuid.UUID, list[Rating]] = defaultdict(list)
    morning: dict[uuid.UUID, list[Rating]] = defaultdict(list)
    for patient_id, moment, on, score in (
        PainRating.objects.filter(
            patient_id__in=ids,
            moment__in=[PainMoment.WORST, PainMoment.NEXT_MORNING],
            withdrawn_at=None,
            local_date__gte=min([window.start, *firsts.values()]),
            local_date__lt=window.end,
        )
        .order_by("local_date", "occurred_at")
        .values_list("patient_id", "moment", "local_date", "score")
    ):
        if on < firsts.get(patient_id, window.start):
            continue
        series = worst if moment == PainMoment.WORST else morning
        series[patient_id].append(Rating(on, score))
    return {key: Entries(tuple(done[key]), tuple(worst[key]), tuple(morning[key])) for key in ids}


def matched_for(
    program: ProgramView, entries: Entries, window: DateWindow, *, today: date
) -> Matched:
    """Return what became of each due session in `window`. Flexible weeks are matched whole."""
    whole_weeks = DateWindow(
        window.start - timedelta(days=window.start.weekday()),
        max(window.end, today + timedelta(days=7 - today.weekday())),
    )
    due = due_sessions(
        program.spans, program.pauses, whole_weeks, completed_on=program.completed_on
    )
    matched = match_sessions(due, entries.done, today=today)
    return Matched(
        outcomes=tuple(o for o in matched.outcomes if o.due.due_on in window),
        extras=tuple(e for e in matched.extras if e.local_date in window),
        unused=tuple(e for e in matched.unused if e.local_date in window),
    )


def review_facts(patient_id: uuid.UUID, *, today: date) -> tuple[Facts, uuid.UUID] | None:
    """Return the facts for the flag rules and the program's id; None without an issued program.

    The record begins with the program. Sessions reach back twelve weeks at most, ratings two years.
    """
    program = latest_programs([patient_id]).get(patient_id)
    if program is None or program.starts_on is None:
        return None
    window = DateWindow.trailing(today, REVIEW_DAYS)
    start = min(max(window.start, program.starts_on), window.end)
    window = DateWindow(start, window.end)
    entries = entries_of(
        [patient_id], window, ratings_from={patient_id: ratings_since(program, today=today)}
    )[patient_id]
    matched = matched_for(program, entries, window, today=today)
    flags = list(Flag.objects.filter(patient_id=patient_id))
    revision = program.revision_on(today) or program.latest
    return Facts(
        today=today,
        outcomes=tuple(o for o in matched.outcomes if o.is_closed),
        worst_ratings=entries.worst,
        next_morning_ratings=entries.next_morning,
        due_per_week=sessions_per_week(revision.schedule) if revision else 0,
        program_started_on=program.starts_on,
        program_is_live=program.completed_on is None and not program.is_paused(today),
        has_earlier_entries=_entered_before(patient_id, program.starts_on, window.start),
        resets=_latest_closed(flags, "ended_on"),
        snoozed_until=_latest_closed(flags, "snoozed_until"),
        sharp_stops=_stops(patient_id, flags),
        open_kinds=frozenset(FlagKind(f.kind) for f in flags if f.status == FlagStatus.OPEN),
    ), program.id


def _entered_before(patient_id: uuid.UUID, since: date, until: date) -> bool:
    """Return whether anything was entered in the part of the program that is not looked at."""
    if since >= until:
        return False
    return SessionLog.objects.filter(
        patient_id=patient_id, status__in=CLOSED, local_date__gte=since, local_date__lt=until
    ).exists()


def _latest_closed(flags: Iterable[Flag], field: str) -> Mapping[FlagKind, date]:
    """Return by kind the latest `field` among the flags that a person closed."""
    found: dict[FlagKind, date] = {}
    for flag in flags:
        value = getattr(flag, field)
        if value is not None and flag.status == FlagStatus.CLOSED:
            kind = FlagKind(flag.kind)
            found[kind] = max(value, found.get(kind, value))
    return found


def _stops(patient_id: uuid.UUID, flags: Iterable[Flag]) -> tuple[SharpStop, ...]:
    """Return the stops that the open flag tells of; what an earlier flag told is not told again."""
    open_flag = next(
        (f for f in flags if f.kind == FlagKind.SHARP_PAIN and f.status == FlagStatus.OPEN), None
    )
    if open_flag is None:
        return ()
    rows = (
        ExerciseStop.objects.filter(
            session__patient_id=patient_id, recorded_at__gte=open_flag.raised_at
        )
        .select_related("session", "prescription__exercise_revision")
        .order_by("recorded_at", "pk")
    )
    return tuple(
        SharpStop(
            id=row.pk,
            local_date=row.session.local_date,
            exercise_name=row.prescription.exercise_revision.content["name"],
            score=row.score,
        )
        for row in rows
    )
