"""What the program editor is filled with: the draft, the exercises to choose from, ladders."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Prefetch, Q, QuerySet
from django.utils.translation import gettext, ngettext

from programs.models import (
    Exercise,
    ExerciseRevision,
    Ladder,
    Program,
    ProgramRevision,
    RevisionStatus,
    Rung,
    RungAlternative,
)
from programs.queries.program_page import precaution_texts
from programs.queries.programs import ItemView, items_of
from programs.rules.dose import Side, dose_wording, sides_allowed
from programs.rules.library import (
    ALTERNATIVE_REASON_NAMES,
    EQUIPMENT_NAMES,
    POSITION_NAMES,
    REGION_NAMES,
    AlternativeReason,
    ExerciseEntry,
    Region,
)
from programs.rules.schedule import Schedule

MOST_SHOWN = 20
MOST_WORDS = 8


@dataclass(frozen=True)
class EditorSource:
    """What an editor opens: the draft, or what is in force where there is no draft yet."""

    draft_id: uuid.UUID | None
    version: int
    number: int
    title: str
    items: tuple[ItemView, ...]
    schedule: Schedule
    pain_limit: int
    continue_after_sharp_pain: bool
    note_to_patient: str
    reason: str
    edited_by: str
    edited_at: datetime | None


@dataclass(frozen=True)
class EditorExercise:
    """An exercise that may be prescribed, by the revision of its wording."""

    revision_id: uuid.UUID
    exercise_id: uuid.UUID
    entry: ExerciseEntry
    precautions: tuple[str, ...]


@dataclass(frozen=True)
class Neighbor:
    """An exercise that can take another's place, with the rung that it stands on."""

    exercise_id: uuid.UUID
    rung_id: uuid.UUID
    name: str
    why: str = ""


@dataclass(frozen=True)
class LadderPlace:
    """Where an exercise stands on a ladder, and what is beside it."""

    rung_id: uuid.UUID
    ladder: str
    position: int
    rungs: int
    go_on_when: str
    go_back_when: str
    easier: Neighbor | None
    harder: Neighbor | None
    instead: tuple[Neighbor, ...]


@dataclass(frozen=True)
class PickerRow:
    """An exercise in the list to choose from."""

    exercise_id: uuid.UUID
    rung_id: uuid.UUID | None
    step: int | None
    name: str
    about: str
    dose: str
    precautions: tuple[str, ...]


@dataclass(frozen=True)
class PickerPage:
    """The exercises that fit the search, at most MOST_SHOWN of `total`."""

    rows: tuple[PickerRow, ...]
    total: int
    ladder: str
    purpose: str
    ladders: tuple[tuple[str, str], ...]
    regions: tuple[tuple[str, str], ...]


def current_draft(program: Program) -> ProgramRevision | None:
    """Return the program's draft with who edited it last."""
    return program.revisions.filter(status=RevisionStatus.DRAFT).select_related("edited_by").first()


def editor_source(program: Program, *, today: date) -> EditorSource | None:
    """Return what to edit; None where the program has neither a draft nor anything in force.

    Without a draft it is what is in force, to begin from `today`: nothing is written by looking.
    """
    rows = program.revisions.filter(
        status__in=[RevisionStatus.DRAFT, RevisionStatus.ISSUED]
    ).select_related("edited_by")
    by_status = {row.status: row for row in rows}
    row = by_status.get(RevisionStatus.DRAFT) or by_status.get(RevisionStatus.ISSUED)
    if row is None:
        return None
    is_draft = row.status == RevisionStatus.DRAFT
    schedule = row.schedule
    if not is_draft:
        schedule = carried_over(schedule, today)
    return EditorSource(
        draft_id=row.id if is_draft else None,
        version=row.version if is_draft else 0,
        number=row.number if is_draft else row.number + 1,
        title=program.title,
        items=items_of(row.id),
        schedule=schedule,
        pain_limit=row.pain_limit,
        continue_after_sharp_pain=row.continue_after_sharp_pain,
        note_to_patient=row.note_to_patient if is_draft else "",
        reason=row.reason if is_draft else "",
        edited_by=row.edited_by.name,
        edited_at=row.edited_at if is_draft else None,
    )


