"""Flags with their evidence, and the thread of what was done about them."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext as _

from adherence.models import Flag, FlagStatus, FollowUp, FollowUpKind, FollowUpStatus, Outcome
from adherence.queries.evidence import Evidence, evidence_of
from adherence.queries.standing import FlagLine, flag_line, flag_lines
from adherence.queries.words import ending_words, flag_title, follow_up_title, outcome_title
from adherence.rules.flags import FlagKind
from shared.dates import local_date


@dataclass(frozen=True)
class OpenFlag:
    """An open flag as its banner shows it."""

    line: FlagLine
    evidence: Evidence
    since: date  # the day from which its evidence speaks, at the latest the day it was raised
    seen_on: date | None
    seen_by: str


@dataclass(frozen=True)
class PlannedFollowUp:
    """A follow-up that somebody has taken on for a day."""

    id: uuid.UUID
    title: str
    note: str
    due_on: date
    is_due: bool
    by: str
    about: str  # the flag that it answers, "" for none


@dataclass(frozen=True)
class ThreadLine:
    """One thing done or one flag ended, as the thread tells it."""

    on: date
    title: str
    text: str
    note: str
    by: str
    is_flag: bool


@dataclass(frozen=True)
class FlagPage:
    """A flag on the pages where something is done about it."""

    flag: OpenFlag
    is_open: bool


def open_flags(flags: Iterable[Flag], *, zone: str) -> tuple[OpenFlag, ...]:
    """Return the open flags in the order of need."""
    rows = {flag.pk: flag for flag in flags if flag.status == FlagStatus.OPEN}
    return tuple(_open_flag(rows[line.id], line, zone) for line in flag_lines(rows.values()))


def flag_page(flag: Flag) -> FlagPage:
    """Return one flag with its evidence, whatever has become of it."""
    return FlagPage(
        flag=_open_flag(flag, flag_line(flag), flag.patient.timezone),
        is_open=flag.status == FlagStatus.OPEN,
    )


def flag_since(flag: Flag) -> date:
    """Return the day from which the evidence of a flag speaks."""
    told = flag.evidence.get("since")
    if not told and flag.evidence.get("sessions"):
        told = flag.evidence["sessions"][0]["on"]
    return min(date.fromisoformat(told), flag.raised_on) if told else flag.raised_on


def _open_flag(flag: Flag, line: FlagLine, zone: str) -> OpenFlag:
    seen = flag.acknowledged_at
    return OpenFlag(
        line=line,
        evidence=evidence_of(line.kind, flag.evidence),
        since=flag_since(flag),
        seen_on=local_date(seen, zone) if seen else None,
        seen_by=flag.acknowledged_by.name if flag.acknowledged_by else "",
    )


def planned_follow_ups(rows: Iterable[FollowUp], *, today: date) -> tuple[PlannedFollowUp, ...]:
    """Return what is planned, the earliest first."""
    planned = [
        PlannedFollowUp(
            id=row.pk,
            title=follow_up_title(FollowUpKind(row.kind)),
            note=row.note,
            due_on=row.due_on,
            is_due=row.due_on <= today,
            by=row.recorded_by.name,
            about=flag_title(FlagKind(row.flag.kind)) if row.flag else "",
        )
        for row in rows
        if row.status == FollowUpStatus.PLANNED and row.due_on is not None
    ]
    return tuple(sorted(planned, key=lambda one: one.due_on))


def thread_of(
    flags: Iterable[Flag], rows: Iterable[FollowUp], *, zone: str
) -> tuple[ThreadLine, ...]:
    """Return what was done and which flags ended, the newest first."""
    lines = [(row.done_at, _done(row, zone)) for row in rows if row.done_at is not None]
    lines += [(flag.ended_at, _ended(flag)) for flag in flags if flag.ended_at is not None]
    return tuple(line for _at, line in sorted(lines, key=lambda pair: pair[0], reverse=True))


def _done(row: FollowUp, zone: str) -> ThreadLine:
    on = row.done_at or row.recorded_at
    about = flag_title(FlagKind(row.flag.kind)) if row.flag else ""
    return ThreadLine(
        on=local_date(on, zone),
        title=follow_up_title(FollowUpKind(row.kind)),
        text=_("about: %(flag)s") % {"flag": about} if about else "",
        note=row.note,
        by=row.recorded_by.name,
        is_flag=False,
    )


def _ended(flag: Flag) -> ThreadLine:
    line = flag_line(flag)
    status = FlagStatus(flag.status)
    how = ending_words(line.kind, status)
    if status == FlagStatus.CLOSED and flag.outcome:
        how = _("Closed: %(outcome)s") % {"outcome": outcome_title(Outcome(flag.outcome))}
    return ThreadLine(
        on=flag.ended_on or flag.raised_on,
        title=line.title,
        text=f"{how}. {line.sentence}" if line.sentence else how,
        note=flag.closing_note,
        by=flag.closed_by.name if flag.closed_by else "",
        is_flag=True,
    )
