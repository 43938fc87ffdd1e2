"""Which days staff can enter from paper, and what was to be done on the one they chose."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from adherence.queries.facts import entries_of, matched_for
from adherence.queries.words import day_words
from adherence.rules.matching import DayCell, DayState, day_states
from clinic.models import Patient
from programs.queries.programs import ItemView, items_of, latest_program
from programs.rules.schedule import TodayKind, today_state
from shared.dates import DateWindow, local_date


@dataclass(frozen=True)
class PaperChoice:
    """A day that can be entered, with what is known of it."""

    cell: DayCell
    words: str
    is_missing: bool  # due, and nothing entered
    is_chosen: bool


@dataclass(frozen=True)
class PaperPage:
    """The days to choose from, newest first, and the exercises of the chosen one."""

    on: date | None
    chosen: PaperChoice | None
    choices: tuple[PaperChoice, ...]
    items: tuple[ItemView, ...]


def paper_page(patient: Patient, *, on: date | None, days: int, now: datetime) -> PaperPage:
    """Return the last `days` days of the program, and the exercises of `on`. Six queries.

    Without `on` the oldest day that has no entry is taken, or else yesterday. A day outside of
    them, or without a program, has no exercises.
    """
    today = local_date(now, patient.timezone)
    program = latest_program(patient.pk)
    if program is None or program.starts_on is None or program.starts_on > today:
        return PaperPage(on, None, (), ())
    start = max(program.starts_on, today - timedelta(days=days))
    until = min(today + timedelta(days=1), program.completed_on or date.max)
    window = DateWindow(min(start, until), until)
    if not len(window):
        return PaperPage(on, None, (), ())
    entries = entries_of([patient.pk], window)[patient.pk]
    matched = matched_for(program, entries, window, today=today)
    cells = day_states(window, matched, program.pauses)
    if on is None:
        missing = [cell.date for cell in cells if cell.state == DayState.NO_ENTRY]
        fallback = today - timedelta(days=1)
        on = missing[0] if missing else min(max(fallback, window.start), until - timedelta(days=1))
    choices = tuple(
        PaperChoice(
            cell=cell,
            words=day_words(cell),
            is_missing=cell.state == DayState.NO_ENTRY,
            is_chosen=cell.date == on,
        )
        for cell in reversed(cells)
    )
    chosen = next((choice for choice in choices if choice.is_chosen), None)
    revision = program.revision_on(on) if chosen else None
    state = today_state(program.spans, program.pauses, on, program.completed_on)
    has_program = revision is not None and state.kind not in (
        TodayKind.NOT_STARTED,
        TodayKind.ENDED,
    )
    items = items_of(revision.id) if revision is not None and has_program else ()
    return PaperPage(on, chosen, choices, items)
