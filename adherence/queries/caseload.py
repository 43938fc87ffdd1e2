"""The caseload: one row a patient, ordered by need, each with a sentence that can be checked."""

from __future__ import annotations

import uuid
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum

from django.db.models import Max, Q
from django.utils.translation import gettext as _

from adherence.models import Flag, FlagStatus, FollowUp, FollowUpStatus
from adherence.queries.facts import REVIEW_DAYS, Entries, entries_of, ratings_since
from adherence.queries.standing import (
    FlagLine,
    age_on,
    flag_lines,
    standing_of,
    standing_sentence,
    usual_pain,
    week_of,
)
from adherence.queries.words import state_title
from adherence.rules.adherence import AdherenceState, Share
from adherence.rules.flags import FlagKind, Severity
from adherence.rules.matching import DayCell, Matched, day_states
from adherence.rules.need import OrderKey, order_key
from adherence.rules.pain import daily_maximum
from clinic.access import Viewer
from clinic.models import Patient
from clinic.queries import policy_of
from clinic.rules.policy import Policy
from programs.queries.programs import ProgramView, latest_programs
from shared.dates import DateWindow, local_date

STRIP_DAYS = 28


class CaseloadFilter(StrEnum):
    """Which rows the caseload shows; the values stand in addresses."""

    ALL = "all"
    FLAGGED = "flagged"
    SILENT = "silent"
    NEW = "new"
    BELOW_TARGET = "below-target"
    PAUSED = "paused"


class NextAction(StrEnum):
    """What a row offers first."""

    CALL = "CALL"
    FOLLOW_UP = "FOLLOW_UP"
    PAPER = "PAPER"
    PROGRAM = "PROGRAM"
    OPEN = "OPEN"


@dataclass(frozen=True)
class Contact:
    """When somebody was last in touch, and the follow-up that is planned next."""

    last_at: datetime | None = None
    planned_on: date | None = None
    planned_id: uuid.UUID | None = None


@dataclass(frozen=True)
class CaseloadRow:
    """One patient: why here, 28 days of done against due, and the worst pain of each day."""

    patient_id: uuid.UUID
    name: str
    age: int | None
    problem: str
    week: int | None  # of the program, 1 for its first seven days
    uses_paper: bool
    flags: tuple[FlagLine, ...]  # the one that matters most first
    state: AdherenceState
    state_title: str
    why: str
    share: Share  # of the last 14 days
    cells: tuple[DayCell, ...]
    pain: tuple[int | None, ...]  # one a day, None without a rating
    usual_low: float | None
    usual_high: float | None
    last_contact_days: int | None  # days ago, None when nobody has been in touch
    planned_on: date | None
    planned_id: uuid.UUID | None
    is_planned_due: bool
    next_visit_on: date | None
    needs_somebody: bool
    action: NextAction
    order: tuple[bool, bool, OrderKey]

    @property
    def severity(self) -> Severity | None:
        """The severity of the flag that matters most."""
        return self.flags[0].severity if self.flags else None

    @property
    def new_flag(self) -> FlagLine | None:
        """The first flag that nobody has seen."""
        return next((flag for flag in self.flags if not flag.is_acknowledged), None)

    @property
    def has_due(self) -> bool:
        """Whether anything was due or done in the strip: without it there are no data to show."""
        return any(cell.due or cell.extra for cell in self.cells)

    @property
    def has_pain(self) -> bool:
        """Whether pain was rated on any day of the strip."""
        return any(score is not None for score in self.pain)


@dataclass(frozen=True)
class FilterChip:
    """One filter of the caseload and how many rows it shows."""

    code: CaseloadFilter
    label: str
    count: int
    is_current: bool


@dataclass(frozen=True)
class CaseloadPage:
    """The rows that are asked for, and what the whole caseload counts."""

    heading: str
    rows: tuple[CaseloadRow, ...]
    chips: tuple[FilterChip, ...]
    total: int
    first: int  # how many need somebody, in the whole caseload


