"""The exercise library: parse and validate loaded YAML; every problem names file and key.

Nothing is read from disk here. `ExerciseEntry.to_json()` has the shape of the YAML, is what a
revision stores, and `from_json` reads it back.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from programs.rules.dose import AMOUNTS, LIMITS, DoseKind, DoseRange, FieldRange, LoadUnit, SideMode
from programs.rules.ladders import (
    Alternative,
    GoBackWhen,
    GoOnWhen,
    LadderEntry,
    RungEntry,
    StayWhen,
    parse_ladder,
)
from programs.rules.library_codes import (
    AIM_NAMES,
    ALTERNATIVE_REASON_NAMES,
    EQUIPMENT_NAMES,
    POSITION_NAMES,
    PRECAUTION_TEXTS,
    REGION_NAMES,
    Aim,
    AlternativeReason,
    Equipment,
    Position,
    Precaution,
    Region,
)
from programs.rules.plain import Plain
from programs.rules.reading import LibraryProblem, Reader, key_of, sound

__all__ = [
    "AIM_NAMES",
    "ALTERNATIVE_REASON_NAMES",
    "EQUIPMENT_NAMES",
    "POSITION_NAMES",
    "PRECAUTION_TEXTS",
    "REGION_NAMES",
    "Aim",
    "Alternative",
    "AlternativeReason",
    "Equipment",
    "ExerciseEntry",
    "Fault",
    "GoBackWhen",
    "GoOnWhen",
    "KeepStill",
    "LadderEntry",
    "Library",
    "LibraryProblem",
    "Position",
    "Precaution",
    "Region",
    "RungEntry",
    "StayWhen",
    "parse_exercise",
    "parse_ladder",
    "parse_library",
]

FIRST_STOP = "Sharp or catching pain."
LONGEST_ONE_LINE = 60
LONGEST_KEEP_STILL_LINE = 50


@dataclass(frozen=True)
class KeepStill(Plain):
    """The part of the body that must not move while another does, and why."""

    what: str
    why: str


@dataclass(frozen=True)
class Fault(Plain):
    """A common fault, and the cue that mends it."""

    fault: str
    cue: str


@dataclass(frozen=True)
class ExerciseEntry(Plain):
    """One exercise as a patient is taught it."""

    slug: str
    name: str
    also_called: tuple[str, ...]
    region: Region
    aim: Aim
    position: Position
    equipment: tuple[Equipment, ...]
    purpose: str
    set_up: tuple[str, ...]
    steps: tuple[str, ...]
    keep_still: KeepStill
    breathing: str
    should_feel: tuple[str, ...]
    is_fine: tuple[str, ...]
    stop_if: tuple[str, ...]
    precautions: tuple[Precaution, ...]
    faults: tuple[Fault, ...]
    side_mode: SideMode
    dose: DoseRange
    one_line: str
    keep_still_line: str
    source: str

    @classmethod
    def from_json(cls, data: object) -> ExerciseEntry:
        """Return the entry that `to_json` gave; ValueError with every problem where it is none."""
        entry, problems = parse_exercise(data, file="stored entry")
        return sound(entry, problems)

    def search_text(self) -> str:
        """Return the words by which the exercise is found, in lower case."""
        return " ".join((self.name, *self.also_called, self.purpose)).lower()


@dataclass(frozen=True)
class Library:
    """All sound entries, and the problems of the others and between them."""

    exercises: tuple[ExerciseEntry, ...]
    ladders: tuple[LadderEntry, ...]
    problems: tuple[LibraryProblem, ...]


def parse_exercise(
    data: object, *, file: str, at: str = "[0]"
) -> tuple[ExerciseEntry | None, list[LibraryProblem]]:
    """Return the exercise in `data`, or None and what is wrong; `at` names one without a slug."""
    problems: list[LibraryProblem] = []
    read = Reader(data, file=file, key=key_of(data, at), problems=problems)
    entry = ExerciseEntry(
        slug=read.slug("slug"),
        name=read.text("name", longest=120),
        also_called=read.texts("also_called"),
        region=read.code("region", Region),
        aim=read.code("aim", Aim),
        position=read.code("position", Position),
        equipment=read.codes("equipment", Equipment),
        purpose=read.text("purpose"),
        set_up=read.texts("set_up"),
        steps=read.texts("steps"),
        keep_still=_keep_still(read.child("keep_still")),
        breathing=read.text("breathing"),
        should_feel=read.texts("should_feel"),
        is_fine=read.texts("is_fine"),
        stop_if=_stop_if(read),
        precautions=read.codes("precautions", Precaution),
        faults=tuple(_fault(inner) for inner in read.children("faults", at_least=1)),
        side_mode=read.code("side_mode", SideMode),
        dose=_dose_range(read.child("dose")),
        one_line=read.text("one_line", longest=LONGEST_ONE_LINE),
        keep_still_line=read.text("keep_still_line", longest=LONGEST_KEEP_STILL_LINE),
        source=read.text("source"),
    )
    read.close()
    return (None if problems else entry), problems


def _keep_still(read: Reader) -> KeepStill:
    keep_still = KeepStill(what=read.text("what"), why=read.text("why"))
    read.close()
    return keep_still


def _fault(read: Reader) -> Fault:
    fault = Fault(fault=read.text("fault"), cue=read.text("cue"))
    read.close()
    return fault


def _stop_if(read: Reader) -> tuple[str, ...]:
    stops = read.texts("stop_if")
    if stops and stops[0] not in ("", FIRST_STOP):
        read.note("stop_if[0]", f"must be {FIRST_STOP!r}: it is the first thing to stop for.")
    return stops


def _dose_range(read: Reader) -> DoseRange:
    kind = read.code("kind", DoseKind)
    spans = {name: _field_range(read.child(name), name) for name in ("sets", *AMOUNTS[kind])}
    tempo: tuple[int, int, int] | None = None
    if read.has("tempo"):
        parts = read.wholes("tempo", *LIMITS["tempo"])
        if kind is not DoseKind.REPETITIONS:
            read.note("tempo", "only repetitions have a tempo.")
        elif len(parts) != 3 or not sum(parts):
            read.note("tempo", "must be three numbers, seconds out, stop, back; not all of them 0.")
        else:
            tempo = (parts[0], parts[1], parts[2])
    units = read.codes("load_units", LoadUnit) if read.has("load_units") else ()
    rest = _field_range(read.child("rest_seconds"), "rest_seconds")
    read.close()
    return DoseRange(kind=kind, rest_seconds=rest, tempo=tempo, load_units=units, **spans)


def _field_range(read: Reader, name: str) -> FieldRange:
    limits = LIMITS[name]
    known = len(read.problems)
    low, high = read.whole("from", *limits), read.whole("to", *limits)
    usual = read.whole("usual", *limits)
    if len(read.problems) == known and not low <= usual <= high:
        read.note("usual", f"must lie between from ({low}) and to ({high}), not {usual}.")
    read.close()
    return FieldRange(low, high, usual)


def parse_library(
    exercise_files: Mapping[str, object], ladder_files: Mapping[str, object]
) -> Library:
    """Return the whole library from loaded files by name, with problems between entries too.

    An exercise file holds a list of entries, a ladder file one mapping.
    """
    problems: list[LibraryProblem] = []
    exercises: dict[str, ExerciseEntry] = {}
    slugs: dict[str, str] = {}
    for file, data in exercise_files.items():
        for index, item in enumerate(_listed(data, file, problems)):
            entry, found = parse_exercise(item, file=file, at=f"[{index}]")
            problems += found
            key = key_of(item, f"[{index}]")
            _note_taken(slugs, key, file, problems)
            if entry is not None and entry.slug not in exercises:
                exercises[entry.slug] = entry
    ladders: dict[str, LadderEntry] = {}
    ladder_slugs: dict[str, str] = {}
    for file, data in ladder_files.items():
        ladder, found = parse_ladder(data, file=file)
        problems += found
        _note_taken(ladder_slugs, key_of(data, "[0]"), file, problems)
        if ladder is not None and ladder.slug not in ladders:
            ladders[ladder.slug] = ladder
            problems += _unknown_exercises(ladder, file, slugs)
    return Library(tuple(exercises.values()), tuple(ladders.values()), tuple(problems))


def _listed(data: object, file: str, problems: list[LibraryProblem]) -> list[object]:
    if isinstance(data, list | tuple):
        return list(data)
    problems.append(LibraryProblem(file, "", "must be a list of exercises."))
    return []


def _note_taken(
    slugs: dict[str, str], slug: str, file: str, problems: list[LibraryProblem]
) -> None:
    if slug in slugs and not slug.startswith("["):
        message = f"{slug!r} is taken by an entry of {slugs[slug]}."
        problems.append(LibraryProblem(file, f"{slug}.slug", message))
    slugs.setdefault(slug, file)


def _unknown_exercises(
    ladder: LadderEntry, file: str, slugs: Mapping[str, str]
) -> list[LibraryProblem]:
    wanted = [
        (f"{ladder.slug}.rungs[{index}].{key}", slug)
        for index, rung in enumerate(ladder.rungs)
        for key, slug in (
            ("exercise", rung.exercise),
            *(
                (f"alternatives[{place}].exercise", other.exercise)
                for place, other in enumerate(rung.alternatives)
            ),
        )
    ]
    return [
        LibraryProblem(file, key, f"there is no exercise {slug!r}.")
        for key, slug in wanted
        if slug not in slugs
    ]
