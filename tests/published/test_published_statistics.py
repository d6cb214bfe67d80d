"""Intervals against published worked examples and a general-purpose library."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy.stats import binomtest, norm, sem
from scipy.stats import t as student_t

from sim.statistics import (
    mean_of_replicates,
    normal_quantile,
    paired_difference,
    student_quantile,
    told_apart,
    wilson,
)

# Rounding to the four decimals that are quoted.
DECIMALS = 4


# Newcombe 1998, Stat. Med. 17:857, method 3 (quoted, recomputed).
@pytest.mark.parametrize(
    ("hits", "trials", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_wilson_interval_of_the_worked_examples(
    hits: int, trials: int, low: float, high: float
) -> None:
    assert [round(bound, DECIMALS) for bound in wilson(hits, trials)] == [low, high]


@pytest.mark.parametrize("trials", [1, 2, 7, 40, 1000, 123_457])
def test_wilson_interval_against_scipy(trials: int) -> None:
    for hits in {0, 1, trials // 3, trials // 2, trials - 1, trials}:
        expected = binomtest(hits, trials).proportion_ci(method="wilson")
        # Where the exact bound is 0 or 1 scipy leaves a rounding error.
        assert wilson(hits, trials) == pytest.approx((expected.low, expected.high), abs=1e-12)


def test_wilson_interval_without_trials() -> None:
    assert wilson(0, 0) == (0.0, 1.0)


# Newcombe 1998, Stat. Med. 17:2635, method 10: the first table quoted and recomputed; the counts of
# the second from Agresti 1990 (quoted), its interval computed.
@pytest.mark.parametrize(
    ("table", "difference", "low", "high"),
    [
        ((36, 12, 2, 0), 0.2, 0.0569, 0.3404),
        ((794, 150, 86, 570), 0.04, 0.0212, 0.0587),
    ],
)
def test_paired_difference_of_the_worked_examples(
    table: tuple[int, int, int, int], difference: float, low: float, high: float
) -> None:
    found = [round(value, DECIMALS) for value in paired_difference(*table)]
    assert found == [difference, low, high]


@pytest.mark.parametrize("level", [0.8, 0.95, 0.99, 0.9999])
def test_quantiles_against_scipy(level: float) -> None:
    assert normal_quantile(level) == pytest.approx(norm.ppf(0.5 + 0.5 * level), abs=1e-12)
    for freedom in (1, 2, 3, 4, 15, 16, 31, 62, 63):
        expected = student_t.ppf(0.5 + 0.5 * level, freedom)
        assert student_quantile(level, freedom) == pytest.approx(expected, rel=1e-9)


# Student's t at 95 %, two-sided: Abramowitz and Stegun 1964, table 26.10 (memory).
@pytest.mark.parametrize(("freedom", "value"), [(1, 12.706), (2, 4.303), (15, 2.131), (60, 2.0)])
def test_student_quantile_of_the_printed_table(freedom: int, value: float) -> None:
    assert student_quantile(0.95, freedom) == pytest.approx(value, abs=5e-4)


def test_mean_of_replicates_is_student_s_interval() -> None:
    # Equal sizes: the textbook interval of a mean of sixteen values.
    values = np.random.default_rng(0).normal(3.0, 1.0, 16)
    mean, low, high = mean_of_replicates(50.0 * values, np.full(16, 50))
    expected = student_t.interval(0.95, 15, values.mean(), sem(values))
    assert (mean, low, high) == pytest.approx((values.mean(), *expected), rel=1e-12)


# The step-down procedure by hand on the P values 0.01, 0.02, 0.022 and 0.09: 0.01 <= 0.05 / 4, but
# 0.02 > 0.05 / 3, where it stops, although 0.022 <= 0.05 / 2 (Holm 1979, the procedure).
def test_holm_stops_at_the_first_failure() -> None:
    def of_p_value(p: float) -> Callable[[float], tuple[float, float, float]]:
        size = norm.isf(0.5 * p)
        return lambda level: (size, size - normal_quantile(level), size + normal_quantile(level))

    found = told_apart([of_p_value(p) for p in (0.02, 0.01, 0.09, 0.022)])
    assert found == [False, True, False, False]
    assert told_apart([of_p_value(p) for p in (0.012, 0.016, 0.024, 0.049)]) == [True] * 4