def caseload_page(
    viewer: Viewer, *, now: datetime, only: CaseloadFilter = CaseloadFilter.ALL, name: str = ""
) -> CaseloadPage:
    """Return the caseload, narrowed to a filter and to names that hold all words of `name`."""
    rows = caseload_rows(viewer, now=now)
    counts = counts_by_filter(rows)
    first = sum(row.needs_somebody for row in rows)
    words = name.casefold().split()
    return CaseloadPage(
        heading=heading_of(first, len(rows)),
        rows=tuple(
            row
            for row in rows
            if _is_in(row, only) and all(word in row.name.casefold() for word in words)
        ),
        chips=tuple(
            FilterChip(code, label, counts[code], code == only)
            for code, label in _filter_labels().items()
        ),
        total=len(rows),
        first=first,
    )


def caseload_rows(viewer: Viewer, *, now: datetime) -> list[CaseloadRow]:
    """Return the rows of the patients whom the viewer treats, by need. Nine queries."""
    patients = list(
        Patient.objects.current()
        .filter(clinic_id=viewer.clinic_id)
        .treated_by(viewer.user_id, now)
        .order_by("family_name", "given_name")
    )
    ids = [patient.pk for patient in patients]
    policy = policy_of(viewer.clinic_id)
    programs = latest_programs(ids)
    today = local_date(now, viewer.timezone)
    entries = entries_of(
        ids,
        DateWindow.trailing(today + timedelta(days=1), REVIEW_DAYS + 1),
        ratings_from={
            key: ratings_since(program, today=today) for key, program in programs.items()
        },
    )
    flags = _flags(ids)
    contacts = _contacts(ids)
    rows = [
        _row(
            patient,
            programs.get(patient.pk),
            entries[patient.pk],
            flags[patient.pk],
            contacts.get(patient.pk, Contact()),
            policy,
            now,
        )
        for patient in patients
    ]
    return sorted(rows, key=lambda row: row.order)


def _flags(ids: Iterable[uuid.UUID]) -> Mapping[uuid.UUID, list[Flag]]:
    """Return the open flags, and the closed ones after which usual pain is learned anew."""
    found: dict[uuid.UUID, list[Flag]] = defaultdict(list)
    matter = Q(status=FlagStatus.OPEN) | Q(status=FlagStatus.CLOSED, kind=FlagKind.RISING_PAIN)
    for flag in Flag.objects.filter(matter, patient_id__in=list(ids)).order_by("raised_at"):
        found[flag.patient_id].append(flag)
    return found


def _contacts(ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, Contact]:
    listed = list(ids)
    planned: dict[uuid.UUID, tuple[date, uuid.UUID]] = {}
    for patient_id, due_on, key in (
        FollowUp.objects.filter(patient_id__in=listed, status=FollowUpStatus.PLANNED)
        .order_by("due_on", "recorded_at")
        .values_list("patient_id", "due_on", "pk")
    ):
        if due_on is not None:
            planned.setdefault(patient_id, (due_on, key))
    latest: dict[uuid.UUID, datetime | None] = dict(
        FollowUp.objects.filter(patient_id__in=listed, status=FollowUpStatus.DONE)
        .order_by()
        .values("patient_id")
        .annotate(latest=Max("done_at"))
        .values_list("patient_id", "latest")
    )
    return {
        key: Contact(latest.get(key), *planned.get(key, (None, None)))
        for key in planned.keys() | latest.keys()
    }


