"""What the editor is filled with."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from programs.queries.editor import (
    carried_over,
    current_exercise,
    editor_exercises,
    ladder_places,
    picker_page,
)
from programs.rules.schedule import Pattern, Schedule
from tests import factories
from tests.factories import NOW, TODAY


def found(clinic, **search):
    return [row.name for row in picker_page(clinic.pk, **search).rows]


def test_a_clinics_own_exercise_stands_in_for_the_starter_one(clinic, other_clinic):
    factories.ExerciseFactory(slug="bridge", name="Bridge")
    own = factories.ExerciseFactory(slug="bridge", name="Our bridge", clinic=clinic)
    assert found(clinic) == ["Our bridge"]
    assert found(other_clinic) == ["Bridge"]
    assert current_exercise(other_clinic.pk, own.pk) is None


def test_a_retired_exercise_is_not_offered_but_stays_where_it_is(clinic):
    gone = factories.ExerciseFactory(retired_at=NOW)
    assert found(clinic) == []
    assert current_exercise(clinic.pk, gone.pk) is None
    assert set(editor_exercises(clinic.pk, {gone.current_id})) == {gone.current_id}


def test_at_most_twenty_are_shown_and_all_are_counted(clinic):
    factories.ExerciseFactory.create_batch(23)
    page = picker_page(clinic.pk)
    assert (len(page.rows), page.total) == (20, 23)


@pytest.mark.parametrize("search", [{"region": "ELBOW"}, {"ladder": "x"}, {"ladder": "\x00"}])
def test_a_filter_that_there_is_none_of_is_left_out(clinic, search):
    factories.ExerciseFactory(name="Bridge")
    assert found(clinic, **search) == ["Bridge"]


def test_a_percent_sign_is_no_wildcard(clinic):
    factories.ExerciseFactory(name="Bridge")
    assert found(clinic, words="%") == found(clinic, words="_r") == []


@pytest.mark.databases_differ
def test_characters_that_a_database_does_not_take_find_what_is_around_them(clinic):
    factories.ExerciseFactory(name="Bridge")
    assert found(clinic, words="brid\x00dge") == ["Bridge"]


def test_an_alternative_stands_on_its_rung_too(clinic):
    rung = factories.RungFactory(position=1)
    other = factories.RungAlternativeFactory(rung=rung)
    (place,) = ladder_places(clinic.pk, [(other.exercise_id, None)])
    assert place is not None
    assert (place.rung_id, place.position) == (rung.pk, 1)
    assert [neighbor.name for neighbor in place.instead] == [rung.exercise.name]


def test_of_two_ladders_the_named_rung_counts(clinic):
    exercise = factories.ExerciseFactory()
    factories.RungFactory(exercise=exercise, ladder__name="A ladder")
    rung = factories.RungFactory(exercise=exercise, ladder__name="B ladder")
    named, first = ladder_places(clinic.pk, [(exercise.pk, rung.pk), (exercise.pk, None)])
    assert (named.ladder, first.ladder) == ("B ladder", "A ladder")


def test_another_clinics_ladder_is_not_seen(clinic, other_clinic):
    ladder = factories.LadderFactory(clinic=other_clinic)
    rung = factories.RungFactory(ladder=ladder, position=1)
    assert ladder_places(clinic.pk, [(rung.exercise_id, rung.pk)]) == [None]
    assert picker_page(clinic.pk).ladders == ()


def test_a_retired_neighbor_is_not_offered(clinic):
    rung = factories.RungFactory(position=1)
    factories.RungFactory(ladder=rung.ladder, position=2, exercise__retired_at=NOW)
    (place,) = ladder_places(clinic.pk, [(rung.exercise_id, rung.pk)])
    assert place.harder is None


def test_ladders_take_two_queries_whatever_their_number(clinic, django_assert_num_queries):
    rungs = [factories.RungFactory() for _count in range(6)]
    with django_assert_num_queries(2):
        ladder_places(clinic.pk, [(rung.exercise_id, None) for rung in rungs])


def test_a_schedule_is_carried_over_to_today():
    past = date(2026, 1, 5)
    ended = Schedule(Pattern.DAILY, starts_on=past, ends_on=TODAY - timedelta(days=1))
    running = Schedule(Pattern.DAILY, starts_on=past, ends_on=TODAY + timedelta(days=9))
    assert carried_over(ended, TODAY) == Schedule(Pattern.DAILY, starts_on=TODAY)
    assert carried_over(running, TODAY).ends_on == running.ends_on
    later = Schedule(Pattern.DAILY, starts_on=TODAY + timedelta(days=3))
    assert carried_over(later, TODAY) == later
