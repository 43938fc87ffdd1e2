"""Thresholds: defaults lie in their ranges, and every range has a reason."""

from dataclasses import fields

import pytest

from clinic.rules.policy import REASONS, Policy

# Set by the rules themselves, or explained on the page of their own.
WITHOUT_RANGE = {"baseline_ratings", "silent_sessions", "quiet_from", "quiet_until"}


@pytest.mark.parametrize("name", REASONS)
def test_a_default_lies_in_its_range(name):
    reason = REASONS[name]
    assert reason.low <= getattr(Policy(), name) <= reason.high


@pytest.mark.parametrize("name", REASONS)
def test_a_reason_is_a_sentence(name):
    assert REASONS[name].why.endswith(".")
    assert len(REASONS[name].why) > 30


def test_every_threshold_is_explained_or_fixed():
    assert {field.name for field in fields(Policy)} == set(REASONS) | WITHOUT_RANGE
