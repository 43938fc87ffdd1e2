"""The dose of one exercise: what may be prescribed, what it adds up to, what was done of it.

Sets are counted per side: 3 sets with each side in turn are six sets of work. In an alternating
set the repetitions and the holds are counted per side, a time is the time of the whole set.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from programs.rules import wording
from programs.rules.dose_shape import (
    AMOUNTS,
    LIMITS,
    SECONDS_PER_REPETITION,
    SIDES,
    Band,
    Dose,
    DoseKind,
    DoseRange,
    FieldRange,
    LoadUnit,
    Side,
    SideMode,
    sides_allowed,
)
from programs.rules.wording import Ngettext, Problem, Translate, gettext_noop

__all__ = [
    "AMOUNTS",
    "LIMITS",
    "SECONDS_PER_REPETITION",
    "Band",
    "Dose",
    "DoseKind",
    "DoseParts",
    "DoseProblem",
    "DoseRange",
    "DoseShare",
    "FieldRange",
    "LoadUnit",
    "SetDone",
    "SetPlan",
    "Side",
    "SideMode",
    "WeeklyDose",
    "check_dose",
    "dose_parts",
    "dose_share",
    "dose_wording",
    "exercise_seconds",
    "planned_sets",
    "session_minutes",
    "set_count",
    "set_seconds",
    "set_share",
    "sides_allowed",
    "weekly_dose",
]


class DoseProblem(Problem):
    """A field of a dose that must be mended (error) or looked at once more (notice)."""


def check_dose(
    dose: Dose,
    *,
    allowed_kind: DoseKind,
    side_mode: SideMode,
    dose_range: DoseRange | None = None,
) -> list[DoseProblem]:
    """Return what is wrong with a dose: errors first, then notices outside the library's range."""
    problems = [*_kind_problems(dose, allowed_kind, side_mode), *_amount_problems(dose)]
    problems += [*_tempo_problems(dose), *_load_problems(dose, dose_range)]
    faulty = {problem.field for problem in problems}
    if dose_range is not None and dose_range.kind is dose.kind:
        for name, span in dose_range.ranges().items():
            value = getattr(dose, name)
            if name not in faulty and value not in span:
                text = gettext_noop("The library suggests %(low)d to %(high)d.")
                bounds = {"low": span.low, "high": span.high}
                problems.append(DoseProblem(name, "UNUSUAL", text, bounds, "notice"))
    return problems


def _kind_problems(dose: Dose, kind: DoseKind, mode: SideMode) -> Iterable[DoseProblem]:
    if dose.kind is not kind:
        text = gettext_noop("This exercise is not dosed in this way.")
        yield DoseProblem("kind", "WRONG_KIND", text)
    if dose.side not in SIDES[mode]:
        yield DoseProblem("side", "WRONG_SIDE", gettext_noop("Choose a side for this exercise."))


def _amount_problems(dose: Dose) -> Iterable[DoseProblem]:
    needed = ("sets", *AMOUNTS[dose.kind], "rest_seconds")
    for name in ("sets", "repetitions", "hold_seconds", "duration_seconds", "rest_seconds"):
        value = getattr(dose, name)
        if name in needed:
            if value is None:
                yield DoseProblem(name, "MISSING", gettext_noop("Enter a number."))
            else:
                yield from _limit_problems(name, value)
        elif value is not None:
            text = gettext_noop("This kind of dose has no such number.")
            yield DoseProblem(name, "NOT_FOR_KIND", text)
    if dose.effort_target is not None:
        yield from _limit_problems("effort_target", dose.effort_target)


def _limit_problems(name: str, value: int | Decimal) -> Iterable[DoseProblem]:
    low, high = LIMITS[name]
    finite = not isinstance(value, Decimal) or value.is_finite()
    if not finite or not low <= value <= high:
        text = gettext_noop("Enter a number from %(low)d to %(high)d.")
        yield DoseProblem(name, "OUT_OF_LIMITS", text, {"low": low, "high": high})


def _tempo_problems(dose: Dose) -> Iterable[DoseProblem]:
    if dose.tempo is None:
        return
    low, high = LIMITS["tempo"]
    if dose.kind is not DoseKind.REPETITIONS:
        text = gettext_noop("Only repetitions have a tempo.")
        yield DoseProblem("tempo", "NOT_FOR_KIND", text)
    elif any(not low <= part <= high for part in dose.tempo):
        text = gettext_noop("Each part of the tempo is %(low)d to %(high)d seconds.")
        yield DoseProblem("tempo", "OUT_OF_LIMITS", text, {"low": low, "high": high})
    elif sum(dose.tempo) < 1:
        text = gettext_noop("A repetition takes at least a second.")
        yield DoseProblem("tempo", "OUT_OF_LIMITS", text)


