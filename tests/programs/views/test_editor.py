"""The editor without scripts: every button is a form post, and nothing typed is ever lost."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from programs.models import Program, ProgramRevision, RevisionStatus
from programs.operations.programs import draft_program, issue_revision
from programs.rules.dose import DoseKind, SideMode
from tests import factories
from tests.factories import NOW, TODAY

PLAN = {
    "title": "Stronger calf",
    "pattern": "DAILY",
    "times_per_day": "1",
    "starts_on": TODAY.isoformat(),
    "pain_limit": "5",
    "note_to_patient": "Slow and steady.",
}


@pytest.fixture
def browser(sign_in, therapist):
    return sign_in(therapist)


@pytest.fixture
def draft(patient, therapist):
    """An empty first draft."""
    return draft_program(
        patient=patient,
        title="Stronger calf",
        drafted_by_id=therapist.user_id,
        pain_limit=5,
        now=NOW,
        today=TODAY,
    )


@pytest.fixture
def address(draft):
    return reverse("program_edit", args=[draft.program_id])


def form_of(answer):
    """Return what a browser would send: every field of the page as it stands."""
    assert answer.status_code == 200
    page = answer.content.decode()
    form = page[page.index("data-editor") : page.index("</form>", page.index("data-editor"))]
    data = {}
    for tag in re.findall(r"<input\b[^>]*>", form):
        attributes = dict(re.findall(r'([\w-]+)="([^"]*)"', tag))
        kind = attributes.get("type", "text")
        if kind in ("radio", "checkbox") and not re.search(r"\bchecked\b", tag):
            continue
        if kind == "checkbox":
            data.setdefault(attributes["name"], []).append(attributes.get("value", "on"))
        else:
            data[attributes["name"]] = attributes.get("value", "")
    for name, options in re.findall(
        r'<select\b[^>]*name="([^"]+)"[^>]*>(.*?)</select>', form, re.S
    ):
        chosen = re.search(r'<option value="([^"]*)"[^>]*selected', options)
        data[name] = chosen.group(1) if chosen else ""
    for name, value in re.findall(
        r'<textarea\b[^>]*name="([^"]+)"[^>]*>(.*?)</textarea>', form, re.S
    ):
        data[name] = value.strip()
    return data


def names(answer):
    return [line.exercise.entry.name for line in answer.context["page"].lines]


def press(browser, address, answer, action, **typed):
    return browser.post(address, form_of(answer) | typed | {"action": action})


def added(browser, address, *exercises):
    answer = browser.get(address)
    for exercise in exercises:
        answer = press(browser, address, answer, f"add:{exercise.pk}")
    return answer


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


class TestSaving:
    def test_a_draft_is_saved_and_the_page_comes_back(self, browser, address, draft):
        answer = added(browser, address, factories.ExerciseFactory())
        typed = {"items-0-sets": "4", "items-0-load_value": "2,5", "items-0-effort_target": "6"}
        saved = press(browser, address, answer, "save", **PLAN, **typed)
        assert (saved.status_code, saved.url) == (302, address)
        item = draft.prescriptions.get()
        assert (item.sets, item.load_unit, str(item.load_value)) == (4, "KG", "2.50")
        assert item.effort_target == 6
        assert form_of(browser.get(address))["items-0-load_value"] == "2.5"

    @pytest.mark.parametrize(
        ("field", "typed"),
        [
            ("sets", "0"),
            ("sets", ""),
            ("sets", "three"),
            ("sets", "9" * 6),
            ("repetitions", "101"),
            ("rest_seconds", "-1"),
            ("tempo_out", ""),
            ("load_value", "heavy"),
            ("load_value", "NaN"),
            ("load_value", "201"),
            ("effort_target", "11"),
            ("band", "PURPLE"),
            ("note", "x" * 201),
        ],
    )
    def test_a_slip_stands_beside_its_field_and_is_kept(
        self, browser, address, draft, field, typed
    ):
        answer = added(browser, address, factories.ExerciseFactory())
        name = f"items-0-{field}"
        refused = press(browser, address, answer, "save", **PLAN, **{name: typed})
        (line,) = refused.context["page"].lines
        assert line.form.errors[field]
        assert line.form[field].value() == typed
        said = refused.content.decode()
        assert f'id="id_{name}_error"' in said and "Not saved yet" in said
        assert "Slow and steady." in said
        assert not draft.prescriptions.exists()

    def test_a_weight_and_a_band_at_once_are_refused(self, browser, address):
        answer = added(browser, address, factories.ExerciseFactory())
        both = {"items-0-load_value": "2", "items-0-band": "FIRM"}
        refused = press(browser, address, answer, "save", **both)
        assert refused.context["page"].lines[0].form.errors["band"]

    @pytest.mark.parametrize(
        ("typed", "field"),
        [
            ({"title": ""}, "title"),
            ({"pattern": "HOURLY"}, "pattern"),
            ({"times_per_day": "7"}, "times_per_day"),
            ({"times_per_day": "many"}, "times_per_day"),
            ({"pattern": "WEEKDAYS"}, "weekdays"),
            ({"pattern": "WEEKDAYS", "weekdays": ["8"]}, "weekdays"),
            ({"pattern": "EVERY_N_DAYS"}, "every_days"),
            ({"pattern": "EVERY_N_DAYS", "every_days": "31"}, "every_days"),
            ({"pattern": "WEEKLY_QUOTA", "weekly_quota": "8"}, "weekly_quota"),
            ({"starts_on": "someday"}, "starts_on"),
            ({"starts_on": "9999-12-31"}, "starts_on"),
            ({"ends_on": "2026-03-10"}, "ends_on"),
            ({"pain_limit": "11"}, "pain_limit"),
            ({"note_to_patient": "x" * 1001}, "note_to_patient"),
            ({"reason": "x" * 201}, "reason"),
        ],
    )
    def test_a_slip_in_the_plan_stands_beside_its_field(
        self, browser, address, draft, typed, field
    ):
        answer = browser.get(address)
        refused = press(browser, address, answer, "save", **(PLAN | typed))
        assert refused.context["page"].plan.errors[field]
        draft.refresh_from_db()
        assert draft.version == 1

    def test_numbers_of_a_pattern_that_is_not_chosen_do_not_matter(self, browser, address, draft):
        typed = {"pattern": "WEEKLY_QUOTA", "weekly_quota": "3", "times_per_day": "lots"}
        press(browser, address, browser.get(address), "save", **(PLAN | typed))
        draft.refresh_from_db()
        assert (draft.weekly_quota, draft.times_per_day) == (3, 1)

    def test_the_page_counts_minutes_and_the_week(self, browser, address):
        answer = added(browser, address, factories.ExerciseFactory())
        totals = press(browser, address, answer, "preview", **PLAN).context["page"].totals
        assert (totals.minutes, totals.repetitions, totals.moving_minutes) == (6, 252, 26)
        assert totals.week.sessions == "7 sessions a week"

    def test_without_a_draft_the_editor_holds_what_is_in_force(
        self, browser, issued_program, therapist
    ):
        address = reverse("program_edit", args=[issued_program.pk])
        answer = browser.get(address)
        assert [line.short for line in answer.context["page"].lines] == [
            "3 sets of 12",
            "2 holds of 30 seconds, each side",
            "2 times 1 minute, left and right in turn",
        ]
        assert press(browser, address, answer, "save", reason="Same again").status_code == 302
        draft = issued_program.revisions.get(status=RevisionStatus.DRAFT)
        assert draft.reason == "Same again"
        before = issued_program.revisions.get(number=1).prescriptions.order_by("position")
        after = draft.prescriptions.order_by("position")
        assert [row.dose for row in after] == [row.dose for row in before]

    def test_a_program_that_ends_meanwhile_keeps_what_was_typed(self, browser, issued_program):
        address = reverse("program_edit", args=[issued_program.pk])
        opened = browser.get(address)
        browser.post(reverse("program_complete", args=[issued_program.pk]))
        late = press(browser, address, opened, "save", note_to_patient="Too late")
        assert "This program has ended." in late.content.decode()
        assert form_of(late)["note_to_patient"] == "Too late"
        assert issued_program.revisions.count() == 1
        assert "has ended" in browser.get(address, follow=True).content.decode()

    def test_the_number_of_queries_does_not_grow(self, browser, address, django_assert_num_queries):
        few = added(browser, address, *factories.ExerciseFactory.create_batch(1))
        form = form_of(few) | {"action": "preview"}
        with django_assert_num_queries(12):
            browser.post(address, form)
        many = added(browser, address, *factories.ExerciseFactory.create_batch(12))
        form = form_of(many) | {"action": "preview"}
        with django_assert_num_queries(12):
            browser.post(address, form)


class TestTwoEditors:
    def test_the_later_one_keeps_what_was_typed_and_sees_who_was_first(
        self, browser, address, draft, sign_in, patient, colleague
    ):
        factories.CareRelationshipFactory(patient=patient, therapist=colleague, is_lead=False)
        mine = added(browser, address, factories.ExerciseFactory(name="Mine"))
        press(sign_in(colleague), address, mine, "save", title="Theirs")
        late = press(browser, address, mine, "save", **{"items-0-sets": "4", "title": "Mine"})
        said = late.content.decode()
        assert "Colm Brandt has saved this draft" in said
        assert "now puts your version in place of theirs" in said
        form = form_of(late)
        assert (form["title"], form["items-0-sets"]) == ("Mine", "4")
        differences = late.context["conflict"].differences
        assert [(c.now, c.was) for c in differences] == [("4 sets of 12", "3 sets of 12")]
        assert Program.objects.get().title == "Theirs"
        assert press(browser, address, late, "save").status_code == 302
        assert Program.objects.get().title == "Mine"

    def test_a_draft_that_was_issued_meanwhile_is_not_touched(
        self, browser, address, draft, therapist
    ):
        opened = added(browser, address, factories.ExerciseFactory())
        press(browser, address, opened, "save")
        again = browser.get(address)
        draft.refresh_from_db()
        issue_revision(
            draft=draft,
            version=draft.version,
            issued_by_id=therapist.user_id,
            now=NOW,
            today=TODAY,
        )
        late = press(browser, address, again, "save", note_to_patient="Too late")
        assert "Tess Arden has issued this draft" in late.content.decode()
        assert form_of(late)["note_to_patient"] == "Too late"
        assert press(browser, address, late, "save").status_code == 302
        assert draft.program.revisions.get(number=2).note_to_patient == "Too late"
        draft.refresh_from_db()
        assert draft.note_to_patient == ""


class TestIssuing:
    def review(self, browser, address, answer, **typed):
        reviewed = press(browser, address, answer, "review", **typed)
        assert reviewed.status_code == 302, reviewed.context["page"].errors
        return reviewed.url, browser.get(reviewed.url)

    def test_a_first_program_is_shown_and_issued_once_confirmed(
        self, browser, address, draft, patient
    ):
        answer = added(browser, address, factories.ExerciseFactory(name="Heel raise"))
        where, page = self.review(browser, address, answer)
        assert "Issue to Pia Lund?" in page.content.decode()
        draft.refresh_from_db()
        assert draft.status == RevisionStatus.DRAFT
        issued = browser.post(where, {"version": draft.version}, follow=True)
        assert "Pia gets it today." in issued.content.decode()
        draft.refresh_from_db()
        assert draft.effective_from == TODAY

    def test_a_change_is_shown_in_words(self, browser, issued_program):
        address = reverse("program_edit", args=[issued_program.pk])
        typed = {"items-0-sets": "4", "pattern": "WEEKLY_QUOTA", "weekly_quota": "3"}
        _where, page = self.review(browser, address, browser.get(address), **typed)
        said = " ".join(page.content.decode().split())
        for words in (
            "4 sets of 12",
            "was 3 sets of 12",
            "3 times a week, on any days",
            "was once a day",
        ):
            assert words in said

    def test_an_empty_draft_says_what_is_missing_and_has_no_button(self, browser, address):
        where, page = self.review(browser, address, browser.get(address))
        assert "Choose at least one exercise." in page.content.decode()
        assert "Once issued it never changes" not in page.content.decode()
        refused = browser.post(where, {"version": 2})
        assert "cannot be issued yet" in refused.content.decode()

    def test_what_was_not_looked_at_is_not_issued(self, browser, address, draft):
        answer = added(browser, address, factories.ExerciseFactory())
        where, _page = self.review(browser, address, answer)
        for version in ("1", "x", ""):
            stale = browser.post(where, {"version": version})
            assert "has changed since you opened it" in stale.content.decode()
        draft.refresh_from_db()
        assert draft.status == RevisionStatus.DRAFT

    def test_without_a_draft_there_is_nothing_to_issue(self, browser, issued_program):
        answer = browser.get(reverse("program_issue", args=[issued_program.pk]), follow=True)
        assert "no draft to issue" in answer.content.decode()


typed = st.text(max_size=12) | st.sampled_from(["-1", "0", "1e9", "٣", "NaN", "9" * 30, "\x00"])
fields = st.sampled_from(
    [
        "draft",
        "version",
        "items-count",
        "items-0-exercise",
        "items-0-rung",
        "items-0-removed",
        "items-0-side",
        "items-0-sets",
        "items-0-repetitions",
        "items-0-rest_seconds",
        "items-0-tempo_out",
        "items-0-load_value",
        "items-0-band",
        "items-0-effort_target",
        "items-0-note",
        "title",
        "pattern",
        "times_per_day",
        "weekdays",
        "every_days",
        "weekly_quota",
        "starts_on",
        "ends_on",
        "pain_limit",
        "note_to_patient",
        "reason",
        "q",
        "region",
        "ladder",
        "action",
    ]
)
actions = st.sampled_from(
    ["save", "review", "preview", "search", "add", "add:", "add:x", "swap:0", "swap:0:x:y", "up:-1"]
)


class TestBadInput(TestCase):
    """Whatever is sent, the page answers, and an answer that is no success stores nothing."""

    def setUp(self) -> None:
        care = factories.CareRelationshipFactory()
        self.program = factories.ProgramFactory(patient=care.patient, status="DRAFT")
        self.draft = factories.ProgramRevisionFactory(program=self.program, draft=True)
        self.exercise = factories.ExerciseFactory()
        self.browser = Client()
        self.browser.force_login(
            care.therapist.user, backend="allauth.account.auth_backends.AuthenticationBackend"
        )

    @settings(max_examples=80)
    @given(st.dictionaries(fields, typed, max_size=6), actions)
    def test_no_input_breaks_the_editor(self, noise: dict[str, str], action: str) -> None:
        version = ProgramRevision.objects.get(pk=self.draft.pk).version
        sound = PLAN | {
            "draft": str(self.draft.pk),
            "version": str(version),
            "items-count": "1",
            "items-0-exercise": str(self.exercise.current_id),
            "items-0-sets": "3",
            "items-0-repetitions": "12",
            "items-0-rest_seconds": "45",
        }
        address = reverse("program_edit", args=[self.program.pk])
        answer = self.browser.post(address, sound | {"action": action} | noise)
        assert answer.status_code in (200, 302)
        if answer.status_code == 200:
            assert ProgramRevision.objects.get(pk=self.draft.pk).version == version
