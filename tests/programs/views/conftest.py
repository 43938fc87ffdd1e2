"""A first draft of the patient's program, and a browser of their therapist."""

from __future__ import annotations

import pytest
from django.urls import reverse

from programs.operations.programs import draft_program
from tests.factories import NOW, TODAY


@pytest.fixture
def browser(sign_in, therapist):
    return sign_in(therapist)


@pytest.fixture
def draft(patient, therapist):
    """An empty first draft."""
    return draft_program(
        patient=patient,
        title="Stronger calf",
        drafted_by_id=therapist.user_id,
        pain_limit=5,
        now=NOW,
        today=TODAY,
    )


@pytest.fixture
def address(draft):
    return reverse("program_edit", args=[draft.program_id])
