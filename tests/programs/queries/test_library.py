"""Searching the library, and what a page of it counts."""

from __future__ import annotations

from dataclasses import replace

import pytest

from programs.models import Exercise
from programs.queries.exercise_page import exercise_page
from programs.queries.ladders import ladder_list, ladder_page
from programs.queries.library import (
    NOTHING,
    LibraryFilter,
    LibraryPage,
    found_exercises,
    library_page,
)
from programs.rules.dose import DoseKind, SideMode
from programs.rules.library import Aim, AlternativeReason, Position, Region
from tests import factories
from tests.factories import NOW

pytestmark = pytest.mark.django_db

EVERYTHING = LibraryFilter()


@pytest.fixture
def rows(clinic) -> dict[str, Exercise]:
    """A library small enough to count by hand."""
    made = [
        factories.ExerciseFactory(
            slug="heel-raise",
            name="Heel raise at the wall",
            search_text="heel raise at the wall calf raise, plantar-flexion makes stairs easier",
            equipment=["WALL"],
        ),
        factories.ExerciseFactory(
            slug="toe-raise",
            name="Toe raise",
            search_text="toe raise heel walking",
            position=Position.SITTING,
            aim=Aim.CONTROL,
            equipment=[],
        ),
        factories.ExerciseFactory(
            slug="hip-bridge",
            name="Bridge",
            search_text="bridge makes stairs easier",
            region=Region.HIP,
            position=Position.LYING_ON_BACK,
            dose_kind=DoseKind.HOLD,
            equipment=["MAT", "PILLOW"],
        ),
    ]
    return {row.slug: row for row in made}


def slugs(page: LibraryPage) -> list[str]:
    return [card.slug for group in page.groups for card in group.cards]


def test_without_a_search_the_regions_stand_in_the_body_s_order(rows, clinic):
    page = library_page(clinic.pk, EVERYTHING)
    assert [(g.name, [c.slug for c in g.cards]) for g in page.groups] == [
        ("Hip", ["hip-bridge"]),
        ("Ankle and foot", ["heel-raise", "toe-raise"]),
    ]
    assert (page.found, page.total) == (3, 3)


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("heel", ["heel-raise", "toe-raise"]),  # in the name comes first
        ("HEEL  Raise", ["heel-raise", "toe-raise"]),
        ("raise heel", ["heel-raise", "toe-raise"]),
        ("stairs", ["hip-bridge", "heel-raise"]),
        ("plantar flexion", ["heel-raise"]),
        ("plantar-flexion", ["heel-raise"]),
        ("heel stairs", ["heel-raise"]),
        ("elbow", []),
        ("heel elbow", []),
        ("%", ["hip-bridge", "heel-raise", "toe-raise"]),  # no word asks for nothing
        ("_", []),
    ],
)
def test_every_word_must_be_there(rows, clinic, words, found):
    wanted = LibraryFilter(words=words)
    assert [row.slug for row in found_exercises(clinic.pk, wanted)] == found
    assert sorted(slugs(library_page(clinic.pk, wanted))) == sorted(found)


def test_finds_of_words_are_one_list(rows, clinic):
    page = library_page(clinic.pk, LibraryFilter(words="stairs"))
    assert [group.name for group in page.groups] == [""]


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        (LibraryFilter(region="HIP"), ["hip-bridge"]),
        (LibraryFilter(aim="CONTROL"), ["toe-raise"]),
        (LibraryFilter(position="STANDING"), ["heel-raise"]),
        (LibraryFilter(dose_kind="HOLD"), ["hip-bridge"]),
        (LibraryFilter(region="HIP", aim="CONTROL"), []),
        (LibraryFilter(at_hand=frozenset({"WALL"})), ["heel-raise", "toe-raise"]),
        (LibraryFilter(at_hand=frozenset({"MAT"})), ["toe-raise"]),
        (LibraryFilter(at_hand=frozenset({"MAT", "PILLOW"})), ["hip-bridge", "toe-raise"]),
        (LibraryFilter(at_hand=frozenset({NOTHING})), ["toe-raise"]),
        (LibraryFilter(words="raise", position="SITTING"), ["toe-raise"]),
    ],
)
def test_filters_add_up_and_equipment_is_all_that_there_is(rows, clinic, wanted, found):
    assert slugs(library_page(clinic.pk, wanted)) == found


def test_a_choice_counts_what_it_would_leave(rows, clinic):
    page = library_page(clinic.pk, LibraryFilter(words="raise", region="HIP"))
    assert page.found == 0
    assert page.found_anywhere == 2
    assert {c.code: c.count for c in page.regions if c.count} == {"ANKLE_FOOT": 2}
    assert [c.code for c in page.regions if c.is_chosen] == ["HIP"]
    page = library_page(clinic.pk, EVERYTHING)
    assert {c.code: c.count for c in page.aims if c.count} == {"STRENGTH": 2, "CONTROL": 1}
    assert {c.code: c.count for c in page.equipment if c.count} == {
        NOTHING: 1,
        "WALL": 1,
        "MAT": 1,
        "PILLOW": 1,
    }
    for choices in (page.regions, page.aims, page.positions, page.dose_kinds):
        assert sum(choice.count for choice in choices) == page.total
        for choice in choices:
            name = {page.regions: "region", page.aims: "aim", page.positions: "position"}.get(
                choices, "dose_kind"
            )
            found = library_page(clinic.pk, replace(EVERYTHING, **{name: choice.code})).found
            assert found == choice.count


