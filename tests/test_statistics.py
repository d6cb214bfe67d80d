"""Intervals: what must hold for all counts, and how often they cover the truth.

The worked examples are in `tests/published/test_published_statistics.py`.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.stats import binom

from sim.statistics import paired_difference, wilson

COUNT = st.integers(0, 5000)
TABLE = st.tuples(COUNT, COUNT, COUNT, COUNT)


@given(COUNT, COUNT)
def test_wilson_contains_the_share_and_stays_a_share(hits: int, misses: int) -> None:
    assume(hits + misses > 0)
    low, high = wilson(hits, hits + misses)
    assert 0.0 <= low <= hits / (hits + misses) <= high <= 1.0
    assert low < high


@given(COUNT, COUNT)
def test_wilson_treats_hits_and_misses_alike(hits: int, misses: int) -> None:
    assume(hits + misses > 0)
    low, high = wilson(hits, hits + misses)
    other_low, other_high = wilson(misses, hits + misses)
    assert (low, high) == pytest.approx((1.0 - other_high, 1.0 - other_low), abs=1e-12)


@given(COUNT, COUNT)
def test_wilson_narrows_with_more_of_the_same(hits: int, misses: int) -> None:
    assume(hits + misses > 0)
    low, high = wilson(hits, hits + misses)
    four_low, four_high = wilson(4 * hits, 4 * (hits + misses))
    assert four_high - four_low < high - low


@pytest.mark.parametrize("share", [0.02, 0.1, 0.5, 0.8, 0.97])
@pytest.mark.parametrize("trials", [50, 400])
def test_wilson_covers_about_as_often_as_it_says(share: float, trials: int) -> None:
    # Exact: the binomial probability of all counts whose interval holds the share. It jumps about
    # 95 % from count to count; Newcombe 1998 reports 0.91 and more for the middle of the range.
    counts = np.arange(trials + 1)
    holds = np.array([low <= share <= high for low, high in (wilson(k, trials) for k in counts)])
    assert 0.91 < binom.pmf(counts, trials, share)[holds].sum() < 0.99


@given(TABLE)
def test_paired_difference_lies_in_its_interval(table: tuple[int, int, int, int]) -> None:
    assume(sum(table) > 0)
    difference, low, high = paired_difference(*table)
    assert difference == pytest.approx((table[1] - table[2]) / sum(table))
    assert -1.0 <= low <= difference + 1e-12
    assert difference - 1e-12 <= high <= 1.0


@given(TABLE)
def test_paired_difference_changes_sign_with_the_order(table: tuple[int, int, int, int]) -> None:
    assume(sum(table) > 0)
    both, first, second, neither = table
    one = paired_difference(both, first, second, neither)
    other = paired_difference(both, second, first, neither)
    assert one == pytest.approx((-other[0], -other[2], -other[1]), abs=1e-12)


@given(TABLE)
def test_paired_difference_treats_hits_and_misses_alike(table: tuple[int, int, int, int]) -> None:
    # Counting what got through instead of what was reached turns the sign round.
    assume(sum(table) > 0)
    both, first, second, neither = table
    reached = paired_difference(both, first, second, neither)
    through = paired_difference(neither, second, first, both)
    assert reached == pytest.approx((-through[0], -through[2], -through[1]), abs=1e-12)


def test_agreement_narrows_the_paired_interval() -> None:
    # Both have 50 and 40 hits in 100; the more they agree, the surer the difference.
    widths = []
    for both in (10, 20, 30, 40):
        _, low, high = paired_difference(both, 50 - both, 40 - both, 100 - 90 + both)
        widths.append(high - low)
    assert widths == sorted(widths, reverse=True)
    assert widths[0] > 1.2 * widths[-1]


def test_paired_difference_without_trials_or_without_discord() -> None:
    difference, low, high = paired_difference(0, 0, 0, 0)
    assert math.isnan(difference)
    assert (low, high) == (-1.0, 1.0)
    difference, low, high = paired_difference(30, 0, 0, 0)
    assert difference == 0.0
    assert low < 0.0 < high


def test_paired_interval_covers_about_as_often_as_it_says() -> None:
    # 4,000 tables of 200 shots with a true difference of 0.06: 95 % of the intervals hold it,
    # within four standard errors of 4,000 trials and a point for the method's own approximation.
    shares = np.array([0.60, 0.14, 0.08, 0.18])
    tables = np.random.default_rng(8).multinomial(200, shares, size=4000)
    held = 0
    for table in tables:
        _, low, high = paired_difference(*map(int, table))
        held += low <= 0.06 <= high
    assert held / 4000 == pytest.approx(0.95, abs=4.0 * math.sqrt(0.95 * 0.05 / 4000) + 0.01)
