"""The rising-pain rule against worked series, a second implementation, and its simulation.

Marks: S seen in a public source, M from memory, C computed with another program. The noise that
the simulation assumes (standard deviation 1.2, lag-1 correlation .3, 70 % of days rated, whole
numbers) is an assumption, not a measurement.
"""

from datetime import date, timedelta

import numpy as np
import pytest

from adherence.rules.pain import PainParameters, PainState, Rating, rising_pain

FIRST = date(2026, 1, 5)
STANDARD = PainParameters()


def rated(text, first=FIRST):
    """One rating a day; a dot is a day without one."""
    return [
        Rating(first + timedelta(days=day), int(score))
        for day, score in enumerate(text.split())
        if score != "."
    ]


def test_oracle_a_a_slow_rise_is_a_trend_on_day_fourteen():
    """C: mean 3.0, variance .3333, spread 1.0124, evidence from day 7 on 0 0 1 2 2 4 5 7."""
    ratings = rated("3 3 2 3 4 3 3 4 3 5 5 4 6 5 6 5")
    judged = rising_pain(ratings, parameters=STANDARD)
    assert judged.evidence[7:15] == pytest.approx([0, 0, 1, 2, 2, 4, 5, 7])
    assert judged.state == PainState.TREND
    assert judged.signalled_on == FIRST + timedelta(days=14)
    assert judged.since == FIRST + timedelta(days=9)
    assert judged.usual == pytest.approx(3.0)
    assert judged.spread == pytest.approx(1.0124, abs=5e-5)
    assert judged.limit == pytest.approx(6.0)
    assert [rating.score for rating in judged.signal.last] == [5, 5, 4, 6, 5, 6]
    assert rising_pain(ratings[:14], parameters=STANDARD).state == PainState.STEADY


def test_oracle_c_one_high_rating_is_a_jump_on_day_eight():
    """C: mean 2.2857, spread .9946; day 8 has evidence 3.7143 and lies 4.7143 above usual."""
    judged = rising_pain(rated("2 3 2 2 3 2 2 2 7 3 2"), parameters=STANDARD)
    assert judged.state == PainState.JUMP
    assert judged.signalled_on == FIRST + timedelta(days=8)
    assert judged.usual == pytest.approx(2.2857, abs=5e-5)
    assert judged.spread == pytest.approx(0.9946, abs=5e-5)
    assert judged.evidence[8] == pytest.approx(3.7143, abs=5e-5)
    assert judged.signal.score - judged.signal.usual == pytest.approx(4.7143, abs=5e-5)


def second_implementation(days, scores, *, k=1.0, h=6.0, jump=4.0, prior_sd=1.2, snooze=7):
    """The rule again, written straight from its description with numpy: evidence and signals."""
    days, scores = np.asarray(days), np.asarray(scores)
    evidence, signals = np.zeros(len(days)), []
    baseline = scores[:7]
    spread = np.sqrt((10 * prior_sd**2 + 6 * np.var(baseline, ddof=1)) / 16)
    widening = max(1.0, spread / prior_sd)
    total, silent_until = 0.0, -1
    for i in range(7, len(days)):
        before = scores[(days >= days[i] - 28) & (days <= days[i] - 8)]
        usual = baseline.mean() if len(before) < 5 else min(baseline.mean(), before.mean())
        if days[i] < silent_until:
            continue
        total = max(0.0, total + scores[i] - usual - k)
        evidence[i] = total
        is_high = total >= h * widening - 1e-9
        if is_high or scores[i] - usual >= jump * widening - 1e-9:
            signals.append((int(days[i]), "TREND" if is_high else "JUMP"))
            total, silent_until = 0.0, days[i] + snooze
    return evidence, signals


def simulated(rng, patients, days, *, mean=3.0, sd=1.2, phi=0.3, rated_share=0.7, rise=None):
    """Daily ratings with memory, rounded and kept within 0 to 10, and which days were rated."""
    noise = np.empty((patients, days))
    fresh = rng.normal(size=(patients, days))
    noise[:, 0] = fresh[:, 0]
    for day in range(1, days):
        noise[:, day] = phi * noise[:, day - 1] + np.sqrt(1 - phi**2) * fresh[:, day]
    level = mean + sd * noise + (0 if rise is None else rise)
    scores = np.clip(np.rint(level), 0, 10).astype(int)
    return scores, rng.random((patients, days)) < rated_share


