"""The exercise library as people browse and search it."""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from django.db.models import QuerySet
from django.utils.translation import gettext, ngettext

from programs.models import Exercise
from programs.rules.dose import dose_wording
from programs.rules.library import (
    AIM_NAMES,
    EQUIPMENT_NAMES,
    POSITION_NAMES,
    REGION_NAMES,
    ExerciseEntry,
)
from programs.rules.library_wording import DOSE_KIND_NAMES, usual_side

MOST_WORDS = 12
NOTHING = "NOTHING"
"""Chosen as equipment at hand by somebody who has none."""


@dataclass(frozen=True)
class LibraryFilter:
    """What is looked for; an empty field asks for nothing. Codes are known codes.

    `at_hand` is all the equipment that there is: an exercise fits when it needs no other.
    """

    words: str = ""
    region: str = ""
    aim: str = ""
    position: str = ""
    dose_kind: str = ""
    at_hand: frozenset[str] = frozenset()

    @property
    def is_empty(self) -> bool:
        """Whether everything is asked for."""
        return self == LibraryFilter()

    @property
    def narrows(self) -> bool:
        """Whether a filter other than words and region is set."""
        return bool(self.aim or self.position or self.dose_kind or self.at_hand)


@dataclass(frozen=True)
class ExerciseCard:
    """An exercise as it stands in a list."""

    id: uuid.UUID
    slug: str
    name: str
    one_line: str
    region: str
    aim: str
    position: str
    equipment: tuple[str, ...]
    dose: str
    is_own: bool


@dataclass(frozen=True)
class Group:
    """Exercises under one heading; a flat list of finds has an empty one."""

    code: str
    name: str
    cards: tuple[ExerciseCard, ...]


@dataclass(frozen=True)
class Choice:
    """One value of a filter, how many exercises it would leave, and whether it is chosen."""

    code: str
    name: str
    count: int
    is_chosen: bool


@dataclass(frozen=True)
class LibraryPage:
    """What was found, and how it can be narrowed."""

    wanted: LibraryFilter
    groups: tuple[Group, ...]
    found: int
    total: int
    regions: tuple[Choice, ...]
    aims: tuple[Choice, ...]
    positions: tuple[Choice, ...]
    dose_kinds: tuple[Choice, ...]
    equipment: tuple[Choice, ...]
    found_anywhere: int  # without the region


def visible_exercises(clinic_id: uuid.UUID) -> QuerySet[Exercise]:
    """Return the starter library and the clinic's own exercises, by name, with their wording.

    Where the clinic has an exercise of its own under the same slug, that one stands alone.
    """
    own = Exercise.objects.filter(clinic_id=clinic_id, retired_at=None).values("slug")
    return (
        Exercise.objects.visible_in(clinic_id)
        .filter(current__isnull=False)
        .exclude(clinic=None, slug__in=own)
        .select_related("current")
        .order_by("name", "id")
    )


def library_page(clinic_id: uuid.UUID, wanted: LibraryFilter) -> LibraryPage:
    """Return what fits `wanted`: by region, or in one list with the best first. One query."""
    rows = list(visible_exercises(clinic_id))
    found = [row for row in rows if fits(row, wanted)]
    anywhere = [row for row in rows if fits(row, replace(wanted, region=""))]
    groups = _in_order(found, wanted.words) if _words(wanted.words) else _by_region(found)
    return LibraryPage(
        wanted=wanted,
        groups=groups,
        found=len(found),
        total=len(rows),
        regions=tuple(_choices(rows, wanted, "region", REGION_NAMES.items())),
        aims=tuple(_choices(rows, wanted, "aim", AIM_NAMES.items())),
        positions=tuple(_choices(rows, wanted, "position", POSITION_NAMES.items())),
        dose_kinds=tuple(_choices(rows, wanted, "dose_kind", DOSE_KIND_NAMES.items())),
        equipment=_equipment_choices(rows, wanted),
        found_anywhere=len(anywhere),
    )


