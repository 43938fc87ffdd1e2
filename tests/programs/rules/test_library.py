"""Parsing and validating library entries: every problem with its file and key."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from programs.rules.dose import Side, check_dose, sides_allowed
from programs.rules.library import (
    ExerciseEntry,
    LadderEntry,
    Library,
    Region,
    parse_exercise,
    parse_library,
)
from tests.programs.rules.entries import EXERCISE, LADDER, SLUGS, changed

FOLDER = Path(__file__).parents[3] / "fixtures" / "library"


def said(found: list[Any]) -> list[tuple[str, str]]:
    return [(problem.key, problem.message) for problem in found]


class TestExercise:
    def test_a_sound_entry_is_read(self) -> None:
        entry, problems = parse_exercise(EXERCISE, file="ankle_foot.yaml")
        assert problems == []
        assert entry is not None
        assert entry.region is Region.ANKLE_FOOT
        assert entry.keep_still.why == "so that the calf does the work"
        assert entry.dose.usual_dose(Side.BILATERAL).repetitions == 12
        assert "calf raise" in entry.search_text()

    def test_what_is_stored_has_the_shape_of_the_file_and_comes_back(self) -> None:
        entry, _ = parse_exercise(EXERCISE, file="f")
        assert entry is not None
        stored = json.loads(json.dumps(entry.to_json()))
        assert stored == EXERCISE
        assert ExerciseEntry.from_json(stored) == entry

    @pytest.mark.parametrize(
        ("path", "value", "key", "part"),
        [
            ("name", ..., "heel-raise.name", "is missing"),
            ("name", None, "heel-raise.name", "is empty"),
            ("name", " ", "heel-raise.name", "is empty"),
            ("slug", "Heel raise", "Heel raise.slug", "hyphens"),
            ("slug", ..., "[7].slug", "is missing"),
            ("region", "ELBOW", "heel-raise.region", "not one of"),
            ("aim", ["STRENGTH"], "heel-raise.aim", "not one of"),
            ("equipment", "WALL", "heel-raise.equipment", "must be a list"),
            ("equipment", ["WALL", "SOFA"], "heel-raise.equipment[1]", "not one of"),
            ("equipment", ["WALL", "WALL"], "heel-raise.equipment[1]", "twice"),
            ("also_called", [], "heel-raise.also_called", "at least 1"),
            ("steps", [], "heel-raise.steps", "at least 1"),
            ("steps.1", {"Stop": "at the top"}, "heel-raise.steps[1]", "quotation marks"),
            ("steps.1", 3, "heel-raise.steps[1]", "must be text"),
            ("keep_still", "Your knees", "heel-raise.keep_still", "must be a mapping"),
            ("keep_still.why", ..., "heel-raise.keep_still.why", "is missing"),
            ("stop_if", ["A sudden snap."], "heel-raise.stop_if[0]", "Sharp or catching pain."),
            ("precautions", ["BAD_KNEE"], "heel-raise.precautions[0]", "not one of"),
            ("faults", [], "heel-raise.faults", "at least 1"),
            ("faults.0.cue", ..., "heel-raise.faults[0].cue", "is missing"),
            ("faults.0", "Rolls", "heel-raise.faults[0]", "must be a mapping"),
            ("one_line", "x" * 61, "heel-raise.one_line", "61 characters, 60"),
            ("keep_still_line", "x" * 51, "heel-raise.keep_still_line", "51 characters, 50"),
            ("dose", ..., "heel-raise.dose", "is missing"),
            ("dose.kind", "REPS", "heel-raise.dose.kind", "not one of"),
            ("dose.sets.from", ..., "heel-raise.dose.sets.from", "is missing"),
            ("dose.sets.from", 0, "heel-raise.dose.sets.from", "from 1 to 10, not 0"),
            ("dose.sets.from", "1", "heel-raise.dose.sets.from", "whole number"),
            ("dose.sets.from", True, "heel-raise.dose.sets.from", "whole number"),
            ("dose.sets.usual", 5, "heel-raise.dose.sets.usual", "lie between"),
            ("dose.repetitions", ..., "heel-raise.dose.repetitions", "is missing"),
            ("dose.hold_seconds", {}, "heel-raise.dose.hold_seconds", "not a key here"),
            ("dose.tempo", [2, 1], "heel-raise.dose.tempo", "three numbers"),
            ("dose.tempo", [0, 0, 0], "heel-raise.dose.tempo", "not all of them 0"),
            ("dose.tempo", [2, 1, 30], "heel-raise.dose.tempo[2]", "from 0 to 10"),
            ("dose.load_units", ["POUNDS"], "heel-raise.dose.load_units[0]", "not one of"),
            ("colour", "red", "heel-raise.colour", "not a key here"),
        ],
    )
    def test_a_slip_is_named_with_its_key(
        self, path: str, value: object, key: str, part: str
    ) -> None:
        entry, problems = parse_exercise(changed(EXERCISE, path, value), file="f.yaml", at="[7]")
        assert entry is None
        assert [(p.file, p.key) for p in problems][:1] == [("f.yaml", key)]
        assert part in problems[0].message

    def test_all_slips_are_told_at_once(self) -> None:
        twice = changed(changed(EXERCISE, "name", ...), "dose.sets.usual", 9)
        _, problems = parse_exercise(twice, file="f.yaml")
        assert [str(problem) for problem in problems] == [
            "f.yaml: heel-raise.name: is missing.",
            "f.yaml: heel-raise.dose.sets.usual: must lie between from (1) and to (4), not 9.",
        ]

    @pytest.mark.parametrize("data", [None, [], "text", 3, {1: 2}])
    def test_what_is_no_entry_is_refused(self, data: object) -> None:
        entry, problems = parse_exercise(data, file="f.yaml")
        assert entry is None and problems
        with pytest.raises(ValueError, match=r"\[0\]"):
            ExerciseEntry.from_json(data)

    ODD: st.SearchStrategy[Any] = st.sampled_from(
        [None, True, -1, 10**30, 0.5, "", " ", "x", [], {}, [[]], {1: {}}]
    )
    VALUE = (
        ODD
        | st.lists(ODD, max_size=3)
        | st.dictionaries(st.sampled_from(["kind", "sets", "what", "a"]), ODD)
    )

    @given(st.sampled_from(sorted(EXERCISE)), VALUE)
    def test_no_value_of_a_field_brings_the_parser_down(self, field: str, value: object) -> None:
        entry, problems = parse_exercise({**EXERCISE, field: value}, file="f")
        assert (entry is None) == bool(problems)


class TestLibrary:
    def test_entries_are_held_against_each_other(self) -> None:
        exercises = [{**EXERCISE, "slug": slug} for slug in SLUGS]
        other = [{"exercise": "nowhere", "because": "PLACE", "note": "When outdoors."}]
        ladder = changed(LADDER, "rungs.1.alternatives", other)
        ladder = changed(ladder, "rungs.2.exercise", "missing-one")
        library = parse_library({"a": exercises, "b": exercises[:1]}, {"c": ladder, "d": LADDER})
        assert [str(problem) for problem in library.problems] == [
            "b: rise-one.slug: 'rise-one' is taken by an entry of a.",
            "c: calf-strength.rungs[1].alternatives[0].exercise: there is no exercise 'nowhere'.",
            "c: calf-strength.rungs[2].exercise: there is no exercise 'missing-one'.",
            "d: calf-strength.slug: 'calf-strength' is taken by an entry of c.",
        ]
        assert len(library.exercises) == 4

    def test_a_faulty_exercise_is_not_called_missing_as_well(self) -> None:
        exercises = [{**EXERCISE, "slug": slug} for slug in SLUGS]
        exercises[0].pop("name")
        library = parse_library({"a": exercises}, {"c": LADDER})
        assert said(list(library.problems)) == [("rise-one.name", "is missing.")]

    @pytest.mark.parametrize("data", [None, {}, "text", 3])
    def test_an_exercise_file_holds_a_list(self, data: object) -> None:
        library = parse_library({"a": data}, {})
        assert said(list(library.problems)) == [("", "must be a list of exercises.")]


@pytest.fixture(scope="module")
def starter() -> Library:
    """The library as it lies in the folder."""

    def load(kind: str) -> dict[str, object]:
        paths = sorted((FOLDER / kind).glob("*.yaml"))
        return {f"{kind}/{path.name}": yaml.safe_load(path.read_text("utf-8")) for path in paths}

    return parse_library(load("exercises"), load("ladders"))


class TestStarterLibrary:
    def test_it_has_no_problem(self, starter: Library) -> None:
        assert [str(problem) for problem in starter.problems] == []

    def test_it_has_an_exercise_and_a_ladder_for_every_region(self, starter: Library) -> None:
        assert len(starter.exercises) >= 40
        assert len(starter.ladders) >= 8
        assert {entry.region for entry in starter.exercises} == set(Region)
        assert {ladder.region for ladder in starter.ladders} == set(Region)

    def test_every_usual_dose_can_be_prescribed_as_it_is(self, starter: Library) -> None:
        for entry in starter.exercises:
            for side in sides_allowed(entry.side_mode):
                dose = entry.dose.usual_dose(side)
                assert not check_dose(
                    dose,
                    allowed_kind=entry.dose.kind,
                    side_mode=entry.side_mode,
                    dose_range=entry.dose,
                ), entry.slug

    def test_it_comes_back_from_what_is_stored(self, starter: Library) -> None:
        for entry in starter.exercises:
            assert ExerciseEntry.from_json(json.loads(json.dumps(entry.to_json()))) == entry
        for ladder in starter.ladders:
            assert LadderEntry.from_json(json.loads(json.dumps(ladder.to_json()))) == ladder