def carried_over(schedule: Schedule, today: date) -> Schedule:
    """Return the schedule of a new revision made from an issued one: from today, or its start."""
    starts_on = max(schedule.starts_on, today)
    ends_on = schedule.ends_on
    if ends_on is not None and ends_on < starts_on:
        ends_on = None
    return Schedule(
        pattern=schedule.pattern,
        starts_on=starts_on,
        times_per_day=schedule.times_per_day,
        weekdays=schedule.weekdays,
        every_days=schedule.every_days,
        weekly_quota=schedule.weekly_quota,
        ends_on=ends_on,
    )


def editor_exercises(
    clinic_id: uuid.UUID, revision_ids: Collection[uuid.UUID]
) -> dict[uuid.UUID, EditorExercise]:
    """Return those of the exercise revisions that this clinic may prescribe. One query."""
    rows = ExerciseRevision.objects.filter(
        Q(clinic=None) | Q(clinic_id=clinic_id), pk__in=revision_ids
    )
    return {row.pk: _editor_exercise(row) for row in rows}


def current_exercise(clinic_id: uuid.UUID, exercise_id: uuid.UUID) -> EditorExercise | None:
    """Return an exercise in its current wording, None where this clinic has none like it."""
    row = (
        Exercise.objects.visible_in(clinic_id)
        .filter(pk=exercise_id, current__isnull=False)
        .select_related("current")
        .first()
    )
    return _editor_exercise(row.current) if row is not None and row.current else None


def _editor_exercise(row: ExerciseRevision) -> EditorExercise:
    entry = row.entry
    return EditorExercise(row.pk, row.exercise_id, entry, precaution_texts(entry))


def ladder_places(
    clinic_id: uuid.UUID, wanted: Sequence[tuple[uuid.UUID, uuid.UUID | None]]
) -> list[LadderPlace | None]:
    """Return for each (exercise, rung or None) where it stands; without a rung, its first one.

    Two queries, whatever the number.
    """
    exercise_ids = [exercise_id for exercise_id, _rung in wanted]
    own = Q(exercise_id__in=exercise_ids) | Q(alternatives__exercise_id__in=exercise_ids)
    ladder_ids = _rungs(clinic_id).filter(own).values("ladder_id")
    rungs = list(
        _rungs(clinic_id)
        .filter(ladder_id__in=ladder_ids)
        .select_related("ladder", "exercise")
        .prefetch_related(
            Prefetch("alternatives", RungAlternative.objects.select_related("exercise"))
        )
        .order_by("ladder__name", "ladder_id", "position")
    )
    return [_place(rungs, exercise_id, rung_id) for exercise_id, rung_id in wanted]


def _rungs(clinic_id: uuid.UUID) -> QuerySet[Rung]:
    return Rung.objects.filter(Q(ladder__clinic=None) | Q(ladder__clinic_id=clinic_id))


def _place(
    rungs: Sequence[Rung], exercise_id: uuid.UUID, rung_id: uuid.UUID | None
) -> LadderPlace | None:
    fitting = [rung for rung in rungs if exercise_id in _exercises_of(rung)]
    rung = next((rung for rung in fitting if rung.pk == rung_id), None)
    if rung is None:
        own = (rung for rung in fitting if rung.exercise_id == exercise_id)
        rung = next(own, fitting[0] if fitting else None)
    if rung is None:
        return None
    ladder = [other for other in rungs if other.ladder_id == rung.ladder_id]
    index = ladder.index(rung)
    return LadderPlace(
        rung_id=rung.pk,
        ladder=rung.ladder.name,
        position=rung.position,
        rungs=len(ladder),
        go_on_when=_say(rung.go_on_when),
        go_back_when=_say(rung.go_back_when),
        easier=_main(ladder[index - 1]) if index else None,
        harder=_main(ladder[index + 1]) if index + 1 < len(ladder) else None,
        instead=tuple(_instead(rung, exercise_id)),
    )


def _exercises_of(rung: Rung) -> set[uuid.UUID]:
    return {rung.exercise_id, *(other.exercise_id for other in rung.alternatives.all())}