def found_exercises(clinic_id: uuid.UUID, wanted: LibraryFilter) -> list[Exercise]:
    """Return the exercises that fit, the best first, then by name. One query."""
    found = [row for row in visible_exercises(clinic_id) if fits(row, wanted)]
    return sorted(found, key=lambda row: _distance(row, wanted.words))


def fits(row: Exercise, wanted: LibraryFilter) -> bool:
    """Return whether an exercise holds every word, has every code, and needs nothing else."""
    plain = (
        (wanted.region, row.region),
        (wanted.aim, row.aim),
        (wanted.position, row.position),
        (wanted.dose_kind, row.dose_kind),
    )
    if any(code not in ("", has) for code, has in plain):
        return False
    if wanted.at_hand and not wanted.at_hand.issuperset(row.equipment):
        return False
    text = _plain(row.search_text)
    return all(word in text for word in _words(wanted.words))


def _plain(text: str) -> str:
    """Return the text in lower case with single spaces for everything that is no word."""
    return " ".join(re.findall(r"\w+", text.casefold()))


def _words(text: str) -> list[str]:
    return _plain(text).split()[:MOST_WORDS]


def _distance(row: Exercise, words: str) -> tuple[int, str]:
    """Return how far a find lies from the words: in the name, in all its words, or around it."""
    wanted, name = _words(words), _plain(row.name)
    if not wanted or name.startswith(" ".join(wanted)):
        return 0, name
    return (1 if all(word in name for word in wanted) else 2), name


def _card(row: Exercise) -> ExerciseCard:
    entry = current_entry(row)
    return ExerciseCard(
        id=row.id,
        slug=row.slug,
        name=row.name,
        one_line=entry.one_line,
        region=gettext(REGION_NAMES[entry.region]),
        aim=gettext(AIM_NAMES[entry.aim]),
        position=gettext(POSITION_NAMES[entry.position]),
        equipment=equipment_names(entry),
        dose=usual_dose_text(entry),
        is_own=row.is_own,
    )


def _in_order(rows: list[Exercise], words: str) -> tuple[Group, ...]:
    ordered = sorted(rows, key=lambda row: _distance(row, words))
    return (Group("", "", tuple(_card(row) for row in ordered)),) if ordered else ()


def _by_region(rows: list[Exercise]) -> tuple[Group, ...]:
    return tuple(
        Group(region, gettext(name), tuple(_card(row) for row in here))
        for region, name in REGION_NAMES.items()
        if (here := [row for row in rows if row.region == region])
    )


def _choices(
    rows: list[Exercise], wanted: LibraryFilter, name: str, names: Iterable[tuple[str, str]]
) -> Iterable[Choice]:
    without: dict[str, Any] = {name: ""}
    others = [row for row in rows if fits(row, replace(wanted, **without))]
    for code, text in names:
        count = sum(1 for row in others if getattr(row, name) == code)
        yield Choice(str(code), gettext(text), count, getattr(wanted, name) == code)


def _equipment_choices(rows: list[Exercise], wanted: LibraryFilter) -> tuple[Choice, ...]:
    others = [row for row in rows if fits(row, replace(wanted, at_hand=frozenset()))]
    bare = sum(1 for row in others if not row.equipment)
    nothing = Choice(NOTHING, gettext("Nothing at all"), bare, NOTHING in wanted.at_hand)
    return nothing, *(
        Choice(
            str(code),
            gettext(name),
            sum(1 for row in others if code in row.equipment),
            code in wanted.at_hand,
        )
        for code, name in EQUIPMENT_NAMES.items()
    )


def current_entry(row: Exercise) -> ExerciseEntry:
    """Return the wording in force of an exercise that has one."""
    if row.current is None:
        raise ValueError("An exercise without a revision says nothing.")
    return row.current.entry


def equipment_names(entry: ExerciseEntry) -> tuple[str, ...]:
    """Return what has to be at hand, in words."""
    return tuple(gettext(EQUIPMENT_NAMES[code]) for code in entry.equipment)


def usual_dose_text(entry: ExerciseEntry) -> str:
    """Return the dose that the team starts with, in words."""
    dose = entry.dose.usual_dose(usual_side(entry.side_mode))
    return dose_wording(dose, gettext, ngettext)
