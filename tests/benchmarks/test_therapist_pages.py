"""How the therapist's pages grow with the caseload and the years; prints ratios, not seconds.

A ratio says on any machine whether the work grows in step with what is asked for. The limits leave
room for a busy machine: they catch work that grows with the square, not a slow day.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from datetime import timedelta

import pytest

from adherence.queries.caseload import caseload_rows
from adherence.queries.course import course_page
from clinic.access import viewer_for
from tests.adherence.crowd import add_patients, log_days
from tests.factories import NOW, STARTED_ON

RUNS = 3


def best(work: Callable[[], object]) -> float:
    """Return the shortest of a few runs in seconds: the rest is the machine's other business."""
    times = []
    for _run in range(RUNS):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return min(times)


@pytest.fixture
def tell(capsys) -> Callable[[str], None]:
    """Print a line past pytest's capture."""

    def line(text: str) -> None:
        with capsys.disabled():
            sys.stdout.write(f"\n  {text}\n")

    return line


def test_ten_times_the_patients_is_about_ten_times_the_work(therapist, colleague, tell):
    add_patients(therapist, 25)
    add_patients(colleague, 250)
    few, many = viewer_for(therapist.user), viewer_for(colleague.user)
    small = best(lambda: caseload_rows(few, now=NOW))
    large = best(lambda: caseload_rows(many, now=NOW))
    ratio = large / small
    tell(f"caseload, 250 patients to 25: {ratio:.1f} times the work")
    assert len(caseload_rows(many, now=NOW)) == 250
    assert ratio < 20


def test_eight_times_the_days_is_no_more_than_that_of_the_work(
    issued_program, patient, therapist, other_patient, colleague, issue_program, tell
):
    long_one = issued_program.revisions.get()
    short_one = issue_program(other_patient, colleague).revisions.get()
    for revision, days in ((long_one, 728), (short_one, 91)):
        log_days(
            revision,
            [STARTED_ON + timedelta(days=n) for n in range(days)],
            by_id=therapist.user_id,
        )
    ends = {days: NOW + (STARTED_ON - NOW.date()) + timedelta(days=days) for days in (91, 728)}
    short = best(lambda: course_page(other_patient, span="all", now=ends[91]))
    long = best(lambda: course_page(patient, span="all", now=ends[728]))
    ratio = long / short
    tell(f"patient page, two years to three months: {ratio:.1f} times the work")
    assert ratio < 16
