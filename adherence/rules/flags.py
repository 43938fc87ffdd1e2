"""Which flags a patient's record asks for: facts and policy in, one decision a kind out.

A flag is a prompt for a professional to look. Each decision carries its evidence as plain values,
so that what was seen can be stored, worded in any language, and checked by hand years later.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from enum import StrEnum
from typing import Any

from adherence.rules.adherence import MissesResult, misses_cusum
from adherence.rules.matching import DayState, Outcome
from adherence.rules.pain import (
    PainParameters,
    PainSignal,
    PainState,
    Rating,
    RisingPain,
    daily_maximum,
    rising_pain,
)
from adherence.rules.sentences import sentence
from clinic.rules.policy import Policy
from programs.rules.wording import Ngettext, Translate

RULE_VERSION = "2026-11"
# From so many due sessions a week on, the slower limit of missed sessions holds.
DAILY_FROM_PER_WEEK = 5
LATER_SHOWN = 6


class FlagKind(StrEnum):
    """What a flag is about."""

    SHARP_PAIN = "SHARP_PAIN"
    RISING_PAIN = "RISING_PAIN"
    MISSED_SESSIONS = "MISSED_SESSIONS"
    NOT_STARTED = "NOT_STARTED"


class Severity(StrEnum):
    """How soon somebody should look."""

    ACT_NOW = "ACT_NOW"
    LOOK = "LOOK"


class Action(StrEnum):
    """What becomes of the patient's flag of one kind."""

    RAISE = "RAISE"
    KEEP = "KEEP"
    CLEAR = "CLEAR"
    NOTHING = "NOTHING"


class PainSeries(StrEnum):
    """Which ratings a rising-pain flag rests on."""

    WORST = "WORST"
    NEXT_MORNING = "NEXT_MORNING"


@dataclass(frozen=True)
class SharpStop:
    """An exercise stopped for sharp pain; `score` when the patient rated it."""

    id: Any
    local_date: date
    exercise_name: str
    score: int | None


@dataclass(frozen=True)
class Facts:
    """One patient's record on one day. `outcomes` are the closed ones, in order.

    `resets` holds the local date on which the last flag of a kind was closed: what was entered up
    to and including that date never raises it again.
    """

    today: date
    outcomes: tuple[Outcome, ...]
    worst_ratings: tuple[Rating, ...]
    next_morning_ratings: tuple[Rating, ...]
    due_per_week: float
    program_started_on: date | None
    program_is_live: bool
    has_earlier_entries: bool = False  # since the program began, before the first of `outcomes`
    resets: Mapping[FlagKind, date] = field(default_factory=dict)
    snoozed_until: Mapping[FlagKind, date] = field(default_factory=dict)
    sharp_stops: tuple[SharpStop, ...] = ()
    open_kinds: frozenset[FlagKind] = frozenset()


@dataclass(frozen=True)
class Decision:
    """What to do about one kind, and why. `evidence` is JSON-able and enough for the sentence."""

    kind: FlagKind
    action: Action
    severity: Severity
    sentence_code: str
    parameters: Mapping[str, Any]
    evidence: dict[str, Any]


def severity_of(kind: FlagKind) -> Severity:
    """Sharp pain asks for action now; every other kind asks for a look."""
    return Severity.ACT_NOW if kind == FlagKind.SHARP_PAIN else Severity.LOOK


def pain_parameters(policy: Policy) -> PainParameters:
    """The clinic's thresholds as parameters of the pain rule."""
    return PainParameters(
        evidence_limit=policy.pain_evidence_limit,
        jump=policy.pain_jump,
        baseline_ratings=policy.baseline_ratings,
        snooze_days=policy.snooze_days,
    )


def misses_limit(due_per_week: float, policy: Policy) -> float:
    """The limit of the misses score: the daily one from five due sessions a week on."""
    if due_per_week >= DAILY_FROM_PER_WEEK:
        return policy.misses_limit_daily
    return policy.misses_limit_weekly


def _fresh_from(facts: Facts, kind: FlagKind) -> date | None:
    closed_on = facts.resets.get(kind)
    return closed_on + timedelta(days=1) if closed_on is not None else None


def _action(facts: Facts, kind: FlagKind, *, holds: bool) -> Action:
    if kind in facts.open_kinds:
        return Action.KEEP if holds else Action.CLEAR
    snoozed = facts.snoozed_until.get(kind)
    if not holds or (snoozed is not None and facts.today < snoozed):
        return Action.NOTHING
    return Action.RAISE


