"""The caseload: who comes first, why, and that many patients cost no more questions than few."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from adherence.models import FollowUpKind, FollowUpStatus, Outcome
from adherence.operations.flags import acknowledge_flag, close_flag, record_follow_up
from adherence.queries.caseload import (
    CaseloadFilter,
    NextAction,
    caseload_page,
    caseload_rows,
    heading_of,
)
from adherence.rules.adherence import AdherenceState
from adherence.rules.flags import FlagKind, Severity
from clinic.access import viewer_for
from programs.models import PauseReason
from programs.operations.programs import pause_program
from tests import factories
from tests.adherence.story import Story
from tests.factories import JOINED, NOW, STARTED_ON, TODAY


@pytest.fixture
def viewer(therapist, now):
    return viewer_for(therapist.user)


@pytest.fixture
def make(therapist, issue_program, now):
    """Return a function that adds a patient of the therapist's with a program from February."""

    def add(name: str = "Sample", *, with_program: bool = True, **values) -> Story:
        patient = factories.PatientFactory(
            clinic=therapist.clinic, given_name="Pat", family_name=name, **values
        )
        factories.CareRelationshipFactory(patient=patient, therapist=therapist)
        program = issue_program(patient, therapist) if with_program else None
        return Story(program, patient, therapist.user_id, today=TODAY)

    return add


def steady(story: Story, *, until: int = 0) -> Story:
    """Log every day up to `until` days before today."""
    for offset in range((TODAY - STARTED_ON).days - until):
        story.done(3, on=STARTED_ON + timedelta(days=offset))
    return story


def row_of(viewer, story: Story):
    return next(r for r in caseload_rows(viewer, now=NOW) if r.patient_id == story.patient.pk)


def test_one_row_a_patient_of_ones_own(viewer, make, other_patient, outside_patient):
    mine = make()
    assert [row.patient_id for row in caseload_rows(viewer, now=NOW)] == [mine.patient.pk]


def test_a_patient_who_was_discharged_or_moved_is_not_there(viewer, make):
    gone, moved = make("Gone"), make("Moved")
    gone.patient.discharged_at = NOW
    gone.patient.save()
    moved.patient.care.update(ends_at=NOW - timedelta(days=1))
    assert caseload_rows(viewer, now=NOW) == []


def test_a_row_tells_what_can_be_counted(viewer, make):
    story = steady(make(problem="Left ankle", date_of_birth=TODAY.replace(year=1986)))
    row = row_of(viewer, story)
    assert (row.age, row.problem, row.week) == (40, "Left ankle", 6)
    assert row.state == AdherenceState.ON_TARGET
    assert row.why == "13 of 13 sessions in 14 days."
    assert len(row.cells) == len(row.pain) == 28
    assert row.cells[-1].state == "OPEN"
    assert [cell.state for cell in row.cells[:-1]] == ["DONE"] * 27
    assert row.pain[-2:] == (3, None)
    assert row.usual_low < 3 < row.usual_high
    assert not row.needs_somebody


def test_nobody_is_a_year_older_before_the_birthday(viewer, make):
    born = (TODAY + timedelta(days=1)).replace(year=1986)
    assert row_of(viewer, make(date_of_birth=born)).age == 39
    assert row_of(viewer, make()).age is None


def test_no_program_and_no_data_are_told_apart(viewer, make):
    empty = row_of(viewer, make(with_program=False))
    assert empty.state == AdherenceState.NO_PROGRAM
    assert (empty.has_due, empty.has_pain, empty.action) == (False, False, NextAction.PROGRAM)
    silent = row_of(viewer, make())
    assert (silent.has_due, silent.has_pain) == (True, False)
    assert {cell.state for cell in silent.cells} == {"NO_ENTRY", "OPEN"}


def test_silence_counts_days_and_asks_for_somebody(viewer, make):
    row = row_of(viewer, steady(make(), until=9))
    assert row.state == AdherenceState.SILENT
    assert row.why == "No entry and no reason for 10 days."
    assert row.needs_somebody
    assert row.action == NextAction.CALL
    paper = row_of(viewer, steady(make(uses_paper=True), until=9))
    assert paper.action == NextAction.PAPER


def test_silence_that_somebody_called_about_does_not_ask_again(viewer, make):
    story = steady(make(), until=9)
    call = {"patient": story.patient, "flag": None, "kind": FollowUpKind.CALL, "note": ""}
    record_follow_up(**call, due_on=None, by_id=story.by_id, now=NOW - timedelta(days=2))
    row = row_of(viewer, story)
    assert row.last_contact_days == 2
    assert not row.needs_somebody


def test_a_planned_follow_up_asks_for_somebody_on_its_day(viewer, make):
    story = steady(make())
    plan = {"patient": story.patient, "flag": None, "kind": FollowUpKind.BOOK, "note": ""}
    later = record_follow_up(**plan, due_on=TODAY + timedelta(days=3), by_id=story.by_id, now=NOW)
    assert not row_of(viewer, story).needs_somebody
    later.due_on = TODAY
    later.save()
    row = row_of(viewer, story)
    assert row.needs_somebody
    assert (row.action, row.planned_id) == (NextAction.FOLLOW_UP, later.pk)