def _load_problems(dose: Dose, dose_range: DoseRange | None) -> Iterable[DoseProblem]:
    if dose.load_unit is LoadUnit.KG:
        if dose.load_value is None:
            yield DoseProblem("load_value", "MISSING", gettext_noop("Enter the weight in kg."))
        else:
            yield from _limit_problems("load_value", dose.load_value)
    elif dose.load_value is not None:
        text = gettext_noop("A weight needs the unit kg.")
        yield DoseProblem("load_value", "NOT_FOR_UNIT", text)
    if dose.load_unit is LoadUnit.BAND:
        if dose.band not in tuple(Band):
            yield DoseProblem("band", "MISSING", gettext_noop("Choose a band."))
    elif dose.band:
        text = gettext_noop("Choose the band as load, or no band.")
        yield DoseProblem("band", "NOT_FOR_UNIT", text)
    allowed = () if dose_range is None else (LoadUnit.NONE, *dose_range.load_units)
    if allowed and dose.load_unit not in allowed:
        text = gettext_noop("The library does not load this exercise in this way.")
        yield DoseProblem("load_unit", "UNUSUAL", text, severity="notice")


@dataclass(frozen=True)
class SetPlan:
    """One set of work as it is prescribed. Side is never BOTH: that is two sets."""

    number: int
    side: Side
    repetitions: int | None
    hold_seconds: int | None
    duration_seconds: int | None


def planned_sets(dose: Dose) -> tuple[SetPlan, ...]:
    """Return the sets in the order of doing; each side in turn is all of the left, then the right.

    Numbers run from 1 within a side, so that side and number name a set.
    """
    sides = (Side.LEFT, Side.RIGHT) if dose.side is Side.BOTH else (dose.side,)
    amount = (dose.repetitions, dose.hold_seconds, dose.duration_seconds)
    return tuple(
        SetPlan(number, side, *amount) for side in sides for number in range(1, dose.sets + 1)
    )


def _set_work(dose: Dose) -> tuple[int, int, int]:
    """Return repetitions, seconds held and seconds moving of one planned set."""
    turns = 2 if dose.side is Side.ALTERNATE else 1
    repetitions = (dose.repetitions or 0) * turns
    if dose.kind is DoseKind.TIMED:
        return 0, 0, dose.duration_seconds or 0
    if dose.kind is DoseKind.HOLD:
        return 0, (dose.hold_seconds or 0) * turns, 0
    pace = sum(dose.tempo) if dose.tempo else SECONDS_PER_REPETITION
    return repetitions, repetitions * (dose.hold_seconds or 0), repetitions * pace


def set_seconds(dose: Dose) -> float:
    """Return how long one planned set takes; a held repetition is moved into and out of."""
    _, held, moving = _set_work(dose)
    return float(held + moving)


def set_count(dose: Dose) -> int:
    """Return how many sets of work there are: twice the sets where each side takes its turn."""
    return dose.sets * 2 if dose.side is Side.BOTH else dose.sets


def exercise_seconds(dose: Dose) -> int:
    """Return the work and the rests between sets, without the rest before the next exercise."""
    sets = set_count(dose)
    return round(sets * set_seconds(dose) + max(0, sets - 1) * dose.rest_seconds)


def session_minutes(doses: Iterable[Dose], *, changeover_seconds: int = 20) -> int:
    """Return the minutes of a session, rounded up, with a changeover between two exercises."""
    spans = [exercise_seconds(dose) for dose in doses]
    total = sum(spans) + changeover_seconds * max(0, len(spans) - 1)
    return math.ceil(total / 60)


@dataclass(frozen=True)
class WeeklyDose:
    """What a week adds up to, both sides together."""

    repetitions: int
    hold_seconds: int
    moving_seconds: int
    sets: int


def weekly_dose(doses: Iterable[Dose], sessions_per_week: float) -> WeeklyDose:
    """Return the work of a week, each figure rounded to the nearest whole number."""
    repetitions = held = moving = sets = 0
    for dose in doses:
        count = set_count(dose)
        one_repetitions, one_held, one_moving = _set_work(dose)
        repetitions += count * one_repetitions
        held += count * one_held
        moving += count * one_moving
        sets += count
    totals = (repetitions, held, moving, sets)
    return WeeklyDose(*(math.floor(total * sessions_per_week + 0.5) for total in totals))


@dataclass(frozen=True)
class DoseParts:
    """A dose in words, part by part; a part that does not apply is empty."""

    amount: str
    side: str
    load: str
    tempo: str
    rest: str
    effort: str


