"""The days of the course, each in words, and the chart that is drawn from them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from adherence.models import ExerciseStop, Flag, FollowUp, FollowUpKind, SessionLog
from adherence.queries.facts import Entries
from adherence.queries.follow_up import flag_since
from adherence.queries.standing import UsualPain
from adherence.queries.words import day_words, flag_title, follow_up_title, revision_title
from adherence.rules.barriers import Barrier, barrier_reason
from adherence.rules.course_chart import (
    ChartDay,
    Column,
    CourseChart,
    Happening,
    Stretch,
    course_chart,
)
from adherence.rules.flags import FlagKind
from adherence.rules.matching import DayCell, DayState
from adherence.rules.pain import daily_maximum
from programs.queries.programs import ProgramView
from shared.dates import DateWindow, local_date

PAIN_KINDS = (FlagKind.SHARP_PAIN, FlagKind.RISING_PAIN)


@dataclass(frozen=True)
class DayRow:
    """One day as the table behind the picture shows it."""

    cell: DayCell
    words: str
    worst: int | None
    morning: int | None
    effort: int | None
    note: str
    stops: tuple[str, ...]  # exercises stopped for sharp pain
    events: tuple[str, ...]
    entered_later: bool


@dataclass(frozen=True)
class Said:
    """Words of the patient's own."""

    on: date
    text: str
    about: str  # the exercise that was stopped, "" for a session


@dataclass(frozen=True)
class DrawnColumn:
    """A column of the chart with what it says when it is pointed at."""

    column: Column
    words: str
    row: date  # the day in the table that it leads to


@dataclass(frozen=True)
class CoursePicture:
    """The chart with its columns in words."""

    chart: CourseChart
    columns: tuple[DrawnColumn, ...]


def day_rows(
    cells: Sequence[DayCell],
    entries: Entries,
    logs: Iterable[SessionLog],
    stops: Iterable[ExerciseStop],
    events: Iterable[Happening],
) -> tuple[DayRow, ...]:
    """Return one row a cell, oldest first."""
    by_day: dict[date, list[SessionLog]] = defaultdict(list)
    for log in logs:
        by_day[log.local_date].append(log)
    stopped: dict[date, list[str]] = defaultdict(list)
    for stop in stops:
        stopped[stop.session.local_date].append(_exercise(stop))
    happened: dict[date, list[str]] = defaultdict(list)
    for event in events:
        happened[event.on].append(event.label)
    worst = {r.local_date: r.score for r in daily_maximum(entries.worst)}
    morning = {r.local_date: r.score for r in daily_maximum(entries.next_morning)}
    return tuple(
        DayRow(
            cell=cell,
            words=day_words(cell, _reason(by_day[cell.date])),
            worst=worst.get(cell.date),
            morning=morning.get(cell.date),
            effort=max(
                (log.effort for log in by_day[cell.date] if log.effort is not None), default=None
            ),
            note="\n".join(log.note for log in by_day[cell.date] if log.note),
            stops=tuple(stopped[cell.date]),
            events=tuple(happened[cell.date]),
            entered_later=any(log.entered_later for log in by_day[cell.date]),
        )
        for cell in cells
    )


def said_by_patient(logs: Iterable[SessionLog], stops: Iterable[ExerciseStop]) -> tuple[Said, ...]:
    """Return the patient's own words, the newest first."""
    found = [Said(log.local_date, log.note, "") for log in logs if log.note]
    found += [Said(s.session.local_date, s.note, _exercise(s)) for s in stops if s.note]
    return tuple(sorted(found, key=lambda one: one.on, reverse=True))


def _exercise(stop: ExerciseStop) -> str:
    return str(stop.prescription.exercise_revision.content["name"])


def _reason(logs: Iterable[SessionLog]) -> str:
    code = next((log.reason for log in logs if log.reason in Barrier.__members__), "")
    return barrier_reason(code, _) if code else ""


