"""Bringing library files into the database. Running it again on the same files changes nothing."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from programs.models import Exercise, ExerciseRevision, Ladder, Rung, RungAlternative
from programs.rules.library import ExerciseEntry, LadderEntry, LibraryProblem, parse_library


class LibraryRefused(Exception):
    """The files hold mistakes; nothing was imported. `problems` name file and key."""

    def __init__(self, problems: tuple[LibraryProblem, ...]) -> None:
        super().__init__("\n".join(str(problem) for problem in problems))
        self.problems = problems


@transaction.atomic
def import_library(
    *,
    exercise_files: Mapping[str, object],
    ladder_files: Mapping[str, object],
    now: datetime,
) -> Counter[str]:
    """Bring the starter library up to date, whole or not at all; count what is new and changed.

    A changed exercise gets a new revision, so that programs keep the wording that they were
    issued with. One that has left the files is retired: it stays in the programs that have it.
    """
    library = parse_library(exercise_files, ladder_files)
    if library.problems:
        raise LibraryRefused(library.problems)
    counts: Counter[str] = Counter()
    known = {
        row.slug: row
        for row in Exercise.objects.select_for_update(of=("self",))
        .filter(clinic=None)
        .select_related("current")
    }
    for entry in library.exercises:
        counts[_import_exercise(entry, known, now=now)] += 1
    kept = [entry.slug for entry in library.exercises]
    gone = Exercise.objects.filter(clinic=None, retired_at=None).exclude(slug__in=kept)
    counts["retired"] = gone.update(retired_at=now)
    for ladder in library.ladders:
        counts[_import_ladder(ladder, known)] += 1
    return counts


def _import_exercise(entry: ExerciseEntry, known: dict[str, Exercise], *, now: datetime) -> str:
    content = entry.to_json()
    digest = hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()
    exercise = known.get(entry.slug)
    if exercise is not None and exercise.current and exercise.current.digest == digest:
        if exercise.retired_at is not None:
            exercise.retired_at = None
            exercise.save(update_fields=["retired_at"])
        return "unchanged exercises"
    outcome = "changed exercises" if exercise else "new exercises"
    if exercise is None:
        exercise = known[entry.slug] = Exercise(slug=entry.slug)
    exercise.name = entry.name
    exercise.search_text = entry.search_text()
    exercise.region, exercise.aim = entry.region, entry.aim
    exercise.position = entry.position
    exercise.equipment = [str(code) for code in entry.equipment]
    exercise.dose_kind, exercise.side_mode = entry.dose.kind, entry.side_mode
    exercise.retired_at = None
    number = exercise.current.number + 1 if exercise.current else 1
    exercise.save()
    exercise.current = ExerciseRevision.objects.create(
        exercise=exercise, number=number, content=content, digest=digest, published_at=now
    )
    exercise.save(update_fields=["current"])
    return outcome


def _import_ladder(entry: LadderEntry, exercises: dict[str, Exercise]) -> str:
    fields = {
        "name": entry.name,
        "region": entry.region,
        "aim": entry.aim,
        "purpose": entry.purpose,
        "for_whom": entry.for_whom,
    }
    ladder, created = Ladder.objects.update_or_create(
        clinic=None, slug=entry.slug, defaults=fields
    )
    for position, rung_entry in enumerate(entry.rungs, 1):
        rung, _created = Rung.objects.update_or_create(
            ladder=ladder,
            position=position,
            defaults={
                "exercise": exercises[rung_entry.exercise],
                "go_on_when": rung_entry.go_on_when.to_json(),
                "stay_when": rung_entry.stay_when.to_json(),
                "go_back_when": rung_entry.go_back_when.to_json(),
            },
        )
        alternatives = {exercises[a.exercise].pk: a for a in rung_entry.alternatives}
        rung.alternatives.exclude(exercise__in=alternatives).delete()
        for exercise_id, alternative in alternatives.items():
            RungAlternative.objects.update_or_create(
                rung=rung,
                exercise_id=exercise_id,
                defaults={"because": alternative.because, "note": alternative.note},
            )
    ladder.rungs.filter(position__gt=len(entry.rungs)).delete()
    return "new ladders" if created else "ladders looked at"
