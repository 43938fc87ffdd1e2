"""The patient page as a therapist asks for it."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.test import Client

from adherence.rules.flags import FlagKind
from programs.operations.programs import draft_program
from tests import factories
from tests.adherence.crowd import log_days
from tests.adherence.story import Story, rising
from tests.factories import NOW, STARTED_ON, TODAY


@pytest.fixture
def client(therapist, sign_in) -> Client:
    return sign_in(therapist)


@pytest.fixture
def story(issued_program, patient, therapist) -> Story:
    return Story(issued_program, patient, therapist.user_id)


def page(client: Client, patient, query: str = "") -> str:
    response = client.get(f"/patients/{patient.pk}/{query}")
    assert response.status_code == 200
    return response.content.decode()


def test_a_flag_is_a_banner_with_its_evidence_and_what_can_be_done(client, story, clock):
    flag = rising(story)
    clock.move_to(story.now)
    html = page(client, story.patient)
    assert "Worst pain 5 5 4 6 5 6, usual 3.0" in html
    assert "How this is counted" in html
    assert "No flag is no reassurance" in html
    for address in ("acknowledge", "follow-up", "close"):
        assert f"/flags/{flag.pk}/{address}/" in html


def test_every_day_of_the_chart_leads_to_its_row_in_the_table(client, story):
    for offset in range(20):
        story.done(offset % 5, on=STARTED_ON + timedelta(days=offset))
    html = page(client, story.patient)
    links = re.findall(r'class="course__day" href="#(day-[\d-]+)"', html)
    rows = re.findall(r'<tr id="(day-[\d-]+)"', html)
    assert len(links) == 42
    assert set(links) == set(rows)
    assert html.count('tabindex="-1"><title>') == 41, "one stop of the Tab key for all days"


def test_no_entry_is_not_shown_as_nothing_done(client, other_patient, colleague, sign_in):
    html = page(sign_in(colleague), other_patient)
    assert "0 %" not in html
    assert "No data: nothing was due in these weeks." in html
    assert "No program yet" in html
    assert f"/patients/{other_patient.pk}/program/new/" in html


def test_who_cannot_sign_in_yet_can_be_invited_from_here(client, patient, therapist):
    invited = factories.PatientFactory(clinic=therapist.clinic, user=None)
    factories.CareRelationshipFactory(patient=invited, therapist=therapist)
    assert f"/patients/{invited.pk}/invite/" in page(client, invited)
    assert f"/patients/{patient.pk}/invite/" not in page(client, patient)


def test_a_draft_leads_on(client, therapist):
    patient = factories.PatientFactory(clinic=therapist.clinic)
    factories.CareRelationshipFactory(patient=patient, therapist=therapist)
    draft = draft_program(
        patient=patient,
        title="Ankle",
        drafted_by_id=therapist.user_id,
        pain_limit=5,
        now=NOW,
        today=TODAY,
    )
    html = page(client, patient)
    assert f"/programs/{draft.program_id}/edit/" in html


def test_a_discharged_patient_under_care_is_read_only(client, story):
    factories.FlagFactory(program=story.program)
    story.patient.discharged_at = NOW
    story.patient.save()
    html = page(client, story.patient)
    assert "Discharged on" in html
    assert "/acknowledge/" not in html
    assert "/follow-up/" not in html


def test_words_of_the_patient_bring_no_markup(client, story):
    session = story.done(3, on=TODAY - timedelta(days=1))
    session.note = "</p><script>alert(1)</script>"
    session.save()
    html = page(client, story.patient)
    assert "<script>alert" not in html
    assert "&lt;script&gt;alert(1)" in html


@pytest.mark.parametrize("query", ["?span=2w", "?span=12w", "?span=all", "?span=%00", "?span=9"])
def test_every_span_is_served(client, story, query):
    page(client, story.patient, query)


@pytest.mark.databases_differ
def test_two_years_ask_the_database_15_times_at_most(
    client, story, therapist, clock, django_assert_max_num_queries
):
    days = [STARTED_ON + timedelta(days=n) for n in range(2 * 365)]
    log_days(story.revision, days, by_id=therapist.user_id)
    for kind in (FlagKind.RISING_PAIN, FlagKind.MISSED_SESSIONS):
        flag = factories.FlagFactory(program=story.program, kind=kind)
        factories.FollowUpFactory(patient=story.patient, flag=flag, recorded_by=therapist.user)
    clock.move_to(NOW + timedelta(days=2 * 365))
    client = Client()
    client.force_login(
        therapist.user, backend="allauth.account.auth_backends.AuthenticationBackend"
    )
    with django_assert_max_num_queries(15):
        html = page(client, story.patient, "?span=all")
    assert "by weeks" in html
