"""The database itself refuses to change what has been issued."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.db.models import F

from programs.models import Prescription, Program, ProgramRevision, RevisionStatus
from programs.operations.programs import draft_revision
from tests import factories
from tests.factories import NOW, TODAY

pytestmark = [pytest.mark.databases_differ, pytest.mark.django_db]


def change(model, row, **values):
    with transaction.atomic():
        return model.objects.filter(pk=row.pk).update(**values)


@pytest.fixture
def issued(issued_program):
    return issued_program.revisions.get()


@pytest.mark.parametrize(
    "values",
    [
        {"pattern": "WEEKLY_QUOTA", "weekly_quota": 3},
        {"times_per_day": 3},
        {"weekdays": [1]},
        {"starts_on": TODAY},
        {"ends_on": TODAY + timedelta(days=30)},
        {"pain_limit": 9},
        {"continue_after_sharp_pain": True},
        {"note_to_patient": "Other words."},
        {"reason": "Other reason"},
        {"is_step_up": True},
        {"minutes": 1},
        {"number": 7},
        {"effective_from": TODAY},
        {"issued_at": NOW},
        {"version": F("version") + 1},
    ],
    ids=lambda values: next(iter(values)),
)
def test_nothing_that_was_issued_changes(issued, values):
    with pytest.raises(IntegrityError, match="never changes"):
        change(ProgramRevision, issued, **values)


def test_an_issued_revision_never_becomes_a_draft_again(issued):
    with pytest.raises(IntegrityError, match="never changes"):
        change(
            ProgramRevision,
            issued,
            status=RevisionStatus.DRAFT,
            issued_at=None,
            issued_by=None,
            effective_from=None,
        )


def test_an_issued_revision_may_be_superseded_and_its_end_moved(issued):
    superseded = {"status": RevisionStatus.SUPERSEDED, "effective_until": TODAY}
    assert change(ProgramRevision, issued, **superseded) == 1
    assert change(ProgramRevision, issued, effective_until=TODAY - timedelta(days=1)) == 1


def test_saving_an_issued_revision_unchanged_is_no_change(issued):
    issued.refresh_from_db()
    issued.save()
    for prescription in issued.prescriptions.all():
        prescription.save()


@pytest.mark.parametrize(
    "values",
    [
        {"sets": 5},
        {"repetitions": 1},
        {"rest_seconds": 0},
        {"tempo": None},
        {"load_value": 2, "load_unit": "KG"},
        {"band": "FIRM"},
        {"effort_target": 3},
        {"note": "Other words."},
        {"position": 9},
        {"side": "LEFT"},
    ],
    ids=lambda values: next(iter(values)),
)
def test_no_exercise_of_an_issued_revision_changes(issued, values):
    first = issued.prescriptions.get(position=1)
    with pytest.raises(IntegrityError, match="never changes"):
        change(Prescription, first, **values)


def test_no_exercise_wanders_into_or_out_of_an_issued_revision(issued_program, issued, therapist):
    draft = draft_revision(
        program=issued_program, drafted_by_id=therapist.user_id, now=NOW, today=TODAY
    )
    out = issued.prescriptions.get(position=1)
    with pytest.raises(IntegrityError, match="never changes"):
        change(Prescription, out, revision=draft, position=9)
    into = draft.prescriptions.get(position=1)
    with pytest.raises(IntegrityError, match="never changes"):
        change(Prescription, into, revision=issued, position=9)


def test_an_exercise_may_lose_its_rung_but_not_get_another(issued, issued_program, therapist):
    rung = factories.RungFactory()
    draft = draft_revision(
        program=issued_program, drafted_by_id=therapist.user_id, now=NOW, today=TODAY
    )
    item = draft.prescriptions.get(position=1)
    change(Prescription, item, rung=rung)
    draft.status = RevisionStatus.SUPERSEDED
    draft.issued_by, draft.issued_at = therapist.user, NOW
    draft.effective_from = draft.effective_until = TODAY
    draft.save()
    with pytest.raises(IntegrityError, match="never changes"):
        change(Prescription, item, rung=factories.RungFactory())
    rung.delete()
    item.refresh_from_db()
    assert item.rung_id is None


def test_a_draft_changes_freely(issued_program, therapist):
    draft = draft_revision(
        program=issued_program, drafted_by_id=therapist.user_id, now=NOW, today=TODAY
    )
    assert change(ProgramRevision, draft, pain_limit=3, note_to_patient="x") == 1
    assert change(Prescription, draft.prescriptions.get(position=1), sets=5) == 1


def test_a_whole_program_can_still_be_erased(issued_program):
    issued_program.delete()
    assert not Program.objects.exists()
    assert not Prescription.objects.exists()
