"""Progression ladders: exercises of one aim from easiest to hardest, parsed and validated."""

from __future__ import annotations

from dataclasses import dataclass

from programs.rules.library_codes import Aim, AlternativeReason, Region
from programs.rules.plain import Plain
from programs.rules.reading import LibraryProblem, Reader, key_of, sound

FEWEST_RUNGS, MOST_RUNGS = 4, 7


@dataclass(frozen=True)
class Alternative(Plain):
    """Another exercise that may stand in for the one on a rung."""

    exercise: str
    because: AlternativeReason
    note: str


@dataclass(frozen=True)
class GoOnWhen(Plain):
    """When the next rung is ready: the last `sessions` all met every figure. Ratings 0 to 10."""

    sessions: int
    dose_percent: int
    pain_at_most: int
    effort_at_most: int | None
    settled_by_morning: bool
    say: str


@dataclass(frozen=True)
class StayWhen(Plain):
    """When this rung is right."""

    say: str


@dataclass(frozen=True)
class GoBackWhen(Plain):
    """When the rung before is better: pain above a figure in so many sessions running."""

    sessions: int
    pain_above: int
    say: str


@dataclass(frozen=True)
class RungEntry(Plain):
    """One step of a ladder. The last rung may lack go_on_when, the first one go_back_when."""

    exercise: str
    alternatives: tuple[Alternative, ...]
    go_on_when: GoOnWhen | None
    stay_when: StayWhen
    go_back_when: GoBackWhen | None


@dataclass(frozen=True)
class LadderEntry(Plain):
    """Exercises of one aim, easiest first."""

    slug: str
    name: str
    region: Region
    aim: Aim
    purpose: str
    for_whom: str
    rungs: tuple[RungEntry, ...]

    @classmethod
    def from_json(cls, data: object) -> LadderEntry:
        """Return the ladder that `to_json` gave; ValueError with every problem where it is none."""
        entry, problems = parse_ladder(data, file="stored entry")
        return sound(entry, problems)


def parse_ladder(
    data: object, *, file: str, at: str = "[0]"
) -> tuple[LadderEntry | None, list[LibraryProblem]]:
    """Return the ladder in `data`, or None and what is wrong; whether its exercises exist is not
    known here."""
    problems: list[LibraryProblem] = []
    read = Reader(data, file=file, key=key_of(data, at), problems=problems)
    ladder = LadderEntry(
        slug=read.slug("slug"),
        name=read.text("name", longest=120),
        region=read.code("region", Region),
        aim=read.code("aim", Aim),
        purpose=read.text("purpose"),
        for_whom=read.text("for_whom"),
        rungs=_rungs(read),
    )
    read.close()
    return (None if problems else ladder), problems


def _rungs(read: Reader) -> tuple[RungEntry, ...]:
    readers = list(read.children("rungs"))
    if not FEWEST_RUNGS <= len(readers) <= MOST_RUNGS:
        read.note("rungs", f"must be {FEWEST_RUNGS} to {MOST_RUNGS}, not {len(readers)}.")
    last = len(readers) - 1
    rungs = tuple(
        _rung(one, is_first=index == 0, is_last=index == last) for index, one in enumerate(readers)
    )
    main = [rung.exercise for rung in rungs]
    for index, (one, rung) in enumerate(zip(readers, rungs, strict=True)):
        if rung.exercise and rung.exercise in main[:index]:
            one.note("exercise", f"{rung.exercise!r} is on a rung below already.")
        standing_in = [other.exercise for other in rung.alternatives]
        for place, slug in enumerate(standing_in):
            if slug and slug in (rung.exercise, *standing_in[:place]):
                one.note(f"alternatives[{place}].exercise", f"{slug!r} is on this rung already.")
    return rungs


def _rung(read: Reader, *, is_first: bool, is_last: bool) -> RungEntry:
    def missing(name: str, allowed: bool) -> bool:
        return allowed and not read.has(name)

    rung = RungEntry(
        exercise=read.slug("exercise"),
        alternatives=tuple(_alternative(inner) for inner in read.children("alternatives")),
        go_on_when=(
            None if missing("go_on_when", is_last) else _go_on_when(read.child("go_on_when"))
        ),
        stay_when=_stay_when(read.child("stay_when")),
        go_back_when=(
            None if missing("go_back_when", is_first) else _go_back_when(read.child("go_back_when"))
        ),
    )
    read.close()
    return rung


def _alternative(read: Reader) -> Alternative:
    alternative = Alternative(
        exercise=read.slug("exercise"),
        because=read.code("because", AlternativeReason),
        note=read.text("note", longest=200),
    )
    read.close()
    return alternative


def _go_on_when(read: Reader) -> GoOnWhen:
    criterion = GoOnWhen(
        sessions=read.whole("sessions", 1, 20),
        dose_percent=read.whole("dose_percent", 1, 100),
        pain_at_most=read.whole("pain_at_most", 0, 10),
        effort_at_most=(
            read.whole("effort_at_most", 0, 10) if read.has("effort_at_most") else None
        ),
        settled_by_morning=read.truth("settled_by_morning"),
        say=read.text("say"),
    )
    read.close()
    return criterion


def _stay_when(read: Reader) -> StayWhen:
    criterion = StayWhen(say=read.text("say"))
    read.close()
    return criterion


def _go_back_when(read: Reader) -> GoBackWhen:
    criterion = GoBackWhen(
        sessions=read.whole("sessions", 1, 20),
        pain_above=read.whole("pain_above", 0, 10),
        say=read.text("say"),
    )
    read.close()
    return criterion