def test_four_hundred_random_series_agree_with_the_second_implementation():
    rng = np.random.default_rng(400)
    fired = 0
    for _ in range(400):
        sd, mean = rng.uniform(0.5, 2.2), rng.uniform(1, 6)
        ramp = np.clip((np.arange(70) - rng.integers(10, 60)) / 10, 0, 1) * rng.uniform(0, 3)
        scores, taken = simulated(rng, 1, 70, mean=mean, sd=sd, rise=ramp)
        days = np.flatnonzero(taken[0])
        ratings = [Rating(FIRST + timedelta(days=int(d)), int(scores[0][d])) for d in days]
        # The early rule, before seven ratings, is tested on its own.
        judged = rising_pain(
            ratings, parameters=PainParameters(early_ratings=STANDARD.baseline_ratings)
        )
        evidence, signals = second_implementation(days, scores[0][days])
        assert judged.evidence == pytest.approx(evidence)
        ours = [((signal.on - FIRST).days, signal.kind.value) for signal in judged.signals]
        assert ours == signals
        fired += len(signals)
    assert fired > 100


def signal_days(scores, taken):
    """Days since the start on which the rule fired after its baseline of seven ratings."""
    days = np.flatnonzero(taken).tolist()
    ratings = [Rating(date.fromordinal(700_000 + d), int(scores[d])) for d in days]
    signals = rising_pain(ratings, parameters=STANDARD).signals
    fired = [signal.on.toordinal() - 700_000 for signal in signals]
    watched_from = days[STANDARD.baseline_ratings - 1]
    return [day for day in fired if day > watched_from], watched_from


def test_false_signals_in_simulation_are_as_many_as_tabled():
    """C, 4000 patients: 2.6 false signals per 100 patient-weeks of steady pain.

    Three standard errors of a difference with 1500 patients over 12 weeks here: about .5.
    """
    patients, days = 1500, 84
    scores, taken = simulated(np.random.default_rng(26), patients, days)
    fired = weeks = 0
    for row in range(patients):
        found, watched_from = signal_days(scores[row], taken[row])
        fired += len(found)
        weeks += (days - 1 - watched_from) / 7
    assert 100 * fired / weeks == pytest.approx(2.6, abs=0.5)


def test_a_rise_in_simulation_is_seen_as_often_as_tabled():
    """C, 4000 patients: a rise of 2 points over 10 days is seen in 36 % within 10 days of its
    start, 65 % within 14, 89 % within 21.

    Three standard errors of a difference with 1500 patients here: 4.4, 4.3 and 2.9 percent.
    """
    patients, start = 1500, 28
    days = start + 22
    ramp = np.clip((np.arange(days) - start) / 10, 0, 1) * 2
    scores, taken = simulated(np.random.default_rng(65), patients, days, rise=ramp)
    seen = {10: 0, 14: 0, 21: 0}
    for row in range(patients):
        found, _ = signal_days(scores[row], taken[row])
        for within in seen:
            seen[within] += any(start <= day <= start + within for day in found)
    share = {within: 100 * count / patients for within, count in seen.items()}
    assert share[10] == pytest.approx(36, abs=4.4)
    assert share[14] == pytest.approx(65, abs=4.3)
    assert share[21] == pytest.approx(89, abs=2.9)


def test_a_relapse_after_recovery_is_seen_as_often_as_tabled():
    """C, 4000 patients: pain 5 falling to 2 over 28 days, then up by 2: 70 % within 21 days.

    A fixed baseline sees 1 to 4 % of these. How long the calm lasted before the relapse is not
    tabled; with three weeks of it, three standard errors and that uncertainty make 6 percent.
    """
    patients, start = 1000, 49
    days = start + 22
    day = np.arange(days)
    course = -3 * np.clip(day / 28, 0, 1) + np.clip((day - start) / 10, 0, 1) * 2
    scores, taken = simulated(np.random.default_rng(70), patients, days, mean=5.0, rise=course)
    seen = 0
    for row in range(patients):
        found, _ = signal_days(scores[row], taken[row])
        seen += any(start <= one <= start + 21 for one in found)
    assert 100 * seen / patients == pytest.approx(70, abs=6)