def _decision(kind: FlagKind, action: Action, evidence: dict[str, Any]) -> Decision:
    says_something = action in (Action.RAISE, Action.KEEP)
    code, parameters = sentence_parts(kind, evidence) if says_something else ("", {})
    return Decision(
        kind=kind,
        action=action,
        severity=severity_of(kind),
        sentence_code=code,
        parameters=parameters,
        evidence=evidence,
    )


# --- sharp pain -------------------------------------------------------------------------------


def sharp_pain_evidence(stops: Sequence[SharpStop]) -> dict[str, Any]:
    """Evidence of exercises stopped for sharp pain, the latest last."""
    ordered = sorted(stops, key=lambda stop: stop.local_date)
    return {
        "rule_version": RULE_VERSION,
        "stops": [
            {
                "id": str(stop.id),
                "on": stop.local_date.isoformat(),
                "exercise": stop.exercise_name,
                "score": stop.score,
            }
            for stop in ordered
        ],
    }


def _sharp_pain(facts: Facts) -> Decision:
    """Raised at once by the operation that records the stop; it never clears itself."""
    is_open = FlagKind.SHARP_PAIN in facts.open_kinds
    action = Action.KEEP if is_open else Action.NOTHING
    return _decision(FlagKind.SHARP_PAIN, action, sharp_pain_evidence(facts.sharp_stops))


# --- rising pain ------------------------------------------------------------------------------


def _dated(ratings: Sequence[Rating]) -> list[dict[str, Any]]:
    return [{"on": r.local_date.isoformat(), "score": r.score} for r in ratings]


def _pain_evidence(
    series: PainSeries, signal: PainSignal, judged: RisingPain, ratings: Sequence[Rating]
) -> dict[str, Any]:
    later = [r for r in daily_maximum(ratings) if r.local_date > signal.on]
    return {
        "rule_version": RULE_VERSION,
        "series": series.value,
        "state": signal.kind.value,
        "ratings": _dated(signal.last),
        "counted": [
            {"on": r.local_date.isoformat(), "score": r.score, "sum": round(total, 4)}
            for r, total in signal.counted
        ],
        "usual": round(signal.usual, 4),
        "evidence": round(signal.evidence, 4),
        "limit": round(signal.limit, 4),
        "jump": round(signal.jump, 4),
        "since": signal.since.isoformat(),
        "signalled_on": signal.on.isoformat(),
        "later": _dated(later[-LATER_SHOWN:]),
        "is_over": judged.is_over,
    }


def _rising_pain(facts: Facts, policy: Policy) -> Decision:
    """Worst pain and next-morning pain are judged apart; either one is enough."""
    kind = FlagKind.RISING_PAIN
    reset_on = _fresh_from(facts, kind)
    holds = False
    evidence: dict[str, Any] = {"rule_version": RULE_VERSION}
    for series, ratings in (
        (PainSeries.WORST, facts.worst_ratings),
        (PainSeries.NEXT_MORNING, facts.next_morning_ratings),
    ):
        judged = rising_pain(ratings, parameters=pain_parameters(policy), reset_on=reset_on)
        in_force = judged.state in (PainState.TREND, PainState.JUMP)
        if judged.signal is not None and (in_force or "state" not in evidence) and not holds:
            evidence = _pain_evidence(series, judged.signal, judged, ratings)
            holds = in_force
    return _decision(kind, _action(facts, kind, holds=holds), evidence)


# --- missed sessions and not started ----------------------------------------------------------


def _has_entry(facts: Facts) -> bool:
    return (
        facts.has_earlier_entries
        or any(outcome.state != DayState.NO_ENTRY for outcome in facts.outcomes)
        or bool(facts.worst_ratings)
        or bool(facts.next_morning_ratings)
    )


def _misses_evidence(
    fresh: Sequence[Outcome], result: MissesResult, due_per_week: float
) -> dict[str, Any]:
    start = result.run_index if result.run_index is not None else max(0, len(fresh) - 1)
    run = fresh[start:]
    return {
        "rule_version": RULE_VERSION,
        "sessions": [
            {
                "on": outcome.due.due_on.isoformat(),
                "slot": outcome.due.slot,
                "state": outcome.state.value,
                "reason": outcome.session.reason if outcome.session else "",
                "score": round(score, 4),
            }
            for outcome, score in zip(run, result.scores[start:], strict=True)
        ],
        "evidence": round(result.scores[-1], 4) if result.scores else 0.0,
        "limit": result.limit,
        "due_per_week": due_per_week,
    }


