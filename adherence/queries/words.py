"""What flags, states, outcomes, follow-ups and days are called on the therapist's screens."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from adherence.models import FlagStatus, FollowUpKind, Outcome
from adherence.rules.adherence import AdherenceState
from adherence.rules.flags import FlagKind
from adherence.rules.matching import DayCell, DayState


def flag_title(kind: FlagKind) -> str:
    """Return a kind of flag in two words."""
    return {
        FlagKind.SHARP_PAIN: _("Sharp pain"),
        FlagKind.RISING_PAIN: _("Pain rising"),
        FlagKind.MISSED_SESSIONS: _("Sessions missed"),
        FlagKind.NOT_STARTED: _("Not started"),
    }[kind]


def state_title(state: AdherenceState) -> str:
    """Return a state in two words."""
    return {
        AdherenceState.NEW: _("New"),
        AdherenceState.SILENT: _("Silent"),
        AdherenceState.PAUSED: _("Paused"),
        AdherenceState.BELOW_TARGET: _("Below target"),
        AdherenceState.ON_TARGET: _("On target"),
        AdherenceState.ENDED: _("Ended"),
        AdherenceState.NO_PROGRAM: _("No program"),
    }[state]


def outcome_title(outcome: Outcome) -> str:
    """Return what came of a flag, as the person who closes it chooses it."""
    return {
        Outcome.PROGRAM_CHANGED: _("Program changed"),
        Outcome.ADVICE_GIVEN: _("Advice given"),
        Outcome.VISIT_BOOKED: _("Visit booked"),
        Outcome.REFERRED: _("Referred"),
        Outcome.NEW_LEVEL_ACCEPTED: _("New usual level accepted"),
        Outcome.NO_ACTION_NEEDED: _("No action needed"),
    }[outcome]


def follow_up_title(kind: FollowUpKind | str) -> str:
    """Return a kind of follow-up as a thing done or to do."""
    return {
        FollowUpKind.CALL: _("Call"),
        FollowUpKind.MESSAGE: _("Message"),
        FollowUpKind.CHANGE_PROGRAM: _("Change of program"),
        FollowUpKind.BOOK: _("Visit"),
        FollowUpKind.REFER: _("Referral"),
        FollowUpKind.NO_ACTION: _("No action"),
    }[FollowUpKind(kind)]


def ending_words(kind: FlagKind, status: FlagStatus) -> str:
    """Return how a flag ended, and for one that cleared itself, what its cause was like by then."""
    if status == FlagStatus.CLOSED:
        return _("Closed")
    return {
        FlagKind.SHARP_PAIN: _("Cleared by itself"),
        FlagKind.RISING_PAIN: _(
            "Cleared by itself: the last ratings are near usual, or were corrected"
        ),
        FlagKind.MISSED_SESSIONS: _("Cleared by itself: sessions are being done again"),
        FlagKind.NOT_STARTED: _("Cleared by itself: there is a first entry"),
    }[kind]


def day_words(cell: DayCell, reason: str = "") -> str:
    """Return what became of a day: "1 of 2 done", "not done: no time", "no entry"."""
    if cell.state == DayState.DONE:
        return _("done") if cell.due < 2 else _count(cell)
    if cell.state == DayState.PARTLY:
        if cell.due > 1:
            return _count(cell)
        if cell.share is None:
            return _("partly done")
        return _("partly done, %(percent)d %% of the dose") % {"percent": round(100 * cell.share)}
    if cell.state == DayState.NOT_DONE and reason:
        return _("not done: %(reason)s") % {"reason": reason}
    return {
        DayState.NOT_DONE: _("not done"),
        DayState.NO_ENTRY: _("no entry"),
        DayState.OPEN: _("still open"),
        DayState.NOT_DUE: _("nothing due"),
        DayState.PAUSED: _("paused"),
        DayState.EXTRA: ngettext("extra session", "%(count)d extra sessions", cell.extra)
        % {"count": cell.extra},
    }[cell.state]


def _count(cell: DayCell) -> str:
    return _("%(done)d of %(due)d done") % {"done": cell.done, "due": cell.due}


def revision_title(number: int) -> str:
    """Return a revision's number as the screens write it."""
    return _("Revision %(number)d") % {"number": number}
