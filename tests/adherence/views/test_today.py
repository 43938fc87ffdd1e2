"""Today and what hangs on it, through a real browser session: every state, and every form."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest
from django.urls import reverse

from adherence.models import PainMoment, PainRating, SessionLog, SessionStatus, SetState
from adherence.operations.pauses import pause_own_program
from programs.models import ProgramPause
from programs.operations.programs import complete_program, draft_revision, issue_revision
from programs.rules.schedule import Pattern, Schedule
from tests import factories
from tests.adherence.sessions import begin, finish, log
from tests.factories import NOW, STARTED_ON, TODAY

YESTERDAY = TODAY - timedelta(days=1)


@pytest.fixture
def browser(sign_in, patient):
    return sign_in(patient)


def text_of(answer):
    return " ".join(answer.content.decode().split())


def entered(program, on, **more):
    return factories.SessionLogFactory(
        revision=program.revisions.get(), local_date=on, done=True, **more
    )


def whole_day(items, amount="ALL", **more):
    amounts = {f"amount_{row.position}": amount for row in items}
    return {"client_key": uuid.uuid4(), **amounts, "worst": "3", **more}


# States


def test_before_a_program_there_is_a_word_and_nothing_to_start(browser):
    shown = text_of(browser.get("/today/"))
    assert "not given you a program yet" in shown
    assert reverse("session_start") not in shown


def test_a_program_that_starts_later_says_when(browser, patient, therapist, issue_program):
    issue_program(
        patient,
        therapist,
        schedule=Schedule(Pattern.DAILY, starts_on=TODAY + timedelta(days=2)),
        at=NOW - timedelta(days=1),
    )
    shown = text_of(browser.get("/today/"))
    assert "Your program starts on Friday 13 March" in shown
    assert reverse("session_start") not in shown


def test_a_due_session_has_its_exercises_and_one_button(browser, issued_program):
    entered(issued_program, YESTERDAY)
    shown = text_of(browser.get("/today/"))
    assert "One session today." in shown
    assert "3 sets of 12" in shown
    assert shown.count(reverse("session_start")) == 1
    assert reverse("yesterday") not in shown


def test_other_days_of_a_new_revision_are_said(browser, issued_program, therapist):
    by = {"now": NOW, "today": TODAY}
    draft = draft_revision(program=issued_program, drafted_by_id=therapist.user_id, **by)
    draft.pattern, draft.weekdays = Pattern.WEEKDAYS.value, [0, 2]
    draft.save()
    issue_revision(draft=draft, version=draft.version, issued_by_id=therapist.user_id, **by)
    shown = text_of(browser.get("/today/"))
    assert "Changed on" in shown
    assert "Days: Monday and Wednesday · was once a day" in shown


def test_two_sessions_a_day_are_counted(browser, patient, therapist, issue_program):
    program = issue_program(
        patient,
        therapist,
        schedule=Schedule(Pattern.DAILY, starts_on=STARTED_ON, times_per_day=2),
    )
    entered(program, TODAY)
    assert "1 of 2 sessions done today." in text_of(browser.get("/today/"))


def test_when_all_is_done_nothing_is_left_to_start(browser, issued_program):
    entered(issued_program, TODAY)
    shown = text_of(browser.get("/today/"))
    assert "All done for today." in shown
    assert reverse("session_start") not in shown


def test_a_day_that_was_not_done_is_not_praised(browser, issued_program):
    entered(issued_program, TODAY, status=SessionStatus.NOT_DONE, reason="NO_TIME", share=None)
    assert "Nothing more is due today." in text_of(browser.get("/today/"))


def test_a_day_without_a_session_says_which_is_next(browser, patient, therapist, issue_program):
    issue_program(
        patient,
        therapist,
        schedule=Schedule(Pattern.WEEKDAYS, starts_on=STARTED_ON, weekdays=frozenset({0, 4})),
    )
    assert "Nothing is due today. Next session on Friday." in text_of(browser.get("/today/"))


@pytest.mark.parametrize(("done", "can_start"), [(1, True), (3, False)])
def test_a_weekly_quota_leaves_the_day_open(
    browser, patient, therapist, issue_program, done, can_start
):
    program = issue_program(
        patient,
        therapist,
        schedule=Schedule(Pattern.WEEKLY_QUOTA, starts_on=STARTED_ON, weekly_quota=3),
    )
    for day in range(done):
        entered(program, TODAY - timedelta(days=2 - day))
    shown = text_of(browser.get("/today/"))
    assert f"{done} of 3 sessions done this week." in shown
    assert ("Any day is fine." in shown) is can_start
    assert (reverse("session_start") in shown) is can_start


def test_a_pause_says_until_when(browser, patient, issued_program):
    pause_own_program(patient=patient, reason="AWAY", days=3, set_by_id=patient.user_id, now=NOW)
    shown = text_of(browser.get("/today/"))
    assert "goes on on Saturday 14 March" in shown
    assert reverse("session_start") not in shown


def test_an_ended_program_leaves_a_kind_word(browser, issued_program):
    complete_program(program=issued_program, today=TODAY)
    shown = text_of(browser.get("/today/"))
    assert "Your program has ended." in shown
    assert reverse("session_start") not in shown


def test_an_open_session_is_gone_on_with(browser, session):
    shown = text_of(browser.get("/today/"))
    assert reverse("session", args=[session.pk]) in shown
    assert reverse("session_start") not in shown


def test_a_session_left_open_yesterday_does_not_stand_in_the_way_of_today(browser, session):
    started = NOW - timedelta(days=1)
    SessionLog.objects.filter(pk=session.pk).update(local_date=YESTERDAY, started_at=started)
    shown = text_of(browser.get("/today/"))
    assert reverse("session_start") in shown
    assert reverse("session", args=[session.pk]) not in shown
    assert reverse("yesterday") not in shown, "it counts as it stands"


def test_a_session_begun_yesterday_and_left_empty_leaves_yesterday_open(browser, issued_program):
    entered(issued_program, YESTERDAY, status=SessionStatus.STOPPED, share=0.0)
    assert reverse("yesterday") in text_of(browser.get("/today/"))


def test_the_page_takes_few_queries(browser, issued_program, django_assert_max_num_queries):
    for days in range(1, 8):
        session = entered(issued_program, TODAY - timedelta(days=days))
        factories.PainRatingFactory(session=session, score=7)
    with django_assert_max_num_queries(12):
        assert browser.get("/today/").status_code == 200


# Yesterday


def test_yesterday_is_entered_from_memory_and_marked(browser, issued_program):
    items = issued_program.revisions.get().prescriptions.all()
    answer = browser.post("/today/yesterday/", whole_day(items))
    assert answer.url == reverse("today")
    session = SessionLog.objects.get()
    assert (session.local_date, session.entered_later, session.share) == (YESTERDAY, True, 1)


def test_yesterday_is_entered_once_however_often_it_is_sent(browser, issued_program):
    data = whole_day(issued_program.revisions.get().prescriptions.all())
    for _tap in range(2):
        assert browser.post("/today/yesterday/", data).status_code == 302
    assert SessionLog.objects.count() == 1


def test_a_gap_in_yesterday_is_named_and_nothing_typed_is_lost(browser, issued_program):
    items = issued_program.revisions.get().prescriptions.all()
    data = whole_day(items, note="My knee was stiff.") | {"amount_2": ""}
    shown = text_of(browser.post("/today/yesterday/", data))
    assert "Say how much you did of it." in shown
    assert "My knee was stiff." in shown
    assert str(data["client_key"]) in shown
    assert not SessionLog.objects.exists()


def test_nothing_at_all_asks_for_the_other_way_to_say_so(browser, issued_program):
    items = issued_program.revisions.get().prescriptions.all()
    shown = text_of(browser.post("/today/yesterday/", whole_day(items, "NONE")))
    assert "Say what you did, or that it was not done." in shown


def test_without_a_program_yesterday_there_is_nothing_to_enter(browser):
    assert browser.get("/today/yesterday/").status_code == 404


# Not done


def test_not_done_keeps_the_reason_and_comes_once(browser, issued_program):
    data = {"client_key": uuid.uuid4(), "reason": "NO_TIME", "note": "Guests."}
    for _tap in range(2):
        assert browser.post("/today/not-done/", data).url == reverse("today")
    session = SessionLog.objects.get()
    assert (session.status, session.reason, session.note) == ("NOT_DONE", "NO_TIME", "Guests.")


def test_yesterday_can_be_the_day_that_was_not_done(browser, issued_program):
    data = {"client_key": uuid.uuid4(), "reason": "FORGOT"}
    browser.post("/today/not-done/?day=yesterday", data)
    assert SessionLog.objects.get().local_date == YESTERDAY


@pytest.mark.parametrize("reason", ["", "NO_SUCH_REASON"])
def test_a_missing_reason_is_asked_for_beside_the_field(browser, issued_program, reason):
    data = {"client_key": uuid.uuid4(), "reason": reason, "note": "It rained."}
    shown = text_of(browser.post("/today/not-done/", data))
    assert 'aria-describedby="id_reason_error"' in shown
    assert "It rained." in shown
    assert not SessionLog.objects.exists()


def test_a_chosen_reason_of_the_longer_list_is_in_sight_again(browser, issued_program):
    data = {"client_key": "no key", "reason": "BORING"}
    assert '<details class="how full" open>' in text_of(browser.post("/today/not-done/", data))


# The morning after


@pytest.fixture
def yesterdays(issued_program):
    session = entered(issued_program, YESTERDAY)
    factories.PainRatingFactory(session=session, score=7)
    return session


def test_the_morning_is_asked_after_a_painful_session_and_answered_once(browser, yesterdays):
    address = reverse("next_morning", args=[yesterdays.pk])
    assert address in text_of(browser.get("/today/"))
    data = {"client_key": uuid.uuid4(), "score": "2"}
    for _tap in range(2):
        assert browser.post(address, data).url == reverse("today")
    rating = PainRating.objects.get(moment=PainMoment.NEXT_MORNING)
    assert (rating.score, rating.local_date) == (2, TODAY)
    assert address not in text_of(browser.get("/today/"))


@pytest.mark.parametrize("score", ["", "11", "-1", "two"])
def test_a_morning_score_that_is_none_is_refused(browser, yesterdays, score):
    address = reverse("next_morning", args=[yesterdays.pk])
    shown = text_of(browser.post(address, {"client_key": uuid.uuid4(), "score": score}))
    assert 'aria-describedby="id_score_error"' in shown
    assert not PainRating.objects.filter(moment=PainMoment.NEXT_MORNING).exists()


def test_the_morning_of_somebody_else_is_not_found(sign_in, other_patient, yesterdays):
    address = reverse("next_morning", args=[yesterdays.pk])
    assert sign_in(other_patient).get(address).status_code == 404


# A pause


def test_a_pause_takes_two_answers_and_goes_on_again_with_one(browser, issued_program):
    data = {"client_key": uuid.uuid4(), "reason": "UNWELL", "days": "7"}
    assert browser.post("/today/pause/", data).url == reverse("today")
    assert "Paused." in text_of(browser.get("/today/"))
    assert "Go on today" in text_of(browser.get("/today/pause/"))
    browser.post("/today/pause/", {"resume": "1"})
    assert "One session today." in text_of(browser.get("/today/"))


def test_a_pause_twice_says_that_there_is_one(browser, issued_program):
    for _tap in range(2):
        data = {"client_key": uuid.uuid4(), "reason": "UNWELL", "days": "7"}
        browser.post("/today/pause/", data)
    assert ProgramPause.objects.count() == 1


@pytest.mark.parametrize("data", [{}, {"reason": "BORED", "days": "7"}, {"reason": "AWAY"}])
def test_a_pause_without_its_answers_is_not_set(browser, issued_program, data):
    assert browser.post("/today/pause/", data).status_code == 200
    assert not ProgramPause.objects.exists()


def test_going_on_without_a_program_is_said_not_thrown(browser):
    answer = browser.post("/today/pause/", {"resume": "1"}, follow=True)
    assert "no program" in text_of(answer)


def test_done_sets_show_in_the_week(browser, patient, today, plans):
    session = begin(patient, today)
    log(session, plans[0], state=SetState.DONE)
    finish(session)
    assert "Wednesday 11 March: partly done" in text_of(browser.get("/today/"))
