"""Saving and issuing from the editor: nothing that was typed is ever lost."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from programs.models import Program, ProgramRevision, RevisionStatus
from programs.operations.programs import issue_revision
from tests import factories
from tests.factories import NOW, TODAY
from tests.programs.views.editing import PLAN, added, form_of, press


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
        assert totals.week.amounts == ("252 repetitions", "26 minutes moving")

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
