"""The Wilson interval against published rows and statsmodels, and the decisions drawn from it.

Marks: S seen in a public source, M from memory, C computed with another program.
"""

import pytest
from statsmodels.stats.proportion import proportion_confint

from adherence.rules.adherence import wilson

# x, n, Wilson low, high; Jeffreys; Clopper-Pearson; one-sided 95 % upper.
# Rows 81/263 and 0/20: Newcombe, Statistics in Medicine 17 (1998) 857-872 (M, reproduced C).
# The others: C, statsmodels.
ROWS = [
    (81, 263, (0.2553, 0.3662), (0.2545, 0.3656), (0.2527, 0.3676), 0.3566),
    (0, 20, (0.0, 0.1611), (0.0, 0.1166), (0.0, 0.1684), 0.1192),
    (4, 20, (0.0807, 0.4160), (0.0715, 0.4082), (0.0573, 0.4366), 0.3784),
    (12, 14, (0.6006, 0.9599), (0.6151, 0.9691), (0.5719, 0.9822), 0.9515),
    (9, 14, (0.3876, 0.8366), (0.3845, 0.8485), (0.3514, 0.8724), 0.8139),
    (6, 14, (0.2138, 0.6741), (0.2029, 0.6806), (0.1766, 0.7114), 0.6396),
    (3, 6, (0.1876, 0.8124), (0.1668, 0.8332), (0.1181, 0.8819), 0.7787),
    (0, 6, (0.0, 0.3903), (0.0001, 0.3304), (0.0, 0.4593), 0.3108),
    (6, 6, (0.6097, 1.0), (0.6696, 0.9999), (0.5407, 1.0), 1.0),
]
ONE_SIDED_Z = 1.644854
ALPHA = 0.05


@pytest.mark.parametrize(("x", "n", "expected"), [row[:3] for row in ROWS])
def test_the_interval_is_the_published_one_and_that_of_statsmodels(x, n, expected):
    ours = wilson(x, n)
    other = proportion_confint(x, n, alpha=ALPHA, method="wilson")
    assert (ours.low, ours.high) == pytest.approx(expected, abs=5e-5)
    assert (ours.low, ours.high) == pytest.approx(other, abs=1e-6)


@pytest.mark.parametrize(("x", "n", "upper"), [(*row[:2], row[5]) for row in ROWS])
def test_the_one_sided_upper_limit_is_the_published_one(x, n, upper):
    other = proportion_confint(x, n, alpha=2 * ALPHA, method="wilson")[1]
    assert wilson(x, n, z=ONE_SIDED_Z).high == pytest.approx(upper, abs=5e-5)
    assert wilson(x, n, z=ONE_SIDED_Z).high == pytest.approx(other, abs=1e-6)


@pytest.mark.parametrize(("x", "n", "jeffreys", "exact"), [(*r[:2], *r[3:5]) for r in ROWS])
def test_wilson_lies_near_two_other_methods(x, n, jeffreys, exact):
    """Jeffreys and Clopper-Pearson (C) are drawn beside it, each as its own program gives it."""
    assert proportion_confint(x, n, method="beta") == pytest.approx(exact, abs=6e-5)
    assert proportion_confint(x, n, method="jeffreys") == pytest.approx(jeffreys, abs=1.1e-4)
    ours = wilson(x, n)
    # Clopper-Pearson never covers less than it says, and so is hardly ever the narrower one.
    assert exact[1] - exact[0] > ours.high - ours.low - 0.005


# Due sessions and the most that may be done for "even the upper limit lies below the target".
# C: the same table by statsmodels below.
BELOW_80 = {4: 1, 5: 2, 6: 2, 7: 3, 8: 4, 10: 5, 12: 6, 14: 8, 20: 12, 21: 13, 28: 18}
BELOW_70 = {4: 1, 6: 1, 7: 2, 10: 4, 14: 6, 21: 10, 28: 14}


@pytest.mark.parametrize(
    ("target", "due", "most"),
    [(0.80, due, most) for due, most in BELOW_80.items()]
    + [(0.70, due, most) for due, most in BELOW_70.items()],
)
def test_below_target_holds_exactly_up_to_the_tabled_number(target, due, most):
    ours = [wilson(done, due).high < target for done in range(due + 1)]
    other = [proportion_confint(done, due, method="wilson")[1] < target for done in range(due + 1)]
    assert ours == other == [done <= most for done in range(due + 1)]


def test_the_edge_of_the_table_is_as_close_as_tabled():
    """Eight of fourteen lies just below 80 %, nine above (C)."""
    assert wilson(8, 14).high == pytest.approx(0.7862, abs=5e-5)
    assert wilson(9, 14).high == pytest.approx(0.8366, abs=5e-5)


def test_no_trials_is_no_data_and_never_nought_percent():
    assert wilson(0, 0) is None


def test_every_pair_up_to_sixty_equals_statsmodels():
    for n in range(1, 61):
        for x in range(n + 1):
            ours = wilson(x, n)
            other = proportion_confint(x, n, method="wilson")
            assert (ours.low, ours.high) == pytest.approx(other, abs=1e-6)
