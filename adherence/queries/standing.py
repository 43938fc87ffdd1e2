"""How a patient stands today: state, share of the last weeks, usual pain, open flags in words."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.translation import gettext, ngettext

from adherence.models import Flag, FlagStatus
from adherence.queries.facts import REVIEW_DAYS, Entries, matched_for
from adherence.queries.words import flag_title, state_title
from adherence.rules.adherence import (
    NEW_BELOW,
    AdherenceState,
    Share,
    adherence_state,
    session_adherence,
)
from adherence.rules.flags import FlagKind, Severity, flag_sentence, pain_parameters
from adherence.rules.matching import Matched
from adherence.rules.need import why_sentence
from adherence.rules.pain import RisingPain, rising_pain
from clinic.rules.policy import Policy
from programs.queries.programs import ProgramView
from shared.dates import DateWindow

SHARE_DAYS = 14
WEEK = 7


@dataclass(frozen=True)
class FlagLine:
    """A flag as a row or a banner shows it."""

    id: uuid.UUID
    kind: FlagKind
    severity: Severity
    title: str
    sentence: str
    raised_on: date
    is_acknowledged: bool


@dataclass(frozen=True)
class Standing:
    """How a patient stands with the program today."""

    state: AdherenceState
    share: Share  # of the last 14 days
    matched: Matched  # of the last twelve weeks
    silent_for_days: int | None

    @property
    def title(self) -> str:
        """The state in two words."""
        return state_title(self.state)


@dataclass(frozen=True)
class UsualPain:
    """What is usual for a patient, with the band around it; None while it is being learned."""

    judged: RisingPain
    usual: float | None
    low: float | None
    high: float | None


def flag_line(flag: Flag) -> FlagLine:
    """Return a flag with its sentence, worded from the evidence that it holds."""
    kind = FlagKind(flag.kind)
    return FlagLine(
        id=flag.pk,
        kind=kind,
        severity=Severity(flag.severity),
        title=flag_title(kind),
        sentence=flag_sentence(kind, flag.evidence, gettext, ngettext),
        raised_on=flag.raised_on,
        is_acknowledged=flag.acknowledged_at is not None,
    )


def flag_lines(flags: Iterable[Flag]) -> tuple[FlagLine, ...]:
    """Return the open ones among `flags`: not seen before seen, act now before look, old first."""
    lines = [flag_line(flag) for flag in flags if flag.status == FlagStatus.OPEN]
    return tuple(
        sorted(
            lines,
            key=lambda line: (
                line.is_acknowledged,
                line.severity != Severity.ACT_NOW,
                line.raised_on,
            ),
        )
    )


def age_on(born: date | None, today: date) -> int | None:
    """Return the age in whole years, None where the date of birth is not known."""
    if born is None:
        return None
    return today.year - born.year - ((today.month, today.day) < (born.month, born.day))


def week_of(program: ProgramView | None, today: date) -> int | None:
    """Return the week of a running program, 1 for its first seven days."""
    if program is None or program.starts_on is None or program.starts_on > today:
        return None
    if program.completed_on is not None and program.completed_on <= today:
        return None
    return (today - program.starts_on).days // WEEK + 1


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
    share = session_adherence(recent)
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
    if state == AdherenceState.NEW and not is_new:
        # Known well, but nothing was due for two weeks: that is no news about the patient.
        state = AdherenceState.ON_TARGET
    return Standing(state, share, matched, (today - (last or program.starts_on)).days)


def standing_sentence(standing: Standing, policy: Policy) -> str:
    """Return why a row without a flag stands where it stands."""
    if standing.state == AdherenceState.ON_TARGET and not standing.share.due:
        return gettext("Nothing was due in the last two weeks.")
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


def usual_pain(entries: Entries, flags: Iterable[Flag], policy: Policy) -> UsualPain:
    """Return the usual worst pain as the flag rule sees it: from anew after a flag was closed."""
    closed = [
        flag.ended_on
        for flag in flags
        if flag.kind == FlagKind.RISING_PAIN
        and flag.status == FlagStatus.CLOSED
        and flag.ended_on is not None
    ]
    judged = rising_pain(
        entries.worst,
        parameters=pain_parameters(policy),
        reset_on=max(closed) + timedelta(days=1) if closed else None,
    )
    usual, spread = judged.usual, judged.spread
    if usual is None or spread is None:
        return UsualPain(judged, usual, None, None)
    return UsualPain(judged, usual, max(0.0, usual - spread), min(10.0, usual + spread))
