"""The sentences that say why a row or a flag is there: plain, short, and checkable by counting.

Wording only; what is said is decided elsewhere. `translate` and `ngettext` are gettext's two
functions, passed in so that the rules stay free of the web framework.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from adherence.rules.barriers import Barrier, barrier_reason
from programs.rules.wording import Ngettext, Translate, joined

REASONS_SHOWN = 3


def reason_list(reasons: Sequence[str], translate: Translate) -> str:
    """Distinct reasons, the most frequent first, as words; unknown codes are left out."""
    known = Counter(reason for reason in reasons if reason in Barrier.__members__)
    ordered = [reason for reason, _count in known.most_common(REASONS_SHOWN)]
    return joined([barrier_reason(reason, translate) for reason in ordered], translate)


def _scores(scores: Sequence[int]) -> str:
    return " ".join(str(score) for score in scores)


def _pain(code: str, values: Mapping[str, Any], translate: Translate) -> str:
    _ = translate
    is_morning = values["series"] == "NEXT_MORNING"
    scores = _scores(values["scores"])
    last = values["scores"][-1]
    usual = f"{values['usual']:.1f}"
    if is_morning:
        opening = _("Next-morning pain %(scores)s, usual %(usual)s")
    else:
        opening = _("Worst pain %(scores)s, usual %(usual)s")
    if code == "PAIN_TREND":
        text = _("%(opening)s; evidence %(evidence)s of %(limit)s.") % {
            "opening": opening % {"scores": scores, "usual": usual},
            "evidence": f"{values['evidence']:.1f}",
            "limit": f"{values['limit']:.1f}",
        }
    else:
        text = _("%(opening)s; a jump of %(rise)s, limit %(jump)s.") % {
            "opening": opening % {"scores": last, "usual": usual},
            "rise": f"{last - values['usual']:.1f}",
            "jump": f"{values['jump']:.1f}",
        }
    if values["later"]:
        text += " " + _("Since then %(scores)s.") % {"scores": _scores(values["later"])}
    return text


def _missed(values: Mapping[str, Any], translate: Translate, ngettext: Ngettext) -> str:
    _ = translate
    missed, due = values["missed"], values["due"]
    if missed == due:
        text = ngettext(
            "The last due session was not done",
            "The last %(due)d due sessions were not done",
            due,
        ) % {"due": due}
    else:
        text = ngettext(
            "%(missed)d of the last %(due)d session not done",
            "%(missed)d of the last %(due)d sessions not done",
            due,
        ) % {"missed": missed, "due": due}
    reasons = reason_list(values["reasons"], translate)
    no_entry = values["no_entry"]
    if no_entry and no_entry == missed:
        return _("%(text)s, no entry.") % {"text": text}
    if reasons and no_entry:
        return ngettext(
            "%(text)s: %(reasons)s; %(count)d without an entry.",
            "%(text)s: %(reasons)s; %(count)d without an entry.",
            no_entry,
        ) % {"text": text, "reasons": reasons, "count": no_entry}
    if reasons:
        return _("%(text)s: %(reasons)s.") % {"text": text, "reasons": reasons}
    return f"{text}."


def _sharp(values: Mapping[str, Any], translate: Translate, ngettext: Ngettext) -> str:
    _ = translate
    exercise, score = values["exercise"], values["score"]
    if score is None:
        text = _("%(exercise)s stopped for sharp pain.") % {"exercise": exercise}
    else:
        text = _("%(exercise)s stopped for sharp pain, rated %(score)d of 10.") % {
            "exercise": exercise,
            "score": score,
        }
    more = values["stops"] - 1
    if more > 0:
        text += " " + ngettext("%(count)d more stop.", "%(count)d more stops.", more) % {
            "count": more
        }
    return text


def _share(values: Mapping[str, Any], translate: Translate, ngettext: Ngettext) -> str:
    _ = translate
    due = values["due"]
    text = ngettext(
        "%(done)d of %(due)d session in %(days)d days",
        "%(done)d of %(due)d sessions in %(days)d days",
        due,
    ) % {"done": values["done"], "due": due, "days": values["days"]}
    target = values.get("target")
    if target is None:
        return f"{text}."
    return _("%(text)s, target %(target)s %%.") % {"text": text, "target": f"{target:g}"}


def _silent(values: Mapping[str, Any], ngettext: Ngettext) -> str:
    days = values.get("days")
    if days is not None:
        return ngettext(
            "No entry and no reason for %(count)d day.",
            "No entry and no reason for %(count)d days.",
            days,
        ) % {"count": days}
    sessions = values["sessions"]
    return ngettext(
        "No entry for the last due session.",
        "No entry for the last %(count)d due sessions.",
        sessions,
    ) % {"count": sessions}


def sentence(
    code: str, parameters: Mapping[str, Any], translate: Translate, ngettext: Ngettext
) -> str:
    """Word one sentence from its code and parameters; an empty or unknown code gives ""."""
    _ = translate
    if code in ("PAIN_TREND", "PAIN_JUMP"):
        return _pain(code, parameters, translate)
    if code == "MISSED_SESSIONS":
        return _missed(parameters, translate, ngettext)
    if code == "SHARP_PAIN":
        return _sharp(parameters, translate, ngettext)
    if code == "NOT_STARTED":
        return ngettext(
            "Not started: %(count)d session due, no entry.",
            "Not started: %(count)d sessions due, no entry.",
            parameters["due"],
        ) % {"count": parameters["due"]}
    if code == "SHARE":
        return _share(parameters, translate, ngettext)
    if code == "SILENT":
        return _silent(parameters, ngettext)
    if code == "NEW":
        return ngettext(
            "New: %(count)d session so far.",
            "New: %(count)d sessions so far.",
            parameters["done"],
        ) % {"count": parameters["done"]}
    plain = {
        "PAUSED": _("Paused."),
        "ENDED": _("Program ended."),
        "NO_PROGRAM": _("No program yet."),
    }
    return plain.get(code, "")
