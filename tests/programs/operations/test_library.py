"""Importing the library: idempotent, whole or not at all, and nothing that was given changes."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from programs.models import (
    Exercise,
    ExerciseRevision,
    Ladder,
    Prescription,
    Rung,
    RungAlternative,
)
from programs.operations.library import (
    ImportedLibrary,
    LibraryRefused,
    import_library,
    retire_exercise,
)
from tests import factories
from tests.factories import NOW
from tests.programs.rules.entries import EXERCISE, LADDER, SLUGS, changed

pytestmark = pytest.mark.django_db


def exercises(*slugs: str, **other: Any) -> list[dict[str, Any]]:
    return [copy.deepcopy(EXERCISE) | {"slug": slug, "name": slug} | other for slug in slugs]


def ladder(*slugs: str) -> dict[str, Any]:
    rungs = [copy.deepcopy(LADDER["rungs"][0]) | {"exercise": slug} for slug in slugs]
    return copy.deepcopy(LADDER) | {"rungs": rungs}


def bring_in(entries: list[Any], ladders: list[Any] | None = None) -> ImportedLibrary:
    return import_library(
        exercise_files={"exercises/all.yaml": entries},
        ladder_files={f"ladders/{i}.yaml": one for i, one in enumerate(ladders or [])},
        now=NOW,
    )


def everything() -> list[Any]:
    tables = (Exercise, ExerciseRevision, Ladder, Rung, RungAlternative)
    return [list(table.objects.order_by("pk").values()) for table in tables]


def test_the_first_time_everything_is_new():
    done = bring_in(exercises(*SLUGS), [LADDER])
    assert (done.exercises.new, done.ladders.new) == (SLUGS, ["calf-strength"])
    row = Exercise.objects.get(slug=SLUGS[0])
    assert row.clinic is None
    assert row.equipment == ["WALL"]
    assert "calf raise" in row.search_text
    assert row.current is not None
    assert (row.current.number, row.current.published_at) == (1, NOW)
    assert row.current.entry.to_json() == exercises(SLUGS[0])[0]
    assert [r.exercise.slug for r in Rung.objects.order_by("position")] == SLUGS


def test_the_second_time_nothing_changes():
    bring_in(exercises(*SLUGS), [LADDER])
    before = everything()
    done = bring_in(exercises(*SLUGS), [LADDER])
    assert not done.wrote
    assert done.exercises.unchanged == SLUGS
    assert done.ladders.unchanged == ["calf-strength"]
    assert everything() == before


def test_a_changed_wording_is_a_new_revision_and_the_old_one_stays():
    bring_in(exercises("heel-raise"))
    old = ExerciseRevision.objects.get()
    done = bring_in(exercises("heel-raise", purpose="Makes stairs easier.", region="BALANCE"))
    assert done.exercises.changed == ["heel-raise"]
    row = Exercise.objects.get()
    assert row.current is not None
    assert (row.current.number, row.region) == (2, "BALANCE")
    assert "stairs" in row.search_text
    assert row.current.entry.purpose == "Makes stairs easier."
    old.refresh_from_db()
    assert old.entry.purpose == "Makes the calf strong."


def test_a_program_keeps_the_wording_that_it_was_issued_with(issued_program):
    prescription = issued_program.revisions.get().prescriptions.get(position=1)
    given = prescription.exercise_revision
    slug = given.exercise.slug
    done = bring_in(exercises(slug, purpose="Other words."))
    assert done.exercises.changed == [slug]
    again = Prescription.objects.get(pk=prescription.pk)
    assert again.exercise_revision == given
    assert again.exercise_revision.content == given.content
    assert again.exercise_revision.exercise.current != given


def test_what_has_left_the_files_is_retired_and_stays_in_programs(issued_program):
    prescription = issued_program.revisions.get().prescriptions.get(position=1)
    done = bring_in(exercises("heel-raise"))
    assert prescription.exercise_revision.exercise.slug in done.exercises.retired
    row = Exercise.objects.get(pk=prescription.exercise_revision.exercise_id)
    assert row.retired_at == NOW
    assert Prescription.objects.get(pk=prescription.pk).exercise_revision.content
    assert bring_in(exercises("heel-raise")).exercises.retired == []


def test_a_retired_exercise_comes_back_with_its_revision():
    bring_in(exercises("heel-raise", "toe-raise"))
    bring_in(exercises("heel-raise"))
    done = bring_in(exercises("heel-raise", "toe-raise"))
    assert done.exercises.brought_back == ["toe-raise"]
    assert Exercise.objects.get(slug="toe-raise").retired_at is None
    assert ExerciseRevision.objects.filter(exercise__slug="toe-raise").count() == 1


def test_one_mistake_and_nothing_is_imported():
    bring_in(exercises("heel-raise"))
    before = everything()
    spoiled = changed(exercises("step-up")[0], "dose.sets.from", 0)
    with pytest.raises(LibraryRefused) as refused:
        bring_in([*exercises("heel-raise", "toe-raise", purpose="New."), spoiled])
    assert everything() == before
    assert "exercises/all.yaml: step-up.dose.sets.from: " in str(refused.value)


def test_a_clinic_s_own_entries_are_not_touched(clinic):
    own = factories.ExerciseFactory(clinic=clinic, slug="heel-raise")
    own_ladder = factories.LadderFactory(clinic=clinic, slug="calf-strength")
    factories.RungFactory(ladder=own_ladder, exercise=own, position=1)
    bring_in(exercises("toe-raise"))
    own.refresh_from_db()
    assert own.retired_at is None
    assert own_ladder.rungs.count() == 1
    assert bring_in(exercises("heel-raise")).exercises.new == ["heel-raise"]
    assert Exercise.objects.filter(slug="heel-raise").count() == 2


def test_a_rung_put_in_below_leaves_prescriptions_on_theirs():
    bring_in(exercises(*SLUGS), [ladder(*SLUGS)])
    prescribed = Rung.objects.get(exercise__slug="rise-two")
    done = bring_in(exercises(*SLUGS, "rise-zero"), [ladder("rise-zero", *SLUGS)])
    assert done.ladders.changed == ["calf-strength"]
    prescribed.refresh_from_db()
    assert (prescribed.exercise.slug, prescribed.position) == ("rise-two", 3)


def test_rungs_can_change_places():
    bring_in(exercises(*SLUGS), [ladder(*SLUGS)])
    bring_in(exercises(*SLUGS), [ladder(*reversed(SLUGS))])
    order = Rung.objects.order_by("position").values_list("exercise__slug", "position")
    assert list(order) == [(slug, i) for i, slug in enumerate(reversed(SLUGS), 1)]


def test_a_rung_that_goes_leaves_the_prescription_without_it(issued_program):
    slugs = [*SLUGS, "rise-five"]
    bring_in(exercises(*slugs), [ladder(*slugs)])
    prescription = factories.PrescriptionFactory(
        revision=factories.ProgramRevisionFactory(draft=True),
        rung=Rung.objects.get(exercise__slug="rise-five"),
    )
    assert bring_in(exercises(*slugs), [ladder(*SLUGS)]).ladders.changed == ["calf-strength"]
    prescription.refresh_from_db()
    assert prescription.rung is None


def test_alternatives_and_criteria_follow_the_files():
    first = ladder(*SLUGS)
    first["rungs"][0]["alternatives"] = [
        {"exercise": "rise-three", "because": "PLACE", "note": "In bed."},
        {"exercise": "rise-four", "because": "RANGE", "note": "At first."},
    ]
    bring_in(exercises(*SLUGS), [first])
    second = copy.deepcopy(first)
    del second["rungs"][0]["alternatives"][1]
    second["rungs"][0]["alternatives"][0]["note"] = "On the sofa."
    second["rungs"][0]["go_on_when"]["say"] = "Five sessions."
    assert bring_in(exercises(*SLUGS), [second]).ladders.changed == ["calf-strength"]
    assert [a.note for a in RungAlternative.objects.all()] == ["On the sofa."]
    assert Rung.objects.get(position=1).go_on_when["say"] == "Five sessions."
    assert bring_in(exercises(*SLUGS), [second]).ladders.unchanged == ["calf-strength"]


def test_the_first_rung_need_not_go_back_nor_the_last_go_on():
    ends = ladder(*SLUGS)
    del ends["rungs"][0]["go_back_when"], ends["rungs"][-1]["go_on_when"]
    bring_in(exercises(*SLUGS), [ends])
    rungs = Rung.objects.order_by("position")
    assert (rungs[0].go_back_when, rungs[3].go_on_when) == ({}, {})


def test_a_ladder_that_has_left_the_files_goes():
    bring_in(exercises(*SLUGS), [LADDER])
    assert bring_in(exercises(*SLUGS)).ladders.retired == ["calf-strength"]
    assert not Ladder.objects.exists()


def test_retiring_takes_an_exercise_from_the_library_alone(issued_program, clinic):
    exercise = (
        issued_program.revisions.get().prescriptions.get(position=1).exercise_revision.exercise
    )
    retire_exercise(exercise=exercise, now=NOW)
    assert exercise not in Exercise.objects.visible_in(clinic.pk)
    assert issued_program.revisions.get().prescriptions.count() == 3
