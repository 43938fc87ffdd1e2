"""One exercise with all that the library says of it, and where it stands on ladders."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Max, Q
from django.utils.translation import gettext, ngettext

from programs.models import Exercise, Rung, RungAlternative
from programs.queries.library import current_entry, equipment_names, usual_dose_text
from programs.rules.library import (
    AIM_NAMES,
    ALTERNATIVE_REASON_NAMES,
    POSITION_NAMES,
    PRECAUTION_TEXTS,
    REGION_NAMES,
    AlternativeReason,
    ExerciseEntry,
)
from programs.rules.library_wording import (
    DOSE_KIND_NAMES,
    SIDE_MODE_TEXTS,
    RangeLine,
    range_lines,
)


@dataclass(frozen=True)
class Stand:
    """Where an exercise stands on a ladder."""

    ladder_slug: str
    ladder_name: str
    step: int
    steps: int
    is_alternative: bool


@dataclass(frozen=True)
class Swap:
    """An exercise that may stand in for another, why and when; without a link once retired."""

    slug: str
    name: str
    reason: str
    note: str
    ladder_name: str
    is_retired: bool


@dataclass(frozen=True)
class ExercisePage:
    """One exercise with all that it says, where it stands, and what may stand in for it."""

    slug: str
    entry: ExerciseEntry
    is_own: bool
    number: int
    published_at: datetime
    region: str
    aim: str
    position: str
    equipment: tuple[str, ...]
    precautions: tuple[str, ...]
    sides: str
    dose_kind: str
    usual_dose: str
    ranges: tuple[RangeLine, ...]
    stands: tuple[Stand, ...]
    swaps: tuple[Swap, ...]


def exercise_page(exercise: Exercise, clinic_id: uuid.UUID) -> ExercisePage:
    """Return all that the library says of an exercise. Two queries."""
    entry = current_entry(exercise)
    assert exercise.current is not None
    shared_or_own = Q(ladder__clinic=None) | Q(ladder__clinic_id=clinic_id)
    rungs = list(
        Rung.objects.filter(shared_or_own)
        .filter(Q(exercise=exercise) | Q(alternatives__exercise=exercise))
        .select_related("ladder")
        .annotate(steps=Max("ladder__rungs__position"))
        .order_by("ladder__name", "position")
        .distinct()
    )
    own_rungs = [rung for rung in rungs if rung.exercise_id == exercise.pk]
    return ExercisePage(
        slug=exercise.slug,
        entry=entry,
        is_own=exercise.is_own,
        number=exercise.current.number,
        published_at=exercise.current.published_at,
        region=gettext(REGION_NAMES[entry.region]),
        aim=gettext(AIM_NAMES[entry.aim]),
        position=gettext(POSITION_NAMES[entry.position]),
        equipment=equipment_names(entry),
        precautions=tuple(gettext(PRECAUTION_TEXTS[code]) for code in entry.precautions),
        sides=gettext(SIDE_MODE_TEXTS[entry.side_mode]),
        dose_kind=gettext(DOSE_KIND_NAMES[entry.dose.kind]),
        usual_dose=usual_dose_text(entry),
        ranges=range_lines(entry.dose, gettext, ngettext),
        stands=tuple(_stand(rung, exercise) for rung in rungs),
        swaps=tuple(_swaps(own_rungs)),
    )


def _stand(rung: Rung, exercise: Exercise) -> Stand:
    return Stand(
        ladder_slug=rung.ladder.slug,
        ladder_name=rung.ladder.name,
        step=rung.position,
        steps=getattr(rung, "steps", rung.position),
        is_alternative=rung.exercise_id != exercise.pk,
    )


def _swaps(rungs: Sequence[Rung]) -> Iterable[Swap]:
    names = {rung.pk: rung.ladder.name for rung in rungs}
    rows = RungAlternative.objects.filter(rung__in=rungs).select_related("exercise")
    for row in rows.order_by("rung__ladder__name", "exercise__name"):
        yield Swap(
            slug=row.exercise.slug,
            name=row.exercise.name,
            reason=gettext(ALTERNATIVE_REASON_NAMES[AlternativeReason(row.because)]),
            note=row.note,
            ladder_name=names[row.rung_id],
            is_retired=row.exercise.retired_at is not None,
        )
