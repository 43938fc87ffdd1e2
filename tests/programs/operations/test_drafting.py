"""Saving what an editor holds, whether there was a draft before or not."""

from __future__ import annotations

import uuid

import pytest

from programs.models import ProgramRevision, RevisionStatus
from programs.operations.drafting import save_program_draft
from programs.operations.programs import (
    DraftConflict,
    DraftContent,
    Item,
    ProgramError,
    complete_program,
    discard_draft,
    draft_revision,
    issue_revision,
)
from programs.rules.dose import Dose, DoseKind, Side
from programs.rules.schedule import Pattern, Schedule
from tests import factories
from tests.factories import NOW, TODAY
from tests.race import race

TWELVE = Dose(DoseKind.REPETITIONS, 3, 12, None, None, 45, Side.BILATERAL)


@pytest.fixture
def editor(issued_program, therapist):
    """Save an editor's content for the issued program: `editor(draft_id, version, …)`."""

    def save(draft_id=None, version=0, *, items=(), title="Mine"):
        return save_program_draft(
            program=issued_program,
            draft_id=draft_id,
            version=version,
            content=DraftContent(title, items, Schedule(Pattern.DAILY, starts_on=TODAY)),
            edited_by_id=therapist.user_id,
            now=NOW,
            today=TODAY,
        )

    return save


@pytest.fixture
def draft(issued_program, therapist):
    return draft_revision(
        program=issued_program, drafted_by_id=therapist.user_id, now=NOW, today=TODAY
    )


def test_without_a_draft_saving_begins_one(editor, issued_program):
    exercise = factories.ExerciseFactory()
    saved = editor(items=[Item(exercise.current_id, TWELVE)])
    assert (saved.number, saved.status) == (2, RevisionStatus.DRAFT)
    assert saved.prescriptions.get().exercise_revision_id == exercise.current_id
    assert issued_program.revisions.get(number=1).status == RevisionStatus.ISSUED


def test_saving_goes_on_where_it_was_left(editor):
    first = editor()
    again = editor(first.pk, first.version, title="Mine, again")
    assert (again.pk, again.version) == (first.pk, first.version + 1)


def test_a_draft_that_somebody_began_meanwhile_is_a_conflict(editor, draft):
    with pytest.raises(DraftConflict):
        editor()


def test_a_draft_that_somebody_saved_meanwhile_is_a_conflict(editor, draft):
    opened = draft.version
    editor(draft.pk, opened, title="Theirs")
    with pytest.raises(DraftConflict):
        editor(draft.pk, opened)


def test_a_draft_that_was_issued_meanwhile_is_a_conflict(editor, draft, therapist):
    issue_revision(
        draft=draft, version=draft.version, issued_by_id=therapist.user_id, now=NOW, today=TODAY
    )
    with pytest.raises(DraftConflict):
        editor(draft.pk, draft.version)


def test_a_draft_that_was_discarded_meanwhile_is_a_conflict(editor, draft, issued_program):
    opened = draft.pk
    discard_draft(draft=draft)
    with pytest.raises(DraftConflict):
        editor(opened, 1)
    assert issued_program.revisions.count() == 1


def test_nothing_is_saved_into_a_program_that_has_ended(editor, issued_program):
    complete_program(program=issued_program, today=TODAY)
    with pytest.raises(ProgramError, match="has ended"):
        editor()


def test_another_clinics_exercise_cannot_be_prescribed(editor, other_clinic, issued_program):
    theirs = factories.ExerciseFactory(clinic=other_clinic)
    with pytest.raises(ProgramError, match="cannot prescribe"):
        editor(items=[Item(theirs.current_id, TWELVE)])
    assert issued_program.revisions.count() == 1


def test_an_unknown_exercise_or_rung_cannot_be_prescribed(editor):
    known = factories.ExerciseFactory().current_id
    for item in (Item(uuid.uuid4(), TWELVE), Item(known, TWELVE, rung_id=uuid.uuid4())):
        with pytest.raises(ProgramError, match="cannot prescribe"):
            editor(items=[item])


@pytest.mark.databases_differ
@pytest.mark.django_db(transaction=True)
def test_of_two_who_begin_a_draft_at_once_one_is_told(editor, issued_program):
    results = race(2, lambda index: editor(title=f"Editor {index}"))
    assert sorted(isinstance(one, DraftConflict) for one in results) == [False, True]
    assert ProgramRevision.objects.filter(status=RevisionStatus.DRAFT).count() == 1
