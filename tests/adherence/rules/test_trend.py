"""Median, robust slope and trend test: edges and properties (figures: tests/reference)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adherence.rules.trend import mann_kendall, median, theil_sen

SCORES = st.lists(st.integers(0, 10), max_size=30)


def test_median_of_odd_and_even_counts():
    assert median([3]) == 3
    assert median([5, 1, 3]) == 3
    assert median([4, 1, 3, 2]) == 2.5


def test_median_of_nothing_is_refused():
    with pytest.raises(ValueError, match="median"):
        median([])


def test_a_slope_needs_two_different_days():
    assert theil_sen([], []) is None
    assert theil_sen([3], [5]) is None
    assert theil_sen([3, 3], [5, 6]) is None
    assert theil_sen([0, 7], [3, 5]).per_week == 2


def test_days_and_values_must_be_of_one_length():
    with pytest.raises(ValueError, match="length"):
        theil_sen([1, 2], [3])


def test_trend_of_nothing_and_of_one_value_is_none():
    for values in ([], [4]):
        result = mann_kendall(values)
        assert (result.s, result.z, result.p_two_sided) == (0, 0, 1)


@given(SCORES)
def test_turning_a_series_round_turns_its_trend_round(scores):
    forward, backward = mann_kendall(scores), mann_kendall(scores[::-1])
    assert forward.s == -backward.s
    assert forward.variance == backward.variance
    assert forward.p_two_sided == pytest.approx(backward.p_two_sided)
    assert 0 <= forward.p_up <= 1


@given(SCORES.filter(lambda scores: len(scores) > 1))
def test_the_slope_lies_within_its_limits(scores):
    slope = theil_sen(range(len(scores)), scores)
    assert slope.low <= slope.per_week <= slope.high


@given(st.integers(-5, 5))
def test_one_wild_rating_does_not_move_a_straight_line(step):
    line = [step * day for day in range(11)]
    line[5] += 100
    assert theil_sen(range(11), line).per_week == 7 * step