def dose_parts(dose: Dose, translate: Translate, ngettext: Ngettext) -> DoseParts:
    """Return the parts of the wording: "3 sets of 12", "each side", "with 2 kg", and so on."""
    return DoseParts(
        amount=_amount_text(dose, translate, ngettext),
        side=_side_text(dose, translate),
        load=_load_text(dose, translate),
        tempo=wording.tempo_text(dose.tempo, translate) if dose.tempo else "",
        rest=(
            wording.rest_text(dose.rest_seconds, translate, ngettext)
            if dose.rest_seconds and set_count(dose) > 1
            else ""
        ),
        effort=(
            "" if dose.effort_target is None else wording.effort_text(dose.effort_target, translate)
        ),
    )


def dose_wording(
    dose: Dose,
    translate: Translate = wording.plain,
    ngettext: Ngettext = wording.plain_plural,
) -> str:
    """Return the dose in one line: "3 sets of 8, held 5 seconds, left side, with 2 kg"."""
    parts = dose_parts(dose, translate, ngettext)
    return wording.joined((parts.amount, parts.side, parts.load), translate)


def _amount_text(dose: Dose, translate: Translate, ngettext: Ngettext) -> str:
    if dose.kind is DoseKind.HOLD:
        return wording.holds_of_text(dose.sets, dose.hold_seconds or 0, translate, ngettext)
    if dose.kind is DoseKind.TIMED:
        return wording.times_text(dose.sets, dose.duration_seconds or 0, translate, ngettext)
    text = wording.sets_of_text(dose.sets, dose.repetitions or 0, ngettext)
    if dose.kind is DoseKind.REPETITIONS:
        return text
    held = wording.held_text(dose.hold_seconds or 0, translate, ngettext)
    return wording.joined((text, held), translate)


def _side_text(dose: Dose, translate: Translate) -> str:
    _ = translate
    if dose.side is Side.ALTERNATE and dose.kind is DoseKind.TIMED:
        return _("left and right in turn")
    return {
        Side.BILATERAL: "",
        Side.LEFT: _("left side"),
        Side.RIGHT: _("right side"),
        Side.BOTH: _("each side"),
        Side.ALTERNATE: _("each side, left and right in turn"),
    }[dose.side]


def _load_text(dose: Dose, translate: Translate) -> str:
    _ = translate
    if dose.load_unit is LoadUnit.KG and dose.load_value:
        return wording.weight_text(dose.load_value, translate)
    bands = {
        Band.LIGHT.value: _("with a light band"),
        Band.MEDIUM.value: _("with a medium band"),
        Band.FIRM.value: _("with a firm band"),
    }
    return bands.get(dose.band, "")


@dataclass(frozen=True)
class SetDone:
    """What was done in one set. held_seconds is per hold; None means that it was not recorded."""

    repetitions: int | None = None
    held_seconds: float | None = None
    duration_seconds: float | None = None


def set_share(done: SetDone, plan: SetPlan) -> float:
    """Return the share of a set that was done, 0 to 1; more than prescribed counts as all of it.

    Held repetitions are repetitions times hold, each capped; a hold that was not recorded is taken
    as prescribed, because the repetitions were entered under that instruction.
    """
    share = 1.0
    for ratio in _ratios(done, plan):
        share *= min(1.0, ratio)
    return share


def _ratios(done: SetDone, plan: SetPlan) -> tuple[float, ...]:
    if plan.repetitions is None:
        if plan.duration_seconds is None:
            return (_ratio(done.held_seconds, plan.hold_seconds),)
        return (_ratio(done.duration_seconds, plan.duration_seconds),)
    repeated = _ratio(done.repetitions, plan.repetitions)
    if plan.hold_seconds is None or done.held_seconds is None:
        return (repeated,)
    return (repeated, _ratio(done.held_seconds, plan.hold_seconds))


def _ratio(done: float | None, prescribed: int | None) -> float:
    return max(0.0, done or 0.0) / prescribed if prescribed else 1.0


@dataclass(frozen=True)
class DoseShare:
    """The share of the prescribed work that was done, 0 to 1, and the work beyond it.

    `over` is in the same measure: 0.5 is half of the prescribed work on top.
    """

    share: float
    over: float


def dose_share(plan: Sequence[SetPlan], done: Sequence[SetDone | None]) -> DoseShare:
    """Return the mean share over the planned sets; `done` runs beside `plan`, None is missing.

    Entries of `done` beyond the plan are extra sets: they never make up for a missing one, and add
    one set each to `over`. A plan of no sets has no share to do: 0.
    """
    if not plan:
        return DoseShare(0.0, 0.0)
    share = over = 0.0
    for one_plan, one_done in zip(plan, done, strict=False):
        if one_done is not None:
            share += set_share(one_done, one_plan)
            over += max(0.0, math.prod(_ratios(one_done, one_plan)) - 1.0)
    over += sum(1 for extra in done[len(plan) :] if extra is not None)
    return DoseShare(min(1.0, share / len(plan)), over / len(plan))
