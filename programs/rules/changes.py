"""What differs between two revisions of a program, in words that a therapist checks at a glance."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from programs.rules import wording
from programs.rules.dose import Dose, DoseParts, dose_parts, dose_wording
from programs.rules.schedule import Schedule, schedule_wording
from programs.rules.wording import Ngettext, Translate


class ChangeKind(StrEnum):
    """What a change is about."""

    ADDED = "ADDED"
    REMOVED = "REMOVED"
    DOSE = "DOSE"
    NOTE = "NOTE"
    ORDER = "ORDER"
    SCHEDULE = "SCHEDULE"
    LAST_DAY = "LAST_DAY"
    PAIN_LIMIT = "PAIN_LIMIT"
    SHARP_PAIN = "SHARP_PAIN"


@dataclass(frozen=True)
class PlannedItem:
    """One exercise of a revision. `key` names the exercise, whatever its wording."""

    key: Hashable
    name: str
    dose: Dose
    note: str = ""


@dataclass(frozen=True)
class Plan:
    """What a revision asks for, without who wrote it and when."""

    items: tuple[PlannedItem, ...]
    schedule: Schedule
    pain_limit: int
    continue_after_sharp_pain: bool


@dataclass(frozen=True)
class Change:
    """One difference: what it is about, how it is now and how it was; "" where there was none."""

    kind: ChangeKind
    subject: str
    now: str
    was: str = ""


def plan_changes(
    before: Plan,
    after: Plan,
    *,
    translate: Translate = wording.plain,
    ngettext: Ngettext = wording.plain_plural,
    say_date: Callable[[date], str] = date.isoformat,
) -> tuple[Change, ...]:
    """Return the differences in the order of the new revision, what was taken out last.

    An exercise that stands twice is compared in order: the first with the first.
    """
    _ = translate
    changes = [
        *_item_changes(before, after, translate, ngettext),
        *_order_change(before, after, translate),
        *_schedule_changes(before.schedule, after.schedule, translate, ngettext, say_date),
    ]
    if before.pain_limit != after.pain_limit:
        limits = (f"{after.pain_limit}", f"{before.pain_limit}")
        changes.append(Change(ChangeKind.PAIN_LIMIT, _("Pain limit"), *limits))
    if before.continue_after_sharp_pain != after.continue_after_sharp_pain:
        said = {
            True: _("the other exercises go on"),
            False: _("the session ends"),
        }
        changes.append(
            Change(
                ChangeKind.SHARP_PAIN,
                _("After sharp pain"),
                said[after.continue_after_sharp_pain],
                said[before.continue_after_sharp_pain],
            )
        )
    return tuple(changes)


Numbered = dict[tuple[Hashable, int], PlannedItem]


def _numbered(items: Sequence[PlannedItem]) -> Numbered:
    """Return the items by exercise and how often it stood before."""
    seen: Counter[Hashable] = Counter()
    found: Numbered = {}
    for item in items:
        found[item.key, seen[item.key]] = item
        seen[item.key] += 1
    return found


def _item_changes(
    before: Plan, after: Plan, translate: Translate, ngettext: Ngettext
) -> Iterator[Change]:
    old, new = _numbered(before.items), _numbered(after.items)
    for key, item in new.items():
        if key not in old:
            said = dose_wording(item.dose, translate, ngettext)
            yield Change(ChangeKind.ADDED, item.name, said)
            continue
        was = old[key]
        if was.dose != item.dose:
            now_text, was_text = _differing(was.dose, item.dose, translate, ngettext)
            yield Change(ChangeKind.DOSE, item.name, now_text, was_text)
        if was.note != item.note:
            yield Change(ChangeKind.NOTE, item.name, item.note, was.note)
    for key, item in old.items():
        if key not in new:
            said = dose_wording(item.dose, translate, ngettext)
            yield Change(ChangeKind.REMOVED, item.name, "", said)


def _differing(
    before: Dose, after: Dose, translate: Translate, ngettext: Ngettext
) -> tuple[str, str]:
    """Return only the parts of two doses that differ: now and before."""
    old = _named_parts(dose_parts(before, translate, ngettext), translate)
    new = _named_parts(dose_parts(after, translate, ngettext), translate)
    pairs = [(one, other) for one, other in zip(new, old, strict=True) if one != other]
    return (
        wording.joined([one for one, _other in pairs], translate),
        wording.joined([other for _one, other in pairs], translate),
    )


def _named_parts(parts: DoseParts, translate: Translate) -> tuple[str, ...]:
    """Return the parts of a dose; one that is not there says so."""
    _ = translate
    return (
        parts.amount,
        parts.side or _("both sides together"),
        parts.load or _("without a load"),
        parts.tempo or _("at any pace"),
        parts.rest or _("without a rest"),
        parts.effort or _("without a target for effort"),
    )


def _order_change(before: Plan, after: Plan, translate: Translate) -> Iterator[Change]:
    old, new = _numbered(before.items), _numbered(after.items)
    kept_before = [key for key in old if key in new]
    kept_after = [key for key in new if key in old]
    if kept_before != kept_after:
        _ = translate
        now_text = wording.joined([new[key].name for key in kept_after], translate)
        was_text = wording.joined([old[key].name for key in kept_before], translate)
        yield Change(ChangeKind.ORDER, _("Order"), now_text, was_text)


def _schedule_changes(
    before: Schedule,
    after: Schedule,
    translate: Translate,
    ngettext: Ngettext,
    say_date: Callable[[date], str],
) -> Iterator[Change]:
    _ = translate
    now_text = schedule_wording(after, translate, ngettext)
    was_text = schedule_wording(before, translate, ngettext)
    if now_text != was_text:
        yield Change(ChangeKind.SCHEDULE, _("Schedule"), now_text, was_text)
    if before.ends_on != after.ends_on:
        open_end = _("no last day")
        yield Change(
            ChangeKind.LAST_DAY,
            _("Last day"),
            say_date(after.ends_on) if after.ends_on else open_end,
            say_date(before.ends_on) if before.ends_on else open_end,
        )
