"""Choosing and ordering exercises without scripts: every button is a form post."""

from __future__ import annotations

import pytest

from programs.models import ProgramRevision
from programs.rules.dose import DoseKind, SideMode
from tests import factories
from tests.programs.views.editing import added, form_of, names, press


class TestChoosing:
    def test_the_library_is_searched_by_every_word(self, browser, address):
        factories.ExerciseFactory(name="Heel raise", search_text="heel raise calf raise")
        factories.ExerciseFactory(name="Heel slide", search_text="heel slide")
        answer = browser.get(address)
        found = press(browser, address, answer, "search", q="RAISE  heel")
        assert [row.name for row in found.context["page"].picker.rows] == ["Heel raise"]
        none = press(browser, address, answer, "search", q="zither")
        assert "Nothing fits" in none.content.decode()

    def test_the_library_is_narrowed_by_region_and_to_a_ladder(self, browser, address):
        rung = factories.RungFactory(exercise__name="Second", position=2)
        factories.RungFactory(ladder=rung.ladder, exercise__name="First", position=1)
        factories.ExerciseFactory(name="Shrug", region="SHOULDER")
        answer = browser.get(address)
        shoulder = press(browser, address, answer, "search", region="SHOULDER")
        assert [row.name for row in shoulder.context["page"].picker.rows] == ["Shrug"]
        ladder = press(browser, address, answer, "search", ladder=str(rung.ladder_id))
        rows = ladder.context["page"].picker.rows
        assert [(row.step, row.name) for row in rows] == [(1, "First"), (2, "Second")]

    def test_another_clinics_exercises_are_not_there(self, browser, address, other_clinic):
        theirs = factories.ExerciseFactory(clinic=other_clinic, name="Theirs")
        answer = browser.get(address)
        assert answer.context["page"].picker.total == 0
        assert names(press(browser, address, answer, f"add:{theirs.pk}")) == []

    def test_an_added_exercise_has_the_usual_dose_of_the_library(self, browser, address):
        sided = factories.ExerciseFactory(dose_kind=DoseKind.HOLD, side_mode=SideMode.ONE_SIDE)
        answer = added(browser, address, sided)
        (line,) = answer.context["page"].lines
        assert line.short == "3 holds of 30 seconds, each side"
        assert "Usual 30, library 10 to 60" in answer.content.decode()
        assert not ProgramRevision.objects.get().prescriptions.exists()

    def test_sides_are_asked_only_where_there_are_sides(self, browser, address):
        together = factories.ExerciseFactory()
        assert "items-0-side" not in form_of(added(browser, address, together))

    def test_precautions_stand_beside_the_exercise(self, browser, address):
        exercise = factories.ExerciseFactory()
        entry = exercise.current.content | {"precautions": ["POOR_BALANCE"]}
        exercise.current = factories.ExerciseRevisionFactory(exercise=exercise, content=entry)
        exercise.save()
        assert "Unsteady on the feet" in added(browser, address, exercise).content.decode()

    def test_more_than_four_is_said_and_allowed(self, browser, address):
        exercises = factories.ExerciseFactory.create_batch(5)
        few = added(browser, address, *exercises[:4])
        assert "People keep up short programs better" not in few.content.decode()
        many = press(browser, address, few, f"add:{exercises[4].pk}")
        assert "People keep up short programs better" in many.content.decode()
        assert press(browser, address, many, "save").status_code == 302

    def test_twenty_is_the_most(self, browser, address):
        exercise = factories.ExerciseFactory()
        answer = added(browser, address, *[exercise] * 21)
        assert len(names(answer)) == 20
        assert "at most 20" in answer.context["editor"].said


class TestOrdering:
    @pytest.fixture
    def three(self, browser, address):
        made = [factories.ExerciseFactory(name=name) for name in ("One", "Two", "Three")]
        return added(browser, address, *made)

    @pytest.mark.parametrize(
        ("action", "order"),
        [
            ("down:0", ["Two", "One", "Three"]),
            ("up:2", ["One", "Three", "Two"]),
            ("up:0", ["One", "Two", "Three"]),
            ("down:2", ["One", "Two", "Three"]),
            ("up:77", ["One", "Two", "Three"]),
            ("sideways:1", ["One", "Two", "Three"]),
            ("up:x", ["One", "Two", "Three"]),
        ],
    )
    def test_buttons_move_an_exercise(self, browser, address, three, action, order):
        assert names(press(browser, address, three, action)) == order

    def test_the_dose_moves_with_its_exercise(self, browser, address, three):
        typed = {"items-0-sets": "7", "items-0-note": "Hold on."}
        form = form_of(press(browser, address, three, "down:0", **typed))
        assert (form["items-1-sets"], form["items-1-note"]) == ("7", "Hold on.")

    def test_what_was_taken_out_can_be_put_back_as_it_was(self, browser, address, three):
        out = press(browser, address, three, "remove:1", **{"items-1-sets": "9"})
        assert [line.number for line in out.context["page"].lines] == [1, None, 2]
        assert "Two is taken out." in out.content.decode()
        back = press(browser, address, out, "restore:1")
        assert form_of(back)["items-1-sets"] == "9"

    def test_what_was_taken_out_is_not_saved(self, browser, address, three, draft):
        out = press(browser, address, three, "remove:1")
        press(browser, address, out, "save", **{"items-1-sets": "nonsense"})
        saved = draft.prescriptions.order_by("position")
        entries = [item.exercise_revision.entry.name for item in saved]
        assert entries == ["One", "Three"]


class TestLadders:
    @pytest.fixture
    def rungs(self):
        first = factories.RungFactory(exercise__name="Sitting", position=1)
        ladder = first.ladder
        second = factories.RungFactory(ladder=ladder, exercise__name="Standing", position=2)
        third = factories.RungFactory(ladder=ladder, exercise__name="On one leg", position=3)
        factories.RungAlternativeFactory(
            rung=second, exercise__name="At the sink", note="With no wall."
        )
        return first, second, third

    def test_neighbors_of_a_rung_are_offered(self, browser, address, rungs):
        (line,) = added(browser, address, rungs[1].exercise).context["page"].lines
        place = line.place
        assert (place.position, place.rungs) == (2, 3)
        assert (place.easier.name, place.harder.name) == ("Sitting", "On one leg")
        assert [(other.name, other.why) for other in place.instead] == [
            ("At the sink", "With no wall.")
        ]

    def test_the_ends_have_one_neighbor(self, browser, address, rungs):
        first, last = (
            added(browser, address, rungs[0].exercise, rungs[2].exercise).context["page"].lines
        )
        assert first.place.easier is None and last.place.harder is None

    def test_a_step_up_keeps_place_side_and_note(self, browser, address, rungs, draft):
        other = factories.ExerciseFactory(name="Other")
        answer = added(browser, address, rungs[1].exercise, other)
        swap = f"swap:0:{rungs[2].exercise_id}:{rungs[2].pk}"
        swapped = press(browser, address, answer, swap, **{"items-0-note": "Near a wall."})
        assert names(swapped) == ["On one leg", "Other"]
        press(browser, address, swapped, "save")
        item = draft.prescriptions.get(position=1)
        assert (item.rung, item.note) == (rungs[2], "Near a wall.")

    def test_the_rung_is_stored_with_an_exercise_that_stands_on_one(
        self, browser, address, rungs, draft
    ):
        press(browser, address, added(browser, address, rungs[0].exercise), "save")
        assert draft.prescriptions.get().rung == rungs[0]
