"""The patient page: one time axis of work, pain, revisions and flags, and what stands beside it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from django.utils.translation import gettext, ngettext

from adherence.models import ExerciseStop, Flag, FollowUp, SessionLog, SessionStatus
from adherence.queries.course_days import (
    CoursePicture,
    DayRow,
    Said,
    course_picture,
    day_rows,
    events_of,
    said_by_patient,
)
from adherence.queries.facts import entries_of, matched_for, ratings_since
from adherence.queries.follow_up import (
    OpenFlag,
    PlannedFollowUp,
    ThreadLine,
    open_flags,
    planned_follow_ups,
    thread_of,
)
from adherence.queries.standing import (
    Standing,
    UsualPain,
    age_on,
    standing_of,
    standing_sentence,
    usual_pain,
    week_of,
)
from adherence.rules.adherence import Share, days_active, dose_adherence, session_adherence
from adherence.rules.barriers import Barrier, barrier_reason
from adherence.rules.matching import Matched, day_states, match_sessions
from clinic.models import Patient
from clinic.queries import policy_of_patient
from programs.queries.programs import (
    ItemView,
    ProgramView,
    RevisionView,
    items_of_revisions,
    latest_program,
)
from programs.rules.dose import dose_wording
from programs.rules.schedule import schedule_wording
from shared.dates import DateWindow, local_date

SPANS: Mapping[str, int | None] = {"2w": 14, "6w": 42, "12w": 84, "all": None}
DEFAULT_SPAN = "6w"
LONGEST_DAYS = 2 * 366
SAID_SHOWN = 6


class ProgramPhase(StrEnum):
    """Where the patient's program stands today."""

    NONE = "NONE"
    DRAFT_ONLY = "DRAFT_ONLY"
    COMING = "COMING"
    RUNNING = "RUNNING"
    PAUSED = "PAUSED"
    ENDED = "ENDED"


@dataclass(frozen=True)
class PrescribedItem:
    """One exercise of the program in force, with the dose before where that was another."""

    item: ItemView
    was_text: str
    is_new: bool


@dataclass(frozen=True)
class Measures:
    """What the window amounts to, each number apart. None where nothing can be counted."""

    sessions: Share
    dose: float | None  # 0 to 1 over due sessions, missing ones 0
    days: Share
    entered_later: int
    extras: int
    reasons: tuple[tuple[str, int], ...]  # reason in words, how often; the most frequent first

    @property
    def percents(self) -> tuple[int, int, int] | None:
        """Share of sessions, and the limits of its interval, in whole percent."""
        share, interval = self.sessions.percent, self.sessions.interval
        if share is None or interval is None:
            return None
        return round(share), round(100 * interval.low), round(100 * interval.high)

    @property
    def dose_percent(self) -> int | None:
        """Dose adherence in whole percent."""
        return None if self.dose is None else round(100 * self.dose)


@dataclass(frozen=True)
class ProgramInForce:
    """The revision in force, or the last one, with its doses in words."""

    view: ProgramView
    revision: RevisionView
    schedule: str
    items: tuple[PrescribedItem, ...]


@dataclass(frozen=True)
class CoursePage:
    """Everything on the patient page. Dates are local to the patient."""

    patient: Patient
    age: int | None
    week: int | None
    today: date
    span: str
    window: DateWindow
    phase: ProgramPhase
    program: ProgramView | None
    in_force: ProgramInForce | None
    standing: Standing
    standing_sentence: str
    measures: Measures
    days: tuple[DayRow, ...]  # oldest first
    picture: CoursePicture
    usual: UsualPain
    said: tuple[Said, ...]
    flags: tuple[OpenFlag, ...]
    planned: tuple[PlannedFollowUp, ...]
    thread: tuple[ThreadLine, ...]

    @property
    def newest_first(self) -> tuple[DayRow, ...]:
        """The days as the table lists them."""
        return self.days[::-1]

    @property
    def has_record(self) -> bool:
        """Whether there is anything to draw: a program that has begun, or an entry."""
        return any(row.cell.due or row.cell.extra or row.worst is not None for row in self.days)


