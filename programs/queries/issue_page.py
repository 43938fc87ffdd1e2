"""What issuing a draft will change, and what a paper handout says."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from programs.models import Program, ProgramRevision, RevisionStatus
from programs.queries.program_page import (
    ItemLine,
    RevisionPage,
    WeekLine,
    changes_in_words,
    item_line,
    plan_of,
    schedule_text,
    week_line,
)
from programs.queries.programs import ItemView, ProgramView, items_of_revisions
from programs.rules.changes import Change, Plan
from programs.rules.dose import session_minutes, weekly_dose
from programs.rules.progression import FEW_EXERCISES
from programs.rules.schedule import Pattern, RevisionSpan, due_sessions, sessions_per_week
from shared.dates import DateWindow

HANDOUT_DAYS = 14


@dataclass(frozen=True)
class DraftRow:
    """A stored draft as it would be issued."""

    draft: ProgramRevision
    edited_by: str
    edited_at: datetime
    items: tuple[ItemLine, ...]
    plan: Plan
    minutes: int
    minutes_before: int | None
    changes: tuple[Change, ...]
    is_first: bool
    starts_on: date
    is_many: bool
    when: str
    week: WeekLine


def draft_against_force(program: Program, *, today: date) -> DraftRow | None:
    """Return the draft beside what is in force; None without a draft. Two queries."""
    rows = {
        row.status: row
        for row in program.revisions.filter(
            status__in=[RevisionStatus.DRAFT, RevisionStatus.ISSUED]
        ).select_related("edited_by", "issued_by")
    }
    draft = rows.get(RevisionStatus.DRAFT)
    if draft is None:
        return None
    in_force = rows.get(RevisionStatus.ISSUED)
    items = items_of_revisions([row.pk for row in rows.values()])
    plan = _plan(draft, items.get(draft.pk, ()))
    before = None if in_force is None else _plan(in_force, items.get(in_force.pk, ()))
    doses = [item.dose for item in plan.items]
    per_week = sessions_per_week(draft.schedule)
    return DraftRow(
        draft=draft,
        edited_by=draft.edited_by.name,
        edited_at=draft.edited_at,
        items=tuple(item_line(item) for item in items.get(draft.pk, ())),
        plan=plan,
        minutes=session_minutes(doses),
        minutes_before=None
        if before is None
        else session_minutes([item.dose for item in before.items]),
        changes=() if before is None else changes_in_words(before, plan),
        is_first=before is None,
        starts_on=max(today, draft.starts_on),
        is_many=len(plan.items) > FEW_EXERCISES,
        when=schedule_text(draft.schedule),
        week=week_line(weekly_dose(doses, per_week), per_week),
    )


def _plan(row: ProgramRevision, items: tuple[ItemView, ...]) -> Plan:
    return plan_of(
        items,
        row.schedule,
        pain_limit=row.pain_limit,
        goes_on=row.continue_after_sharp_pain,
    )


@dataclass(frozen=True)
class HandoutDay:
    """One day of the grid: how many sessions are due, None where any day will do."""

    day: date
    sessions: int | None


@dataclass(frozen=True)
class Handout:
    """A program on paper: what to do, and days to tick in rows of a week."""

    page: RevisionPage
    weeks: tuple[tuple[HandoutDay, ...], ...]
    slots: tuple[int, ...]
    is_any_day: bool


def handout(view: ProgramView, page: RevisionPage, *, today: date) -> Handout:
    """Return the handout of a revision: two weeks from today, or from its later first day."""
    revision = page.revision
    start = max(today, revision.schedule.starts_on, revision.effective_from or today)
    window = DateWindow(start, start + timedelta(days=HANDOUT_DAYS))
    is_any_day = revision.schedule.pattern is Pattern.WEEKLY_QUOTA
    days = tuple(_days(revision.id, view, page, window, is_any_day))
    return Handout(
        page=page,
        weeks=(days[:7], days[7:]),
        slots=tuple(range(1, revision.schedule.times_per_day + 1)),
        is_any_day=is_any_day,
    )


def _days(
    revision_id: uuid.UUID,
    view: ProgramView,
    page: RevisionPage,
    window: DateWindow,
    is_any_day: bool,
) -> Iterator[HandoutDay]:
    span = RevisionSpan(revision_id, page.revision.schedule, window.start)
    due = due_sessions([span], view.pauses, window, completed_on=view.completed_on)
    counts: dict[date, int] = {}
    for session in due:
        counts[session.due_on] = counts.get(session.due_on, 0) + 1
    for day in window:
        yield HandoutDay(day, None if is_any_day else counts.get(day, 0))
