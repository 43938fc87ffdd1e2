"""Small statistics that describe a series, and never raise a flag: median, slope, trend test.

Judged every day, a trend test raises several times the false alarms its p value promises, and most
when one day's pain resembles the day before; so `pain` decides, on the median. Slope and test are
held against published values in `tests/reference/`, and no page shows them yet.
"""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

DAYS_PER_WEEK = 7


@dataclass(frozen=True)
class Slope:
    """A robust slope with its confidence limits, in points per week."""

    per_week: float
    low: float
    high: float


@dataclass(frozen=True)
class MannKendall:
    """Mann-Kendall trend test: S, its variance corrected for ties, z, and two p values."""

    s: int
    variance: float
    z: float
    p_two_sided: float
    p_up: float


def median(values: Sequence[float]) -> float:
    """Middle value, or the mean of the two middle ones. Raises ValueError when there is none."""
    if not values:
        raise ValueError("the median of no values is not defined")
    ordered = sorted(values)
    middle = len(ordered) // 2
    if len(ordered) % 2:
        return float(ordered[middle])
    return (ordered[middle - 1] + ordered[middle]) / 2


def _tie_term(values: Sequence[float]) -> int:
    return sum(t * (t - 1) * (2 * t + 5) for t in Counter(values).values())


def theil_sen(
    days: Sequence[float], values: Sequence[float], *, confidence: float = 0.95
) -> Slope | None:
    """Median of the slopes of all pairs of points; None when no two points differ in day.

    `days` are day numbers, `values` points; the answer is in points per week. The limits are the
    slopes at the ranks given by the variance of Kendall's S (Sen 1968), widest where data run out.
    """
    if len(days) != len(values):
        raise ValueError("days and values must be of one length")
    slopes = sorted(
        (values[j] - values[i]) / (days[j] - days[i])
        for i in range(len(days))
        for j in range(i + 1, len(days))
        if days[j] != days[i]
    )
    if not slopes:
        return None
    n = len(values)
    variance = (n * (n - 1) * (2 * n + 5) - _tie_term(days) - _tie_term(values)) / 18
    reach = NormalDist().inv_cdf(0.5 + confidence / 2) * math.sqrt(max(0.0, variance))
    count = len(slopes)
    upper = min(round((count + reach) / 2), count - 1)
    lower = max(round((count - reach) / 2) - 1, 0)
    return Slope(
        per_week=median(slopes) * DAYS_PER_WEEK,
        low=slopes[lower] * DAYS_PER_WEEK,
        high=slopes[upper] * DAYS_PER_WEEK,
    )


def mann_kendall(values: Sequence[float]) -> MannKendall:
    """Mann-Kendall test of a series in order of time, with tie and continuity corrections.

    A series without spread, or with fewer than two values, has no trend: z is 0 and p two-sided 1.
    """
    n = len(values)
    s = sum(
        (values[j] > values[i]) - (values[j] < values[i]) for i in range(n) for j in range(i + 1, n)
    )
    variance = (n * (n - 1) * (2 * n + 5) - _tie_term(values)) / 18
    z = 0.0
    if variance > 0 and s != 0:
        z = (s - math.copysign(1, s)) / math.sqrt(variance)
    return MannKendall(
        s=s,
        variance=variance,
        z=z,
        p_two_sided=math.erfc(abs(z) / math.sqrt(2)),
        p_up=0.5 * math.erfc(z / math.sqrt(2)),
    )
