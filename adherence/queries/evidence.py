"""What a flag rests on, laid open: entries with their days, figures, and how it is counted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from adherence.rules.flags import FlagKind
from adherence.rules.sentences import reason_list


@dataclass(frozen=True)
class EvidenceRow:
    """One entry that was counted: its day, what it was, and its figure."""

    on: date
    what: str
    figure: str


@dataclass(frozen=True)
class Evidence:
    """How a flag is counted, from the evidence stored with it."""

    method: str
    rows: tuple[EvidenceRow, ...]
    figures: tuple[tuple[str, str], ...]  # what, how much
    caution: str
    rule_version: str


def evidence_of(kind: FlagKind, stored: Mapping[str, Any]) -> Evidence:
    """Return the stored evidence of a flag in words; empty rows where none was stored."""
    method, rows, figures, caution = {
        FlagKind.SHARP_PAIN: _sharp_pain,
        FlagKind.RISING_PAIN: _rising_pain,
        FlagKind.MISSED_SESSIONS: _missed_sessions,
        FlagKind.NOT_STARTED: _not_started,
    }[kind](stored)
    return Evidence(
        method=method,
        rows=tuple(rows),
        figures=tuple(figures),
        caution=caution,
        rule_version=str(stored.get("rule_version", "")),
    )


_Parts = tuple[str, list[EvidenceRow], list[tuple[str, str]], str]


def _score(score: int | None) -> str:
    return _("not rated") if score is None else _("%(score)d of 10") % {"score": score}


def _rating_and_sum(one: Mapping[str, Any]) -> str:
    """Return a rating, with what has added up to it where that is stored."""
    if "sum" not in one:
        return _score(one["score"])
    return _("%(score)d of 10, sum %(sum)s") % {"score": one["score"], "sum": f"{one['sum']:.1f}"}


def _sharp_pain(stored: Mapping[str, Any]) -> _Parts:
    rows = [
        EvidenceRow(date.fromisoformat(one["on"]), one["exercise"], _score(one["score"]))
        for one in stored.get("stops", ())
    ]
    return (
        _("The patient pressed “sharp pain”. It opens at once, and never clears itself."),
        rows,
        [],
        _("It tells what the patient felt, not what caused it."),
    )


def _rising_pain(stored: Mapping[str, Any]) -> _Parts:
    is_morning = stored.get("series") == "NEXT_MORNING"
    what = _("next morning") if is_morning else _("worst in the session")
    counted = stored.get("counted") or stored.get("ratings", ())
    rows = [
        EvidenceRow(date.fromisoformat(one["on"]), what, _rating_and_sum(one))
        for one in (*counted, *stored.get("later", ()))
    ]
    figures = []
    if "usual" in stored:
        figures = [
            (_("usual"), f"{stored['usual']:.1f}"),
            (
                _("evidence, of its limit"),
                _("%(evidence)s of %(limit)s")
                % {
                    "evidence": f"{stored['evidence']:.1f}",
                    "limit": f"{stored['limit']:.1f}",
                },
            ),
            (_("one rating is enough from"), _above(stored["jump"])),
        ]
    return (
        _(
            "Of each day the highest rating counts. What lies more than 1 point above usual adds "
            "up, what lies below takes away, never under zero. The flag opens when the sum "
            "reaches its limit, or on one rating far above usual. Usual is the lower of the first "
            "ratings' mean and the mean of 8 to 28 days ago."
        ),
        rows,
        figures,
        _(
            "Of rises of 2 points within 10 days, about 1 in 3 is seen by the tenth day and "
            "2 in 3 within 14 days; about 3 flags in 100 weeks of a patient are false. "
            "No flag is no reassurance."
        ),
    )


def _above(jump: float) -> str:
    return _("%(points)s above usual") % {"points": f"{jump:.1f}"}


def _missed_sessions(stored: Mapping[str, Any]) -> _Parts:
    words = {
        "DONE": _("done"),
        "PARTLY": _("partly done"),
        "NOT_DONE": _("not done"),
        "NO_ENTRY": _("no entry"),
    }
    rows = []
    for one in stored.get("sessions", ()):
        what = words.get(one["state"], "")
        reason = reason_list([one["reason"]], _) if one["reason"] else ""
        rows.append(
            EvidenceRow(
                date.fromisoformat(one["on"]),
                f"{what}: {reason}" if reason else what,
                f"{one['score']:.1f}",
            )
        )
    figures = []
    if "limit" in stored:
        figures = [
            (
                _("evidence, of its limit"),
                _("%(evidence)s of %(limit)s")
                % {
                    "evidence": f"{stored['evidence']:.1f}",
                    "limit": f"{stored['limit']:.1f}",
                },
            ),
            (_("sessions due a week"), f"{stored['due_per_week']:g}"),
        ]
    return (
        _(
            "Each due session not done adds 0.9, each one done, wholly or partly, takes 0.5 away, "
            "never under zero. At 3.0 that is four misses in a row, or as bad; at 2.0 three. "
            "Days of a pause do not count."
        ),
        rows,
        figures,
        _("“No entry” may be the logging and not the exercise. No flag is no reassurance."),
    )


def _not_started(stored: Mapping[str, Any]) -> _Parts:
    rows = []
    if stored.get("first_due_on"):
        rows.append(
            EvidenceRow(
                date.fromisoformat(stored["first_due_on"]), _("first session due"), _("no entry")
            )
        )
    due = stored.get("due", 0)
    return (
        _("Sessions have been due since the program began, and nothing has been entered at all."),
        rows,
        [(_("sessions due so far"), ngettext("%(n)d session", "%(n)d sessions", due) % {"n": due})],
        _("“No entry” may be the logging and not the exercise."),
    )