def events_of(
    flags: Iterable[Flag], follow_ups: Iterable[FollowUp], window: DateWindow, *, zone: str
) -> tuple[Happening, ...]:
    """Return the flags raised and ended and the follow-ups done in the window, oldest first."""
    events = []
    for flag in flags:
        title = flag_title(FlagKind(flag.kind)).lower()
        events.append(Happening(flag.raised_on, _("flag: %(title)s") % {"title": title}))
        if flag.ended_on is not None:
            events.append(Happening(flag.ended_on, _("flag ended")))
    events += [
        Happening(local_date(row.done_at, zone), follow_up_title(FollowUpKind(row.kind)).lower())
        for row in follow_ups
        if row.done_at is not None
    ]
    return tuple(sorted((e for e in events if e.on in window), key=lambda e: e.on))


def course_picture(
    rows: Sequence[DayRow],
    *,
    program: ProgramView | None,
    flags: Iterable[Flag],
    events: Iterable[Happening],
    usual: UsualPain,
    today: date,
) -> CoursePicture:
    """Return the chart of the days with everything on it in words."""
    listed = list(flags)
    has_band = usual.low is not None and usual.high is not None
    chart = course_chart(
        [
            ChartDay(
                on=row.cell.date,
                state=row.cell.state,
                share=row.cell.share,
                due=row.cell.due,
                done=row.cell.done,
                extra=row.cell.extra,
                entered_later=row.entered_later,
                worst=row.worst,
                morning=row.morning,
            )
            for row in rows
        ],
        usual=(usual.low or 0.0, usual.high or 0.0) if has_band else None,
        revisions=_revisions(program, today),
        flagged=[_stretch(f) for f in listed if f.kind in PAIN_KINDS],
        missed=[_stretch(f) for f in listed if f.kind not in PAIN_KINDS],
        events=events,
        started_on=program.starts_on if program else None,
    )
    words = {row.cell.date: _day_words(row) for row in rows}
    return CoursePicture(
        chart,
        tuple(
            DrawnColumn(
                column=column,
                words=_week_words(column) if chart.by_weeks else words[column.starts_on],
                row=column.ends_on - timedelta(days=1),
            )
            for column in chart.columns
        ),
    )


def _revisions(program: ProgramView | None, today: date) -> list[Stretch]:
    """Return the revisions in force; the label gives number and reason."""
    stretches = []
    for revision in program.revisions if program else ():
        if program is None or revision.effective_from is None:
            continue
        until = revision.effective_until or program.completed_on
        title = revision_title(revision.number)
        label = f"{title}: {revision.reason}" if revision.reason else title
        stretches.append(
            Stretch(revision.effective_from, until, label, is_marked=revision.holds(today))
        )
    return stretches


def _stretch(flag: Flag) -> Stretch:
    return Stretch(flag_since(flag), flag.ended_on, flag_title(FlagKind(flag.kind)))


def _day_words(row: DayRow) -> str:
    """Return a day in one line: "Tue 3 Mar: done; worst pain 4; call"."""
    parts = [row.words]
    if row.entered_later:
        parts.append(_("entered later"))
    if row.worst is not None:
        parts.append(_("worst pain %(score)d") % {"score": row.worst})
    if row.morning is not None:
        parts.append(_("next morning %(score)d") % {"score": row.morning})
    parts += [_("%(exercise)s stopped for sharp pain") % {"exercise": name} for name in row.stops]
    parts += row.events
    return _("%(day)s: %(what)s") % {
        "day": date_format(row.cell.date, "D j M"),
        "what": "; ".join(parts),
    }


def _week_words(column: Column) -> str:
    """Return a week in one line."""
    if column.due:
        parts = [_("%(done)d of %(due)d done") % {"done": column.done, "due": column.due}]
    else:
        parts = [_("paused") if column.state == DayState.PAUSED else _("nothing due")]
    if column.extra:
        parts.append(_("%(count)d extra") % {"count": column.extra})
    if column.worst is not None:
        parts.append(_("worst pain %(score)d") % {"score": column.worst})
    if column.morning is not None:
        parts.append(_("next morning %(score)d") % {"score": column.morning})
    return _("Week from %(day)s: %(what)s") % {
        "day": date_format(column.starts_on, "j M Y"),
        "what": "; ".join(parts),
    }
