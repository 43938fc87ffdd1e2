"""A session as plain forms: start, sets, undo, sharp pain, the end."""

from __future__ import annotations

import json
import re
import uuid
from datetime import timedelta

import pytest
from django.urls import reverse

from adherence.models import ExerciseStop, Flag, PainMoment, PainRating, SessionLog, SetLog
from adherence.models import SessionStatus as Status
from adherence.rules.flags import FlagKind
from programs.operations.programs import (
    DraftContent,
    Item,
    draft_revision,
    issue_revision,
    save_draft,
)
from tests.adherence.sessions import finish, log
from tests.factories import NOW, TODAY

PLAN = re.compile(r'<script id="session-plan" type="application/json">(.*?)</script>', re.S)


@pytest.fixture
def browser(sign_in, patient):
    return sign_in(patient)


def text_of(answer):
    return " ".join(answer.content.decode().split())


def address(name, session, *more):
    return reverse(name, args=[session.pk, *more])


def a_set(planned, **more):
    row, plan = planned
    return {
        "client_key": uuid.uuid4(),
        "prescription": row.pk,
        "number": plan.number,
        "side": plan.side.value,
        "state": "DONE",
        **more,
    }


@pytest.fixture
def begun(browser, session):
    """The session after the first question."""
    browser.post(address("session_before", session), {"client_key": uuid.uuid4(), "score": "1"})
    return session


# Start


def test_start_leads_into_the_session_and_a_double_tap_into_the_same(browser, issued_program):
    data = {"client_key": uuid.uuid4()}
    answers = [browser.post(reverse("session_start"), data) for _tap in range(2)]
    session = SessionLog.objects.get()
    assert {answer.url for answer in answers} == {address("session", session)}
    assert (session.local_date, session.entered_later) == (TODAY, False)


@pytest.mark.parametrize(
    "data",
    [
        {},
        {"client_key": "1"},
        {"client_key": uuid.uuid4(), "on": "2026-02-30"},
        {"client_key": uuid.uuid4(), "on": TODAY + timedelta(days=1)},
        {"client_key": uuid.uuid4(), "on": TODAY - timedelta(days=9)},
    ],
)
def test_a_start_that_cannot_be_says_so_on_today(browser, issued_program, data):
    answer = browser.post(reverse("session_start"), data, follow=True)
    assert answer.redirect_chain[0][0] == reverse("today")
    assert 'class="notice' in text_of(answer)
    assert not SessionLog.objects.exists()


def test_pain_before_is_asked_first(browser, session):
    shown = text_of(browser.get(address("session", session)))
    assert "How much does it hurt now, before you start?" in shown
    assert "session-player.js" not in shown
    answer = browser.post(
        address("session_before", session), {"client_key": uuid.uuid4(), "score": "2"}
    )
    assert answer.url == address("session", session)
    assert PainRating.objects.get().moment == PainMoment.BEFORE


def test_pain_before_without_a_number_is_asked_again(browser, session):
    answer = browser.post(address("session_before", session), {"client_key": uuid.uuid4()})
    assert answer.status_code == 422
    assert "Choose a number from 0 to 10." in text_of(answer)


# Sets


def test_the_first_set_is_shown_with_what_was_planned(browser, begun, plans):
    shown = text_of(browser.get(address("session", begun)))
    assert "Exercise 1 of 3" in shown
    assert "Set 1 of 3: 12 times." in shown
    assert 'name="repetitions" value="12"' in shown
    assert address("session_stop", begun, plans[0][0].pk) in shown


def test_the_script_gets_the_whole_plan_and_what_is_logged(browser, begun, plans):
    row = log(begun, plans[0], repetitions=12)
    page = browser.get(address("session", begun)).content.decode()
    plan = json.loads(PLAN.search(page)[1])
    assert [len(item["sets"]) for item in plan["items"]] == [3, 4, 2]
    assert plan["items"][0]["tempo"] == [2, 1, 3]
    first, second, _third = plan["items"][0]["sets"]
    assert first["logged"]["key"] == str(row.client_key)
    assert second["logged"] is None
    assert plan["addresses"]["sets"] == address("api_session_sets", begun)


