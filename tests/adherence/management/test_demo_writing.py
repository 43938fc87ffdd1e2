"""The demo writes in bulk what the operations would have written, column by column."""

from __future__ import annotations

from datetime import timedelta

import pytest

from adherence.management.demo.loading import simulate
from adherence.management.demo.people import demo_email
from adherence.management.demo.simulation import Character, SharpPain
from adherence.management.demo.writing import comparable, write_in_bulk, write_through_operations
from adherence.models import ExerciseStop, Flag, PainRating, SessionLog, SetLog
from programs.rules.schedule import Pattern, Schedule
from tests.factories import STARTED_ON, TODAY

pytestmark = pytest.mark.django_db

LIVELY = Character(
    done=((-84, 0.8), (0, 0.7)),
    pain=((-84, 3), (0, 6)),
    noise=1.2,
    says_why=0.6,
    reasons=("NO_TIME", "PAIN_FLARE"),
    partly=0.3,
    later=0.2,
    over=0.2,
    morning=-0.5,
)


def _schedule(pattern: Pattern) -> Schedule:
    return Schedule(
        pattern=pattern,
        times_per_day=2 if pattern == Pattern.DAILY else 1,
        weekdays=frozenset({0, 3}) if pattern == Pattern.WEEKDAYS else frozenset(),
        every_days=2 if pattern == Pattern.EVERY_N_DAYS else None,
        weekly_quota=3 if pattern == Pattern.WEEKLY_QUOTA else None,
        starts_on=STARTED_ON,
        ends_on=None,
    )


@pytest.mark.parametrize("pattern", list(Pattern))
def test_bulk_writes_what_the_operations_write(
    pattern, therapist, patient, other_patient, issue_program
):
    written = {}
    for who, write in ((patient, write_through_operations), (other_patient, write_in_bulk)):
        program = issue_program(who, therapist, schedule=_schedule(pattern))
        book, played = simulate(
            program,
            who,
            LIVELY,
            stop=SharpPain(on=TODAY - timedelta(days=2), item=1, score=7, note="At the end"),
            today=TODAY,
            entered_by_id=therapist.user_id,
            seed="one and the same",
        )
        write(book, played)
        written[write] = comparable(book), len(played)

    (through, played), (bulk, same) = written.values()
    assert played == same > 5
    assert through.keys() == bulk.keys()
    for name, rows in through.items():
        assert _without_whose(rows) == _without_whose(bulk[name]), name
    for model in (SessionLog, SetLog, PainRating, ExerciseStop):
        assert through[model.__name__]
    assert Flag.objects.open().filter(kind="SHARP_PAIN").count() == 2


def _without_whose(rows):
    return sorted(
        [tuple((k, v) for k, v in row if k not in ("patient", "revision")) for row in rows],
        key=str,
    )


def test_everybody_who_may_sign_in_has_an_address_that_the_form_takes():
    assert demo_email("Tobias", "Grünwald") == "tobias.grunwald@patients.example"
    assert demo_email("Bernadette", "Van Meer") == "bernadette.vanmeer@patients.example"
