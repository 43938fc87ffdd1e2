"""A patient's record as the rules take it: due sessions, what became of them, ratings, flags."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from adherence.models import ExerciseStop, Flag, FlagStatus, PainMoment, PainRating, SessionLog
from adherence.models.session import CLOSED
from adherence.rules.flags import Facts, FlagKind, SharpStop
from adherence.rules.matching import DoneSession, Matched, match_sessions
from adherence.rules.pain import Rating
from programs.queries.programs import ProgramView, latest_programs
from programs.rules.schedule import due_sessions, sessions_per_week
from shared.dates import DateWindow

REVIEW_DAYS = 12 * 7


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


def entries_of(patient_ids: Iterable[uuid.UUID], window: DateWindow) -> dict[uuid.UUID, Entries]:
    """Return what these patients entered in `window`. Two queries, however many patients."""
    ids = list(patient_ids)
    done: dict[uuid.UUID, list[DoneSession]] = defaultdict(list)
    for row in SessionLog.objects.filter(
        patient_id__in=ids,
        status__in=CLOSED,
        local_date__gte=window.start,
        local_date__lt=window.end,
    ).values_list(
        "patient_id", "local_date", "slot", "status", "share", "entered_later", "reason"
    ):
        done[row[0]].append(DoneSession(*row[1:]))
    worst: dict[uuid.UUID, list[Rating]] = defaultdict(list)
    morning: dict[uuid.UUID, list[Rating]] = defaultdict(list)
    for patient_id, moment, on, score in (
        PainRating.objects.filter(
            patient_id__in=ids,
            moment__in=[PainMoment.WORST, PainMoment.NEXT_MORNING],
            withdrawn_at=None,
            local_date__gte=window.start,
            local_date__lt=window.end,
        )
        .order_by("local_date", "occurred_at")
        .values_list("patient_id", "moment", "local_date", "score")
    ):
        series = worst if moment == PainMoment.WORST else morning
        series[patient_id].append(Rating(on, score))
    return {
        key: Entries(tuple(done[key]), tuple(worst[key]), tuple(morning[key])) for key in ids
    }


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

    The record begins with the program and reaches back twelve weeks at most.
    """
    program = latest_programs([patient_id]).get(patient_id)
    if program is None or program.starts_on is None:
        return None
    window = DateWindow.trailing(today, REVIEW_DAYS)
    start = min(max(window.start, program.starts_on), window.end)
    window = DateWindow(start, window.end)
    entries = entries_of([patient_id], window)[patient_id]
    matched = matched_for(program, entries, window, today=today)
    flags = list(Flag.objects.filter(patient_id=patient_id, program_id=program.id))
    revision = program.revision_on(today) or program.latest
    return Facts(
        today=today,
        outcomes=tuple(o for o in matched.outcomes if o.is_closed),
        worst_ratings=entries.worst,
        next_morning_ratings=entries.next_morning,
        due_per_week=sessions_per_week(revision.schedule) if revision else 0,
        program_started_on=program.starts_on,
        program_is_live=program.completed_on is None and not program.is_paused(today),
        resets=_latest(flags, "ended_on", closed_only=True),
        snoozed_until=_latest(flags, "silent_until", closed_only=True),
        sharp_stops=_stops(patient_id, window),
        open_kinds=frozenset(FlagKind(f.kind) for f in flags if f.status == FlagStatus.OPEN),
    ), program.id


def _latest(flags: Iterable[Flag], field: str, *, closed_only: bool) -> Mapping[FlagKind, date]:
    found: dict[FlagKind, date] = {}
    for flag in flags:
        value = getattr(flag, field)
        if value is None or (closed_only and flag.status != FlagStatus.CLOSED):
            continue
        kind = FlagKind(flag.kind)
        found[kind] = max(value, found.get(kind, value))
    return found


def _stops(patient_id: uuid.UUID, window: DateWindow) -> tuple[SharpStop, ...]:
    rows = ExerciseStop.objects.filter(
        session__patient_id=patient_id, session__local_date__gte=window.end - timedelta(days=14)
    ).select_related("session", "prescription__exercise_revision")
    return tuple(
        SharpStop(
            id=row.pk,
            local_date=row.session.local_date,
            exercise_name=row.prescription.exercise_revision.content["name"],
            score=row.score,
        )
        for row in rows
    )
