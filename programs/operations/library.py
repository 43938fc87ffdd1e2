"""Bringing library files into the database. Running it again on the same files changes nothing."""

from __future__ import annotations

import hashlib
import json
import uuid
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db import transaction

from programs.models import Exercise, ExerciseRevision, Ladder, Rung, RungAlternative
from programs.rules.library import (
    ExerciseEntry,
    LadderEntry,
    Library,
    LibraryProblem,
    RungEntry,
    parse_library,
)

OUT_OF_THE_WAY = 1000
"""Added to the positions of rungs that move, so that none meets another on its way."""


class LibraryRefused(Exception):
    """The files hold mistakes; nothing was imported. `problems` name file and key."""

    def __init__(self, problems: tuple[LibraryProblem, ...]) -> None:
        super().__init__("\n".join(str(problem) for problem in problems))
        self.problems = problems


@dataclass
class Imported:
    """What an import did, by slug."""

    new: list[str] = field(default_factory=list)
    changed: list[str] = field(default_factory=list)
    unchanged: list[str] = field(default_factory=list)
    retired: list[str] = field(default_factory=list)
    brought_back: list[str] = field(default_factory=list)

    @property
    def wrote(self) -> bool:
        """Whether anything is different now."""
        return bool(self.new or self.changed or self.retired or self.brought_back)

    def counts(self) -> Counter[str]:
        """Return how many of each kind."""
        return Counter({name: len(slugs) for name, slugs in vars(self).items() if slugs})


@dataclass
class ImportedLibrary:
    """What an import did to exercises and to ladders."""

    exercises: Imported = field(default_factory=Imported)
    ladders: Imported = field(default_factory=Imported)

    @property
    def wrote(self) -> bool:
        """Whether anything is different now."""
        return self.exercises.wrote or self.ladders.wrote


def read_library(
    *, exercise_files: Mapping[str, object], ladder_files: Mapping[str, object]
) -> Library:
    """Return what loaded files hold, without touching the database; LibraryRefused on a mistake."""
    library = parse_library(exercise_files, ladder_files)
    if library.problems:
        raise LibraryRefused(library.problems)
    return library


@transaction.atomic
def import_library(
    *,
    exercise_files: Mapping[str, object],
    ladder_files: Mapping[str, object],
    now: datetime,
) -> ImportedLibrary:
    """Bring the starter library up to date, whole or not at all.

    A changed exercise gets a new revision, so that programs keep the wording that they were
    issued with. One that has left the files is retired: it stays in the programs that have it. A
    ladder that has left the files goes; what was prescribed from it stays. Clinics' own entries
    are not touched.
    """
    library = read_library(exercise_files=exercise_files, ladder_files=ladder_files)
    done = ImportedLibrary()
    known = {
        row.slug: row
        for row in Exercise.objects.select_for_update(of=("self",))
        .filter(clinic=None)
        .select_related("current")
    }
    for entry in library.exercises:
        _import_exercise(entry, known, done.exercises, now=now)
    kept = {entry.slug for entry in library.exercises}
    for slug, row in sorted(known.items()):
        if slug not in kept and row.retired_at is None:
            retire_exercise(exercise=row, now=now)
            done.exercises.retired.append(slug)
    ids = {slug: row.pk for slug, row in known.items()}
    for ladder in library.ladders:
        _import_ladder(ladder, ids, done.ladders)
    gone = Ladder.objects.filter(clinic=None).exclude(
        slug__in=[row.slug for row in library.ladders]
    )
    done.ladders.retired += gone.order_by("slug").values_list("slug", flat=True)
    gone.delete()
    return done


def retire_exercise(*, exercise: Exercise, now: datetime) -> None:
    """Take an exercise out of the library. Programs that hold it keep it, word for word."""
    exercise.retired_at = now
    exercise.save(update_fields=["retired_at"])


