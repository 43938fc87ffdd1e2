"""Numbers of a prescription as plain words, and problems that can be translated.

Nothing here knows a language: `translate` and `ngettext` are gettext-like callables. Each function
binds `translate` to `_`, so that the usual message extraction finds the sentences.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

Translate = Callable[[str], str]
Ngettext = Callable[[str, str, int], str]


def gettext_noop(text: str) -> str:
    """Mark `text` for message extraction and return it unchanged."""
    return text


def plain(text: str) -> str:
    """Stand in for gettext: the English text itself."""
    return text


def plain_plural(singular: str, plural: str, count: int) -> str:
    """Stand in for ngettext: the English form for `count`."""
    return singular if count == 1 else plural


@dataclass(frozen=True)
class Problem:
    """Something wrong with one field. `message` is English; `text` puts it into a language."""

    field: str
    code: str
    template: str
    values: Mapping[str, object] = dataclasses.field(default_factory=dict)
    severity: str = "error"

    @property
    def message(self) -> str:
        """Return the English sentence."""
        return self.text(plain)

    def text(self, translate: Translate) -> str:
        """Return the sentence as `translate` gives it, with the values filled in."""
        return translate(self.template) % dict(self.values)

    @property
    def is_error(self) -> bool:
        """Whether it must be mended; otherwise it is a notice that may be overruled."""
        return self.severity == "error"


def span_text(seconds: int, translate: Translate, ngettext: Ngettext) -> str:
    """Return a span of time: "45 seconds", "1 minute", "1 minute 30 seconds"."""
    _ = translate
    minutes, rest = divmod(seconds, 60)
    rest_text = ngettext("%(count)d second", "%(count)d seconds", rest) % {"count": rest}
    if not minutes:
        return rest_text
    minutes_text = ngettext("%(count)d minute", "%(count)d minutes", minutes) % {"count": minutes}
    if not rest:
        return minutes_text
    return _("%(minutes)s %(seconds)s") % {"minutes": minutes_text, "seconds": rest_text}


def sets_of_text(sets: int, repetitions: int, ngettext: Ngettext) -> str:
    """Return "3 sets of 12"."""
    return ngettext(
        "%(count)d set of %(repetitions)d", "%(count)d sets of %(repetitions)d", sets
    ) % {"count": sets, "repetitions": repetitions}


def held_text(seconds: int, translate: Translate, ngettext: Ngettext) -> str:
    """Return "held 5 seconds"."""
    _ = translate
    return _("held %(span)s") % {"span": span_text(seconds, translate, ngettext)}


def holds_of_text(sets: int, seconds: int, translate: Translate, ngettext: Ngettext) -> str:
    """Return "5 holds of 30 seconds"."""
    return ngettext("%(count)d hold of %(span)s", "%(count)d holds of %(span)s", sets) % {
        "count": sets,
        "span": span_text(seconds, translate, ngettext),
    }


def times_text(sets: int, seconds: int, translate: Translate, ngettext: Ngettext) -> str:
    """Return "2 times 1 minute", or "1 minute" for a single set."""
    span = span_text(seconds, translate, ngettext)
    if sets == 1:
        return span
    return ngettext("%(count)d time %(span)s", "%(count)d times %(span)s", sets) % {
        "count": sets,
        "span": span,
    }


def tempo_text(tempo: tuple[int, int, int], translate: Translate) -> str:
    """Return "count 2 out, 1 still, 3 back"; a phase of no time is left out."""
    _ = translate
    out, still, back = tempo
    phases = (
        (out, _("%(count)d out")),
        (still, _("%(count)d still")),
        (back, _("%(count)d back")),
    )
    said = joined([text % {"count": count} for count, text in phases if count], translate)
    return _("count %(phases)s") % {"phases": said}


def weight_text(kilograms: Decimal, translate: Translate) -> str:
    """Return "with 2.5 kg"; the number is written without trailing zeros."""
    _ = translate
    return _("with %(weight)s kg") % {"weight": f"{kilograms.normalize():f}"}


def rest_text(seconds: int, translate: Translate, ngettext: Ngettext) -> str:
    """Return "rest 45 seconds"."""
    _ = translate
    return _("rest %(span)s") % {"span": span_text(seconds, translate, ngettext)}


def effort_text(effort: int, translate: Translate) -> str:
    """Return "effort about 5 of 10"."""
    _ = translate
    return _("effort about %(effort)d of 10") % {"effort": effort}


def joined(parts: Sequence[str], translate: Translate) -> str:
    """Return the parts that are not empty with commas between: "3 sets of 12, each side"."""
    _ = translate
    text = ""
    for part in filter(None, parts):
        text = _("%(first)s, %(second)s") % {"first": text, "second": part} if text else part
    return text


def listed(parts: Sequence[str], translate: Translate) -> str:
    """Return "Monday", "Monday and Friday", "Monday, Wednesday and Friday"."""
    _ = translate
    if len(parts) < 2:
        return "".join(parts)
    return _("%(first)s and %(last)s") % {
        "first": joined(parts[:-1], translate),
        "last": parts[-1],
    }


def weekday_name(weekday: int, translate: Translate) -> str:
    """Return the name of a weekday, 0 being Monday."""
    _ = translate
    return (
        _("Monday"),
        _("Tuesday"),
        _("Wednesday"),
        _("Thursday"),
        _("Friday"),
        _("Saturday"),
        _("Sunday"),
    )[weekday]


def times_a_day_text(times: int, ngettext: Ngettext) -> str:
    """Return "once a day" or "3 times a day"."""
    return ngettext("once a day", "%(count)d times a day", times) % {"count": times}


def times_a_week_text(times: int, ngettext: Ngettext) -> str:
    """Return "once a week, on any day" or "3 times a week, on any days"."""
    return ngettext("once a week, on any day", "%(count)d times a week, on any days", times) % {
        "count": times
    }


def every_days_text(days: int, ngettext: Ngettext) -> str:
    """Return "every 2 days"."""
    return ngettext("every day", "every %(count)d days", days) % {"count": days}
