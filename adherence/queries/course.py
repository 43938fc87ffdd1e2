"""The patient page: one time axis with work, pain, revisions and flags, and what stands under it."""

from __future__ import annotations

import uuid
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum

from adherence.models import (
    Flag,
    FlagStatus,
    FollowUp,
    FollowUpKind,
    FollowUpStatus,
    Outcome,
    SessionLog,
    SessionStatus,
)
from adherence.queries.caseload import FlagLine, Standing, age_on, flag_line, standing_of
from adherence.queries.facts import Entries, entries_of, matched_for
from adherence.rules.adherence import Share, days_active, dose_adherence, session_adherence
from adherence.rules.flags import FlagKind, pain_parameters
from adherence.rules.matching import DayCell, Matched, day_states
from adherence.rules.pain import Rating, RisingPain, daily_maximum, rising_pain
from clinic.models import Patient
from clinic.queries import policy_of_patient
from programs.queries.programs import ItemView, ProgramView, RevisionView, items_of, latest_program
from programs.rules.schedule import Pause
from shared.dates import DateWindow, local_date

SPANS = {"2w": 14, "6w": 42, "12w": 84, "all": None}
LONGEST_DAYS = 2 * 366


class EventKind(StrEnum):
    """What stands on the third band of the course."""

    REVISION = "REVISION"
    FLAG = "FLAG"
    FLAG_ENDED = "FLAG_ENDED"
    FOLLOW_UP = "FOLLOW_UP"


@dataclass(frozen=True)
class Event:
    """Something that happened on a day; `code` is the flag's, the follow-up's or the revision's."""

    on: date
    kind: EventKind
    code: str


@dataclass(frozen=True)
class DayRow:
    """One day as the table behind the picture shows it."""

    cell: DayCell
    worst: int | None
    morning: int | None
    reason: str
    note: str
    entered_later: bool
    effort: int | None


@dataclass(frozen=True)
class FollowUpLine:
    """One follow-up: what, by whom, for when or done when."""

    id: uuid.UUID
    kind: FollowUpKind
    status: FollowUpStatus
    note: str
    due_on: date | None
    on: date
    by: str
    flag_kind: FlagKind | None


@dataclass(frozen=True)
class EndedFlag:
    """A flag that was cleared by itself or closed with an outcome."""

    line: FlagLine
    status: FlagStatus
    ended_on: date
    outcome: Outcome | None
    note: str
    by: str


@dataclass(frozen=True)
class Measures:
    """What the window amounts to, each number apart."""

    sessions: Share
    dose: float | None  # 0 to 1 over due sessions, missing ones 0
    days: Share
    entered_later: int
    extras: int
    reasons: tuple[tuple[str, int], ...]  # barrier code, how often; the most frequent first


@dataclass(frozen=True)
class CoursePage:
    """Everything on the patient page. Dates are local to the patient."""

    patient: Patient
    age: int | None
    today: date
    window: DateWindow
    program: ProgramView | None
    revision: RevisionView | None
    items: tuple[ItemView, ...]
    standing: Standing
    measures: Measures
    days: tuple[DayRow, ...]
    worst: tuple[Rating, ...]
    morning: tuple[Rating, ...]
    pain: RisingPain
    pauses: tuple[Pause, ...]
    events: tuple[Event, ...]
    flags: tuple[FlagLine, ...]
    ended_flags: tuple[EndedFlag, ...]
    follow_ups: tuple[FollowUpLine, ...]


def course_page(patient: Patient, *, span: str, now: datetime) -> CoursePage:
    """Return the patient page for a span of SPANS, ending today. Nine queries."""
    today = local_date(now, patient.timezone)
    program = latest_program(patient.pk)
    window = _window(program, SPANS.get(span, SPANS["6w"]), today)
    policy = policy_of_patient(patient)
    since = program.starts_on if program and program.starts_on else window.start
    whole = DateWindow(min(window.start, since, today), today + timedelta(days=1))
    entries = entries_of([patient.pk], whole)[patient.pk]
    matched = (
        matched_for(program, entries, window, today=today) if program else Matched((), ())
    )
    flags = list(Flag.objects.filter(patient=patient).select_related("closed_by"))
    follow_ups = list(
        FollowUp.objects.filter(patient=patient)
        .select_related("recorded_by", "flag")
        .order_by("-recorded_at")
    )
    revision = (program.revision_on(today) or program.latest) if program else None
    pauses = program.pauses if program else ()
    return CoursePage(
        patient=patient,
        age=age_on(patient.date_of_birth, today),
        today=today,
        window=window,
        program=program,
        revision=revision,
        items=items_of(revision.id) if revision else (),
        standing=standing_of(program, entries, today=today, policy=policy),
        measures=_measures(matched),
        days=_days(patient, day_states(window, matched, pauses), entries, window),
        worst=tuple(r for r in daily_maximum(entries.worst) if r.local_date in window),
        morning=tuple(r for r in daily_maximum(entries.next_morning) if r.local_date in window),
        pain=rising_pain(entries.worst, parameters=pain_parameters(policy)),
        pauses=pauses,
        events=_events(program, flags, follow_ups, window, patient.timezone),
        flags=tuple(
            sorted(
                (flag_line(f) for f in flags if f.status == FlagStatus.OPEN),
                key=lambda line: (line.severity != "ACT_NOW", line.raised_on),
            )
        ),
        ended_flags=_ended(flags),
        follow_ups=tuple(_follow_up_line(row, patient.timezone) for row in follow_ups),
    )