def course_page(patient: Patient, *, span: str, now: datetime) -> CoursePage:
    """Return the patient page for a span of SPANS, ending today. Ten queries.

    An unknown span is taken as DEFAULT_SPAN.
    """
    today = local_date(now, patient.timezone)
    span = span if span in SPANS else DEFAULT_SPAN
    program = latest_program(patient.pk)
    window = _window(program, SPANS[span], today)
    policy = policy_of_patient(patient)
    since = ratings_since(program, today=today)
    entries = entries_of(
        [patient.pk],
        DateWindow(min(window.start, since), window.end),
        ratings_from={patient.pk: min(window.start, since) if program is None else since},
    )[patient.pk]
    if program is not None:
        matched = matched_for(program, entries, window, today=today)
    else:
        inside = [done for done in entries.done if done.local_date in window]
        matched = match_sessions([], inside, today=today)
    flags = list(
        Flag.objects.filter(patient=patient).select_related("closed_by", "acknowledged_by")
    )
    follow_ups = list(
        FollowUp.objects.filter(patient=patient).select_related("recorded_by", "flag")
    )
    logs = list(
        SessionLog.objects.filter(
            patient=patient, local_date__gte=window.start, local_date__lt=window.end
        )
        .exclude(status=SessionStatus.IN_PROGRESS)
        .order_by("local_date", "slot")
    )
    stops = list(
        ExerciseStop.objects.filter(
            session__patient=patient,
            session__local_date__gte=window.start,
            session__local_date__lt=window.end,
        )
        .select_related("session", "prescription__exercise_revision")
        .order_by("occurred_at", "pk")
    )
    usual = usual_pain(entries, flags, policy)
    standing = standing_of(program, entries, today=today, policy=policy)
    events = events_of(flags, follow_ups, window, zone=patient.timezone)
    cells = day_states(window, matched, program.pauses if program else ())
    rows = day_rows(cells, entries, logs, stops, events)
    return CoursePage(
        patient=patient,
        age=age_on(patient.date_of_birth, today),
        week=week_of(program, today),
        today=today,
        span=span,
        window=window,
        phase=_phase(program, today),
        program=program,
        in_force=_in_force(program, today),
        standing=standing,
        standing_sentence=standing_sentence(standing, policy),
        measures=_measures(matched),
        days=rows,
        picture=course_picture(
            rows, program=program, flags=flags, events=events, usual=usual, today=today
        ),
        usual=usual,
        said=said_by_patient(logs, stops)[:SAID_SHOWN],
        flags=open_flags(flags, zone=patient.timezone),
        planned=planned_follow_ups(follow_ups, today=today),
        thread=thread_of(flags, follow_ups, zone=patient.timezone),
    )


def _window(program: ProgramView | None, days: int | None, today: date) -> DateWindow:
    if days is not None:
        return DateWindow.trailing(today, days)
    start = program.starts_on if program and program.starts_on else today
    return DateWindow.trailing(today, min(LONGEST_DAYS, max(14, (today - start).days + 1)))


def _phase(program: ProgramView | None, today: date) -> ProgramPhase:
    if program is None:
        return ProgramPhase.NONE
    if program.starts_on is None:
        return ProgramPhase.DRAFT_ONLY if program.has_draft else ProgramPhase.NONE
    if program.completed_on is not None and program.completed_on <= today:
        return ProgramPhase.ENDED
    if program.starts_on > today:
        return ProgramPhase.COMING
    return ProgramPhase.PAUSED if program.is_paused(today) else ProgramPhase.RUNNING


def _in_force(program: ProgramView | None, today: date) -> ProgramInForce | None:
    """Return the revision that holds today, or else the last, compared with the one before it."""
    revision = (program.revision_on(today) or program.latest) if program else None
    if program is None or revision is None:
        return None
    before = next((r for r in program.revisions if r.number == revision.number - 1), None)
    items = items_of_revisions([r.id for r in (revision, before) if r is not None])
    old = {item.exercise_id: item for item in items.get(before.id, ())} if before else {}
    return ProgramInForce(
        view=program,
        revision=revision,
        schedule=schedule_wording(revision.schedule, gettext, ngettext),
        items=tuple(
            PrescribedItem(
                item=item,
                was_text=_was(old[item.exercise_id], item) if item.exercise_id in old else "",
                is_new=before is not None and item.exercise_id not in old,
            )
            for item in items.get(revision.id, ())
        ),
    )


def _was(old: ItemView, new: ItemView) -> str:
    return dose_wording(old.dose, gettext, ngettext) if old.dose != new.dose else ""


def _measures(matched: Matched) -> Measures:
    closed = [outcome for outcome in matched.outcomes if outcome.is_closed]
    reasons = Counter(
        outcome.session.reason
        for outcome in closed
        if outcome.session is not None and outcome.session.reason in Barrier.__members__
    )
    return Measures(
        sessions=session_adherence(closed),
        dose=dose_adherence(closed),
        days=days_active(closed),
        entered_later=sum(1 for o in closed if o.session and o.session.entered_later),
        extras=len(matched.extras),
        reasons=tuple((barrier_reason(code, gettext), n) for code, n in reasons.most_common()),
    )