def test_a_set_is_logged_once_however_often_it_is_sent(browser, begun, plans):
    data = a_set(plans[0], repetitions="10")
    for _tap in range(2):
        assert browser.post(address("session_set", begun), data).status_code == 302
    assert SetLog.objects.get().repetitions == 10
    assert "Set 2 of 3" in text_of(browser.get(address("session", begun)))


def test_left_empty_a_set_was_done_as_planned(browser, begun, plans):
    browser.post(address("session_set", begun), a_set(plans[0]))
    assert SetLog.objects.get().repetitions == 12


def test_skipping_does_not_mind_what_stands_in_the_fields(browser, begun, plans):
    data = a_set(plans[0], state="SKIPPED", repetitions="many")
    browser.post(address("session_set", begun), data)
    assert (SetLog.objects.get().state, SetLog.objects.get().repetitions) == ("SKIPPED", None)


@pytest.mark.parametrize("typed", ["-3", "many", "1000", "1.5", "9" * 40])
def test_a_number_that_is_none_keeps_what_was_typed(browser, begun, plans, typed):
    data = a_set(plans[0], repetitions=typed)
    answer = browser.post(address("session_set", begun), data)
    shown = text_of(answer)
    assert answer.status_code == 422
    assert f'value="{typed}"' in shown
    assert 'id="id_repetitions_error"' in shown
    assert str(data["client_key"]) in shown
    assert not SetLog.objects.exists()


@pytest.mark.parametrize(
    "change",
    [
        {"prescription": uuid.uuid4()},
        {"prescription": ""},
        {"number": "9"},
        {"side": "BOTH"},
        {"state": "PERHAPS"},
        {"client_key": "none"},
        {"repetitions": "many", "number": "2"},
    ],
)
def test_a_set_that_is_not_in_the_session_is_refused_with_a_word(browser, begun, plans, change):
    data = a_set(plans[0]) | change
    answer = browser.post(address("session_set", begun), data, follow=True)
    assert answer.status_code == 200
    assert 'class="notice' in text_of(answer)
    assert not SetLog.objects.exists()


def test_the_last_set_is_taken_back(browser, begun, plans):
    log(begun, plans[0])
    browser.post(address("session_undo", begun))
    assert "Set 1 of 3" in text_of(browser.get(address("session", begun)))
    answer = browser.post(address("session_undo", begun), follow=True)
    assert "no set to take back" in text_of(answer)


def test_after_the_last_set_comes_the_question_how_it_was(browser, begun, plans):
    for planned in plans:
        browser.post(address("session_set", begun), a_set(planned))
    assert browser.get(address("session", begun)).url == address("session_finish", begun)


def test_logging_a_set_takes_few_queries(browser, begun, plans, django_assert_max_num_queries):
    with django_assert_max_num_queries(20):  # with the savepoints of the transaction
        browser.post(address("session_set", begun), a_set(plans[0]))


# Sharp pain


@pytest.fixture
def stop_address(begun, plans):
    return address("session_stop", begun, plans[0][0].pk)


def test_sharp_pain_shows_what_to_do_before_anything_is_asked(browser, stop_address):
    shown = text_of(browser.get(stop_address))
    assert shown.index("Emergency:") < shown.index("How bad was it?")
    assert "Call for help now if" in shown


def test_sharp_pain_stops_the_exercise_and_tells_the_team_once(browser, begun, stop_address):
    data = {"client_key": uuid.uuid4(), "prescription": "", "score": "8", "note": "Left knee"}
    data["prescription"] = stop_address.rstrip("/").rpartition("/")[2]
    for _tap in range(2):
        assert browser.post(stop_address, data).url == address("session_stopped", begun)
    assert ExerciseStop.objects.get().score == 8
    assert Flag.objects.get().kind == FlagKind.SHARP_PAIN
    assert PainRating.objects.get(moment=PainMoment.WORST).score == 8


