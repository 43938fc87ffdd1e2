"""Mann-Kendall and Theil-Sen against published series, pymannkendall and scipy.

Marks: S seen in a public source, M from memory, C computed with another program.
"""

from collections import Counter
from itertools import permutations

import pymannkendall
import pytest
from scipy import stats

from adherence.rules.trend import mann_kendall, median, theil_sen

# series, S, variance, z, p two-sided, p upward (None: not tabled), slope per day
ROWS = [
    # EPA QA/G-9S page 109: published S = 22, variance 155.33, Z = 1.685 (S), the rest C.
    ([10, 10, 10, 5, 10, 20, 18, 17, 15, 24, 15], 22, 155.3333, 1.6849, 0.0920, 0.0460, 1.0),
    # The outlier of Helsel and Hirsch, Statistical Methods in Water Resources (M), figures C.
    ([1, 2, 3, 4, 5, 16, 7], 19, 44.3333, 2.7034, 0.0069, None, 1.0),
    # Invented pain ratings, figures C.
    ([3, 3, 2, 3, 4, 3, 4, 4, 5, 5], 29, 111.6667, 2.6497, 0.0081, 0.0040, 0.25),
    ([3, 2, 4, 3, 3, 2, 4, 3, 3, 3], 2, 94.6667, 0.1028, 0.9181, None, 0.0),
    ([6, 6, 5, 5, 4, 4, 3, 3], -24, 61.3333, -2.9368, 0.0033, None, -0.5),
]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: "-".join(map(str, row[0])))
def test_the_trend_test_is_the_tabled_one_and_that_of_pymannkendall(row):
    series, s, variance, z, p_two, p_up, _slope = row
    ours = mann_kendall(series)
    other = pymannkendall.original_test(series)
    assert ours.s == s == other.s
    assert ours.variance == pytest.approx(variance, abs=5e-5)
    assert ours.variance == pytest.approx(other.var_s)
    assert ours.z == pytest.approx(z, abs=5e-5)
    assert ours.z == pytest.approx(other.z)
    assert ours.p_two_sided == pytest.approx(p_two, abs=5e-5)
    assert ours.p_two_sided == pytest.approx(other.p)
    assert ours.p_up == pytest.approx(stats.norm.sf(other.z))
    if p_up is not None:
        assert ours.p_up == pytest.approx(p_up, abs=5e-5)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: "-".join(map(str, row[0])))
def test_the_slope_is_the_tabled_one_and_that_of_scipy(row):
    series, slope = row[0], row[-1]
    days = list(range(len(series)))
    ours = theil_sen(days, series)
    other = stats.theilslopes(series, days, alpha=0.95)
    assert ours.per_week == pytest.approx(7 * slope)
    assert ours.per_week == pytest.approx(7 * other.slope)
    assert ours.low == pytest.approx(7 * other.low_slope)
    assert ours.high == pytest.approx(7 * other.high_slope)


def test_the_outlier_leaves_the_slope_and_widens_its_limits():
    """Slope 1.0 a day with 95 % limits 1.0 to 3.5 (C)."""
    ours = theil_sen(range(1, 8), [1, 2, 3, 4, 5, 16, 7])
    assert (ours.per_week / 7, ours.low / 7, ours.high / 7) == pytest.approx((1.0, 1.0, 3.5))


def test_a_series_without_spread_has_no_trend():
    """Variance 0 (C); scipy's tau is not a number here, pymannkendall and we say z = 0, p = 1."""
    ours = mann_kendall([3, 3, 3, 3, 3, 3])
    other = pymannkendall.original_test([3, 3, 3, 3, 3, 3])
    assert (ours.s, ours.variance, ours.z, ours.p_two_sided) == (0, 0, 0, 1)
    assert (other.s, other.z) == (0, 0)
    assert theil_sen(range(6), [3] * 6).per_week == 0


def test_one_sided_rejects_where_two_sided_does_not():
    """EPA series (S): the choice of sides decides at 5 %, and tau without continuity differs."""
    ours = mann_kendall(ROWS[0][0])
    assert ours.p_up < 0.05 < ours.p_two_sided
    tau_p = stats.kendalltau(range(11), ROWS[0][0]).pvalue
    assert tau_p == pytest.approx(0.0775, abs=5e-5)
    assert tau_p != pytest.approx(ours.p_two_sided, abs=0.01)


# Exact upper tails without ties (C): n, S, P(S or more).
TAILS = [(4, 6, 0.0417), (5, 8, 0.0417), (5, 10, 0.0083), (6, 11, 0.0278), (7, 13, 0.0345)]


@pytest.mark.parametrize(("n", "s", "probability"), TAILS)
def test_exact_tails_by_counting_every_order(n, s, probability):
    counts = Counter(mann_kendall(order).s for order in permutations(range(n)))
    share = sum(count for value, count in counts.items() if value >= s) / counts.total()
    assert share == pytest.approx(probability, abs=5e-5)


def test_uneven_days_and_ties_equal_scipy():
    days = [0, 0, 1, 4, 4, 9, 11, 12, 20, 21]
    series = [3, 4, 3, 5, 5, 4, 6, 6, 5, 7]
    ours = theil_sen(days, series)
    other = stats.theilslopes(series, days, alpha=0.95)
    assert (ours.per_week, ours.low, ours.high) == pytest.approx(
        (7 * other.slope, 7 * other.low_slope, 7 * other.high_slope)
    )
    assert median(series) == stats.scoreatpercentile(series, 50)
