"""One patient's program as its page shows it: in words, with what each revision changed."""

from __future__ import annotations

import math
import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Prefetch
from django.utils.formats import date_format
from django.utils.translation import gettext, ngettext

from programs.models import (
    PauseReason,
    Program,
    ProgramPause,
    ProgramRevision,
    ProgramStatus,
    RevisionStatus,
)
from programs.queries.programs import (
    ItemView,
    ProgramView,
    RevisionView,
    items_of_revisions,
    program_view,
    revision_view,
)
from programs.rules.changes import Change, Plan, PlannedItem, plan_changes
from programs.rules.dose import WeeklyDose, dose_parts, dose_wording, session_minutes, weekly_dose
from programs.rules.library import PRECAUTION_TEXTS, ExerciseEntry
from programs.rules.schedule import Schedule, schedule_wording, sessions_per_week
from programs.rules.wording import span_text

EXACT_SECONDS = 600  # a longer time of a week is said in whole minutes, up as in the editor


@dataclass(frozen=True)
class ItemLine:
    """One exercise of a revision in words."""

    position: int
    name: str
    slug: str
    dose: str
    details: tuple[str, ...]  # tempo, rest and effort, where they are set
    note: str
    precautions: tuple[str, ...]
    entry: ExerciseEntry


@dataclass(frozen=True)
class WeekLine:
    """What a week of a revision adds up to, in words."""

    sessions: str
    amounts: tuple[str, ...]


@dataclass(frozen=True)
class RevisionPage:
    """A revision with its items, its sums, and how it differs from the one before."""

    revision: RevisionView
    when: str
    items: tuple[ItemLine, ...]
    minutes: int
    week: WeekLine
    changes: tuple[Change, ...]
    is_first: bool


@dataclass(frozen=True)
class DraftLine:
    """What there is to say about a draft before it is opened."""

    edited_by: str
    edited_at: datetime
    version: int


@dataclass(frozen=True)
class PauseLine:
    """A pause over [starts_on, ends_on) with the words of its reason."""

    starts_on: date
    ends_on: date | None
    reason: str
    set_by: str

    @property
    def last_day(self) -> date | None:
        """The last day without work, None while no end is set."""
        return None if self.ends_on is None else self.ends_on - timedelta(days=1)

    def holds(self, day: date) -> bool:
        """Return whether nothing is due on `day` for this pause."""
        return self.starts_on <= day and (self.ends_on is None or day < self.ends_on)


@dataclass(frozen=True)
class EarlierProgram:
    """A program that has ended."""

    id: uuid.UUID
    title: str
    completed_on: date | None
    last_number: int | None


@dataclass(frozen=True)
class ProgramPage:
    """The page of a patient's program; `program` is None where there has never been one."""

    program: ProgramView | None
    current: RevisionPage | None
    is_ahead: bool  # the revision shown takes effect after today
    history: tuple[RevisionPage, ...]
    draft: DraftLine | None
    pause: PauseLine | None
    coming_pauses: tuple[PauseLine, ...]
    past_pauses: tuple[PauseLine, ...]
    earlier: tuple[EarlierProgram, ...]

    @property
    def can_change(self) -> bool:
        """Whether the program is live and has been issued."""
        return self.program is not None and self.program.status is ProgramStatus.ACTIVE


def pause_reason_names() -> dict[PauseReason, str]:
    """Return what each reason for a pause is called."""
    _ = gettext
    return {
        PauseReason.UNWELL: _("Unwell"),
        PauseReason.AWAY: _("Away"),
        PauseReason.PAIN: _("Too much pain"),
        PauseReason.THERAPIST: _("On the therapist's advice"),
        PauseReason.OTHER: _("Another reason"),
    }


def item_line(item: ItemView) -> ItemLine:
    """Return an item in the viewer's language."""
    parts = dose_parts(item.dose, gettext, ngettext)
    return ItemLine(
        position=item.position,
        name=item.entry.name,
        slug=item.entry.slug,
        dose=dose_wording(item.dose, gettext, ngettext),
        details=tuple(text for text in (parts.tempo, parts.rest, parts.effort) if text),
        note=item.note,
        precautions=precaution_texts(item.entry),
        entry=item.entry,
    )


def precaution_texts(entry: ExerciseEntry) -> tuple[str, ...]:
    """Return what makes a therapist look twice before assigning this exercise."""
    return tuple(gettext(PRECAUTION_TEXTS[code]) for code in entry.precautions)


def week_line(week: WeeklyDose, per_week: float) -> WeekLine:
    """Return a weekly dose in words, only the kinds of work that there are."""
    amounts = []
    if week.repetitions:
        amounts.append(
            ngettext("%(count)d repetition", "%(count)d repetitions", week.repetitions)
            % {"count": week.repetitions}
        )
    for seconds, text in (
        (week.hold_seconds, gettext("%(span)s held")),
        (week.moving_seconds, gettext("%(span)s moving")),
    ):
        if seconds:
            exact = seconds if seconds < EXACT_SECONDS else math.ceil(seconds / 60) * 60
            amounts.append(text % {"span": span_text(exact, gettext, ngettext)})
    return WeekLine(sessions_text(per_week), tuple(amounts))


def schedule_text(schedule: Schedule) -> str:
    """Return a schedule in the viewer's language."""
    return schedule_wording(schedule, gettext, ngettext)


def sessions_text(per_week: float) -> str:
    """Return "7 sessions a week", or "3.5 sessions a week"."""
    if per_week == int(per_week):
        count = int(per_week)
        text = ngettext("%(count)d session a week", "%(count)d sessions a week", count)
        return text % {"count": count}
    return gettext("%(number)s sessions a week") % {"number": f"{per_week:.1f}"}


