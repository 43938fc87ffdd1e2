"""The life of a program: drafted, issued, changed by a new revision, paused, completed."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ObjectDoesNotExist

from programs.models import (
    PauseReason,
    Program,
    ProgramPause,
    ProgramRevision,
    ProgramStatus,
    RevisionStatus,
)
from programs.operations.programs import (
    DraftConflict,
    DraftContent,
    Item,
    NotReady,
    ProgramError,
    complete_program,
    discard_draft,
    draft_program,
    draft_revision,
    issue_revision,
    pause_program,
    problems_of,
    resume_program,
    save_draft,
)
from programs.queries.programs import latest_program
from programs.rules.dose import Dose, DoseKind, LoadUnit, Side, SideMode
from programs.rules.schedule import Pattern, Schedule
from tests import factories
from tests.factories import NOW, STARTED_ON, TODAY
from tests.race import race

DAILY = Schedule(Pattern.DAILY, starts_on=TODAY)
TWELVE = Dose(DoseKind.REPETITIONS, 3, 12, None, None, 45, Side.BILATERAL)


def content(*items, **more):
    values = {"title": "Ankle strength", "items": items, "schedule": DAILY}
    return DraftContent(**(values | more))


def begin(patient, therapist):
    return draft_program(
        patient=patient,
        title="Ankle strength",
        drafted_by_id=therapist.user_id,
        pain_limit=4,
        now=NOW,
        today=TODAY,
    )


def save(draft, therapist, what, version=None):
    return save_draft(
        draft=draft,
        version=draft.version if version is None else version,
        content=what,
        edited_by_id=therapist.user_id,
        now=NOW,
    )


def issue(draft, therapist, version=None, today=TODAY):
    return issue_revision(
        draft=draft,
        version=draft.version if version is None else version,
        issued_by_id=therapist.user_id,
        now=NOW,
        today=today,
    )


def change(program, therapist):
    return draft_revision(program=program, drafted_by_id=therapist.user_id, now=NOW, today=TODAY)


def test_a_first_draft_is_empty_and_daily_from_today(patient, therapist):
    draft = begin(patient, therapist)
    assert (draft.number, draft.status, draft.pain_limit) == (1, RevisionStatus.DRAFT, 4)
    assert draft.schedule == DAILY
    assert draft.program.status == ProgramStatus.DRAFT
    assert not draft.prescriptions.exists()


def test_a_patient_has_one_live_program(patient, therapist, issued_program):
    with pytest.raises(ProgramError, match="has a program already"):
        begin(patient, therapist)
    complete_program(program=issued_program, today=TODAY)
    assert begin(patient, therapist).program != issued_program


@pytest.mark.databases_differ
@pytest.mark.django_db(transaction=True)
def test_two_therapists_who_begin_at_once_make_one_program(patient, therapist):
    results = race(2, lambda _index: begin(patient, therapist))
    assert sorted(isinstance(one, ProgramError) for one in results) == [False, True]
    assert Program.objects.count() == 1


def test_saving_keeps_everything_that_was_typed(patient, therapist):
    draft = begin(patient, therapist)
    exercise = factories.ExerciseFactory(side_mode=SideMode.ONE_SIDE)
    rung = factories.RungFactory(exercise=exercise)
    dose = replace(
        TWELVE,
        side=Side.LEFT,
        tempo=(3, 0, 3),
        load_value=Decimal("2.5"),
        load_unit=LoadUnit.KG,
        effort_target=6,
    )
    week = Schedule(
        Pattern.WEEKDAYS,
        starts_on=TODAY,
        times_per_day=2,
        weekdays=frozenset({0, 3}),
        ends_on=TODAY + timedelta(days=40),
    )
    saved = save(
        draft,
        therapist,
        content(
            Item(exercise.current_id, dose, rung.pk, "Hold on to the wall."),
            title="Other title",
            schedule=week,
            pain_limit=3,
            continue_after_sharp_pain=True,
            note_to_patient="Slow and steady.",
            reason="Settled by morning",
        ),
    )
    item = saved.prescriptions.get()
    assert (item.dose, item.rung, item.note) == (dose, rung, "Hold on to the wall.")
    assert saved.schedule == week
    assert (saved.pain_limit, saved.continue_after_sharp_pain) == (3, True)
    assert (saved.note_to_patient, saved.reason) == ("Slow and steady.", "Settled by morning")
    assert (saved.version, saved.minutes) == (2, 6)
    assert Program.objects.get().title == "Other title"


def test_the_later_of_two_editors_is_told(patient, therapist):
    draft = begin(patient, therapist)
    opened = draft.version
    save(draft, therapist, content(title="Theirs"))
    with pytest.raises(DraftConflict):
        save(draft, therapist, content(title="Mine"), version=opened)
    assert Program.objects.get().title == "Theirs"


@pytest.mark.databases_differ
@pytest.mark.django_db(transaction=True)
def test_of_two_who_save_at_once_one_is_told(patient, therapist):
    draft = begin(patient, therapist)
    exercise = factories.ExerciseFactory()

    def save_mine(index):
        items = [Item(exercise.current_id, TWELVE)] * (index + 1)
        return save(ProgramRevision.objects.get(pk=draft.pk), therapist, content(*items), version=1)

    results = race(2, save_mine)
    conflicts = [isinstance(one, DraftConflict) for one in results]
    assert sorted(conflicts) == [False, True]
    assert draft.prescriptions.count() == conflicts.index(False) + 1


def test_an_empty_draft_cannot_be_issued(patient, therapist):
    draft = begin(patient, therapist)
    with pytest.raises(NotReady) as refusal:
        issue(draft, therapist)
    assert [(position, problem.code) for position, problem in refusal.value.problems] == [
        (None, "EMPTY")
    ]
    assert latest_program(patient.pk).revisions == ()


def test_a_dose_that_does_not_fit_the_exercise_cannot_be_issued(patient, therapist):
    draft = begin(patient, therapist)
    sided = factories.ExerciseFactory(side_mode=SideMode.ONE_SIDE)
    draft = save(draft, therapist, content(Item(sided.current_id, TWELVE)))
    with pytest.raises(NotReady) as refusal:
        issue(draft, therapist)
    assert [(p, problem.field) for p, problem in refusal.value.problems] == [(1, "side")]


def test_a_last_day_that_has_passed_cannot_be_issued(patient, therapist):
    draft = begin(patient, therapist)
    past = replace(DAILY, starts_on=TODAY - timedelta(days=9), ends_on=TODAY - timedelta(days=1))
    exercise = factories.ExerciseFactory()
    what = content(Item(exercise.current_id, TWELVE), schedule=past)
    draft = save(draft, therapist, what)
    with pytest.raises(NotReady) as refusal:
        issue(draft, therapist)
    assert [problem.code for _position, problem in refusal.value.problems] == ["PAST"]


def test_an_unusual_dose_is_a_notice_and_can_be_issued(patient, therapist):
    draft = begin(patient, therapist)
    exercise = factories.ExerciseFactory()
    draft = save(draft, therapist, content(Item(exercise.current_id, replace(TWELVE, sets=9))))
    assert [(p, problem.severity) for p, problem in problems_of(draft)] == [(1, "notice")]
    assert issue(draft, therapist).status == RevisionStatus.ISSUED


def test_issuing_puts_it_in_force_from_today(patient, therapist):
    draft = begin(patient, therapist)
    draft = save(draft, therapist, content(Item(factories.ExerciseFactory().current_id, TWELVE)))
    issued = issue(draft, therapist)
    assert (issued.effective_from, issued.issued_by_id) == (TODAY, therapist.user_id)
    view = latest_program(patient.pk)
    assert view.status is ProgramStatus.ACTIVE
    assert view.revision_on(TODAY).id == issued.pk
    assert not issued.is_step_up


def test_issuing_with_a_later_start_waits_for_it(issued_program, patient, therapist):
    draft = change(issued_program, therapist)
    later = TODAY + timedelta(days=5)
    exercise = factories.ExerciseFactory()
    what = content(Item(exercise.current_id, TWELVE), schedule=replace(DAILY, starts_on=later))
    issued = issue(save(draft, therapist, what), therapist)
    view = latest_program(patient.pk)
    assert view.revision_on(later - timedelta(days=1)).number == 1
    assert view.revision_on(later).id == issued.pk


def test_a_new_revision_ends_the_one_before_and_leaves_it_as_it_was(issued_program, therapist):
    first = issued_program.revisions.get()
    before = [item.dose for item in first.prescriptions.order_by("position")]
    draft = change(issued_program, therapist)
    exercise = factories.ExerciseFactory()
    issued = issue(save(draft, therapist, content(Item(exercise.current_id, TWELVE))), therapist)
    first.refresh_from_db()
    assert (first.status, first.effective_until) == (RevisionStatus.SUPERSEDED, TODAY)
    assert [item.dose for item in first.prescriptions.order_by("position")] == before
    assert issued.is_step_up  # an exercise that was not there before


def test_a_draft_begins_as_a_copy_of_what_is_in_force(issued_program, therapist):
    first = issued_program.revisions.get()
    draft = change(issued_program, therapist)
    assert draft.number == 2
    assert [row.dose for row in draft.prescriptions.order_by("position")] == [
        row.dose for row in first.prescriptions.order_by("position")
    ]
    assert draft.starts_on == TODAY
    assert change(issued_program, therapist).pk == draft.pk


def test_issuing_something_else_than_was_looked_at_is_refused(issued_program, therapist):
    draft = change(issued_program, therapist)
    looked_at = draft.version
    item = Item(factories.ExerciseFactory().current_id, TWELVE)
    save(draft, therapist, content(item))
    with pytest.raises(DraftConflict):
        issue(draft, therapist, version=looked_at)


@pytest.mark.databases_differ
@pytest.mark.django_db(transaction=True)
def test_a_double_press_issues_once(issued_program, therapist):
    draft = change(issued_program, therapist)
    results = race(3, lambda _index: issue(draft, therapist))
    assert sorted(isinstance(one, DraftConflict) for one in results) == [False, True, True]
    assert issued_program.revisions.filter(status=RevisionStatus.ISSUED).count() == 1


def test_discarding_leaves_what_is_in_force(issued_program, therapist):
    discard_draft(draft=change(issued_program, therapist))
    assert issued_program.revisions.get().status == RevisionStatus.ISSUED


def test_discarding_the_only_draft_takes_the_program_with_it(patient, therapist):
    discard_draft(draft=begin(patient, therapist))
    assert not Program.objects.exists()


def test_an_issued_revision_is_not_discarded(issued_program):
    discard_draft(draft=issued_program.revisions.get())
    assert issued_program.revisions.get().status == RevisionStatus.ISSUED


def pause(program, therapist, starts_on=TODAY, ends_on=None):
    return pause_program(
        program=program,
        starts_on=starts_on,
        ends_on=ends_on,
        reason=PauseReason.UNWELL,
        set_by_id=therapist.user_id,
        now=NOW,
    )


def test_a_pause_holds_until_it_is_resumed(issued_program, patient, therapist):
    pause(issued_program, therapist, TODAY - timedelta(days=2))
    assert latest_program(patient.pk).is_paused(TODAY)
    assert resume_program(program=issued_program, today=TODAY) == 1
    assert not latest_program(patient.pk).is_paused(TODAY)
    assert latest_program(patient.pk).is_paused(TODAY - timedelta(days=1))


def test_resuming_drops_a_pause_that_is_to_come(issued_program, therapist):
    pause(issued_program, therapist, TODAY + timedelta(days=3))
    resume_program(program=issued_program, today=TODAY)
    assert not ProgramPause.objects.exists()


@pytest.mark.parametrize(
    ("starts", "ends"), [(0, None), (-5, 1), (-5, None), (2, 5), (0, 20)], ids=str
)
def test_pauses_do_not_overlap(issued_program, therapist, starts, ends):
    pause(issued_program, therapist, TODAY, TODAY + timedelta(days=4))
    with pytest.raises(ProgramError, match="on these days already"):
        pause(
            issued_program,
            therapist,
            TODAY + timedelta(days=starts),
            None if ends is None else TODAY + timedelta(days=ends),
        )


def test_pauses_may_touch(issued_program, therapist):
    pause(issued_program, therapist, TODAY, TODAY + timedelta(days=4))
    pause(issued_program, therapist, TODAY + timedelta(days=4))
    assert ProgramPause.objects.count() == 2


def test_a_pause_ends_after_it_begins(issued_program, therapist):
    with pytest.raises(ProgramError, match="later day"):
        pause(issued_program, therapist, TODAY, TODAY)


def test_what_was_never_issued_is_neither_paused_nor_completed(patient, therapist):
    program = begin(patient, therapist).program
    with pytest.raises(ProgramError):
        pause(program, therapist)
    with pytest.raises(ProgramError):
        complete_program(program=program, today=TODAY)


def test_completing_drops_the_draft_and_ends_what_is_due(issued_program, patient, therapist):
    change(issued_program, therapist)
    complete_program(program=issued_program, today=TODAY)
    view = latest_program(patient.pk)
    assert (view.status, view.completed_on) == (ProgramStatus.COMPLETED, TODAY)
    assert not view.has_draft
    assert view.starts_on == STARTED_ON
    with pytest.raises(ProgramError, match="has ended"):
        change(issued_program, therapist)


def test_an_unknown_program_is_not_issued(issued_program, therapist):
    draft = change(issued_program, therapist)
    discard_draft(draft=draft)
    with pytest.raises((DraftConflict, ObjectDoesNotExist)):
        issue(draft, therapist)
