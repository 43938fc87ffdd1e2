"""Today's session of the cast's patient, and the sets that it asks for."""

from __future__ import annotations

import pytest

from adherence.operations.sessions import Day
from programs.rules.dose import planned_sets
from tests.adherence.sessions import begin
from tests.factories import TODAY


@pytest.fixture
def today(issued_program):
    return Day(on=TODAY, today=TODAY)


@pytest.fixture
def session(patient, today):
    return begin(patient, today)


@pytest.fixture
def plans(issued_program):
    """Every planned set of the program, with the prescription that it belongs to."""
    rows = issued_program.revisions.get().prescriptions.order_by("position")
    return [(row, plan) for row in rows for plan in planned_sets(row.dose)]
