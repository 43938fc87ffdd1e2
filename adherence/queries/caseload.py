"""The caseload: one row a patient, ordered by need, each with a sentence that can be checked."""

from __future__ import annotations

import uuid
from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Max
from django.utils.translation import gettext, ngettext

from adherence.models import Flag, FollowUp, FollowUpStatus
from adherence.queries.facts import REVIEW_DAYS, Entries, entries_of, matched_for
from adherence.rules.adherence import (
    NEW_BELOW,
    AdherenceState,
    Share,
    adherence_state,
    session_adherence,
)
from adherence.rules.flags import FlagKind, Severity, flag_sentence, pain_parameters
from adherence.rules.matching import DayCell, Matched, day_states
from adherence.rules.need import OrderKey, order_key, why_sentence
from adherence.rules.pain import daily_maximum, rising_pain
from clinic.access import Viewer
from clinic.models import Patient
from clinic.queries import policy_of
from clinic.rules.policy import Policy
from programs.queries.programs import ProgramView, latest_programs
from shared.dates import DateWindow, local_date

STRIP_DAYS = 28
SHARE_DAYS = 14


@dataclass(frozen=True)
class FlagLine:
    """An open flag as a row shows it."""

    id: uuid.UUID
    kind: FlagKind
    severity: Severity
    sentence: str
    raised_on: date
    is_acknowledged: bool


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
    why: str
    share: Share  # of the last 14 days
    cells: tuple[DayCell, ...]
    pain: tuple[int | None, ...]  # one a day, None without a rating
    usual_low: float | None
    usual_high: float | None
    last_contact_on: date | None
    next_visit_on: date | None
    order: OrderKey

    @property
    def severity(self) -> Severity | None:
        """The severity of the flag that matters most."""
        return self.flags[0].severity if self.flags else None

    @property
    def needs_somebody(self) -> bool:
        """Whether a flag is open that nobody has acknowledged, or the patient is silent."""
        return bool(self.flags) or self.state == AdherenceState.SILENT


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
    entries = entries_of(ids, DateWindow.trailing(today + timedelta(days=1), REVIEW_DAYS + 1))
    flags = _open_flags(ids)
    contacts = dict(
        FollowUp.objects.filter(patient_id__in=ids, status=FollowUpStatus.DONE)
        .order_by()
        .values("patient_id")
        .annotate(latest=Max("done_at"))
        .values_list("patient_id", "latest")
    )
    rows = [
        _row(
            patient,
            programs.get(patient.pk),
            entries[patient.pk],
            flags[patient.pk],
            contacts.get(patient.pk),
            policy,
            now,
        )
        for patient in patients
    ]
    return sorted(rows, key=lambda row: row.order)


def _open_flags(ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, list[Flag]]:
    found: dict[uuid.UUID, list[Flag]] = defaultdict(list)
    for flag in Flag.objects.open().filter(patient_id__in=list(ids)).order_by("raised_at"):
        found[flag.patient_id].append(flag)
    return found


def flag_line(flag: Flag) -> FlagLine:
    """Return a flag with its sentence, worded from the evidence that it holds."""
    kind = FlagKind(flag.kind)
    return FlagLine(
        id=flag.pk,
        kind=kind,
        severity=Severity(flag.severity),
        sentence=flag_sentence(kind, flag.evidence, gettext, ngettext),
        raised_on=flag.raised_on,
        is_acknowledged=flag.acknowledged_at is not None,
    )


def age_on(born: date | None, today: date) -> int | None:
    """Return the age in whole years, None where the date of birth is not known."""
    if born is None:
        return None
    return today.year - born.year - ((today.month, today.day) < (born.month, born.day))


@dataclass(frozen=True)
class Standing:
    """How a patient stands with the program today."""

    state: AdherenceState
    share: Share
    matched: Matched
    silent_for_days: int | None