def _missed_sessions(facts: Facts, policy: Policy) -> Decision:
    """A run of misses among due sessions. A reason is named; it does not undo the miss."""
    kind = FlagKind.MISSED_SESSIONS
    fresh_from = _fresh_from(facts, kind)
    fresh = [o for o in facts.outcomes if fresh_from is None or o.due.due_on >= fresh_from]
    result = misses_cusum(
        [outcome.is_performed for outcome in fresh],
        limit=misses_limit(facts.due_per_week, policy),
    )
    holds = result.is_signalled and _has_entry(facts)
    action = _action(facts, kind, holds=holds)
    if not facts.program_is_live and action in (Action.RAISE, Action.CLEAR):
        # A program that has ended or stands still can neither lapse nor recover.
        action = Action.KEEP if kind in facts.open_kinds else Action.NOTHING
    return _decision(kind, action, _misses_evidence(fresh, result, facts.due_per_week))


def _not_started(facts: Facts, policy: Policy) -> Decision:
    """Several sessions due and no entry of any kind since the program began."""
    kind = FlagKind.NOT_STARTED
    fresh_from = _fresh_from(facts, kind)
    due = [o for o in facts.outcomes if fresh_from is None or o.due.due_on >= fresh_from]
    has_entry = _has_entry(facts)
    holds = not has_entry and len(due) >= policy.silent_sessions
    action = _action(facts, kind, holds=holds)
    if action == Action.RAISE and not facts.program_is_live:
        action = Action.NOTHING
    if action == Action.CLEAR and not has_entry:
        action = Action.KEEP
    started = facts.program_started_on
    evidence = {
        "rule_version": RULE_VERSION,
        "due": 0 if has_entry else len(facts.outcomes),
        "first_due_on": facts.outcomes[0].due.due_on.isoformat() if facts.outcomes else None,
        "started_on": started.isoformat() if started is not None else None,
    }
    return _decision(kind, action, evidence)


def decide(facts: Facts, *, policy: Policy) -> tuple[Decision, ...]:
    """One decision a kind, in the order of FlagKind; pure, the same facts give the same answer.

    An outcome that is still open is left out: what can still be done is not missed.
    """
    facts = replace(facts, outcomes=tuple(o for o in facts.outcomes if o.is_closed))
    return (
        _sharp_pain(facts),
        _rising_pain(facts, policy),
        _missed_sessions(facts, policy),
        _not_started(facts, policy),
    )


# --- wording ----------------------------------------------------------------------------------


def sentence_parts(kind: FlagKind, evidence: Mapping[str, Any]) -> tuple[str, dict[str, Any]]:
    """Sentence code and its parameters, from stored evidence; code "" when there is none."""
    if kind == FlagKind.SHARP_PAIN and evidence.get("stops"):
        last = evidence["stops"][-1]
        return "SHARP_PAIN", {
            "exercise": last["exercise"],
            "score": last["score"],
            "stops": len(evidence["stops"]),
        }
    if kind == FlagKind.RISING_PAIN and evidence.get("state"):
        return f"PAIN_{evidence['state']}", {
            "series": evidence["series"],
            "scores": [one["score"] for one in evidence["ratings"]],
            "usual": evidence["usual"],
            "evidence": evidence["evidence"],
            "limit": evidence["limit"],
            "jump": evidence["jump"],
            "later": [one["score"] for one in evidence["later"]],
        }
    if kind == FlagKind.MISSED_SESSIONS and evidence.get("sessions"):
        held = evidence["sessions"]
        missed = [one for one in held if one["state"] in ("NOT_DONE", "NO_ENTRY")]
        return "MISSED_SESSIONS", {
            "missed": len(missed),
            "due": len(held),
            "reasons": [one["reason"] for one in missed if one["reason"]],
            "no_entry": sum(one["state"] == "NO_ENTRY" for one in missed),
        }
    if kind == FlagKind.NOT_STARTED and evidence.get("due"):
        return "NOT_STARTED", {"due": evidence["due"]}
    return "", {}


def flag_sentence(
    kind: FlagKind | str, evidence: Mapping[str, Any], translate: Translate, ngettext: Ngettext
) -> str:
    """The sentence that says why a flag stands, from its stored evidence; "" when it has none."""
    code, parameters = sentence_parts(FlagKind(kind), evidence)
    return sentence(code, parameters, translate, ngettext)
