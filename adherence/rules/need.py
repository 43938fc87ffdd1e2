"""In what order a caseload is read, and the sentence of a row that has no flag."""

from typing import Any

from adherence.rules.adherence import AdherenceState, Share
from adherence.rules.flags import Severity
from adherence.rules.sentences import sentence
from programs.rules.wording import Ngettext, Translate

_SEVERITY_RANK = {Severity.ACT_NOW: 0, Severity.LOOK: 1, None: 2}
_STATE_RANK = {
    AdherenceState.SILENT: 0,
    AdherenceState.BELOW_TARGET: 1,
    AdherenceState.NEW: 2,
    AdherenceState.NO_PROGRAM: 3,
    AdherenceState.ON_TARGET: 4,
    AdherenceState.PAUSED: 5,
    AdherenceState.ENDED: 6,
}

OrderKey = tuple[int, int, int, str]


def order_key(
    severity: Severity | None, state: AdherenceState, opened_days_ago: int | None, name: str
) -> OrderKey:
    """Sort key of a caseload row: worst open flag first, the one open longest before newer ones.

    Rows without a flag follow, by state (silent, below target, new, no program, on target, paused,
    ended), then by name.
    """
    flagged = severity is not None
    return (
        _SEVERITY_RANK[severity],
        -(opened_days_ago or 0) if flagged else _STATE_RANK[state],
        _STATE_RANK[state] if flagged else 0,
        name.casefold(),
    )


def why_parts(
    *,
    state: AdherenceState,
    share: Share,
    days: int,
    target_percent: float,
    silent_for_days: int | None,
    silent_days: int = 7,
    silent_sessions: int = 3,
) -> tuple[str, dict[str, Any]]:
    """Sentence code and parameters for a row without a flag. `days` is the window of `share`."""
    counted: dict[str, Any] = {"done": share.done, "due": share.due, "days": days}
    if state == AdherenceState.SILENT:
        if silent_for_days is not None and silent_for_days >= silent_days:
            return "SILENT", {"days": silent_for_days}
        return "SILENT", {"sessions": silent_sessions}
    if state == AdherenceState.BELOW_TARGET:
        return "SHARE", {**counted, "target": target_percent}
    if state == AdherenceState.ON_TARGET:
        return "SHARE", counted
    return state.value, counted


def why_sentence(
    *,
    state: AdherenceState,
    share: Share,
    days: int,
    target_percent: float,
    silent_for_days: int | None,
    translate: Translate,
    ngettext: Ngettext,
    silent_days: int = 7,
    silent_sessions: int = 3,
) -> str:
    """Why a row without a flag stands where it stands, in a sentence that can be counted after."""
    code, parameters = why_parts(
        state=state,
        share=share,
        days=days,
        target_percent=target_percent,
        silent_for_days=silent_for_days,
        silent_days=silent_days,
        silent_sessions=silent_sessions,
    )
    return sentence(code, parameters, translate, ngettext)
