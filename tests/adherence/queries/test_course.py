"""The patient page: days, measures, flags with their evidence, and what was done about them."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest

from adherence.models import FollowUpKind, Outcome, PainMoment
from adherence.operations.flags import answer_flag, close_flag, record_follow_up, review_patient
from adherence.queries.course import SPANS, ProgramPhase, course_page
from adherence.rules.course_chart import PointShape
from adherence.rules.flags import FlagKind
from programs.models import PauseReason
from programs.operations.programs import complete_program, draft_program, pause_program
from tests import factories
from tests.adherence.story import Story, rising
from tests.factories import NOW, STARTED_ON, TODAY


@pytest.fixture
def story(issued_program, patient, therapist) -> Story:
    return Story(issued_program, patient, therapist.user_id)


def page_of(story: Story, span: str = "6w", now=None):
    return course_page(story.patient, span=span, now=now or NOW)


@pytest.mark.parametrize(("span", "days"), [("2w", 14), ("6w", 42), ("12w", 84), ("all", 38)])
def test_a_span_ends_today(story, span, days):
    page = page_of(story, span)
    assert len(page.days) == days
    assert page.days[-1].cell.date == TODAY
    assert page.span == span


def test_an_unknown_span_is_six_weeks(story):
    assert page_of(story, "nonsense").span == "6w"
    assert set(SPANS) == {"2w", "6w", "12w", "all"}


def test_each_day_says_what_became_of_it(story):
    story.today = TODAY - timedelta(days=3)
    story.done(4)
    story.today = TODAY - timedelta(days=2)
    story.not_done("NO_TIME")
    late = story.done(6, on=TODAY - timedelta(days=4))
    factories.PainRatingFactory(
        session=late, moment=PainMoment.NEXT_MORNING, score=2, local_date=TODAY - timedelta(days=3)
    )
    late.note, late.effort = "Aches at night.", 7
    late.save()
    page = page_of(story, "2w")
    words = {row.cell.date: row for row in page.days}
    assert words[TODAY].words == "still open"
    assert words[TODAY - timedelta(days=1)].words == "no entry"
    assert words[TODAY - timedelta(days=2)].words == "not done: no time"
    assert words[TODAY - timedelta(days=3)].words == "done"
    told = words[TODAY - timedelta(days=4)]
    assert (told.worst, told.effort, told.note, told.entered_later) == (
        6,
        7,
        "Aches at night.",
        True,
    )
    assert words[TODAY - timedelta(days=3)].morning == 2
    assert [(one.on, one.text) for one in page.said] == [(told.cell.date, "Aches at night.")]
    drawn = {column.column.starts_on: column.words for column in page.picture.columns}
    assert drawn[told.cell.date] == "Sat 7 Mar: done; entered later; worst pain 6"


def test_the_chart_and_the_table_tell_the_same_days(story):
    for offset in range(30):
        story.done(offset % 6, on=STARTED_ON + timedelta(days=offset))
    page = page_of(story)
    chart = page.picture.chart
    assert [column.starts_on for column in chart.columns] == [row.cell.date for row in page.days]
    rated = [row.worst for row in page.days if row.worst is not None]
    drawn = [point.score for point in chart.points if point.shape != PointShape.MORNING]
    assert drawn == rated


def test_measures_keep_each_number_apart(story):
    for offset in range(10):
        story.done(3, on=TODAY - timedelta(days=13 - offset))
    story.done(3, on=TODAY - timedelta(days=13))
    story.today = TODAY - timedelta(days=3)
    story.not_done("FEELS_BETTER")
    measures = page_of(story, "2w").measures
    assert (measures.sessions.done, measures.sessions.due) == (10, 13)
    assert measures.percents == (77, 50, 92)
    assert measures.dose_percent == 77
    assert (measures.days.done, measures.days.due) == (10, 13)
    assert measures.extras == 1
    assert measures.reasons == (("feels better", 1),)


def test_no_data_is_not_nothing_done(other_patient):
    page = course_page(other_patient, span="6w", now=NOW)
    assert page.measures.percents is None
    assert page.measures.dose_percent is None
    assert page.measures.sessions.percent is None
    assert not page.has_record
    assert page.picture.chart.band is None


# --- where the program stands -------------------------------------------------------------------


def test_without_a_program(other_patient):
    page = course_page(other_patient, span="all", now=NOW)
    assert page.phase == ProgramPhase.NONE
    assert page.in_force is None
    assert len(page.days) == 14


def test_with_a_draft_only(other_patient, colleague):
    draft_program(
        patient=other_patient,
        title="Ankle",
        drafted_by_id=colleague.user_id,
        pain_limit=5,
        now=NOW,
        today=TODAY,
    )
    assert course_page(other_patient, span="6w", now=NOW).phase == ProgramPhase.DRAFT_ONLY


def test_paused_ended_and_to_come(story, other_patient, colleague, issue_program):
    assert page_of(story).phase == ProgramPhase.RUNNING
    pause_program(
        program=story.program,
        starts_on=TODAY - timedelta(days=2),
        ends_on=TODAY + timedelta(days=2),
        reason=PauseReason.UNWELL,
        set_by_id=story.by_id,
        now=NOW,
    )
    page = page_of(story)
    assert page.phase == ProgramPhase.PAUSED
    assert [row.words for row in page.days[-3:]] == ["paused"] * 3
    complete_program(program=story.program, today=TODAY)
    page = page_of(story)
    assert (page.phase, page.week) == (ProgramPhase.ENDED, None)
    assert page.in_force is not None
    issue_program(other_patient, colleague, at=NOW + timedelta(days=5))
    coming = course_page(other_patient, span="6w", now=NOW)
    assert coming.phase == ProgramPhase.COMING


def test_the_program_in_force_has_its_doses_in_words(story):
    force = page_of(story).in_force
    assert force.revision.number == 1
    assert force.schedule == "once a day"
    assert [one.item.dose_text.split(",")[0] for one in force.items] == [
        "3 sets of 12",
        "2 holds of 30 seconds",
        "2 times 1 minute",
    ]
    assert not any(one.is_new or one.was_text for one in force.items)


# --- flags and follow-ups -----------------------------------------------------------------------


def test_an_open_flag_lays_its_evidence_open(story):
    rising(story)
    page = page_of(story, now=story.now)
    (flag,) = page.flags
    assert flag.line.title == "Pain rising"
    assert flag.line.sentence.startswith("Worst pain 5 5 4 6 5 6, usual 3.0; evidence 7.0 of 6.0.")
    figures = [row.figure for row in flag.evidence.rows]
    assert figures[:2] == ["5 of 10, sum 1.0", "5 of 10, sum 2.0"]
    assert dict(flag.evidence.figures)["usual"] == "3.0"
    assert "No flag is no reassurance" in flag.evidence.caution
    assert "1 in 3" in flag.evidence.caution
    assert flag.evidence.rule_version
    assert len(page.picture.chart.flagged) == 1


def test_missed_sessions_are_listed_with_their_reasons(story):
    story.done()
    story.today += timedelta(days=1)
    story.not_done("FORGOT")
    story.today += timedelta(days=5)
    story.review()
    page = page_of(story, now=story.now)
    (flag,) = page.flags
    assert [row.what for row in flag.evidence.rows] == ["not done: forgot", *["no entry"] * 4]
    assert flag.since == flag.evidence.rows[0].on
    assert len(page.picture.chart.missed) == 1


def test_the_thread_tells_what_was_done_and_which_flags_ended(story):
    flag = rising(story)
    answer_flag(
        flag=flag,
        kind=FollowUpKind.CALL,
        note="Back to 2 sets.",
        due_on=None,
        outcome=None,
        by_id=story.by_id,
        now=story.now,
    )
    story.today += timedelta(days=1)
    close_flag(
        flag=flag,
        outcome=Outcome.PROGRAM_CHANGED,
        note="Agreed.",
        by_id=story.by_id,
        now=story.now,
    )
    page = page_of(story, now=story.now)
    assert page.flags == ()
    ended, call = page.thread
    assert (ended.title, ended.is_flag, ended.note, ended.by) == (
        "Pain rising",
        True,
        "Agreed.",
        "Tess Arden",
    )
    assert ended.text.startswith("Closed: Program changed. Worst pain")
    assert (call.title, call.text, call.note) == ("Call", "about: Pain rising", "Back to 2 sets.")
    labels = [event.label for event in page.picture.chart.events]
    assert labels == ["flag: pain rising, call", "flag ended"]


def test_a_flag_that_cleared_itself_says_why(story):
    rising(story)
    for _day in range(3):
        story.done(3)
        story.today += timedelta(days=1)
    review_patient(patient_id=story.patient.pk, now=story.now)
    (ended,) = page_of(story, now=story.now).thread
    assert ended.text.startswith("Cleared by itself: the last ratings are near usual")


def test_planned_follow_ups_stand_apart_from_what_was_done(story):
    for days, kind in ((3, FollowUpKind.CALL), (0, FollowUpKind.BOOK)):
        record_follow_up(
            patient=story.patient,
            flag=None,
            kind=kind,
            note="",
            due_on=TODAY + timedelta(days=days),
            by_id=story.by_id,
            now=NOW,
        )
    page = page_of(story)
    assert [(one.title, one.is_due) for one in page.planned] == [("Visit", True), ("Call", False)]
    assert page.thread == ()


def test_a_stop_for_sharp_pain_is_in_the_day_and_in_the_patients_words(story):
    story.today = TODAY
    stop = story.sharp()
    stop.note = "Front of the hip."
    stop.save()
    page = page_of(story, "2w")
    assert page.days[-1].stops == (page.said[0].about,)
    assert page.said[0].text == "Front of the hip."
    assert page.flags[0].line.kind == FlagKind.SHARP_PAIN
    assert "stopped for sharp pain" in page.picture.columns[-1].words


def test_a_corrected_rating_is_drawn_once(story):
    session = story.done(9, on=TODAY)
    factories.PainRatingFactory(
        session=session, score=8, moment=PainMoment.AFTER, client_key=uuid.uuid4()
    )
    assert [point.score for point in page_of(story).picture.chart.points] == [9]


def test_two_years_are_drawn_by_weeks(story):
    for offset in range(0, 700, 2):
        story.done(3, on=STARTED_ON + timedelta(days=offset))
    page = page_of(story, "all", now=NOW + timedelta(days=700))
    assert page.picture.chart.by_weeks
    assert len(page.picture.columns) == -(-len(page.days) // 7)
    assert page.picture.columns[10].words.startswith("Week from ")
    assert page.picture.columns[10].row == page.picture.columns[11].column.starts_on - timedelta(
        days=1
    )
