"""Every endpoint that writes, with somebody who may use it and what they would send."""

from __future__ import annotations

import re
import uuid
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urljoin

from django.test import Client
from django.urls import Resolver404, resolve
from drf_spectacular.generators import SchemaGenerator

from tests.access.table import COLUMNS
from tests.access.test_matrix import browser, rows
from tests.fuzz.pages import Form, forms_of
from tests.routes import Route, all_routes
from tests.world import World

CLOSED = {"in", "403", "404", "405"}

# Here somebody acts for whom nothing is entered yet on the day that the form is about.
ACTORS = {
    "yesterday": "other_patient",
    "session_not_done": "other_patient",
    "paper_log": "colleague",
}


def openings(method: str) -> dict[str, list[str]]:
    """Return who may use each route with a method, by the access table."""
    return {
        row.route: [
            who for who, got in zip(COLUMNS, row.expected, strict=True) if got not in CLOSED
        ]
        for row in rows()
        if row.method == method
    }


def writing_routes(*, api: bool) -> list[Route]:
    """Return the routes that take a POST from somebody."""
    taking = openings("POST")
    return [route for route in all_routes() if route.is_api is api and taking.get(route.name)]


@dataclass
class Target:
    """Where to send what, as whom."""

    route: Route
    client: Client
    url: str
    form: Form = field(default_factory=lambda: Form("", "post"))
    body: dict[str, Any] = field(default_factory=dict)


# Where a form was found: route that takes it → route of the page that holds it.
_page_of: dict[str, str | None] = {}


def form_target(route: Route, world: World, sign_in: Any) -> Target:
    """Return the target of a form, with the controls of the page that leads to it."""
    who = ACTORS.get(route.name) or openings("POST")[route.name][0]
    client = browser(world, sign_in, who)
    for page in _pages_for(route, who):
        address = _address(page, who, world)
        if found := _form_in(client.get(address), address, route):
            _page_of[route.name] = page.name
            return Target(route, client, *found)
    _page_of[route.name] = None
    address = _address(route, who, world)
    # The page that says what is missing holds the form as well.
    refusal = _form_in(client.post(address), address, route)
    return Target(route, client, *refusal) if refusal else Target(route, client, address)


def _pages_for(route: Route, who: str) -> list[Route]:
    """Return the pages on which the form may be: the one that had it, or its own page first."""
    opened = openings("GET") | {name: [actor] for name, actor in ACTORS.items()}
    pages = [page for page in all_routes() if not page.is_api and who in opened.get(page.name, [])]
    if route.name in _page_of:
        return [page for page in pages if page.name == _page_of[route.name]]
    return sorted(pages, key=lambda page: page.name != route.name)


def _address(route: Route, who: str, world: World) -> str:
    if who == "colleague" and "patient_id" in route.parameters:
        return world.url(route, patient_id=world.people["other_patient"].pk)
    return world.url(route)


def _form_in(response: Any, address: str, route: Route) -> tuple[str, Form] | None:
    if "html" not in response.headers.get("Content-Type", ""):
        return None
    for form in forms_of(response.content.decode()):
        action = urljoin(address, form.action)
        if _leads_to(action, route):
            return action, form
    return None


def _leads_to(action: str, route: Route) -> bool:
    try:
        return resolve(action.partition("?")[0]).url_name == route.name
    except Resolver404:
        return False


def api_target(route: Route, world: World, sign_in: Any) -> Target:
    """Return the target of a call, with a sound body by the published schema."""
    who = openings("POST")[route.name][0]
    schema = SchemaGenerator().get_schema(request=None, public=True)
    url = world.url(route)
    path = next(path for path in schema["paths"] if _same_route(path, route))
    posted = schema["paths"][path]["post"]["requestBody"]["content"]["application/json"]["schema"]
    body = _example(posted, schema["components"]["schemas"])
    for name in ("prescription", "prescription_id"):
        if name in body:
            body[name] = str(world.ours["prescription_id"])
    return Target(route, browser(world, sign_in, who), url, body=body)


def _same_route(path: str, route: Route) -> bool:
    return _leads_to(re.sub(r"\{\w+\}", str(uuid.UUID(int=0)), path), route)


def _example(schema: dict[str, Any], components: dict[str, Any]) -> Any:
    """Return a value that a schema allows."""
    if "$ref" in schema:
        return _example(components[schema["$ref"].rpartition("/")[2]], components)
    for several in ("allOf", "oneOf", "anyOf"):
        if several in schema:
            return _example(schema[several][0], components)
    if "enum" in schema:
        return schema["enum"][0]
    if schema.get("type") == "object":
        return {
            name: _example(one, components) for name, one in schema.get("properties", {}).items()
        }
    if schema.get("type") == "array":
        return [_example(schema["items"], components)]
    if schema.get("format") == "uuid":
        return str(uuid.UUID(int=7))
    usual = {"date": "2026-03-11", "date-time": "2026-03-11T09:30:00Z", "decimal": "2.50"}
    if schema.get("format") in usual:
        return usual[schema["format"]]
    return {"integer": schema.get("minimum", 1), "boolean": False, "number": 1.5}.get(
        schema.get("type", ""), "Some words"
    )
