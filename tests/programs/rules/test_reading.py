"""Reading a mapping field by field, and noting what is wrong with it."""

from __future__ import annotations

import pytest

from programs.rules.reading import LibraryProblem, Reader, key_of, sound


def reader(data: object) -> tuple[Reader, list[LibraryProblem]]:
    problems: list[LibraryProblem] = []
    return Reader(data, file="f.yaml", key="top", problems=problems), problems


def test_white_space_of_folded_text_is_made_one_space() -> None:
    read, problems = reader({"text": " Rise up,\n  lower slowly. "})
    assert read.text("text") == "Rise up, lower slowly."
    assert problems == []


def test_the_fields_of_a_missing_mapping_are_not_noted_one_by_one() -> None:
    read, problems = reader({})
    inner = read.child("dose").child("sets")
    assert inner.whole("from", 1, 10) == 1
    inner.close()
    assert [str(problem) for problem in problems] == ["f.yaml: top.dose: is missing."]


def test_lists_inside_lists_are_named_by_their_place() -> None:
    read, problems = reader({"rungs": [{"alternatives": [{"note": 3}]}]})
    for rung in read.children("rungs"):
        for alternative in rung.children("alternatives"):
            alternative.text("note")
    assert [problem.key for problem in problems] == ["top.rungs[0].alternatives[0].note"]


def test_a_key_that_nobody_asked_for_is_noted() -> None:
    read, problems = reader({"name": "Heel raise", "nmae": "Heel raise"})
    read.text("name")
    read.close()
    assert [(problem.key, problem.message) for problem in problems] == [
        ("top.nmae", "is not a key here; known are name.")
    ]


def test_an_entry_goes_by_its_slug() -> None:
    assert key_of({"slug": "heel-raise"}, "[2]") == "heel-raise"
    assert key_of({"slug": 3}, "[2]") == key_of("text", "[2]") == "[2]"


def test_what_is_not_sound_says_everything_that_is_wrong() -> None:
    problems = [LibraryProblem("f", "a", "is missing."), LibraryProblem("f", "b", "is empty.")]
    with pytest.raises(ValueError, match=r"is missing\.\nf: b: is empty\."):
        sound(None, problems)
    assert sound("entry", []) == "entry"
