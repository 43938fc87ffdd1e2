"""Two people at one program: a draft is issued once, saved once a version, begun once."""

from __future__ import annotations

from collections import Counter

import pytest

from programs.models import Program, ProgramRevision, RevisionStatus
from programs.operations.programs import (
    DraftConflict,
    DraftContent,
    Item,
    ProgramError,
    draft_program,
    draft_revision,
    issue_revision,
    pause_program,
    save_draft,
)
from tests.factories import NOW, TODAY
from tests.race import race

MANY = 6

pytestmark = [pytest.mark.databases_differ, pytest.mark.django_db(transaction=True)]


def kinds(results: list) -> Counter[type]:
    return Counter(type(result) for result in results)


@pytest.fixture
def draft(transactional_db, issued_program, therapist) -> ProgramRevision:
    """The next revision of a running program, not issued yet."""
    return draft_revision(
        program=issued_program, drafted_by_id=therapist.user_id, now=NOW, today=TODAY
    )


def issue(draft: ProgramRevision, by_id: int) -> ProgramRevision:
    return issue_revision(
        draft=ProgramRevision.objects.get(pk=draft.pk),
        version=draft.version,
        issued_by_id=by_id,
        now=NOW,
        today=TODAY,
    )


def test_one_of_many_issues_a_draft(draft, therapist, colleague):
    people = [therapist.user_id, colleague.user_id]
    results = race(MANY, lambda index: issue(draft, people[index % 2]))
    assert kinds(results) == {ProgramRevision: 1, DraftConflict: MANY - 1}
    winner = next(result for result in results if isinstance(result, ProgramRevision))
    in_force = draft.program.revisions.get(status=RevisionStatus.ISSUED)
    assert (in_force.pk, in_force.issued_by_id) == (draft.pk, winner.issued_by_id)
    before = draft.program.revisions.get(status=RevisionStatus.SUPERSEDED)
    assert before.effective_until == in_force.effective_from


def test_a_draft_is_issued_as_it_was_looked_at_or_not_at_all(draft, therapist):
    """One saves while another issues: never is a content issued that the issuer has not seen."""
    item = draft.prescriptions.first()
    content = DraftContent(
        title="Changed meanwhile",
        items=[Item(item.exercise_revision_id, item.dose)],
        schedule=draft.schedule,
        note_to_patient="Changed meanwhile.",
    )

    def save_or_issue(index: int) -> object:
        if index % 2:
            return issue(draft, therapist.user_id)
        return save_draft(
            draft=ProgramRevision.objects.get(pk=draft.pk),
            version=draft.version,
            content=content,
            edited_by_id=therapist.user_id,
            now=NOW,
        )

    results = race(MANY, save_or_issue)
    assert kinds(results) == {ProgramRevision: 1, DraftConflict: MANY - 1}
    draft.refresh_from_db()
    assert (draft.status == RevisionStatus.ISSUED) == (draft.note_to_patient == "")
    assert draft.prescriptions.count() == (3 if draft.status == RevisionStatus.ISSUED else 1)


def test_one_of_many_saves_a_version(draft, therapist):
    item = draft.prescriptions.first()

    def save(index: int) -> ProgramRevision:
        return save_draft(
            draft=ProgramRevision.objects.get(pk=draft.pk),
            version=draft.version,
            content=DraftContent(
                title=f"Title {index}",
                items=[Item(item.exercise_revision_id, item.dose)] * (index + 1),
                schedule=draft.schedule,
                note_to_patient=f"Note {index}",
            ),
            edited_by_id=therapist.user_id,
            now=NOW,
        )

    results = race(MANY, save)
    assert kinds(results) == {ProgramRevision: 1, DraftConflict: MANY - 1}
    draft.refresh_from_db()
    number = int(draft.note_to_patient.removeprefix("Note "))
    assert draft.prescriptions.count() == number + 1
    assert draft.program.title == f"Title {number}"


def test_many_begin_a_program_and_one_does(transactional_db, patient, therapist):
    def begin(index: int) -> ProgramRevision:
        return draft_program(
            patient=patient,
            title=f"Program {index}",
            drafted_by_id=therapist.user_id,
            pain_limit=5,
            now=NOW,
            today=TODAY,
        )

    assert kinds(race(MANY, begin)) == {ProgramRevision: 1, ProgramError: MANY - 1}
    assert Program.objects.get().revisions.count() == 1


def test_many_open_the_next_draft_and_share_it(transactional_db, issued_program, therapist):
    def open_draft(_index: int) -> ProgramRevision:
        return draft_revision(
            program=issued_program, drafted_by_id=therapist.user_id, now=NOW, today=TODAY
        )

    results = race(MANY, open_draft)
    assert kinds(results) == {ProgramRevision: MANY}, results
    assert len({draft.pk for draft in results}) == 1
    assert issued_program.revisions.count() == 2


def test_many_pause_a_program_and_one_does(transactional_db, issued_program, therapist):
    def pause(_index: int) -> object:
        return pause_program(
            program=issued_program,
            starts_on=TODAY,
            ends_on=None,
            reason="AWAY",
            set_by_id=therapist.user_id,
            now=NOW,
        )

    results = race(MANY, pause)
    assert kinds(results)[ProgramError] == MANY - 1, results
    assert issued_program.pauses.count() == 1
