"""A target for each endpoint, made once for all payloads that are sent to it."""

from __future__ import annotations

import pytest

from tests.fuzz.targets import Target, api_target, form_target


@pytest.fixture
def target(request: pytest.FixtureRequest, world, sign_in) -> Target:
    """The endpoint that the test is about."""
    route = request.param
    return (api_target if route.is_api else form_target)(route, world, sign_in)
