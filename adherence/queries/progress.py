"""My progress: what a patient did and how it felt, in words first. No streaks, no ranking."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from adherence.queries.facts import entries_of, matched_for
from adherence.rules.adherence import Share, session_adherence
from adherence.rules.matching import DayCell, Matched, day_states
from adherence.rules.pain import Rating, daily_maximum
from clinic.models import Patient
from programs.queries.programs import ProgramView, latest_program
from shared.dates import DateWindow, local_date, week_start

WEEKS = 8


@dataclass(frozen=True)
class Week:
    """One calendar week, Monday first, with what was done of what was due."""

    starts_on: date
    cells: tuple[DayCell, ...]
    done: int
    due: int


@dataclass(frozen=True)
class ProgressPage:
    """Everything on the progress screen."""

    program: ProgramView | None
    today: date
    weeks: tuple[Week, ...]  # the newest first
    share: Share
    days_done: int
    pain: tuple[int | None, ...]  # worst of each day, oldest first
    first_pain: float | None  # mean of the first week with ratings
    last_pain: float | None  # mean of the last seven days


def progress_page(patient: Patient, *, now: datetime) -> ProgressPage:
    """Return the last eight weeks of the own record. Five queries."""
    today = local_date(now, patient.timezone)
    program = latest_program(patient.pk)
    start = week_start(today) - timedelta(weeks=WEEKS - 1)
    if program and program.starts_on:
        start = max(start, week_start(program.starts_on))
    window = DateWindow(min(start, week_start(today)), week_start(today) + timedelta(days=7))
    entries = entries_of([patient.pk], window)[patient.pk]
    matched = matched_for(program, entries, window, today=today) if program else Matched((), ())
    cells = day_states(window, matched, program.pauses if program else ())
    worst = daily_maximum(entries.worst)
    by_day = {r.local_date: r.score for r in worst}
    return ProgressPage(
        program=program,
        today=today,
        weeks=tuple(_weeks(cells)),
        share=session_adherence([o for o in matched.outcomes if o.is_closed]),
        days_done=len({s.local_date for s in entries.done if s.is_performed}),
        pain=tuple(by_day.get(day) for day in DateWindow(window.start, today).days()),
        first_pain=_mean_of(worst[:7]) if len(worst) >= 14 else None,
        last_pain=_mean_of(worst[-7:]) if len(worst) >= 7 else None,
    )


def _weeks(cells: tuple[DayCell, ...]) -> Iterator[Week]:
    for index in range(len(cells) - 7, -1, -7):
        week = cells[index : index + 7]
        yield Week(
            starts_on=week[0].date,
            cells=week,
            done=sum(cell.done for cell in week),
            due=sum(cell.due for cell in week),
        )


def _mean_of(ratings: tuple[Rating, ...]) -> float | None:
    return sum(r.score for r in ratings) / len(ratings) if ratings else None