def standing_of(
    program: ProgramView | None, entries: Entries, *, today: date, policy: Policy
) -> Standing:
    """Return the state and the session adherence of the last 14 days."""
    if program is None or program.starts_on is None:
        return Standing(AdherenceState.NO_PROGRAM, Share(0, 0, None), Matched((), ()), None)
    window = DateWindow.trailing(today, REVIEW_DAYS)
    matched = matched_for(program, entries, window, today=today)
    closed = [o for o in matched.outcomes if o.is_closed]
    recent = [o for o in closed if o.due.due_on in DateWindow.trailing(today, SHARE_DAYS)]
    last = entries.last_entry_on
    is_new = len(closed) < NEW_BELOW
    state = adherence_state(
        outcomes=closed if is_new else recent,
        paused_today=program.is_paused(today),
        last_entry_on=last,
        today=today,
        target_percent=policy.target_percent,
        silent_days=policy.silent_days,
        silent_sessions=policy.silent_sessions,
        has_ended=program.completed_on is not None and program.completed_on <= today,
        new_below=NEW_BELOW if is_new else 1,
    )
    since = last or program.starts_on
    return Standing(state, session_adherence(recent), matched, (today - since).days)


def _row(
    patient: Patient,
    program: ProgramView | None,
    entries: Entries,
    flags: list[Flag],
    last_contact: datetime | None,
    policy: Policy,
    now: datetime,
) -> CaseloadRow:
    today = local_date(now, patient.timezone)
    standing = standing_of(program, entries, today=today, policy=policy)
    strip = DateWindow.trailing(today, STRIP_DAYS)
    lines = sorted(
        (flag_line(flag) for flag in flags),
        key=lambda line: (line.severity != Severity.ACT_NOW, line.raised_on),
    )
    worst = {r.local_date: r.score for r in daily_maximum(entries.worst)}
    pain = rising_pain(entries.worst, parameters=pain_parameters(policy))
    usual, spread = pain.usual, pain.spread
    shown = Matched(
        tuple(o for o in standing.matched.outcomes if o.due.due_on >= strip.start),
        tuple(e for e in standing.matched.extras if e.local_date >= strip.start),
    )
    first = lines[0] if lines else None
    return CaseloadRow(
        patient_id=patient.pk,
        name=patient.name,
        age=age_on(patient.date_of_birth, today),
        problem=patient.problem,
        week=_week(program, today),
        uses_paper=patient.uses_paper,
        flags=tuple(lines),
        state=standing.state,
        why=first.sentence if first else _why(standing, policy),
        share=standing.share,
        cells=day_states(strip, shown, program.pauses if program else ()),
        pain=tuple(worst.get(day) for day in strip.days()),
        usual_low=None if usual is None else max(0.0, usual - (spread or 0)),
        usual_high=None if usual is None else min(10.0, usual + (spread or 0)),
        last_contact_on=local_date(last_contact, patient.timezone) if last_contact else None,
        next_visit_on=patient.next_visit_on,
        order=order_key(
            first.severity if first else None,
            standing.state,
            (today - first.raised_on).days if first else None,
            patient.family_name,
        ),
    )


def _why(standing: Standing, policy: Policy) -> str:
    return why_sentence(
        state=standing.state,
        share=standing.share,
        days=SHARE_DAYS,
        target_percent=policy.target_percent,
        silent_for_days=standing.silent_for_days,
        translate=gettext,
        ngettext=ngettext,
        silent_days=policy.silent_days,
        silent_sessions=policy.silent_sessions,
    )


def _week(program: ProgramView | None, today: date) -> int | None:
    if program is None or program.starts_on is None or program.starts_on > today:
        return None
    return (today - program.starts_on).days // 7 + 1


def counts_by_filter(rows: Iterable[CaseloadRow]) -> Counter[str]:
    """Return how many rows each filter of the caseload would show."""
    counts: Counter[str] = Counter()
    for row in rows:
        counts["all"] += 1
        counts["flagged"] += bool(row.flags)
        counts[row.state.value.lower()] += 1
    return counts
