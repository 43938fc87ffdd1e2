"""The schema of the whole API: it is made without a warning, and says what is answered."""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import Any

import pytest
import yaml
from django.core.management import call_command

from tests.routes import all_routes

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def schema(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """The schema as the command writes it, failing on any warning and on what is no OpenAPI."""
    file: Path = tmp_path_factory.mktemp("schema") / "schema.yaml"
    with warnings.catch_warnings():
        # The validator warns of its own dependency's future.
        warnings.simplefilter("ignore", DeprecationWarning)
        call_command("spectacular", validate=True, fail_on_warn=True, file=str(file))
    loaded: dict[str, Any] = yaml.safe_load(file.read_text(encoding="utf-8"))
    return loaded


def test_every_route_of_the_api_is_in_it(schema):
    routes = {route.name for route in all_routes() if route.pattern.startswith("api/v1/")}
    assert len(schema["paths"]) == len(routes)
    assert {path.split("/")[3] for path in schema["paths"]} >= {
        "exercises",
        "programs",
        "sessions",
        "flags",
    }


def test_lists_are_told_page_by_page(schema):
    for place in ("exercises", "programs", "sessions", "flags"):
        get = schema["paths"][f"/api/v1/{place}/"]["get"]
        reference = get["responses"]["200"]["content"]["application/json"]["schema"]["$ref"]
        shape = schema["components"]["schemas"][reference.rpartition("/")[2]]
        assert set(shape["properties"]) == {"count", "next", "previous", "results"}
        assert {"limit", "offset"} <= {parameter["name"] for parameter in get["parameters"]}


def test_every_refusal_has_the_shape_that_the_schema_tells(schema, patient, sign_in):
    shape = schema["components"]["schemas"]["Problem"]
    refused = sign_in(patient).get("/api/v1/exercises/")
    assert refused.status_code == 403
    assert set(shape["required"]) <= set(refused.json()) <= set(shape["properties"])
    for methods in schema["paths"].values():
        for operation in methods.values():
            assert "application/problem+json" in operation["responses"]["default"]["content"]


def test_programs_and_the_library_can_only_be_read(schema):
    for path, methods in schema["paths"].items():
        if path.startswith(("/api/v1/exercises/", "/api/v1/programs/")):
            assert set(methods) == {"get"}


@pytest.mark.parametrize("who", ["exercises", "programs/{id}"])
def test_answers_have_the_fields_that_the_schema_tells(
    schema, who, issued_program, therapist, sign_in
):
    client = sign_in(therapist)
    if who == "exercises":
        answer, name = client.get("/api/v1/exercises/").json()["results"][0], "Exercise"
    else:
        answer, name = client.get(f"/api/v1/programs/{issued_program.pk}/").json(), "ProgramDetail"
    assert set(answer) == set(schema["components"]["schemas"][name]["properties"])


def test_the_schema_is_for_staff(therapist, admin, patient, sign_in, client):
    assert sign_in(therapist).get("/api/schema/").status_code == 200
    assert sign_in(admin).get("/api/schema/").status_code == 200
    assert sign_in(patient).get("/api/schema/").status_code == 403
    assert client.get("/api/schema/").status_code == 403
