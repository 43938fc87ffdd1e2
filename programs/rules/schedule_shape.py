"""What a schedule consists of: its pattern, the limits of its numbers, and its wording."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from programs.rules import wording
from programs.rules.wording import Ngettext, Problem, Translate, gettext_noop

MOST_TIMES_PER_DAY = 6
MOST_EVERY_DAYS = 30


class Pattern(StrEnum):
    """How a schedule says its days."""

    DAILY = "DAILY"
    WEEKDAYS = "WEEKDAYS"
    EVERY_N_DAYS = "EVERY_N_DAYS"
    WEEKLY_QUOTA = "WEEKLY_QUOTA"


@dataclass(frozen=True)
class Schedule:
    """When the sessions of a program are due; ends_on is the last day, weekday 0 is Monday."""

    pattern: Pattern
    starts_on: date
    times_per_day: int = 1
    weekdays: frozenset[int] = frozenset()
    every_days: int | None = None
    weekly_quota: int | None = None
    ends_on: date | None = None


class ScheduleProblem(Problem):
    """A field of a schedule that must be mended."""


def field_problems(schedule: Schedule) -> Iterator[ScheduleProblem]:
    """Yield what is wrong with the single fields, dates aside."""
    pattern = schedule.pattern
    most = 1 if pattern is Pattern.WEEKLY_QUOTA else MOST_TIMES_PER_DAY
    yield from _number_problems("times_per_day", schedule.times_per_day, 1, most)
    only = gettext_noop("This kind of schedule has no such number.")
    for name, owner, low, high in (
        ("every_days", Pattern.EVERY_N_DAYS, 2, MOST_EVERY_DAYS),
        ("weekly_quota", Pattern.WEEKLY_QUOTA, 1, 7),
    ):
        value = getattr(schedule, name)
        if pattern is owner:
            yield from _number_problems(name, value, low, high)
        elif value is not None:
            yield ScheduleProblem(name, "NOT_FOR_PATTERN", only)
    if pattern is not Pattern.WEEKDAYS:
        if schedule.weekdays:
            text = gettext_noop("Choose days of the week only for a schedule by weekday.")
            yield ScheduleProblem("weekdays", "NOT_FOR_PATTERN", text)
    elif not schedule.weekdays:
        text = gettext_noop("Choose at least one day of the week.")
        yield ScheduleProblem("weekdays", "MISSING", text)
    elif not schedule.weekdays <= frozenset(range(7)):
        text = gettext_noop("Choose days from Monday to Sunday.")
        yield ScheduleProblem("weekdays", "OUT_OF_LIMITS", text)


def _number_problems(name: str, value: int | None, low: int, high: int) -> list[ScheduleProblem]:
    if value is None:
        return [ScheduleProblem(name, "MISSING", gettext_noop("Enter a number."))]
    if low <= value <= high:
        return []
    text = gettext_noop("Enter a number from %(low)d to %(high)d.")
    return [ScheduleProblem(name, "OUT_OF_LIMITS", text, {"low": low, "high": high})]


def sessions_per_week(schedule: Schedule) -> float:
    """Return how many sessions an ordinary week of this schedule holds."""
    days = {
        Pattern.DAILY: 7.0,
        Pattern.WEEKDAYS: float(len(schedule.weekdays)),
        Pattern.EVERY_N_DAYS: 7.0 / (schedule.every_days or 1),
        Pattern.WEEKLY_QUOTA: float(schedule.weekly_quota or 0),
    }[schedule.pattern]
    return days * schedule.times_per_day


def schedule_wording(
    schedule: Schedule,
    translate: Translate = wording.plain,
    ngettext: Ngettext = wording.plain_plural,
) -> str:
    """Return the schedule in words: "Monday and Friday, 2 times a day"."""
    if schedule.pattern is Pattern.WEEKLY_QUOTA:
        return wording.times_a_week_text(schedule.weekly_quota or 0, ngettext)
    times = wording.times_a_day_text(schedule.times_per_day, ngettext)
    if schedule.pattern is Pattern.DAILY:
        return times
    if schedule.pattern is Pattern.EVERY_N_DAYS:
        days = wording.every_days_text(schedule.every_days or 1, ngettext)
    else:
        names = [wording.weekday_name(day, translate) for day in sorted(schedule.weekdays)]
        days = wording.listed(names, translate)
    if schedule.times_per_day == 1:
        return days
    return wording.joined((days, times), translate)