@pytest.fixture
def lenient_program(issued_program, therapist):
    """From today the rest of a session may go on after sharp pain."""
    draft = draft_revision(
        program=issued_program, drafted_by_id=therapist.user_id, now=NOW, today=TODAY
    )
    rows = draft.prescriptions.order_by("position")
    content = DraftContent(
        title=issued_program.title,
        items=[Item(row.exercise_revision_id, row.dose) for row in rows],
        schedule=draft.schedule,
        continue_after_sharp_pain=True,
        reason="One sore joint need not stop the others.",
    )
    by = therapist.user_id
    draft = save_draft(
        draft=draft, version=draft.version, content=content, edited_by_id=by, now=NOW
    )
    issue_revision(draft=draft, version=draft.version, issued_by_id=by, now=NOW, today=TODAY)


def stop_first(browser, session):
    first = session.revision.prescriptions.order_by("position").first()
    data = {"client_key": uuid.uuid4(), "prescription": first.pk}
    browser.post(address("session_stop", session, first.pk), data)
    return text_of(browser.get(address("session_stopped", session)))


def test_sharp_pain_ends_the_session(browser, begun):
    assert "Go on with the others" not in stop_first(browser, begun)
    assert browser.get(address("session", begun)).url == address("session_finish", begun)


def test_the_others_are_offered_where_the_therapist_allows_it(browser, lenient_program, begun):
    assert "Go on with the others" in stop_first(browser, begun)
    assert "Exercise 2 of 3" in text_of(browser.get(address("session", begun)))


# The end


def test_the_end_keeps_how_it_felt_and_says_what_was_done(browser, begun, plans):
    log(begun, plans[0])
    data = {"client_key": uuid.uuid4(), "worst": "6", "after": "2", "effort": "5", "note": "Ok."}
    for _tap in range(2):
        answer = browser.post(address("session_finish", begun), data)
        assert answer.url == address("session_done", begun)
    begun.refresh_from_db()
    assert (begun.status, begun.effort, begun.note) == (Status.STOPPED, 5, "Ok.")
    shown = text_of(browser.get(answer.url))
    assert "You did 1 of 9 sets." in shown
    assert "That was above your limit of 5." in shown


def test_an_answer_that_is_missing_is_named_and_the_note_kept(browser, begun, plans):
    log(begun, plans[0])
    data = {"client_key": uuid.uuid4(), "worst": "6", "note": "It was warm."}
    shown = text_of(browser.post(address("session_finish", begun), data))
    assert 'id="id_after_error"' in shown
    assert "It was warm." in shown
    assert re.search(r'name="worst" value="6"[^>]*checked', shown)
    begun.refresh_from_db()
    assert begun.status == Status.IN_PROGRESS


def test_without_a_set_there_is_another_way_to_say_so(browser, begun):
    data = {"client_key": uuid.uuid4(), "worst": "0", "after": "0"}
    shown = text_of(browser.post(address("session_finish", begun), data))
    assert "No set is logged yet." in shown
    assert reverse("session_not_done") in shown
    assert not PainRating.objects.filter(moment=PainMoment.WORST).exists()


def test_a_closed_session_leads_to_what_was_done(browser, begun, plans):
    assert browser.get(address("session_done", begun)).url == address("session", begun)
    log(begun, plans[0])
    finish(begun)
    for name in ("session", "session_finish"):
        assert browser.get(address(name, begun)).url == address("session_done", begun)


# Whose session


@pytest.mark.parametrize(
    ("name", "method"),
    [
        ("session", "get"),
        ("session_before", "post"),
        ("session_set", "post"),
        ("session_undo", "post"),
        ("session_stopped", "get"),
        ("session_finish", "post"),
        ("session_done", "get"),
    ],
)
def test_the_session_of_somebody_else_is_not_found(
    sign_in, other_patient, therapist, session, name, method
):
    for person in (other_patient, therapist):
        answer = getattr(sign_in(person), method)(address(name, session))
        assert answer.status_code == 404
    assert not SetLog.objects.exists()
