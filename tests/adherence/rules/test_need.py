"""Order of a caseload and the sentence of a row without a flag."""

import random

import pytest

from adherence.rules.adherence import AdherenceState, Interval, Share
from adherence.rules.flags import Severity
from adherence.rules.need import order_key, why_sentence
from programs.rules.wording import plain, plain_plural


def test_flags_first_the_oldest_first_then_states_then_names():
    rows = [
        (Severity.ACT_NOW, AdherenceState.ON_TARGET, 4, "Dara"),
        (Severity.ACT_NOW, AdherenceState.SILENT, 1, "Bo"),
        (Severity.LOOK, AdherenceState.ON_TARGET, 9, "Ida"),
        (Severity.LOOK, AdherenceState.BELOW_TARGET, 2, "Zoe"),
        (Severity.LOOK, AdherenceState.ON_TARGET, 2, "Ada"),
        (None, AdherenceState.SILENT, None, "Kim"),
        (None, AdherenceState.BELOW_TARGET, None, "Lee"),
        (None, AdherenceState.NEW, None, "Max"),
        (None, AdherenceState.NO_PROGRAM, None, "Noa"),
        (None, AdherenceState.ON_TARGET, None, "abel"),
        (None, AdherenceState.ON_TARGET, None, "Ben"),
        (None, AdherenceState.PAUSED, None, "Amy"),
        (None, AdherenceState.ENDED, None, "Alf"),
    ]
    shuffled = list(rows)
    random.Random(7).shuffle(shuffled)
    assert sorted(shuffled, key=lambda row: order_key(*row)) == rows


@pytest.mark.parametrize(
    ("state", "done", "due", "silent_for", "expected"),
    [
        (AdherenceState.SILENT, 0, 4, 7, "No entry and no reason for 7 days."),
        (AdherenceState.SILENT, 0, 4, 4, "No entry for the last 3 due sessions."),
        (AdherenceState.SILENT, 0, 4, None, "No entry for the last 3 due sessions."),
        (AdherenceState.BELOW_TARGET, 2, 9, 1, "2 of 9 sessions in 14 days, target 80 %."),
        (AdherenceState.ON_TARGET, 5, 6, 1, "5 of 6 sessions in 14 days."),
        (AdherenceState.NEW, 2, 2, 1, "New: 2 sessions so far."),
        (AdherenceState.NEW, 1, 1, 1, "New: 1 session so far."),
        (AdherenceState.PAUSED, 1, 1, 9, "Paused."),
        (AdherenceState.ENDED, 1, 1, 9, "Program ended."),
        (AdherenceState.NO_PROGRAM, 0, 0, None, "No program yet."),
    ],
)
def test_a_row_without_a_flag_says_why_it_stands_there(state, done, due, silent_for, expected):
    text = why_sentence(
        state=state,
        share=Share(done, due, Interval(0, 1)),
        days=14,
        target_percent=80,
        silent_for_days=silent_for,
        translate=plain,
        ngettext=plain_plural,
    )
    assert text == expected
