"""Thousands of generated payloads on every endpoint that writes: no failure, nothing half-written.

The same payloads come in every run; FUZZ_EXAMPLES=500 sends more of them to each endpoint.
"""

from __future__ import annotations

import json
import os

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.fuzz.payloads import form_data, json_body
from tests.fuzz.sending import Answer, send
from tests.fuzz.targets import writing_routes

EXAMPLES = int(os.environ.get("FUZZ_EXAMPLES", "50"))

generated = settings(
    max_examples=EXAMPLES,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


def check(answer: Answer) -> None:
    """A payload is taken or refused with a reason; what is refused has left nothing behind."""
    assert answer.status < 500
    if not answer.accepted:
        assert answer.kept == [], f"Refused with {answer.status}, but written."


@pytest.mark.parametrize("target", writing_routes(api=False), indirect=True, ids=lambda r: r.name)
@generated
@given(data=st.data())
def test_no_form_fails_on_what_it_is_sent(target, data):
    check(send(target, data.draw(form_data(target.form))))


def check_call(answer: Answer) -> None:
    """A call that is refused says why in a way that a program can read."""
    check(answer)
    if answer.status >= 400:
        assert answer.response.headers["Content-Type"] == "application/problem+json"
        assert json.loads(answer.response.content)["code"]


@pytest.mark.parametrize("target", writing_routes(api=True), indirect=True, ids=lambda r: r.name)
@generated
@given(data=st.data())
def test_no_call_fails_on_what_it_is_sent(target, data):
    check_call(send(target, data.draw(json_body(target.body))))


OTHER_METHODS = [
    (route, method)
    for route in writing_routes(api=True)
    for method in sorted(route.methods - {"GET", "POST"})
]


@pytest.mark.parametrize(
    ("target", "method"),
    OTHER_METHODS,
    indirect=["target"],
    ids=lambda value: value if isinstance(value, str) else value.name,
)
@generated
@given(data=st.data())
def test_no_other_method_fails_on_what_it_is_sent(target, method, data):
    check_call(send(target, data.draw(json_body(target.body)), method=method))
