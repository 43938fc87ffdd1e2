"""Tags that draw: icons, flag marks, done-of-due cells, the pain line, meters and cups.

Everything is SVG made on the server. Geometry stands in presentation attributes, colors
in the classes of the design system, so dark mode works and no inline style is needed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise
from typing import Any

from django import template
from django.forms import BoundField
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shared.templatetags.day_shapes import CELL_STEP, WEEK_SIGNS, cell_shape, short
from shared.templatetags.icons import ICONS

register = template.Library()

TURNING = {"arrow-back", "arrow-on", "skip"}  # mirrored where text runs from right to left
SEVERITIES = {"ACT_NOW": "act-now", "LOOK": "look", "GOOD": "good", "NONE": "none"}
_SHAPES = {
    "act-now": (
        '<path d="M5 1h6l4 4v6l-4 4H5l-4-4V5z"/><path class="mark__cut" d="M8 4.5v4.2M8 11.6h.01"/>'
    ),
    "look": '<path d="M8 1.3 15.4 14.5H.6z"/><path class="mark__cut" d="M8 6.2v3.6M8 12.2h.01"/>',
    "good": '<circle cx="8" cy="8" r="7.3"/><path class="mark__cut" d="m4.8 8.3 2.3 2.3 4.2-4.9"/>',
    "none": '<circle class="mark__ring" cx="8" cy="8" r="6.3"/>',
}


def _value(item: Any, name: str, default: Any = None) -> Any:
    """Attribute or key ``name`` of ``item``; templates pass dataclasses and dicts alike."""
    if isinstance(item, dict):
        return item.get(name, default)
    return getattr(item, name, default)


@register.filter
def words(text: str) -> list[str]:
    """The words of ``text``, for a loop over a fixed list."""
    return text.split()


@register.filter
def own_classes(classes: str) -> str:
    """``classes`` without the ones crispy-forms adds for other looks than ours."""
    return " ".join(name for name in classes.split() if name not in ("btn", "btn-primary"))


@register.filter
def first_control(field: BoundField) -> str:
    """The id an error summary links to: the control, or the first of several."""
    identifier = field.id_for_label
    if not identifier:
        subwidgets = field.subwidgets
        identifier = subwidgets[0].id_for_label if subwidgets else ""
    return identifier or field.auto_id or ""


@register.simple_tag
def icon(name: str, label: str = "") -> SafeString:
    """One of our icons; decoration unless ``label`` names it. Unknown names raise KeyError."""
    naming = format_html('role="img" aria-label="{}"', label) if label else 'aria-hidden="true"'
    return format_html(
        '<svg class="icon{}" viewBox="0 0 24 24" focusable="false" {}><path d="{}"/></svg>',
        " icon--turns" if name in TURNING else "",
        mark_safe(naming),
        ICONS[name],
    )


def _severity_words() -> dict[str, str]:
    return {
        "act-now": _("Act now"),
        "look": _("Wants a look"),
        "good": _("Good news"),
        "none": _("Good to know"),
    }


@register.filter
def severity_class(severity: str) -> str:
    """``ACT_NOW`` → ``act-now`` and so on; anything unknown → ``none``."""
    return SEVERITIES.get(str(severity), "none")


@register.simple_tag
def severity_shape(severity: str) -> SafeString:
    """The shape alone: octagon, triangle, disc with a tick, ring."""
    return format_html(
        '<svg class="mark__shape" viewBox="0 0 16 16" aria-hidden="true" '
        'focusable="false">{}</svg>',
        mark_safe(_SHAPES[severity_class(severity)]),
    )


@register.simple_tag
def flag_mark(severity: str, label: str = "") -> SafeString:
    """Why somebody is first: shape, color and words.

    ``severity`` is ACT_NOW, LOOK, GOOD or NONE; ``label`` the short words ("Pain rising"),
    which are then read out after the severity.
    """
    kind = severity_class(severity)
    spoken = _severity_words()[kind]
    text = (
        format_html('<span><span class="visually-hidden">{}: </span>{}</span>', spoken, label)
        if label
        else format_html("<span>{}</span>", spoken)
    )
    return format_html(
        '<span class="mark mark--{}">{}{}</span>', kind, severity_shape(severity), text
    )


def _state_words(counts: Counter[str]) -> str:
    """ "17 done, 1 partly" for the states that occur."""
    wording: dict[str, Callable[[int], str]] = {
        "DONE": lambda n: ngettext("%(n)d done", "%(n)d done", n),
        "PARTLY": lambda n: ngettext("%(n)d partly", "%(n)d partly", n),
        "NOT_DONE": lambda n: ngettext(
            "%(n)d not done, with a reason", "%(n)d not done, with a reason", n
        ),
        "NO_ENTRY": lambda n: ngettext("%(n)d without entry", "%(n)d without entry", n),
        "OPEN": lambda n: ngettext("%(n)d still open", "%(n)d still open", n),
        "EXTRA": lambda n: ngettext("%(n)d extra", "%(n)d extra", n),
        "PAUSED": lambda n: ngettext("%(n)d paused", "%(n)d paused", n),
        "NOT_DUE": lambda n: ngettext("%(n)d not due", "%(n)d not due", n),
    }
    return ", ".join(
        phrase(counts[state]) % {"n": counts[state]}
        for state, phrase in wording.items()
        if counts[state]
    )


@register.simple_tag
def cells(days: Iterable[Any], label: str = "") -> SafeString:
    """The done-of-due strip, one cell a day, oldest first.

    Each day has ``.state`` (DONE PARTLY NOT_DONE NO_ENTRY OPEN NOT_DUE PAUSED EXTRA) and may have
    ``.share`` (0..1, how high a PARTLY cell stands). ``label`` replaces the spoken title.
    """
    listed = [(str(_value(day, "state")), float(_value(day, "share") or 0.5)) for day in days]
    title = label or ngettext("%(n)d day, done of due", "%(n)d days, done of due", len(listed)) % {
        "n": len(listed)
    }
    description = _state_words(Counter(state for state, _share in listed))
    width = short(max(len(listed) * CELL_STEP, CELL_STEP))
    drawing = "".join(
        cell_shape(state, share, place * CELL_STEP) for place, (state, share) in enumerate(listed)
    )
    return format_html(
        '<svg class="cells" role="img" aria-label="{0}: {1}" width="{2}" height="30" '
        'viewBox="0 0 {2} 30"><title>{0}</title><desc>{1}</desc>{3}</svg>',
        title,
        description or _("nothing yet"),
        width,
        mark_safe(drawing),
    )


@register.simple_tag
def cell_sample(state: str) -> SafeString:
    """One cell for a key, without words."""
    return format_html(
        '<svg class="cells" aria-hidden="true" focusable="false" width="9" height="24" '
        'viewBox="0 3 9 24">{}</svg>',
        mark_safe(cell_shape(state, 0.5, 0.75)),
    )


@register.simple_tag
def pain_line(
    values: Sequence[int | None],
    low: float | None = None,
    high: float | None = None,
    label: str = "",
    width: int = 120,
    height: int = 36,
) -> SafeString:
    """Pain 0..10 over time as a small line, oldest first; ``None`` leaves a dotted gap.

    ``low`` and ``high`` are the usual band. The last value is written beside its dot; above the
    band the dot becomes a diamond.
    """
    known = [(place, value) for place, value in enumerate(values) if value is not None]
    if not known:
        return format_html('<span class="quiet">{}</span>', label or _("no rating yet"))
    inner, span = width - 10, max(len(values) - 1, 1)

    def x(place: int) -> float:
        return 5 + place * inner / span

    def y(value: float) -> float:
        return height - 5 - value * (height - 10) / 10

    parts: list[str] = []
    if low is not None and high is not None:
        parts.append(
            f'<rect class="pain-line__band" x="0" y="{short(y(high))}" width="{width}" '
            f'height="{short(max(y(low) - y(high), 2))}"/>'
        )
    for (place, value), (following, then) in pairwise(known):
        kind = "line" if following == place + 1 else "gap"
        parts.append(
            f'<path class="pain-line__{kind}" d="M{short(x(place))} {short(y(value))}'
            f'L{short(x(following))} {short(y(then))}"/>'
        )
    place, last = known[-1]
    if high is not None and last > high:
        parts.append(
            f'<path class="pain-line__last pain-line__last--high" '
            f'd="M{short(x(place))} {short(y(last) - 5)}l5 5-5 5-5-5z"/>'
        )
    else:
        parts.append(
            f'<circle class="pain-line__last" cx="{short(x(place))}" '
            f'cy="{short(y(last))}" r="3.5"/>'
        )
    spoken = _("%(title)s, oldest first: %(values)s") % {
        "title": label or _("Pain, 0 to 10"),
        "values": " ".join(str(value) for _place, value in known),
    }
    if low is not None and high is not None:
        spoken += _(". Usual %(low)s to %(high)s") % {
            "low": short(low),
            "high": short(high),
        }
    return format_html(
        '<span class="pain-line"><svg role="img" aria-label="{0}" width="{1}" height="{2}" '
        'viewBox="0 0 {1} {2}"><title>{0}</title>{3}</svg>'
        '<span class="pain-line__value" aria-hidden="true">{4}</span></span>',
        spoken,
        width,
        height,
        mark_safe("".join(parts)),
        last,
    )


@register.simple_tag
def pain_water(number: str | int) -> SafeString:
    """The water behind one number of the pain scale, as high as the number."""
    level = 100 - min(max(int(number), 0), 10) * 7
    if level == 100:
        return mark_safe("")
    return format_html(
        '<svg class="pain-scale__water" viewBox="0 0 100 100" preserveAspectRatio="none" '
        'aria-hidden="true" focusable="false">'
        '<path d="M0 {0}C25 {1} 60 {2} 100 {0}V100H0z"/></svg>',
        level,
        level - 6,
        level + 6,
    )


@register.simple_tag
def meter(done: float, due: float, label: str = "", low: bool = False) -> SafeString:
    """The words "3 of 5" with a bar that fills.

    ``label`` says of what; ``low`` colors the bar as wanting a look.
    """
    share = 0.0 if not due else min(max(done / due, 0.0), 1.0)
    text = _("%(done)s of %(due)s") % {"done": short(done), "due": short(due)}
    return format_html(
        '<span class="meter"><svg class="meter__bar" viewBox="0 0 128 10" aria-hidden="true" '
        'focusable="false">'
        '<rect class="meter__ground" x=".5" y=".5" width="127" height="9" rx="4.5"/>'
        '<rect class="meter__fill{}" x="0" y="0" width="{}" height="10" rx="5"/></svg>'
        '<span class="meter__text">{}</span></span>',
        " meter__fill--low" if low else "",
        short(128 * share),
        f"{text} {label}".strip(),
    )


@register.simple_tag
def cups(sets: Iterable[Any], label: str = "") -> SafeString:
    """The sets of an exercise as cups that fill.

    Each set has ``.state`` (DONE NOW NEXT SKIPPED), may have ``.share`` (0..1, the water in it) and
    ``.side`` (a dash stands where the side changes). The water is ``rect.cups__water``; a script
    may move it by its ``y`` and ``height``.
    """
    listed = list(sets)
    parts: list[str] = []
    x, before = 1.0, None
    for number, item in enumerate(listed, start=1):
        state = str(_value(item, "state", "NEXT"))
        side = _value(item, "side")
        if before is not None and side != before:
            parts.append(f'<path class="cups__side" d="M{short(x)} 22h14"/>')
            x += 22
        before = side
        tall = state == "NOW"
        height = 30.0 if tall else 16.0
        top = 35.0 - height
        share = _value(item, "share")
        level = 1.0 if state == "DONE" and share is None else float(share or 0)
        water = (height - 2) * min(max(level, 0.0), 1.0)
        skipped = " cups__cup--skipped" if state == "SKIPPED" else ""
        parts.append(
            f'<rect class="cups__water" data-set="{number}" x="{short(x + 1)}" '
            f'y="{short(34 - water)}" width="26" height="{short(water)}" rx="3"/>'
            f'<path class="cups__cup{skipped}" d="M{short(x)} {short(top)}v{short(height - 5)}'
            f'a5 5 0 0 0 5 5h18a5 5 0 0 0 5-5v-{short(height - 5)}z"/>'
        )
        x += 36
    states = Counter(str(_value(item, "state", "NEXT")) for item in listed)
    spoken = label or _("%(done)d of %(all)d sets done") % {
        "done": states["DONE"],
        "all": len(listed),
    }
    width = short(max(x - 6, 1))
    return format_html(
        '<svg class="cups" role="img" aria-label="{0}" width="{1}" height="36" '
        'viewBox="0 0 {1} 36"><title>{0}</title>{2}</svg>',
        spoken,
        width,
        mark_safe("".join(parts)),
    )


@register.simple_tag
def week_cell(state: str, share: float = 0.5) -> SafeString:
    """One day of the patient's week, wider than tall; same states as ``cells``.

    Decoration: the page writes the word too.
    """
    filled = {
        "DONE": 1.0,
        "EXTRA": 1.0,
        "PARTLY": min(max(float(share or 0.5), 0.15), 0.9),
    }
    level = 100 * filled.get(str(state), 0.0)
    sign = WEEK_SIGNS.get(str(state), "")
    return format_html(
        '<svg class="week__cell" aria-hidden="true" focusable="false">'
        '<rect class="week__ground" width="100%" height="100%"/>{}'
        '<svg viewBox="0 0 60 34">{}</svg></svg>',
        format_html(
            '<rect class="week__fill" y="{}%" width="100%" height="{}%"/>',
            short(100 - level),
            short(level),
        )
        if level
        else "",
        mark_safe(sign),
    )
