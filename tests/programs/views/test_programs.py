"""A patient's program as the therapist meets it: page, history, pauses, completion, paper."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from django.urls import reverse

from programs.models import PauseReason, Program, ProgramPause, ProgramStatus
from programs.operations.programs import (
    DraftContent,
    Item,
    draft_revision,
    issue_revision,
    pause_program,
    save_draft,
)
from programs.rules.dose import Dose, DoseKind, Side
from programs.rules.schedule import Pattern, Schedule
from tests import factories
from tests.factories import NOW, TODAY


@pytest.fixture
def draft(issued_program, therapist):
    return draft_revision(
        program=issued_program, drafted_by_id=therapist.user_id, now=NOW, today=TODAY
    )


def page_of(patient):
    return reverse("program", args=[patient.pk])


def text(response):
    assert response.status_code == 200
    return " ".join(response.content.decode().split())


def pause(program, therapist, starts_on=TODAY, ends_on=None):
    return pause_program(
        program=program,
        starts_on=starts_on,
        ends_on=ends_on,
        reason=PauseReason.AWAY,
        set_by_id=therapist.user_id,
        now=NOW,
    )


class TestPage:
    def test_without_a_program_the_page_says_what_to_do(self, browser, patient):
        said = text(browser.get(page_of(patient)))
        assert "No program yet" in said
        assert reverse("program_new", args=[patient.pk]) in said

    def test_doses_schedule_and_sums_stand_there_in_words(self, browser, patient, issued_program):
        said = text(browser.get(page_of(patient)))
        for words in (
            "3 sets of 12",
            "count 2 out, 1 still, 3 back",
            "2 holds of 30 seconds, each side",
            "2 times 1 minute, left and right in turn",
            "once a day",
            "7 sessions a week",
            "Slow and steady.",
            "5 of 10",
        ):
            assert words in said

    def test_history_says_what_changed_and_why(self, browser, patient, draft, therapist):
        items = list(draft.prescriptions.order_by("position"))
        more = replace(items[0].dose, sets=4)
        save_draft(
            draft=draft,
            version=draft.version,
            content=DraftContent(
                title="Ankle strength",
                items=[Item(items[0].exercise_revision_id, more)],
                schedule=Schedule(Pattern.DAILY, starts_on=TODAY),
                reason="Settled by morning",
            ),
            edited_by_id=therapist.user_id,
            now=NOW,
        )
        issue_revision(
            draft=draft,
            version=draft.version,
            issued_by_id=therapist.user_id,
            now=NOW,
            today=TODAY,
        )
        said = text(browser.get(page_of(patient)))
        assert "Settled by morning" in said
        assert "4 sets of 12" in said and "was 3 sets of 12" in said
        assert said.count("Taken out") == 2
        assert "Step up" in said

    def test_a_draft_is_announced(self, browser, patient, draft):
        said = text(browser.get(page_of(patient)))
        assert "There is a draft" in said and "Tess Arden saved it last" in said

    def test_a_draft_alone_shows_no_print_and_no_pause(self, browser, patient):
        browser.post(reverse("program_new", args=[patient.pk]), {"title": "Balance"})
        said = text(browser.get(page_of(patient)))
        assert "Not issued yet" in said
        program = Program.objects.get()
        for route in ("program_print", "program_pause"):
            assert reverse(route, args=[program.pk]) not in said

    def test_pauses_are_shown_and_can_be_ended(self, browser, patient, issued_program, therapist):
        pause(issued_program, therapist)
        said = text(browser.get(page_of(patient)))
        assert "Paused: nothing is due" in said and "No end is set." in said
        browser.post(reverse("program_resume", args=[issued_program.pk]))
        assert "Paused: nothing is due" not in text(browser.get(page_of(patient)))

    def test_names_are_escaped(self, browser, patient, issued_program):
        Program.objects.update(title="<script>alert(1)</script>")
        assert "<script>alert(1)" not in text(browser.get(page_of(patient)))

    def test_the_number_of_queries_does_not_grow(
        self, browser, patient, issued_program, therapist, django_assert_num_queries
    ):
        browser.get(page_of(patient))
        with django_assert_num_queries(9):
            browser.get(page_of(patient))
        dose = Dose(DoseKind.REPETITIONS, 3, 12, None, None, 45, Side.BILATERAL)
        for _count in range(3):
            draft = draft_revision(
                program=issued_program, drafted_by_id=therapist.user_id, now=NOW, today=TODAY
            )
            save_draft(
                draft=draft,
                version=draft.version,
                content=DraftContent(
                    "Ankle strength",
                    [Item(factories.ExerciseFactory().current_id, dose) for _item in range(8)],
                    Schedule(Pattern.DAILY, starts_on=TODAY),
                ),
                edited_by_id=therapist.user_id,
                now=NOW,
            )
            issue_revision(
                draft=draft,
                version=draft.version,
                issued_by_id=therapist.user_id,
                now=NOW,
                today=TODAY,
            )
        with django_assert_num_queries(9):
            browser.get(page_of(patient))


class TestNew:
    def test_a_title_begins_a_draft(self, browser, patient):
        answer = browser.post(reverse("program_new", args=[patient.pk]), {"title": "Balance"})
        program = Program.objects.get()
        assert answer.url == reverse("program_edit", args=[program.pk])
        assert (program.title, program.status) == ("Balance", ProgramStatus.DRAFT)

    @pytest.mark.parametrize("title", ["", " ", "x" * 121, "a\x00b"])
    def test_a_title_that_cannot_be_gets_a_message(self, browser, patient, title):
        answer = browser.post(reverse("program_new", args=[patient.pk]), {"title": title})
        assert answer.context["form"].errors["title"]
        assert not Program.objects.exists()

    def test_a_second_live_program_is_refused(self, browser, patient, issued_program):
        address = reverse("program_new", args=[patient.pk])
        answer = browser.post(address, {"title": "Another"}, follow=True)
        assert "has a program already" in text(answer)
        assert Program.objects.count() == 1


class TestRevision:
    def test_it_shows_the_revision_as_it_was(self, browser, issued_program):
        address = reverse("program_revision", args=[issued_program.pk, 1])
        said = text(browser.get(address))
        assert "2 holds of 30 seconds, each side" in said and "It was the first." in said

    def test_a_draft_has_no_such_page(self, browser, issued_program, draft):
        for number in (0, 2, 99):
            address = reverse("program_revision", args=[issued_program.pk, number])
            assert browser.get(address).status_code == 404


class TestLife:
    def test_pausing_asks_for_days_and_a_reason(self, browser, issued_program):
        address = reverse("program_pause", args=[issued_program.pk])
        answer = browser.post(
            address,
            {"starts_on": TODAY, "ends_on": TODAY + timedelta(days=7), "reason": "UNWELL"},
        )
        assert answer.status_code == 302
        paused = ProgramPause.objects.get()
        assert (paused.starts_on, paused.ends_on) == (TODAY, TODAY + timedelta(days=7))
        assert paused.reason == "UNWELL"

    @pytest.mark.parametrize(
        ("typed", "field"),
        [
            ({}, "starts_on"),
            ({"starts_on": "soon"}, "starts_on"),
            ({"starts_on": "9999-12-31"}, "starts_on"),
            ({"starts_on": "2026-03-11", "ends_on": "2026-03-11"}, "ends_on"),
            ({"starts_on": "2026-03-11", "reason": "BORED"}, "reason"),
        ],
    )
    def test_a_pause_that_cannot_be_gets_a_message(self, browser, issued_program, typed, field):
        answer = browser.post(reverse("program_pause", args=[issued_program.pk]), typed)
        assert answer.status_code == 200
        assert answer.context["form"].errors[field]
        assert not ProgramPause.objects.exists()

    def test_a_second_pause_on_the_same_days_gets_a_message(
        self, browser, issued_program, therapist
    ):
        pause(issued_program, therapist)
        answer = browser.post(
            reverse("program_pause", args=[issued_program.pk]),
            {"starts_on": TODAY, "reason": "UNWELL"},
        )
        assert "on these days already" in text(answer)

    def test_completing_asks_first(self, browser, patient, issued_program):
        address = reverse("program_complete", args=[issued_program.pk])
        assert "Complete the program?" in text(browser.get(address))
        assert Program.objects.get().status == ProgramStatus.ACTIVE
        browser.post(address)
        assert Program.objects.get().status == ProgramStatus.COMPLETED
        said = text(browser.get(page_of(patient)))
        assert "Completed on" in said and "New program" in said

    def test_completing_twice_says_why_not(self, browser, issued_program):
        address = reverse("program_complete", args=[issued_program.pk])
        browser.post(address)
        assert "can be completed" in text(browser.post(address, follow=True))

    def test_discarding_asks_first(self, browser, issued_program, draft):
        address = reverse("program_discard", args=[issued_program.pk])
        assert "Discard the draft?" in text(browser.get(address))
        assert issued_program.revisions.count() == 2
        browser.post(address)
        assert issued_program.revisions.count() == 1
        assert "no draft" in text(browser.post(address, follow=True))

    def test_looking_writes_nothing(self, browser, patient, issued_program):
        for route in ("edit", "issue", "pause", "complete", "discard", "print"):
            browser.get(reverse(f"program_{route}", args=[issued_program.pk]))
        assert issued_program.revisions.count() == 1
        assert not ProgramPause.objects.exists()
        assert browser.get(reverse("program_resume", args=[issued_program.pk])).status_code == 405


class TestPrint:
    def test_the_handout_says_what_to_do_and_when_to_stop(self, browser, issued_program):
        said = text(browser.get(reverse("program_print", args=[issued_program.pk])))
        for words in (
            "3 sets of 12",
            "Stand tall.",
            "Move out slowly.",
            "Your back, so that the leg does the work",
            "Sharp or catching pain.",
            "Stop at once",
            "01632 960 000",
            "Worst pain, 0 to 10",
        ):
            assert words in said

    def test_there_is_a_box_for_each_session_of_two_weeks(self, browser, issued_program):
        said = text(browser.get(reverse("program_print", args=[issued_program.pk])))
        assert said.count('class="handout__box"') == 3 * 14

    @pytest.mark.parametrize(
        ("schedule", "boxes"),
        [
            (Schedule(Pattern.DAILY, starts_on=TODAY, times_per_day=2), 28),
            (Schedule(Pattern.WEEKDAYS, starts_on=TODAY, weekdays=frozenset({0, 4})), 4),
            (Schedule(Pattern.EVERY_N_DAYS, starts_on=TODAY, every_days=2), 7),
            (Schedule(Pattern.WEEKLY_QUOTA, starts_on=TODAY, weekly_quota=3), 14),
        ],
        ids=lambda value: getattr(value, "pattern", None),
    )
    def test_only_due_days_have_boxes(
        self, browser, patient, therapist, issue_program, schedule, boxes
    ):
        dose = Dose(DoseKind.REPETITIONS, 3, 12, None, None, 45, Side.BILATERAL)
        program = issue_program(patient, therapist, doses=(dose,), schedule=schedule, at=NOW)
        said = text(browser.get(reverse("program_print", args=[program.pk])))
        assert said.count('class="handout__box"') == boxes

    def test_a_draft_is_not_printed(self, browser, patient):
        browser.post(reverse("program_new", args=[patient.pk]), {"title": "Balance"})
        address = reverse("program_print", args=[Program.objects.get().pk])
        assert "nothing to print" in text(browser.get(address, follow=True))


@pytest.mark.parametrize("person", ["patient", "colleague", "admin", "outsider"])
@pytest.mark.parametrize(
    "route", ["edit", "issue", "pause", "complete", "discard", "print", "resume"]
)
def test_nobody_else_gets_there(request, sign_in, issued_program, draft, person, route):
    browser = sign_in(request.getfixturevalue(person))
    address = reverse(f"program_{route}", args=[issued_program.pk])
    answer = browser.post(address) if route == "resume" else browser.get(address)
    assert answer.status_code == 404
