"""What the library says about doses and sides, in words of the reader's language."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from programs.rules.dose import DoseKind, DoseRange, FieldRange, LoadUnit, Side, SideMode
from programs.rules.wording import Ngettext, Translate, gettext_noop, listed, span_text, tempo_text

DOSE_KIND_NAMES: Mapping[DoseKind, str] = {
    DoseKind.REPETITIONS: gettext_noop("Repetitions"),
    DoseKind.HELD_REPETITIONS: gettext_noop("Held repetitions"),
    DoseKind.HOLD: gettext_noop("Holds"),
    DoseKind.TIMED: gettext_noop("For a time"),
}

SIDE_MODE_TEXTS: Mapping[SideMode, str] = {
    SideMode.BOTH_TOGETHER: gettext_noop("Both sides work together"),
    SideMode.ONE_SIDE: gettext_noop("One side: left, right, or one after the other"),
    SideMode.ALTERNATING: gettext_noop("Left and right in turn"),
}

LOAD_UNIT_NAMES: Mapping[LoadUnit, str] = {
    LoadUnit.NONE: gettext_noop("none"),
    LoadUnit.KG: gettext_noop("a weight in kg"),
    LoadUnit.BAND: gettext_noop("an elastic band"),
}

_FIELDS: Mapping[str, str] = {
    "sets": gettext_noop("Sets"),
    "repetitions": gettext_noop("Repetitions in a set"),
    "hold_seconds": gettext_noop("Each hold"),
    "duration_seconds": gettext_noop("Time of a set"),
    "rest_seconds": gettext_noop("Rest between sets"),
}


@dataclass(frozen=True)
class RangeLine:
    """One field of a dose: its usual value and the range that the library calls ordinary."""

    field: str
    name: str
    usual: str
    span: str


def usual_side(mode: SideMode) -> Side:
    """Return the side in which a usual dose is told: both in turn where a side can be chosen."""
    return {
        SideMode.BOTH_TOGETHER: Side.BILATERAL,
        SideMode.ONE_SIDE: Side.BOTH,
        SideMode.ALTERNATING: Side.ALTERNATE,
    }[mode]


def range_lines(dose: DoseRange, translate: Translate, ngettext: Ngettext) -> tuple[RangeLine, ...]:
    """Return every field of a dose in words; tempo and load have a usual value and no range."""
    _ = translate
    lines = [
        RangeLine(
            name,
            _(_FIELDS[name]),
            _value_text(name, span.usual, translate, ngettext),
            _span_text(name, span, translate, ngettext),
        )
        for name, span in dose.ranges().items()
    ]
    if dose.tempo is not None:
        lines.append(RangeLine("tempo", _("Tempo"), tempo_text(dose.tempo, translate), ""))
    units = [_(LOAD_UNIT_NAMES[unit]) for unit in dose.load_units if unit is not LoadUnit.NONE]
    load = _("with %(loads)s") % {"loads": listed(units, translate)} if units else _("none")
    lines.append(RangeLine("load", _("Load"), load, ""))
    return tuple(lines)


def _value_text(name: str, value: int, translate: Translate, ngettext: Ngettext) -> str:
    _ = translate
    if not name.endswith("_seconds"):
        return str(value)
    return span_text(value, translate, ngettext) if value else _("none")


def _span_text(name: str, span: FieldRange, translate: Translate, ngettext: Ngettext) -> str:
    """Return "1 to 4", "10 to 45 seconds", "45 seconds to 2 minutes", "up to 1 minute"."""
    _ = translate
    if span.low == span.high:
        return ""
    if not span.low:
        high = _value_text(name, span.high, translate, ngettext)
        return _("up to %(high)s") % {"high": high}
    low = _value_text(name, span.low, translate, ngettext)
    high = _value_text(name, span.high, translate, ngettext)
    if name.endswith("_seconds") and span.high < 60:
        low = str(span.low)
    return _("%(low)s to %(high)s") % {"low": low, "high": high}
