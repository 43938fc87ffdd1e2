"""What an invented person does and feels, day by day: pure, and the same for the same seed."""

from __future__ import annotations

import random
import uuid
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from itertools import pairwise
from typing import Any

from adherence.rules.pain import ask_next_morning
from programs.rules.dose import Dose, SetPlan, planned_sets
from programs.rules.schedule import DueSession
from shared.dates import resolve_wall_time, week_start

Knots = Sequence[tuple[float, float]]


@dataclass(frozen=True)
class Character:
    """How somebody goes through a program; see fixtures/demo/characters.yaml for each field."""

    done: Knots
    pain: Knots
    noise: float
    says_why: float
    reasons: Sequence[str]
    partly: float
    later: float
    over: float
    morning: float

    @classmethod
    def from_data(cls, data: Mapping[str, Any]) -> Character:
        """Return a character from its mapping; KeyError or TypeError where it is none."""
        knots = {name: tuple((d, v) for d, v in data[name]) for name in ("done", "pain")}
        return cls(**{**data, **knots})


@dataclass(frozen=True)
class PlayedSet:
    """One set as it was done."""

    prescription_id: uuid.UUID
    number: int
    side: str
    state: str
    repetitions: int | None
    held_seconds: int | None
    moved_seconds: int | None


@dataclass(frozen=True)
class PlayedSession:
    """One occasion: done with its sets and ratings, or not done with a reason."""

    on: date
    revision_id: uuid.UUID
    entered_at: datetime
    status: str
    reason: str = ""
    sets: tuple[PlayedSet, ...] = ()
    ratings: Mapping[str, int] = field(default_factory=dict)
    morning_at: datetime | None = None
    effort: int | None = None
    stop: tuple[uuid.UUID, int, str] | None = None


@dataclass(frozen=True)
class Part:
    """A revision as the simulation needs it."""

    revision_id: uuid.UUID
    effective_from: date
    is_step_up: bool
    items: tuple[tuple[uuid.UUID, Dose], ...]


@dataclass(frozen=True)
class SharpPain:
    """Sharp pain to come on a day, on the item counted from 1."""

    on: date
    item: int
    score: int
    note: str


def value_at(knots: Knots, day: float) -> float:
    """Return the value at `day`, straight between knots and level beyond them."""
    if day <= knots[0][0]:
        return knots[0][1]
    for (left, low), (right, high) in pairwise(knots):
        if day <= right:
            return low + (high - low) * (day - left) / (right - left)
    return knots[-1][1]


def play(
    *,
    character: Character,
    due: Sequence[DueSession],
    parts: Mapping[Any, Part],
    zone: str,
    starts_on: date,
    today: date,
    seed: str,
    stop: SharpPain | None = None,
) -> Iterator[PlayedSession]:
    """Yield what happened before `today`, in order of days.

    Flexible sessions are spread over their week, from the day on which the program starts.
    """
    chance = random.Random(seed)  # noqa: S311 - the same people for everybody
    days = sorted(_on_days(due, starts_on), key=lambda one: (one[0], one[1].slot))
    # Sharp pain needs a session to happen in: the last one up to its day.
    sharp_on = max((on for on, _one in days if stop and on <= stop.on), default=None)
    for on, one in days:
        if on >= today:
            continue
        day = (on - today).days
        part = parts[one.revision_id]
        sharp = stop if on == sharp_on and one.slot == 1 else None
        if chance.random() < value_at(character.done, day) or sharp:
            yield _done(character, part, on, one.slot, zone, chance, today, sharp)
            if chance.random() < character.over:
                yield _done(character, part, on, one.slot + 4, zone, chance, today, None)
        elif chance.random() < character.says_why:
            yield PlayedSession(
                on=on,
                revision_id=part.revision_id,
                entered_at=resolve_wall_time(on, time(20, chance.randrange(60)), zone),
                status="NOT_DONE",
                reason=chance.choice(list(character.reasons)),
            )


