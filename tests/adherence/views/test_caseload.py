"""The caseload page as a therapist asks for it."""

from __future__ import annotations

import pytest
from django.test import Client

from adherence.rules.flags import FlagKind, Severity
from tests import factories
from tests.adherence.crowd import add_patients


def page(client: Client, query: str = "") -> str:
    response = client.get(f"/caseload/{query}")
    assert response.status_code == 200
    return response.content.decode()


@pytest.fixture
def client(therapist, sign_in) -> Client:
    return sign_in(therapist)


def test_an_empty_caseload_says_what_to_do(client):
    html = page(client)
    assert "Nobody is under your care yet" in html
    assert "/patients/new/" in html
    assert "<table" not in html


def test_a_row_links_the_patient_and_says_why(client, issued_program, patient):
    flag = factories.FlagFactory(
        program=issued_program,
        kind=FlagKind.SHARP_PAIN,
        severity=Severity.ACT_NOW,
        evidence={
            "rule_version": "2026-11",
            "stops": [{"id": "1", "on": "2026-03-10", "exercise": "Heel raise", "score": 7}],
        },
    )
    html = page(client)
    assert "One person first, then you are done" in html
    assert f'href="/patients/{patient.pk}/"' in html
    assert "Heel raise stopped for sharp pain, rated 7 of 10." in html
    assert f"/flags/{flag.pk}/follow-up/?kind=CALL" in html
    assert f"/flags/{flag.pk}/acknowledge/" in html
    assert "no rating" in html


def test_a_name_cannot_bring_markup(client, therapist):
    nasty = factories.PatientFactory(
        clinic=therapist.clinic, family_name="<script>alert(1)</script>", problem="<b>hip</b>"
    )
    factories.CareRelationshipFactory(patient=nasty, therapist=therapist)
    html = page(client, "?q=<script>")
    assert "<script>alert" not in html
    assert "<b>hip" not in html
    assert "&lt;script&gt;alert(1)" in html


def test_no_hit_keeps_the_words_and_leads_back(client, issued_program):
    html = page(client, "?q=nobody&show=all")
    assert "Nobody is called “nobody”" in html
    assert 'value="nobody"' in html
    assert 'href="/caseload/"' in html


def test_a_filter_without_rows_says_so(client, issued_program):
    assert "No patient of yours is in this group." in page(client, "?show=paused")


@pytest.mark.parametrize(
    "query",
    ["?show=nonsense", "?page=999", "?page=x", f"?q={'x' * 5000}", "?show=silent&q=%00", "?q=%FF"],
)
def test_odd_addresses_are_answered(client, issued_program, query):
    page(client, query)


def test_seen_leads_back_to_the_caseload(client, issued_program):
    flag = factories.FlagFactory(program=issued_program)
    response = client.post(f"/flags/{flag.pk}/acknowledge/", {"back": "caseload"})
    assert response["Location"] == "/caseload/"
    html = page(client)
    assert "Nobody waits for you" in html
    assert "seen" in html


def test_long_caseloads_come_in_pages(client, therapist):
    for number in range(52):
        patient = factories.PatientFactory(
            clinic=therapist.clinic, family_name=f"Number {number:03}", user=None
        )
        factories.CareRelationshipFactory(patient=patient, therapist=therapist)
    first, second = page(client), page(client, "?page=2")
    assert first.count("data-row-link") == 50
    assert second.count("data-row-link") == 2


@pytest.mark.databases_differ
def test_250_patients_ask_the_database_15_times_at_most(
    client, therapist, django_assert_max_num_queries
):
    patients = add_patients(therapist, 250)
    program = patients[3].programs.get()
    factories.FlagFactory(program=program)
    factories.FollowUpFactory(patient=patients[4], recorded_by=therapist.user)
    with django_assert_max_num_queries(15):
        html = page(client)
    assert "250 patients under your care" in html
