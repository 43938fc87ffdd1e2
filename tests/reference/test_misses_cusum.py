"""The running score of misses: its weights, worked sequences, and simulated error rates.

Marks: S seen in a public source, M from memory, C computed with another program.
"""

import math

import numpy as np
import pytest

from adherence.rules.adherence import misses_cusum

DAILY = 3.0
WEEKLY = 2.0


def outcomes(text):
    """D for a session done, M for a miss."""
    return [letter == "D" for letter in text.replace(" ", "")]


def test_weights_are_the_log_likelihood_ratios():
    """Miss ln(.5/.2) = .9163, done ln(.5/.8) = -.4700 (C, by the definition of the ratio)."""
    assert misses_cusum([False], limit=DAILY).scores == pytest.approx([math.log(0.5 / 0.2)])
    scores = misses_cusum(outcomes("MMD"), limit=DAILY).scores
    assert scores[2] - scores[1] == pytest.approx(math.log(0.5 / 0.8))
    assert (scores[0], scores[2] - scores[1]) == pytest.approx((0.9163, -0.4700), abs=5e-5)


def test_other_rates_give_other_weights():
    """For .85 to .40: +1.3863 and -.7538 (C)."""
    scores = misses_cusum(outcomes("MD"), limit=DAILY, usual_done=0.85, lapsed_done=0.40).scores
    assert (scores[0], scores[1] - scores[0]) == pytest.approx((1.3863, -0.7538), abs=5e-5)


def test_the_worked_sequence_signals_at_its_ninth_session():
    """D D M D M M D M M M (C)."""
    result = misses_cusum(outcomes("DDMDMMDMMM"), limit=DAILY)
    expected = [0, 0, 0.9163, 0.4463, 1.3626, 2.2789, 1.8089, 2.7252, 3.6414]
    assert result.scores[:9] == pytest.approx(expected, abs=1e-4)
    assert result.signal_index == 8
    assert result.is_signalled


@pytest.mark.parametrize(
    ("sequence", "limit", "score", "signals"),
    [
        ("MMM", DAILY, 2.7489, False),
        ("MMMM", DAILY, 3.6652, True),
        ("MM", WEEKLY, 1.8326, False),
        ("MMM", WEEKLY, 2.7489, True),
    ],
)
def test_four_in_a_row_daily_three_in_a_row_weekly(sequence, limit, score, signals):
    """C: the plain reading of both limits."""
    result = misses_cusum(outcomes(sequence), limit=limit)
    assert result.scores[-1] == pytest.approx(score, abs=1e-4)
    assert result.is_signalled is signals


def test_strict_alternation_signals_at_its_eleventh_session():
    """M D M D … reaches 3.1477 at the eleventh (C)."""
    result = misses_cusum(outcomes("MDMDMDMDMDM"), limit=DAILY)
    assert result.signal_index == 10
    assert result.scores[10] == pytest.approx(3.1477, abs=5e-4)


def firings(done, *, limit, silent_days=7):
    """Days on which the rule fires, one session a day; each firing silences and resets it."""
    fired, start = [], 0
    while start < len(done):
        scores = misses_cusum(done[start:], limit=limit).scores
        first = next((i for i, score in enumerate(scores) if score >= limit), None)
        if first is None:
            break
        fired.append(start + first)
        start += first + silent_days
    return fired


def test_simulated_error_rates_are_the_tabled_ones():
    """Daily sessions, completion .85 falling to .40, limit 3.0 (C, 4000 patients a scenario).

    Tabled: 1.6 false flags per 100 patient-weeks, 60 % seen within 7 days, 92 % within 14.
    Three standard errors of a difference with 1500 patients here: about .4, 4.4 and 2.5.
    """
    patients, before, after = 1500, 84, 14
    rng = np.random.default_rng(46)
    chance = np.concatenate([np.full(before, 0.85), np.full(after, 0.40)])
    rows = (rng.random((patients, before + after)) < chance).tolist()
    found = [firings(row, limit=DAILY) for row in rows]
    false = sum(day < before for fired in found for day in fired)
    seen_7 = sum(any(0 <= day - before < 7 for day in fired) for fired in found)
    seen_14 = sum(any(0 <= day - before < 14 for day in fired) for fired in found)
    assert 100 * false / (patients * before / 7) == pytest.approx(1.6, abs=0.4)
    assert 100 * seen_7 / patients == pytest.approx(60, abs=4.4)
    assert 100 * seen_14 / patients == pytest.approx(92, abs=2.5)