def test_retired_and_foreign_exercises_are_not_found(rows, clinic, other_clinic):
    rows["heel-raise"].retired_at = NOW
    rows["heel-raise"].save()
    factories.ExerciseFactory(clinic=other_clinic, slug="theirs")
    factories.ExerciseFactory(clinic=clinic, slug="ours")
    assert set(slugs(library_page(clinic.pk, EVERYTHING))) == {"toe-raise", "hip-bridge", "ours"}


def test_the_clinic_s_own_stands_in_for_the_starter_s(rows, clinic, other_clinic):
    factories.ExerciseFactory(clinic=clinic, slug="toe-raise", name="Our toe raise")
    cards = [c for g in library_page(clinic.pk, EVERYTHING).groups for c in g.cards]
    assert [(c.name, c.is_own) for c in cards if c.slug == "toe-raise"] == [("Our toe raise", True)]
    theirs = [c for g in library_page(other_clinic.pk, EVERYTHING).groups for c in g.cards]
    assert [(c.name, c.is_own) for c in theirs if c.slug == "toe-raise"] == [("Toe raise", False)]


def test_an_exercise_page_says_where_it_stands_and_what_may_stand_in(rows, clinic, other_clinic):
    ladder = factories.LadderFactory(name="Calf strength", slug="calf-strength")
    first = factories.RungFactory(ladder=ladder, exercise=rows["toe-raise"], position=1)
    second = factories.RungFactory(ladder=ladder, exercise=rows["heel-raise"], position=2)
    factories.RungAlternativeFactory(
        rung=second,
        exercise=rows["toe-raise"],
        because=AlternativeReason.PLACE,
        note="When sitting.",
    )
    hidden = factories.LadderFactory(clinic=other_clinic)
    factories.RungFactory(ladder=hidden, exercise=rows["toe-raise"], position=1)
    page = exercise_page(rows["toe-raise"], clinic.pk)
    assert [(s.ladder_slug, s.step, s.steps, s.is_alternative) for s in page.stands] == [
        ("calf-strength", 1, 2, False),
        ("calf-strength", 2, 2, True),
    ]
    assert page.swaps == ()
    (swap,) = exercise_page(rows["heel-raise"], clinic.pk).swaps
    assert (swap.slug, swap.reason, swap.note) == (
        "toe-raise",
        "Another place or position",
        "When sitting.",
    )
    assert first.position == 1


@pytest.mark.parametrize(
    ("mode", "dose"),
    [
        (SideMode.BOTH_TOGETHER, "3 sets of 12"),
        (SideMode.ONE_SIDE, "3 sets of 12, each side"),
        (SideMode.ALTERNATING, "3 sets of 12, each side, left and right in turn"),
    ],
)
def test_the_usual_dose_is_told_for_the_sides(clinic, mode, dose):
    exercise = factories.ExerciseFactory(side_mode=mode)
    assert exercise_page(exercise, clinic.pk).usual_dose == dose


def test_ladders_stand_in_the_body_s_order_with_both_ends(rows, clinic, other_clinic):
    ladder = factories.LadderFactory(name="Calf", region=Region.ANKLE_FOOT)
    factories.RungFactory(ladder=ladder, exercise=rows["toe-raise"], position=1)
    factories.RungFactory(ladder=ladder, exercise=rows["heel-raise"], position=2)
    factories.LadderFactory(name="Hip", region=Region.HIP, clinic=clinic)
    factories.LadderFactory(name="Theirs", clinic=other_clinic)
    cards = ladder_list(clinic.pk)
    assert [(c.name, c.is_own) for c in cards] == [("Hip", True), ("Calf", False)]
    assert (cards[1].easiest, cards[1].hardest, cards[1].steps) == (
        "Toe raise",
        "Heel raise at the wall",
        2,
    )


def test_a_ladder_page_has_rungs_with_criteria_and_marks_what_is_retired(rows):
    rows["toe-raise"].retired_at = NOW
    rows["toe-raise"].save()
    ladder = factories.LadderFactory()
    factories.RungFactory(ladder=ladder, exercise=rows["toe-raise"], position=1, go_back_when={})
    rung = factories.RungFactory(ladder=ladder, exercise=rows["heel-raise"], position=2)
    factories.RungAlternativeFactory(rung=rung, exercise=rows["toe-raise"])
    page = ladder_page(ladder)
    assert [(r.step, r.exercise.slug, r.exercise.is_retired) for r in page.rungs] == [
        (1, "toe-raise", True),
        (2, "heel-raise", False),
    ]
    assert page.rungs[0].go_back_when == ""
    assert page.rungs[1].go_on_when.startswith("Three sessions")
    assert [other.exercise.slug for other in page.rungs[1].alternatives] == ["toe-raise"]