def _on_days(
    due: Sequence[DueSession], starts_on: date
) -> Iterator[tuple[date, DueSession]]:
    weeks: dict[date, list[DueSession]] = {}
    for one in due:
        if one.flexible:
            weeks.setdefault(week_start(one.due_on), []).append(one)
        else:
            yield one.due_on, one
    for monday, sessions in weeks.items():
        first = max(monday, starts_on)
        days = (monday + timedelta(days=7) - first).days
        for index, one in enumerate(sessions):
            yield first + timedelta(days=index * days // len(sessions)), one


def _done(
    character: Character,
    part: Part,
    on: date,
    slot: int,
    zone: str,
    chance: random.Random,
    today: date,
    sharp: SharpPain | None,
) -> PlayedSession:
    wall = time(min(21, (8, 17, 19, 20, 20, 21)[min(slot, 6) - 1]), chance.randrange(60))
    entered_at = resolve_wall_time(on, wall, zone)
    if chance.random() < character.later and on + timedelta(days=1) < today:
        entered_at = resolve_wall_time(on + timedelta(days=1), time(9, wall.minute), zone)
    worst = _rating(character, (on - today).days, chance, 0)
    before = max(0, worst - chance.choice([0, 1, 1, 2]))
    partly = chance.random() < character.partly
    plans = [(pid, plan) for pid, dose in part.items for plan in planned_sets(dose)]
    kept = len(plans) if not partly else max(1, round(len(plans) * chance.uniform(0.4, 0.75)))
    if sharp is not None:
        stopped_id = part.items[sharp.item - 1][0]
        kept = next(i for i, (pid, _plan) in enumerate(plans) if pid == stopped_id) + 1
        worst = max(worst, sharp.score)
    ratings = {"BEFORE": before, "WORST": worst, "AFTER": max(0, worst - chance.choice([0, 1, 1]))}
    morning_on = on + timedelta(days=1)
    asked = ask_next_morning(
        session_on=on,
        worst=worst,
        revision_effective_from=part.effective_from if part.is_step_up else None,
        previous_effective_from=part.effective_from,
        today=morning_on,
        morning_above=4,
    )
    if asked and morning_on < today and chance.random() < 0.85:
        ratings["NEXT_MORNING"] = _rating(
            character, (on - today).days, chance, character.morning
        )
    return PlayedSession(
        on=on,
        revision_id=part.revision_id,
        entered_at=entered_at,
        status="STOPPED" if partly or sharp else "COMPLETED",
        sets=tuple(_set(pid, plan, chance) for pid, plan in plans[:kept]),
        ratings=ratings,
        morning_at=max(
            resolve_wall_time(morning_on, time(8, 30), zone), entered_at + timedelta(minutes=20)
        )
        if "NEXT_MORNING" in ratings
        else None,
        effort=max(0, min(10, round(chance.gauss(4.5, 1.2)))),
        stop=(part.items[sharp.item - 1][0], sharp.score, sharp.note) if sharp else None,
    )


def _rating(character: Character, day: int, chance: random.Random, shift: float) -> int:
    mean = value_at(character.pain, day) + shift
    return max(0, min(10, round(chance.gauss(mean, character.noise))))


def _set(prescription_id: uuid.UUID, plan: SetPlan, chance: random.Random) -> PlayedSet:
    short = chance.random() < 0.04
    factor = chance.uniform(0.5, 0.9) if short else 1.0

    def amount(asked: int | None) -> int | None:
        return None if asked is None else max(1, round(asked * factor))

    return PlayedSet(
        prescription_id=prescription_id,
        number=plan.number,
        side=plan.side.value,
        state="PARTLY" if short else "DONE",
        repetitions=amount(plan.repetitions),
        held_seconds=plan.hold_seconds if plan.repetitions else amount(plan.hold_seconds),
        moved_seconds=amount(plan.duration_seconds),
    )


