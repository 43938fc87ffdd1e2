"""Progression ladders: the list of them, and one with its rungs and criteria."""

from __future__ import annotations

import uuid
from dataclasses import dataclass

from django.db.models import Prefetch, Q, QuerySet
from django.utils.translation import gettext

from programs.models import Exercise, Ladder, Rung, RungAlternative
from programs.queries.library import current_entry, equipment_names, usual_dose_text
from programs.rules.library import (
    AIM_NAMES,
    ALTERNATIVE_REASON_NAMES,
    POSITION_NAMES,
    REGION_NAMES,
    Aim,
    AlternativeReason,
    Region,
)


@dataclass(frozen=True)
class LadderCard:
    """A ladder as it stands in the list."""

    slug: str
    name: str
    region: str
    aim: str
    purpose: str
    steps: int
    easiest: str
    hardest: str
    is_own: bool


@dataclass(frozen=True)
class LadderExercise:
    """An exercise on a rung; one that is retired has no page any more."""

    slug: str
    name: str
    one_line: str
    position: str
    equipment: tuple[str, ...]
    dose: str
    is_retired: bool


@dataclass(frozen=True)
class StandIn:
    """Another exercise for a rung, why, and what to mind."""

    exercise: LadderExercise
    reason: str
    note: str


@dataclass(frozen=True)
class RungView:
    """One step of a ladder; criteria are sentences, empty where there is none."""

    step: int
    exercise: LadderExercise
    alternatives: tuple[StandIn, ...]
    go_on_when: str
    stay_when: str
    go_back_when: str


@dataclass(frozen=True)
class LadderPage:
    """A ladder with its rungs, easiest first."""

    slug: str
    name: str
    region: str
    aim: str
    purpose: str
    for_whom: str
    is_own: bool
    rungs: tuple[RungView, ...]


def visible_ladders(clinic_id: uuid.UUID) -> QuerySet[Ladder]:
    """Return the starter ladders and the clinic's own; its own stands alone under its slug."""
    own = Ladder.objects.filter(clinic_id=clinic_id).values("slug")
    return Ladder.objects.filter(
        (Q(clinic=None) & ~Q(slug__in=own)) | Q(clinic_id=clinic_id)
    ).order_by("name", "id")


def ladder_list(clinic_id: uuid.UUID) -> tuple[LadderCard, ...]:
    """Return the ladders in the order of the body, then by name. Two queries."""
    order = list(REGION_NAMES)
    rungs = Prefetch("rungs", Rung.objects.select_related("exercise").order_by("position"))
    rows = sorted(
        visible_ladders(clinic_id).prefetch_related(rungs),
        key=lambda row: order.index(Region(row.region)),
    )
    return tuple(_ladder_card(row) for row in rows)


def _ladder_card(row: Ladder) -> LadderCard:
    names = [rung.exercise.name for rung in row.rungs.all()]
    return LadderCard(
        slug=row.slug,
        name=row.name,
        region=gettext(REGION_NAMES[Region(row.region)]),
        aim=gettext(AIM_NAMES[Aim(row.aim)]),
        purpose=row.purpose,
        steps=len(names),
        easiest=names[0] if names else "",
        hardest=names[-1] if names else "",
        is_own=row.clinic_id is not None,
    )


def ladder_page(ladder: Ladder) -> LadderPage:
    """Return a ladder with its rungs and their alternatives. Two queries."""
    alternatives = RungAlternative.objects.select_related("exercise__current")
    rows = (
        ladder.rungs.select_related("exercise__current")
        .prefetch_related(Prefetch("alternatives", alternatives.order_by("exercise__name")))
        .order_by("position")
    )
    return LadderPage(
        slug=ladder.slug,
        name=ladder.name,
        region=gettext(REGION_NAMES[Region(ladder.region)]),
        aim=gettext(AIM_NAMES[Aim(ladder.aim)]),
        purpose=ladder.purpose,
        for_whom=ladder.for_whom,
        is_own=ladder.clinic_id is not None,
        rungs=tuple(_rung(step, row) for step, row in enumerate(rows, 1)),
    )


def _rung(step: int, row: Rung) -> RungView:
    return RungView(
        step=step,
        exercise=_exercise(row.exercise),
        alternatives=tuple(
            StandIn(
                exercise=_exercise(other.exercise),
                reason=gettext(ALTERNATIVE_REASON_NAMES[AlternativeReason(other.because)]),
                note=other.note,
            )
            for other in row.alternatives.all()
        ),
        go_on_when=row.go_on_when.get("say", ""),
        stay_when=row.stay_when.get("say", ""),
        go_back_when=row.go_back_when.get("say", ""),
    )


def _exercise(row: Exercise) -> LadderExercise:
    entry = current_entry(row)
    return LadderExercise(
        slug=row.slug,
        name=row.name,
        one_line=entry.one_line,
        position=gettext(POSITION_NAMES[entry.position]),
        equipment=equipment_names(entry),
        dose=usual_dose_text(entry),
        is_retired=row.retired_at is not None,
    )