def _main(rung: Rung) -> Neighbor | None:
    exercise = rung.exercise
    if exercise.retired_at is not None:
        return None
    return Neighbor(exercise.pk, rung.pk, exercise.name)


def _instead(rung: Rung, exercise_id: uuid.UUID) -> list[Neighbor]:
    """Return what else this rung offers, its own exercise first."""
    found = [] if rung.exercise_id == exercise_id else [_main(rung)]
    found += [
        Neighbor(
            other.exercise_id,
            rung.pk,
            other.exercise.name,
            other.note or gettext(ALTERNATIVE_REASON_NAMES[AlternativeReason(other.because)]),
        )
        for other in rung.alternatives.all()
        if other.exercise_id != exercise_id and other.exercise.retired_at is None
    ]
    return [neighbor for neighbor in found if neighbor is not None]


def _say(criterion: Mapping[str, object] | None) -> str:
    return str((criterion or {}).get("say", ""))


def picker_page(
    clinic_id: uuid.UUID, *, words: str = "", region: str = "", ladder: str = ""
) -> PickerPage:
    """Return the exercises that hold every word, of a region, or the rungs of a ladder.

    Three queries. A region or ladder that there is none of is left out of account.
    """
    ladders = _ladders(clinic_id)
    chosen = next((row for row in ladders if str(row.pk) == ladder), None)
    if chosen is None:
        rows, total = _found(clinic_id, words, region)
    else:
        rows = _rung_rows(clinic_id, chosen)
        total = len(rows)
    return PickerPage(
        rows=tuple(rows),
        total=total,
        ladder=chosen.name if chosen else "",
        purpose=chosen.purpose if chosen else "",
        ladders=tuple((str(row.pk), row.name) for row in ladders),
        regions=tuple((code.value, gettext(name)) for code, name in REGION_NAMES.items()),
    )


def _ladders(clinic_id: uuid.UUID) -> list[Ladder]:
    own = Ladder.objects.filter(clinic_id=clinic_id)
    starter = Q(clinic=None) & ~Q(slug__in=own.values("slug"))
    return list(Ladder.objects.filter(starter | Q(clinic_id=clinic_id)).order_by("name", "id"))


def _found(clinic_id: uuid.UUID, words: str, region: str) -> tuple[list[PickerRow], int]:
    own = Exercise.objects.filter(clinic_id=clinic_id)
    found = (
        Exercise.objects.visible_in(clinic_id)
        .exclude(clinic=None, slug__in=own.values("slug"))
        .filter(current__isnull=False)
    )
    # PostgreSQL takes no null characters.
    for word in words.replace("\0", " ").lower().split()[:MOST_WORDS]:
        found = found.filter(search_text__contains=word)
    if region in tuple(Region):
        found = found.filter(region=region)
    rows = found.select_related("current").order_by("name", "id")[:MOST_SHOWN]
    return [_picker_row(row) for row in rows], found.count()


def _rung_rows(clinic_id: uuid.UUID, ladder: Ladder) -> list[PickerRow]:
    rungs = (
        ladder.rungs.filter(exercise__retired_at=None, exercise__current__isnull=False)
        .select_related("exercise__current")
        .order_by("position")
    )
    return [_picker_row(rung.exercise, rung) for rung in rungs]


def _picker_row(exercise: Exercise, rung: Rung | None = None) -> PickerRow:
    assert exercise.current is not None
    entry = exercise.current.entry
    gear = [gettext(EQUIPMENT_NAMES[code]) for code in entry.equipment]
    about = [gettext(REGION_NAMES[entry.region]), gettext(POSITION_NAMES[entry.position]), *gear]
    return PickerRow(
        exercise_id=exercise.pk,
        rung_id=rung.pk if rung else None,
        step=rung.position if rung else None,
        name=exercise.name,
        about=" · ".join(about),
        dose=dose_wording(entry.dose.usual_dose(usual_side(entry)), gettext, ngettext),
        precautions=precaution_texts(entry),
    )


def usual_side(entry: ExerciseEntry) -> Side:
    """Return the side to start from: each side in turn where one can be chosen."""
    sides = sides_allowed(entry.side_mode)
    return Side.BOTH if Side.BOTH in sides else sides[0]