def _window(program: ProgramView | None, days: int | None, today: date) -> DateWindow:
    if days is not None:
        return DateWindow.trailing(today, days)
    start = program.starts_on if program and program.starts_on else today
    return DateWindow.trailing(today, min(LONGEST_DAYS, max(14, (today - start).days + 1)))


def _measures(matched: Matched) -> Measures:
    closed = [o for o in matched.outcomes if o.is_closed]
    reasons = Counter(
        o.session.reason for o in closed if o.session is not None and o.session.reason
    )
    return Measures(
        sessions=session_adherence(closed),
        dose=dose_adherence(closed),
        days=days_active(closed),
        entered_later=sum(1 for o in closed if o.session and o.session.entered_later),
        extras=len(matched.extras),
        reasons=tuple(reasons.most_common()),
    )


def _days(
    patient: Patient, cells: Sequence[DayCell], entries: Entries, window: DateWindow
) -> tuple[DayRow, ...]:
    logs: dict[date, list[SessionLog]] = defaultdict(list)
    for log in SessionLog.objects.filter(
        patient=patient, local_date__gte=window.start, local_date__lt=window.end
    ).exclude(status=SessionStatus.IN_PROGRESS):
        logs[log.local_date].append(log)
    worst = {r.local_date: r.score for r in daily_maximum(entries.worst)}
    morning = {r.local_date: r.score for r in daily_maximum(entries.next_morning)}
    return tuple(
        DayRow(
            cell=cell,
            worst=worst.get(cell.date),
            morning=morning.get(cell.date),
            reason=next((log.reason for log in logs[cell.date] if log.reason), ""),
            note="\n".join(log.note for log in logs[cell.date] if log.note),
            entered_later=any(log.entered_later for log in logs[cell.date]),
            effort=max((log.effort for log in logs[cell.date] if log.effort is not None),
                       default=None),
        )
        for cell in cells
    )


def _events(
    program: ProgramView | None,
    flags: Iterable[Flag],
    follow_ups: Iterable[FollowUp],
    window: DateWindow,
    zone: str,
) -> tuple[Event, ...]:
    events = [
        Event(r.effective_from, EventKind.REVISION, str(r.number))
        for r in (program.revisions if program else ())
        if r.effective_from is not None
    ]
    for flag in flags:
        events.append(Event(flag.raised_on, EventKind.FLAG, flag.kind))
        if flag.ended_on is not None:
            events.append(Event(flag.ended_on, EventKind.FLAG_ENDED, flag.kind))
    events += [
        Event(local_date(row.done_at, zone), EventKind.FOLLOW_UP, row.kind)
        for row in follow_ups
        if row.done_at is not None
    ]
    return tuple(sorted((e for e in events if e.on in window), key=lambda e: (e.on, e.kind)))


def _ended(flags: Iterable[Flag]) -> tuple[EndedFlag, ...]:
    found = [
        EndedFlag(
            line=flag_line(flag),
            status=FlagStatus(flag.status),
            ended_on=flag.ended_on,
            outcome=Outcome(flag.outcome) if flag.outcome else None,
            note=flag.closing_note,
            by=flag.closed_by.name if flag.closed_by else "",
        )
        for flag in flags
        if flag.ended_on is not None
    ]
    return tuple(sorted(found, key=lambda one: one.ended_on, reverse=True))


def _follow_up_line(row: FollowUp, zone: str) -> FollowUpLine:
    return FollowUpLine(
        id=row.pk,
        kind=FollowUpKind(row.kind),
        status=FollowUpStatus(row.status),
        note=row.note,
        due_on=row.due_on,
        on=local_date(row.done_at or row.recorded_at, zone),
        by=row.recorded_by.name,
        flag_kind=FlagKind(row.flag.kind) if row.flag else None,
    )