def _row(
    patient: Patient,
    program: ProgramView | None,
    entries: Entries,
    flags: list[Flag],
    contact: Contact,
    policy: Policy,
    now: datetime,
) -> CaseloadRow:
    today = local_date(now, patient.timezone)
    standing = standing_of(program, entries, today=today, policy=policy)
    strip = DateWindow.trailing(today, STRIP_DAYS)
    lines = flag_lines(flags)
    first = lines[0] if lines else None
    worst = {r.local_date: r.score for r in daily_maximum(entries.worst)}
    usual = usual_pain(entries, flags, policy)
    shown = Matched(
        tuple(o for o in standing.matched.outcomes if o.due.due_on >= strip.start),
        tuple(e for e in standing.matched.extras if e.local_date >= strip.start),
    )
    quiet_for = _days_since(contact.last_at, patient, today)
    is_planned_due = contact.planned_on is not None and contact.planned_on <= today
    is_waiting = (
        standing.state == AdherenceState.SILENT
        and not lines  # somebody has seen those, or they ask by themselves
        and contact.planned_on is None
        and (quiet_for is None or quiet_for >= policy.silent_days)
    )
    needs_somebody = any(not line.is_acknowledged for line in lines) or is_planned_due or is_waiting
    return CaseloadRow(
        patient_id=patient.pk,
        name=patient.name,
        age=age_on(patient.date_of_birth, today),
        problem=patient.problem,
        week=week_of(program, today),
        uses_paper=patient.uses_paper,
        flags=lines,
        state=standing.state,
        state_title=state_title(standing.state),
        why=first.sentence if first else standing_sentence(standing, policy),
        share=standing.share,
        cells=day_states(strip, shown, program.pauses if program else ()),
        pain=tuple(worst.get(day) for day in strip.days()),
        usual_low=usual.low,
        usual_high=usual.high,
        last_contact_days=quiet_for,
        planned_on=contact.planned_on,
        planned_id=contact.planned_id,
        is_planned_due=is_planned_due,
        next_visit_on=patient.next_visit_on
        if patient.next_visit_on and patient.next_visit_on >= today
        else None,
        needs_somebody=needs_somebody,
        action=_action(patient, lines, standing.state, is_planned_due=is_planned_due),
        order=(
            not needs_somebody,
            first is None and not is_planned_due,
            order_key(
                first.severity if first else None,
                standing.state,
                (today - first.raised_on).days if first else None,
                f"{patient.family_name} {patient.given_name}",
            ),
        ),
    )


def _days_since(last_at: datetime | None, patient: Patient, today: date) -> int | None:
    if last_at is None:
        return None
    return max(0, (today - local_date(last_at, patient.timezone)).days)


def _action(
    patient: Patient,
    flags: tuple[FlagLine, ...],
    state: AdherenceState,
    *,
    is_planned_due: bool,
) -> NextAction:
    if any(not flag.is_acknowledged for flag in flags):
        return NextAction.CALL
    if is_planned_due:
        return NextAction.FOLLOW_UP
    if state == AdherenceState.NO_PROGRAM:
        return NextAction.PROGRAM
    if state == AdherenceState.SILENT:
        return NextAction.PAPER if patient.uses_paper else NextAction.CALL
    return NextAction.OPEN


def _is_in(row: CaseloadRow, only: CaseloadFilter) -> bool:
    if only == CaseloadFilter.ALL:
        return True
    if only == CaseloadFilter.FLAGGED:
        return bool(row.flags)
    return row.state == AdherenceState[only.name]


def counts_by_filter(rows: Iterable[CaseloadRow]) -> Counter[CaseloadFilter]:
    """Return how many rows each filter of the caseload would show."""
    return Counter(code for row in rows for code in CaseloadFilter if _is_in(row, code))


def _filter_labels() -> dict[CaseloadFilter, str]:
    return {
        CaseloadFilter.ALL: _("All"),
        CaseloadFilter.FLAGGED: _("Flagged"),
        CaseloadFilter.SILENT: _("Silent"),
        CaseloadFilter.NEW: _("New"),
        CaseloadFilter.BELOW_TARGET: _("Below target"),
        CaseloadFilter.PAUSED: _("Paused"),
    }


def heading_of(first: int, total: int) -> str:
    """Return the heading that counts: "Seven people first, then you are done"."""
    if not total:
        return _("Caseload")
    if not first:
        return _("Nobody waits for you")
    words = (
        _("One person first, then you are done"),
        _("Two people first, then you are done"),
        _("Three people first, then you are done"),
        _("Four people first, then you are done"),
        _("Five people first, then you are done"),
        _("Six people first, then you are done"),
        _("Seven people first, then you are done"),
        _("Eight people first, then you are done"),
        _("Nine people first, then you are done"),
        _("Ten people first, then you are done"),
        _("Eleven people first, then you are done"),
        _("Twelve people first, then you are done"),
    )
    if first <= len(words):
        return words[first - 1]
    return _("%(count)d people first, then you are done") % {"count": first}