def test_paused_is_no_reason_to_call(viewer, make):
    story = steady(make(), until=9)
    pause_program(
        program=story.program,
        starts_on=TODAY - timedelta(days=9),
        ends_on=None,
        reason=PauseReason.AWAY,
        set_by_id=story.by_id,
        now=NOW,
    )
    row = row_of(viewer, story)
    assert row.state == AdherenceState.PAUSED
    assert not row.needs_somebody


def test_well_known_with_nothing_due_is_not_new(viewer, make):
    story = steady(make(), until=15)
    pause_program(
        program=story.program,
        starts_on=TODAY - timedelta(days=15),
        ends_on=TODAY,
        reason=PauseReason.AWAY,
        set_by_id=story.by_id,
        now=NOW - timedelta(days=15),
    )
    row = row_of(viewer, story)
    assert row.state == AdherenceState.ON_TARGET
    assert row.why == "Nothing was due in the last two weeks."


def test_order_is_need(viewer, make):
    good = steady(make("Good"))
    silent = steady(make("Quiet"), until=9)
    seen = steady(make("Seen"))
    look = steady(make("Look"))
    sharp = steady(make("Sharp"))
    for story, kind, severity, days in (
        (seen, FlagKind.SHARP_PAIN, Severity.ACT_NOW, 9),
        (look, FlagKind.RISING_PAIN, Severity.LOOK, 5),
        (sharp, FlagKind.SHARP_PAIN, Severity.ACT_NOW, 0),
    ):
        flag = factories.FlagFactory(
            program=story.program,
            kind=kind,
            severity=severity,
            raised_on=TODAY - timedelta(days=days),
        )
        if story is seen:
            acknowledge_flag(flag=flag, by_id=story.by_id, now=NOW)
    page = caseload_page(viewer, now=NOW)
    order = [row.patient_id for row in page.rows]
    assert order == [s.patient.pk for s in (sharp, look, silent, seen, good)]
    assert page.heading == "Three people first, then you are done"
    assert [row.needs_somebody for row in page.rows] == [True, True, True, False, False]


def test_the_flag_that_nobody_has_seen_comes_first_in_its_row(viewer, make):
    story = make()
    old = factories.FlagFactory(
        program=story.program, kind=FlagKind.SHARP_PAIN, severity=Severity.ACT_NOW
    )
    acknowledge_flag(flag=old, by_id=story.by_id, now=NOW)
    new = factories.FlagFactory(program=story.program, kind=FlagKind.MISSED_SESSIONS)
    row = row_of(viewer, story)
    assert [flag.id for flag in row.flags] == [new.pk, old.pk]
    assert row.new_flag.id == new.pk


def test_usual_is_learned_anew_after_a_new_level_was_accepted(viewer, make):
    story = make()
    for offset in range(30):
        story.done(2 if offset < 15 else 6, on=STARTED_ON + timedelta(days=offset))
    assert row_of(viewer, story).usual_high < 4
    flag = factories.FlagFactory(program=story.program, kind=FlagKind.RISING_PAIN)
    close_flag(
        flag=flag,
        outcome=Outcome.NEW_LEVEL_ACCEPTED,
        note="",
        by_id=story.by_id,
        now=NOW - timedelta(days=10),
    )
    assert row_of(viewer, story).usual_low > 4


def test_filters_count_and_narrow(viewer, make):
    flagged = steady(make("Flagged"))
    factories.FlagFactory(program=flagged.program)
    silent = steady(make("Quiet"), until=9)
    steady(make("Good"))
    page = caseload_page(viewer, now=NOW, only=CaseloadFilter.SILENT)
    assert [row.patient_id for row in page.rows] == [silent.patient.pk]
    assert page.total == 3
    counts = {chip.code: chip.count for chip in page.chips}
    assert counts[CaseloadFilter.ALL] == 3
    assert counts[CaseloadFilter.FLAGGED] == 1
    assert counts[CaseloadFilter.SILENT] == 1
    assert counts[CaseloadFilter.PAUSED] == 0
    assert [chip.code for chip in page.chips if chip.is_current] == [CaseloadFilter.SILENT]


@pytest.mark.parametrize(
    ("name", "found"), [("achterberg", 1), ("PAT acht", 1), ("pat", 2), ("zz", 0), ("", 2)]
)
def test_search_finds_any_part_of_a_name(viewer, make, name, found):
    make("Achterberg", with_program=False)
    make("Quist", with_program=False)
    assert len(caseload_page(viewer, now=NOW, name=name).rows) == found


@pytest.mark.parametrize(
    ("first", "total", "heading"),
    [
        (0, 0, "Caseload"),
        (0, 5, "Nobody waits for you"),
        (1, 5, "One person first, then you are done"),
        (7, 42, "Seven people first, then you are done"),
        (13, 42, "13 people first, then you are done"),
    ],
)
def test_the_heading_counts(first, total, heading):
    assert heading_of(first, total) == heading


def test_questions_to_the_database_do_not_grow_with_the_caseload(viewer, make):
    def asked() -> int:
        with CaptureQueriesContext(
            connection,
        ) as queries:
            caseload_rows(viewer, now=NOW)
        return len(queries)

    steady(make())
    few = asked()
    for number in range(6):
        story = steady(make(f"More {number}"))
        factories.FlagFactory(program=story.program)
        factories.FollowUpFactory(
            patient=story.patient,
            recorded_by_id=story.by_id,
            status=FollowUpStatus.DONE,
            done_at=JOINED,
        )
    assert asked() == few <= 11
