"""A patient pauses the own program, and goes on again."""

from __future__ import annotations

from datetime import timedelta

import pytest

from adherence.models import Review
from adherence.operations.pauses import pause_own_program, resume_own_program
from programs.models import PauseReason, ProgramPause
from programs.operations.programs import ProgramError, complete_program
from programs.queries.programs import latest_program
from programs.rules.schedule import TodayKind, today_state
from tests.factories import NOW, TODAY


def pause(patient, days=7):
    pause_own_program(
        patient=patient, reason="UNWELL", days=days, set_by_id=patient.user_id, now=NOW
    )


def state_on(patient, day):
    program = latest_program(patient.pk)
    return today_state(program.spans, program.pauses, day, program.completed_on).kind


def test_a_pause_begins_today_and_ends_by_itself(patient, issued_program):
    pause(patient, days=3)
    row = ProgramPause.objects.get()
    assert (row.starts_on, row.ends_on) == (TODAY, TODAY + timedelta(days=3))
    assert row.reason == PauseReason.UNWELL
    assert state_on(patient, TODAY) == TodayKind.PAUSED
    assert state_on(patient, TODAY + timedelta(days=3)) == TodayKind.DUE
    assert Review.objects.get().wanted_at == NOW


def test_going_on_makes_today_due_again(patient, issued_program):
    pause(patient)
    resume_own_program(patient=patient, now=NOW)
    assert state_on(patient, TODAY) == TodayKind.DUE


@pytest.mark.parametrize("has_ended", [False, True])
def test_without_a_running_program_there_is_nothing_to_pause(
    patient, other_patient, issued_program, has_ended
):
    whose = other_patient
    if has_ended:
        complete_program(program=issued_program, today=TODAY)
        whose = patient
    with pytest.raises(ProgramError):
        pause(whose)
    assert not ProgramPause.objects.exists()
