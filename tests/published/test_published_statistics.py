"""Intervals against published worked examples and a general-purpose library."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

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
from tests.published.check import Check, Property, Source
from tests.published.test_ball_and_air import ROUNDED


@pytest.mark.parametrize("trials", [1, 2, 7, 40, 1000, 123_457])
def test_wilson_interval_against_scipy(trials: int) -> None:
    for hits in {0, 1, trials // 3, trials // 2, trials - 1, trials}:
        expected = binomtest(hits, trials).proportion_ci(method="wilson")
        # Where the exact bound is 0 or 1 scipy leaves a rounding error.
        assert wilson(hits, trials) == pytest.approx((expected.low, expected.high), abs=1e-12)


def test_wilson_interval_without_trials() -> None:
    assert wilson(0, 0) == (0.0, 1.0)


@pytest.mark.parametrize("level", [0.8, 0.95, 0.99, 0.9999])
def test_quantiles_against_scipy(level: float) -> None:
    assert normal_quantile(level) == pytest.approx(norm.ppf(0.5 + 0.5 * level), abs=1e-12)
    for freedom in (1, 2, 3, 4, 15, 16, 31, 62, 63):
        expected = student_t.ppf(0.5 + 0.5 * level, freedom)
        assert student_quantile(level, freedom) == pytest.approx(expected, rel=1e-9)


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


SCIPY = Source("scipy.stats", "library")
TEXTBOOK = Source("Textbook interval of a mean (scipy.stats)", "library")
NEWCOMBE_SINGLE = Source("Newcombe 1998a, method 3", "quoted")
NEWCOMBE_PAIRED = Source("Newcombe 1998b, method 10", "quoted")
AGRESTI = Source("Newcombe's method 10, counts of Agresti 1990", "computed")
PRINTED_TABLE = Source("Abramowitz and Stegun 1964, table 26.10", "from memory")
HOLM = Source("Holm 1979", "from memory")


def ends(
    name: str, source: Source, found: Callable[[], tuple[float, ...]], published: dict[str, float]
) -> list[Check]:
    """The parts of a worked example, one check each."""
    return [
        Check(
            f"{name}: {part}",
            source,
            value,
            partial(lambda place: found()[place], place),
            allowed=5e-5,
            why=ROUNDED,
            decimals=4,
        )
        for place, (part, value) in enumerate(published.items())
    ]


CHECKS = [
    *ends(
        "interval of 81 of 263",
        NEWCOMBE_SINGLE,
        lambda: wilson(81, 263),
        {"low": 0.2553, "high": 0.3662},
    ),
    *ends(
        "interval of 15 of 148",
        NEWCOMBE_SINGLE,
        lambda: wilson(15, 148),
        {"low": 0.0624, "high": 0.1605},
    ),
    *ends(
        "interval of 0 of 20", NEWCOMBE_SINGLE, lambda: wilson(0, 20), {"low": 0.0, "high": 0.1611}
    ),
    *ends(
        "interval of 1 of 29",
        NEWCOMBE_SINGLE,
        lambda: wilson(1, 29),
        {"low": 0.0061, "high": 0.1718},
    ),
    *ends(
        "paired difference of 36, 12, 2, 0",
        NEWCOMBE_PAIRED,
        lambda: paired_difference(36, 12, 2, 0),
        {"value": 0.2, "low": 0.0569, "high": 0.3404},
    ),
    *ends(
        "paired difference of 794, 150, 86, 570",
        AGRESTI,
        lambda: paired_difference(794, 150, 86, 570),
        {"value": 0.04, "low": 0.0212, "high": 0.0587},
    ),
    *(
        Check(
            f"Student's t at 95 %, {freedom} degrees of freedom",
            PRINTED_TABLE,
            value,
            partial(student_quantile, 0.95, freedom),
            allowed=5e-4,
            why=ROUNDED,
            decimals=3,
        )
        for freedom, value in ((1, 12.706), (2, 4.303), (15, 2.131), (60, 2.0))
    ),
]
PROPERTIES = [
    Property(
        "Wilson's interval, from 1 to 123,457 trials, is the library's to 12 digits.",
        SCIPY,
        test_wilson_interval_against_scipy,
    ),
    Property(
        "Normal and Student's quantiles are the library's.", SCIPY, test_quantiles_against_scipy
    ),
    Property(
        "The interval of replicates is Student's.",
        TEXTBOOK,
        test_mean_of_replicates_is_student_s_interval,
    ),
    Property("Verdicts stop at the first that fails.", HOLM, test_holm_stops_at_the_first_failure),
]