def plan_of(
    items: Iterable[ItemView], schedule: Schedule, *, pain_limit: int, goes_on: bool
) -> Plan:
    """Return what a revision asks for, as the rule that compares takes it."""
    return Plan(
        items=tuple(
            PlannedItem(item.exercise_id, item.entry.name, item.dose, item.note) for item in items
        ),
        schedule=schedule,
        pain_limit=pain_limit,
        continue_after_sharp_pain=goes_on,
    )


def changes_in_words(before: Plan, after: Plan) -> tuple[Change, ...]:
    """Return the differences in the viewer's language."""
    return plan_changes(before, after, translate=gettext, ngettext=ngettext, say_date=_say_date)


def _say_date(day: date) -> str:
    return date_format(day, "DATE_FORMAT")


def program_page(
    patient_id: uuid.UUID, *, today: date, program_id: uuid.UUID | None = None
) -> ProgramPage:
    """Return the page of a patient's program on their local day. Four queries.

    It is the live program, or the one that ended last, unless `program_id` names another.
    """
    programs = list(
        Program.objects.filter(patient_id=patient_id)
        .order_by("created_at", "id")
        .prefetch_related(
            Prefetch(
                "revisions",
                ProgramRevision.objects.select_related("issued_by", "edited_by").order_by("number"),
            ),
            Prefetch(
                "pauses",
                ProgramPause.objects.select_related("set_by").order_by("starts_on"),
            ),
        )
    )
    if not programs:
        return ProgramPage(None, None, False, (), None, None, (), (), ())
    row = next((one for one in programs if one.pk == program_id), programs[-1])
    view = program_view(row)
    history = _history(view)
    current, is_ahead = _current(view, history, today)
    pauses = [_pause_line(pause) for pause in row.pauses.all()]
    return ProgramPage(
        program=view,
        current=current,
        is_ahead=is_ahead,
        history=history[::-1],
        draft=_draft_line(row.revisions.all()),
        pause=next((pause for pause in pauses if pause.holds(today)), None),
        coming_pauses=tuple(pause for pause in pauses if pause.starts_on > today),
        past_pauses=tuple(
            pause
            for pause in pauses
            if pause.ends_on is not None and pause.starts_on < pause.ends_on <= today
        ),
        earlier=tuple(_earlier(other) for other in programs[::-1] if other.pk != row.pk),
    )


def _history(view: ProgramView) -> tuple[RevisionPage, ...]:
    """Return the issued revisions, oldest first, each against the one before. One query."""
    items = items_of_revisions([revision.id for revision in view.revisions])
    pages: list[RevisionPage] = []
    before: Plan | None = None
    for revision in view.revisions:
        page, before = _revision_page(revision, items.get(revision.id, ()), before)
        pages.append(page)
    return tuple(pages)


def _revision_page(
    revision: RevisionView, items: Sequence[ItemView], before: Plan | None
) -> tuple[RevisionPage, Plan]:
    plan = plan_of(
        items,
        revision.schedule,
        pain_limit=revision.pain_limit,
        goes_on=revision.continue_after_sharp_pain,
    )
    doses = [item.dose for item in items]
    per_week = sessions_per_week(revision.schedule)
    page = RevisionPage(
        revision=revision,
        when=schedule_text(revision.schedule),
        items=tuple(item_line(item) for item in items),
        minutes=session_minutes(doses),
        week=week_line(weekly_dose(doses, per_week), per_week),
        changes=() if before is None else changes_in_words(before, plan),
        is_first=before is None,
    )
    return page, plan


def _current(
    view: ProgramView, history: Sequence[RevisionPage], today: date
) -> tuple[RevisionPage | None, bool]:
    """Return the revision in force today, else the last; and whether it is yet to take effect."""
    in_force = view.revision_on(today)
    for page in history:
        if in_force is not None and page.revision.id == in_force.id:
            return page, False
    if not history:
        return None, False
    last = history[-1]
    starts = last.revision.effective_from
    return last, starts is not None and starts > today


def _draft_line(revisions: Iterable[ProgramRevision]) -> DraftLine | None:
    for row in revisions:
        if row.status == RevisionStatus.DRAFT:
            return DraftLine(row.edited_by.name, row.edited_at, row.version)
    return None


def _pause_line(pause: ProgramPause) -> PauseLine:
    return PauseLine(
        starts_on=pause.starts_on,
        ends_on=pause.ends_on,
        reason=pause_reason_names()[PauseReason(pause.reason)],
        set_by=pause.set_by.name,
    )


def _earlier(program: Program) -> EarlierProgram:
    issued = [row.number for row in program.revisions.all() if row.issued_at is not None]
    return EarlierProgram(
        program.id, program.title, program.completed_on, max(issued, default=None)
    )


def revision_page(program: Program, number: int) -> RevisionPage | None:
    """Return one issued revision against the one before it; None where there is none."""
    rows = list(
        program.revisions.exclude(status=RevisionStatus.DRAFT)
        .filter(number__lte=number)
        .select_related("issued_by")
        .order_by("-number")[:2]
    )
    if not rows or rows[0].number != number:
        return None
    views = [revision_view(row) for row in rows]
    items = items_of_revisions([view.id for view in views])
    before = None
    for view in views[:0:-1]:
        _page, before = _revision_page(view, items.get(view.id, ()), None)
    return _revision_page(views[0], items.get(views[0].id, ()), before)[0]
