"""The read-only API of exercises and programs: who sees what, which fields, and errors."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest
from django.test import Client

from programs.api.serializers import PROGRAM_STATUSES
from programs.models import Program, ProgramStatus
from programs.operations.programs import draft_program
from tests import factories
from tests.factories import NOW, TODAY

pytestmark = pytest.mark.django_db

EXERCISES, PROGRAMS = "/api/v1/exercises/", "/api/v1/programs/"


def results(client: Client, place: str) -> list[dict[str, Any]]:
    response = client.get(place)
    assert response.status_code == 200
    found: list[dict[str, Any]] = response.json()["results"]
    return found


def refusal(response: Any, status: int) -> dict[str, Any]:
    assert response.status_code == status
    assert response["Content-Type"] == "application/problem+json"
    body: dict[str, Any] = response.json()
    assert body["status"] == status
    return body


def test_the_statuses_told_are_all_there_are():
    assert list(ProgramStatus) == PROGRAM_STATUSES


class TestExercises:
    def test_a_search_finds_by_words_and_codes(self, therapist, sign_in):
        factories.ExerciseFactory(slug="heel-raise", name="Heel raise", equipment=["WALL"])
        factories.ExerciseFactory(slug="toe-raise", name="Toe raise", position="SITTING")
        factories.ExerciseFactory(slug="bridge", name="Bridge", region="HIP")
        client = sign_in(therapist)

        def found(query: str) -> list[str]:
            return [row["slug"] for row in results(client, EXERCISES + query)]

        assert found("") == ["bridge", "heel-raise", "toe-raise"]
        assert found("?q=RAISE") == ["heel-raise", "toe-raise"]
        assert found("?q=raise&position=SITTING") == ["toe-raise"]
        assert found("?region=HIP") == ["bridge"]
        assert found("?at_hand=NOTHING") == ["bridge", "toe-raise"]
        assert found("?at_hand=MAT&at_hand=WALL&q=heel") == ["heel-raise"]

    def test_fields_are_these_and_no_other(self, therapist, sign_in):
        exercise = factories.ExerciseFactory(slug="heel-raise", name="Heel raise")
        (row,) = results(sign_in(therapist), EXERCISES)
        spans = {"low": 1, "high": 4, "usual": 3}
        assert row == {
            "id": str(exercise.pk),
            "slug": "heel-raise",
            "name": "Heel raise",
            "also_called": ["another name"],
            "purpose": "Makes walking easier.",
            "one_line": "Out slowly, back slowly.",
            "region": "ANKLE_FOOT",
            "aim": "STRENGTH",
            "position": "STANDING",
            "equipment": [],
            "side_mode": "BOTH_TOGETHER",
            "dose": {
                "kind": "REPETITIONS",
                "sets": spans,
                "repetitions": {"low": 6, "high": 20, "usual": 12},
                "hold_seconds": None,
                "duration_seconds": None,
                "rest_seconds": {"low": 15, "high": 120, "usual": 45},
                "tempo": [2, 1, 3],
                "load_units": ["KG", "BAND"],
            },
            "revision": str(exercise.current_id),
            "revision_number": 1,
            "is_own": False,
        }

    def test_pages(self, therapist, sign_in):
        for number in range(3):
            factories.ExerciseFactory(slug=f"lift-{number}")
        body = sign_in(therapist).get(f"{EXERCISES}?limit=2&offset=1").json()
        assert body["count"] == 3
        assert [row["slug"] for row in body["results"]] == ["lift-1", "lift-2"]
        assert body["next"] is None
        assert "limit=2" in body["previous"]

    @pytest.mark.parametrize(
        "query",
        ["region=ELBOW", "aim=%00", "dose_kind=x", "at_hand=SOFA", "q=%00", "q=" + "x" * 101],
    )
    def test_what_is_no_code_is_refused(self, therapist, sign_in, query):
        body = refusal(sign_in(therapist).get(f"{EXERCISES}?{query}"), 400)
        assert body["code"] == "invalid"
        assert list(body["errors"]) == [query.split("=")[0]]

    @pytest.mark.parametrize("query", ["limit=x&offset=-5", "limit=99999&offset=" + "9" * 40])
    def test_strange_pages_are_pages(self, therapist, sign_in, query):
        factories.ExerciseFactory()
        assert sign_in(therapist).get(f"{EXERCISES}?{query}").status_code == 200

    def test_staff_alone_and_only_their_own_clinic_s(
        self, therapist, admin, outsider, patient, sign_in, client
    ):
        factories.ExerciseFactory(clinic=outsider.clinic, slug="theirs")
        assert results(sign_in(therapist), EXERCISES) == []
        assert results(sign_in(admin), EXERCISES) == []
        assert [row["is_own"] for row in results(sign_in(outsider), EXERCISES)] == [True]
        assert refusal(sign_in(patient).get(EXERCISES), 403)["code"] == "permission_denied"
        assert refusal(client.get(EXERCISES), 403)["code"] == "not_authenticated"

    def test_a_long_library_costs_no_more(self, therapist, sign_in, django_assert_max_num_queries):
        client = sign_in(therapist)
        for number in range(30):
            factories.ExerciseFactory(slug=f"lift-{number}")
        with django_assert_max_num_queries(6):
            assert len(results(client, EXERCISES)) == 30


class TestPrograms:
    def test_therapists_see_their_patients_and_patients_themselves(
        self,
        issued_program,
        issue_program,
        outside_patient,
        outsider,
        therapist,
        colleague,
        admin,
        patient,
        other_patient,
        sign_in,
    ):
        theirs = issue_program(outside_patient, outsider)
        for person, seen in (
            (therapist, [issued_program]),
            (patient, [issued_program]),
            (outsider, [theirs]),
            (outside_patient, [theirs]),
            (colleague, []),
            (other_patient, []),
            (admin, []),
        ):
            client = sign_in(person)
            ids = [row["id"] for row in results(client, PROGRAMS)]
            assert ids == [str(program.pk) for program in seen]
            for program in (issued_program, theirs):
                response = client.get(f"{PROGRAMS}{program.pk}/")
                if program in seen:
                    assert response.status_code == 200
                else:
                    assert refusal(response, 404)["code"] == "not_found"

    def test_a_foreign_program_answers_as_an_absent_one(self, issued_program, outsider, sign_in):
        client = sign_in(outsider)
        there = client.get(f"{PROGRAMS}{issued_program.pk}/")
        absent = client.get(f"{PROGRAMS}00000000-0000-4000-8000-000000000000/")
        assert (there.status_code, there.content) == (absent.status_code, absent.content)

    def test_a_program_with_what_is_in_force(self, issued_program, patient, sign_in):
        body = sign_in(patient).get(f"{PROGRAMS}{issued_program.pk}/").json()
        revision = issued_program.revisions.get()
        first = revision.prescriptions.get(position=1)
        assert set(body) == {
            "id",
            "patient",
            "title",
            "status",
            "created_at",
            "completed_on",
            "current",
            "prescriptions",
            "revisions",
        }
        assert body["patient"] == str(patient.pk)
        assert body["current"] == body["revisions"][0]
        assert datetime.fromisoformat(body["current"].pop("issued_at")) == revision.issued_at
        assert body["current"] == {
            "id": str(revision.pk),
            "number": 1,
            "effective_from": "2026-02-02",
            "effective_until": None,
            "schedule": {
                "pattern": "DAILY",
                "starts_on": "2026-02-02",
                "ends_on": None,
                "times_per_day": 1,
                "weekdays": [],
                "every_days": None,
                "weekly_quota": None,
            },
            "minutes": revision.minutes,
            "pain_limit": 5,
            "note_to_patient": "Slow and steady.",
        }
        assert [p["position"] for p in body["prescriptions"]] == [1, 2, 3]
        assert body["prescriptions"][0] == {
            "id": str(first.pk),
            "position": 1,
            "exercise": str(first.exercise_revision.exercise_id),
            "name": first.exercise_revision.entry.name,
            "dose": {
                "kind": "REPETITIONS",
                "side": "BILATERAL",
                "sets": 3,
                "repetitions": 12,
                "hold_seconds": None,
                "duration_seconds": None,
                "rest_seconds": 45,
                "tempo": [2, 1, 3],
                "load_unit": "NONE",
                "load_value": None,
                "band": "",
                "effort_target": None,
            },
            "dose_text": "3 sets of 12",
            "note": "",
        }

    def test_a_draft_is_not_the_patient_s_to_read(self, patient, therapist, sign_in):
        draft_program(
            patient=patient,
            title="Not yet",
            drafted_by_id=therapist.user_id,
            pain_limit=5,
            now=NOW,
            today=TODAY,
        )
        program = Program.objects.get()
        assert results(sign_in(patient), PROGRAMS) == []
        refusal(sign_in(patient).get(f"{PROGRAMS}{program.pk}/"), 404)
        (row,) = results(sign_in(therapist), PROGRAMS)
        assert row["status"] == "DRAFT"
        body = sign_in(therapist).get(f"{PROGRAMS}{program.pk}/").json()
        assert (body["current"], body["prescriptions"], body["revisions"]) == (None, [], [])

    @pytest.mark.parametrize("method", ["post", "put", "patch", "delete"])
    def test_nothing_can_be_written(self, issued_program, therapist, sign_in, method):
        client = sign_in(therapist)
        for place in (EXERCISES, PROGRAMS, f"{PROGRAMS}{issued_program.pk}/"):
            refusal(getattr(client, method)(place), 405)

    def test_what_a_program_costs(
        self, issued_program, therapist, sign_in, django_assert_max_num_queries
    ):
        client = sign_in(therapist)
        with django_assert_max_num_queries(8):
            client.get(f"{PROGRAMS}{issued_program.pk}/")
        with django_assert_max_num_queries(8):
            client.get(PROGRAMS)
