"""Intervals against published worked examples and a general-purpose library."""

from __future__ import annotations

import pytest
from scipy.stats import binomtest

from sim.statistics import Z, paired_difference, wilson

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


def test_normal_quantile() -> None:
    from scipy.special import ndtri

    assert pytest.approx(float(ndtri(0.975)), abs=1e-15) == Z