def _import_exercise(
    entry: ExerciseEntry, known: dict[str, Exercise], done: Imported, *, now: datetime
) -> None:
    content = entry.to_json()
    digest = hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()
    exercise = known.get(entry.slug)
    if exercise is None:
        exercise = known[entry.slug] = Exercise(slug=entry.slug)
        outcome = done.new
    elif exercise.current is None or exercise.current.digest != digest:
        outcome = done.changed
    elif exercise.retired_at is not None:
        outcome = done.brought_back
    else:
        done.unchanged.append(entry.slug)
        return
    exercise.name = entry.name
    exercise.search_text = entry.search_text()
    exercise.region, exercise.aim = entry.region, entry.aim
    exercise.position = entry.position
    exercise.equipment = [str(code) for code in entry.equipment]
    exercise.dose_kind, exercise.side_mode = entry.dose.kind, entry.side_mode
    exercise.retired_at = None
    exercise.save()
    if outcome is not done.brought_back:
        exercise.current = ExerciseRevision.objects.create(
            exercise=exercise,
            number=exercise.current.number + 1 if exercise.current else 1,
            content=content,
            digest=digest,
            published_at=now,
        )
        exercise.save(update_fields=["current"])
    outcome.append(entry.slug)


def _import_ladder(entry: LadderEntry, exercises: dict[str, uuid.UUID], done: Imported) -> None:
    """Bring one ladder up to date.

    A rung is known by its exercise, not by its place: a prescription that came from it must not
    find another exercise there once a rung is put in below.
    """
    fields = {
        "name": entry.name,
        "region": entry.region,
        "aim": entry.aim,
        "purpose": entry.purpose,
        "for_whom": entry.for_whom,
    }
    ladder = Ladder.objects.filter(clinic=None, slug=entry.slug).first()
    outcome = done.changed
    if ladder is None:
        ladder, outcome = Ladder.objects.create(slug=entry.slug, **fields), done.new
    wrote = _update(ladder, fields)
    wanted = {exercises[rung.exercise]: rung for rung in entry.rungs}
    wrote |= bool(ladder.rungs.exclude(exercise__in=wanted).delete()[0])
    rungs = {rung.exercise_id: rung for rung in ladder.rungs.all()}
    moved = [
        rungs[key]
        for position, key in enumerate(wanted, 1)
        if key in rungs and rungs[key].position != position
    ]
    for rung in moved:
        _update(rung, {"position": rung.position + OUT_OF_THE_WAY})
    for position, (key, rung_entry) in enumerate(wanted.items(), 1):
        criteria = _rung_fields(rung_entry) | {"position": position}
        if key not in rungs:
            rungs[key] = Rung.objects.create(ladder=ladder, exercise_id=key, **criteria)
            wrote = True
        wrote |= _update(rungs[key], criteria)
        wrote |= _import_alternatives(rungs[key], rung_entry, exercises)
    (outcome if wrote or outcome is done.new else done.unchanged).append(entry.slug)


def _rung_fields(entry: RungEntry) -> dict[str, Any]:
    return {
        "go_on_when": entry.go_on_when.to_json() if entry.go_on_when else {},
        "stay_when": entry.stay_when.to_json(),
        "go_back_when": entry.go_back_when.to_json() if entry.go_back_when else {},
    }


def _import_alternatives(rung: Rung, entry: RungEntry, exercises: dict[str, uuid.UUID]) -> bool:
    wanted = {exercises[other.exercise]: other for other in entry.alternatives}
    wrote = bool(rung.alternatives.exclude(exercise__in=wanted).delete()[0])
    rows = {row.exercise_id: row for row in rung.alternatives.all()}
    for key, other in wanted.items():
        fields = {"because": other.because, "note": other.note}
        if key not in rows:
            rows[key] = RungAlternative.objects.create(rung=rung, exercise_id=key, **fields)
            wrote = True
        wrote |= _update(rows[key], fields)
    return wrote


def _update(row: Ladder | Rung | RungAlternative, fields: Mapping[str, Any]) -> bool:
    """Write the fields that differ, and return whether any did."""
    differing = {name: value for name, value in fields.items() if getattr(row, name) != value}
    for name, value in differing.items():
        setattr(row, name, value)
    if differing:
        row.save(update_fields=list(differing))
    return bool(differing)
