"""Intervals: what must hold for all counts, and how often they cover the truth.

The worked examples are in `tests/published/test_published_statistics.py`.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.stats import binom, sem
from scipy.stats import t as student_t

from sim.statistics import (
    FEW,
    adjusted,
    difference_of_replicates,
    difference_of_shares,
    mean_of_replicates,
    paired_difference,
    share_of_replicates,
    student_quantile,
    told_apart,
    wilson,
)

Limits = tuple[float, float, float]
Differing = Callable[[float], Limits]
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


def test_intervals_widen_with_the_level() -> None:
    # The score interval of 30 in 100 by its definition: bounds at which the normal test with the
    # bound's own variance is just passed; the points are 1.2815516 (80 %) and 2.5758293 (99 %).
    for level, point in ((0.8, 1.2815516), (0.99, 2.5758293)):
        for bound in wilson(30, 100, level):
            assert abs(0.3 - bound) / math.sqrt(bound * (1.0 - bound) / 100.0) == pytest.approx(
                point, rel=1e-6
            )


def score_limits(difference: float, first: tuple[int, int], second: tuple[int, int]) -> Limits:
    """Newcombe's limits without correlation, from both shares' own intervals."""
    (p1, (low1, high1)), (p2, (low2, high2)) = (
        (hits / trials, wilson(hits, trials)) for hits, trials in (first, second)
    )
    below, above = math.hypot(p1 - low1, high2 - p2), math.hypot(high1 - p1, p2 - low2)
    return difference, difference - below, difference + above


def test_paired_limits_have_no_correlation_where_it_is_not_sure() -> None:
    # 10 x 6 - 6 x 9 = 6 is less than half of the 31 pairs: the corrected phi is 0.
    assert paired_difference(10, 6, 9, 6) == pytest.approx(
        score_limits(-3 / 31, (16, 31), (19, 31)), abs=1e-12
    )
    # 1 x 1 - 0 x 0 = 1 is half of the two pairs.
    assert paired_difference(1, 0, 0, 1) == pytest.approx(
        score_limits(0.0, (1, 2), (1, 2)), abs=1e-12
    )
    # The first always succeeds: phi would be 0 / 0, and is 0.
    assert paired_difference(30, 10, 0, 0) == pytest.approx(
        score_limits(0.25, (40, 40), (30, 40)), abs=1e-12
    )


def test_paired_limits_with_correlation_by_hand() -> None:
    # phi = (40 x 30 - 20 x 10 - 50) / sqrt(60 x 40 x 50 x 50) = 950 / 2449.49; without the
    # correction where the answers disagree: (10 x 10 - 50 x 30) / sqrt(60 x 40 x 40 x 60).
    for table, phi in (
        ((40, 20, 10, 30), 950.0 / math.sqrt(60.0 * 40.0 * 50.0 * 50.0)),
        ((10, 50, 30, 10), -1400.0 / 2400.0),
    ):
        both, first, second, _ = table
        p1, p2 = (both + first) / 100.0, (both + second) / 100.0
        (low1, high1), (low2, high2) = wilson(100.0 * p1, 100), wilson(100.0 * p2, 100)
        a, b, c, d = p1 - low1, high2 - p2, high1 - p1, p2 - low2
        assert paired_difference(*table) == pytest.approx(
            (
                p1 - p2,
                p1 - p2 - math.sqrt(a * a + b * b - 2.0 * phi * a * b),
                p1 - p2 + math.sqrt(c * c + d * d - 2.0 * phi * c * d),
            )
        )


# --- replicates --------------------------------------------------------------------------------

EVEN = np.full(4, 100)


def assert_score_interval(found: tuple[float, float], share: float, size: float, t: float) -> None:
    """Wilson's definition: at each bound, (share - bound)^2 = t^2 bound (1 - bound) / size."""
    low, high = found
    assert low < share < high
    for bound in found:
        assert (share - bound) ** 2 == pytest.approx(t * t * bound * (1.0 - bound) / size)


def test_share_of_replicates_by_hand() -> None:
    # Shares 0.36, 0.40, 0.40 and 0.44: the variance of their mean is (2 x 0.04^2 / 3) / 4 =
    # 0.00026667, so that they scatter like 0.4 x 0.6 / 0.00026667 = 900 independent shots.
    found = share_of_replicates(np.array([36, 40, 40, 44]), EVEN)
    assert_score_interval(found, 0.4, 900.0, student_t.ppf(0.975, 3))
    surer = share_of_replicates(np.array([36, 40, 40, 44]), EVEN, 0.99)
    assert_score_interval(surer, 0.4, 900.0, student_t.ppf(0.995, 3))


def test_share_of_unequal_replicates_by_hand() -> None:
    # 30 of 50 and 70 of 150: a half of all 200; beyond their fair parts of 25 and 75 they have 5
    # more and 5 fewer. Cochran: 2 x (25 + 25) / 200^2 = 0.0025, as of 100 shots.
    found = share_of_replicates(np.array([30, 70]), np.array([50, 150]))
    assert_score_interval(found, 0.5, 100.0, student_t.ppf(0.975, 1))


@pytest.mark.parametrize("turned", [False, True])
def test_share_of_few_hits_or_misses_is_no_surer_than_that_of_as_many_shots(turned: bool) -> None:
    # Nine hits, or misses, so even that they would pass for 3519 shots: 400 are 400. With ten the
    # scatter is believed: 4 x 0.5^2 x 4 / 3 / 400^2 = 1 / 120,000, as of 0.025 x 0.975 x 120,000.
    t = student_t.ppf(0.975, 3)
    for hits, size in (([2, 2, 2, 3], 400.0), ([2, 3, 2, 3], 2925.0)):
        counts = np.array(hits)
        found = share_of_replicates(EVEN - counts if turned else counts, EVEN)
        share = sum(hits) / 400
        assert_score_interval(found, 1.0 - share if turned else share, size, t)
    assert sum([2, 3, 2, 3]) == FEW


def test_share_of_few_hits_that_scatter_keeps_their_scatter() -> None:
    # All eight hits in one replicate of four: (6^2 + 3 x 2^2) x 4 / 3 / 400^2 = 0.0004, as of
    # 0.02 x 0.98 / 0.0004 = 49 shots, fewer than there are.
    found = share_of_replicates(np.array([8, 0, 0, 0]), EVEN)
    assert_score_interval(found, 0.02, 49.0, student_t.ppf(0.975, 3))


def test_replicates_that_do_not_scatter_count_as_their_shots() -> None:
    found = share_of_replicates(np.full(4, 40), EVEN)
    assert_score_interval(found, 0.4, 400.0, student_t.ppf(0.975, 3))
    # One replicate has no scatter either, and Student's t has one degree of freedom at least.
    found = share_of_replicates(np.array([40]), np.array([100]))
    assert_score_interval(found, 0.4, 100.0, student_t.ppf(0.975, 1))


def test_none_and_all_are_bounds_to_the_last_digit() -> None:
    for trials in range(1, 400):
        assert wilson(0, trials)[0] == 0.0
        assert wilson(trials, trials)[1] == 1.0


def test_nothing_is_known_of_replicates_without_trials() -> None:
    none = np.zeros(4, int)
    assert share_of_replicates(none, none) == (0.0, 1.0)
    assert math.isnan(mean_of_replicates(none, none)[0])
    assert all(map(math.isnan, mean_of_replicates(none, none)))
    for difference, low, high in (
        difference_of_replicates(np.zeros((4, 4), int)),
        difference_of_shares((none, none), (none + 1, EVEN)),
        difference_of_shares((none + 1, EVEN), (none, none)),
    ):
        assert math.isnan(difference)
        assert (low, high) == (-1.0, 1.0)


def test_a_share_of_one_trial_is_known_a_little() -> None:
    assert 0.0 == wilson(0, 1)[0] < wilson(0, 1)[1] < 1.0
    assert share_of_replicates(np.array([1]), np.array([1]))[0] > 0.0
    assert not math.isnan(difference_of_replicates(np.array([[0, 1, 0, 0]]))[0])
    assert not math.isnan(paired_difference(0, 1, 0, 0)[0])
    assert mean_of_replicates(np.array([3.0]), np.array([1])) == (3.0, 3.0, 3.0)


@pytest.mark.parametrize("level", [0.95, 0.8])
def test_mean_of_unequal_replicates_by_hand(level: float) -> None:
    # Sums 30 of 5 and 130 of 15: a mean of 8, fair parts 40 and 120, residuals -10 and 10, so that
    # the variance is 2 x 200 / 20^2 = 1.
    mean, low, high = mean_of_replicates(np.array([30.0, 130.0]), np.array([5, 15]), level)
    half = student_t.ppf(0.5 + 0.5 * level, 1)
    assert (mean, low, high) == pytest.approx((8.0, 8.0 - half, 8.0 + half))


def pairs(first: list[int], second: list[int], both: int = 20, size: int = 100) -> np.ndarray:
    """A table for each replicate: answers of both, of one only, and of neither."""
    return np.array([[both, a, b, size - both - a - b] for a, b in zip(first, second, strict=True)])


@pytest.mark.parametrize("level", [0.95, 0.99])
def test_difference_of_replicates_is_student_s_interval(level: float) -> None:
    # Equal sizes: the textbook interval of the mean of four differences.
    found = difference_of_replicates(pairs([30, 28, 32, 31], [10, 10, 10, 11]), level)
    values = np.array([0.20, 0.18, 0.22, 0.20])
    expected = student_t.interval(level, 3, values.mean(), sem(values))
    assert found == pytest.approx((0.2, *expected))


def test_difference_of_unequal_replicates_by_hand() -> None:
    # Gains of 20 in 50 and 20 in 150: 0.2 in all, fair parts 10 and 30, residuals 10 and -10; a
    # standard error of sqrt(2 x 200) / 200 = 0.1, and 12.7062 of those to either side; that is
    # beyond what a difference can be.
    table = np.array([[5, 25, 5, 15], [20, 30, 10, 90]])
    assert difference_of_replicates(table) == (pytest.approx(0.2), -1.0, 1.0)
    # At 60 % it is not: Student's t of one degree of freedom is tan(0.3 pi) = 1.37638.
    half = 0.1 * math.tan(0.3 * math.pi)
    found = difference_of_replicates(table, 0.6)
    assert found == pytest.approx((0.2, 0.2 - half, 0.2 + half))


def test_few_pairs_that_differ_are_no_surer_than_independent_ones() -> None:
    # Nine pairs differ, evenly over the replicates: the score interval is the wider one. With ten
    # the scatter is believed: gains 2, 2, 2 and 2 have none.
    nine = pairs([2, 2, 2, 2], [0, 0, 0, 1])
    assert difference_of_replicates(nine)[1:] == paired_difference(80, 8, 1, 311)[1:]
    assert difference_of_replicates(nine, 0.8)[1:] == paired_difference(80, 8, 1, 311, 0.8)[1:]
    ten = pairs([2, 2, 2, 3], [0, 0, 0, 1])
    assert difference_of_replicates(ten) == (0.02, 0.02, 0.02)
    # Few pairs that scatter more than independent ones keep their scatter: one in four gains 8.
    low, high = difference_of_replicates(pairs([8, 0, 0, 0], [0, 0, 0, 0]))[1:]
    half = student_t.ppf(0.975, 3) * 0.02
    assert (low, high) == pytest.approx((0.02 - half, 0.02 + half))


def counts(*hits: int) -> tuple[np.ndarray, np.ndarray]:
    return np.array(hits), np.full(len(hits), 100)


@pytest.mark.parametrize("level", [0.95, 0.99])
def test_difference_of_shares_cancels_what_they_have_in_common(level: float) -> None:
    # Shares that go up and down together: the interval is that of their differences.
    found = difference_of_shares(counts(50, 60, 40, 70), counts(40, 48, 30, 62), level)
    values = np.array([0.10, 0.12, 0.10, 0.08])
    expected = student_t.interval(level, 3, values.mean(), sem(values))
    assert found == pytest.approx((0.1, *expected))


def test_difference_of_shares_with_other_trials_by_hand() -> None:
    # 30 of 50 and 70 of 150 are a half, with 5 / 200 more and fewer than fair; 20 of 100 and 40 of
    # 100 are 0.3, with 10 / 200 fewer and more: together 0.075 apart, a standard error of
    # sqrt(2 x 2 x 0.075^2) = 0.15; tan(0.3 pi) as above.
    first = np.array([30, 70]), np.array([50, 150])
    second = np.array([20, 40]), np.array([100, 100])
    half = 0.15 * math.tan(0.3 * math.pi)
    found = difference_of_shares(first, second, 0.6)
    assert found == pytest.approx((0.2, 0.2 - half, 0.2 + half))
    assert difference_of_shares(first, second) == (pytest.approx(0.2), -1.0, 1.0)


@pytest.mark.parametrize("level", [0.95, 0.8])
@pytest.mark.parametrize("few", [(2, 2, 2, 3), (98, 98, 98, 97)])
def test_difference_of_few_hits_or_misses_is_no_surer_than_of_independent_shots(
    few: tuple[int, ...], level: float
) -> None:
    # The other share moves along, so that the scatter says nothing.
    other = tuple(hits + (40 if sum(few) < 200 else -40) for hits in few)
    total, others = sum(few), sum(other)
    p1, p2 = total / 400, others / 400
    (low1, high1), (low2, high2) = wilson(total, 400, level), wilson(others, 400, level)
    below, above = math.hypot(p1 - low1, high2 - p2), math.hypot(high1 - p1, p2 - low2)
    found = difference_of_shares(counts(*few), counts(*other), level)
    assert found == pytest.approx((p1 - p2, p1 - p2 - below, p1 - p2 + above))
    turned = difference_of_shares(counts(*other), counts(*few), level)
    assert turned == pytest.approx((p2 - p1, p2 - p1 - above, p2 - p1 + below))


def test_a_share_without_hits_is_one() -> None:
    assert difference_of_shares(counts(0, 0), counts(40, 40))[0] == -0.4
    assert difference_of_shares(counts(40, 40), counts(0, 0))[0] == 0.4


def test_a_replicate_without_trials_says_nothing_but_the_others_do() -> None:
    some, all_ = (np.array([0, 60, 50]), np.array([0, 100, 100])), counts(40, 40, 40)
    assert difference_of_shares(some, all_)[0] == pytest.approx(0.15)
    assert difference_of_shares(all_, some)[0] == pytest.approx(-0.15)


def test_difference_of_ten_hits_believes_the_scatter() -> None:
    difference, low, high = difference_of_shares(counts(2, 3, 2, 3), counts(42, 43, 42, 43))
    assert (difference, low, high) == pytest.approx((-0.4, -0.4, -0.4), abs=1e-12)
    # Nine that scatter more than independent shots keep their scatter: 9, 0, 0, 0 less 2.25.
    difference, low, high = difference_of_shares(counts(9, 0, 0, 0), counts(50, 50, 50, 50))
    half = student_t.ppf(0.975, 3) * sem([0.09, 0.0, 0.0, 0.0])
    assert (low, high) == pytest.approx((difference - half, difference + half))


# --- verdicts ----------------------------------------------------------------------------------


def always(difference: float, low: float, high: float) -> Differing:
    return lambda level: (difference, low, high)


def widening(difference: float, half: float) -> Differing:
    """Half as wide again for each comparison more that the level allows for."""

    def interval(level: float) -> Limits:
        size = half * (0.5 + 0.5 * 0.05 / (1.0 - level))
        return difference, difference - size, difference + size

    return interval


def test_what_touches_zero_is_not_told_from_it() -> None:
    assert told_apart([always(0.1, 0.0, 0.2)]) == [False]
    assert told_apart([always(-0.1, -0.2, 0.0)]) == [False]
    assert told_apart([always(0.1, 1e-9, 0.2), always(-0.1, -0.2, -1e-9)]) == [True, True]
    assert told_apart([]) == []


def test_the_first_failure_ends_the_verdicts() -> None:
    # In half-widths 3, 1.4 and 1.3 from zero at 95 %. Allowing for three comparisons makes an
    # interval twice as wide, for two 1.5 times: the first passes, the second and with it the third
    # fail, though the third alone would pass.
    found = told_apart([widening(0.13, 0.1), widening(-0.30, 0.1), widening(-0.14, 0.1)])
    assert found == [False, True, False]
    # Each fails at the level for three, but the clearest, however the rest is ordered.
    assert told_apart([widening(0.16, 0.1), widening(0.13, 0.1), widening(0.25, 0.1)]) == [True] * 3


def test_clearness_is_counted_in_half_widths_on_the_side_of_zero() -> None:
    # The first is 1.25 half-widths from zero and ends on it when two comparisons are allowed for;
    # the second is 4 and stays clear of it. Were widths on the far side, or differences alone, what
    # counts, the first would come first, fail, and end the verdicts.
    def lopsided(sign: float) -> Differing:
        def interval(level: float) -> Limits:
            reach = 0.4 if level < 0.96 else 0.5
            ends = sorted((sign * (0.5 - reach), sign * 0.51))
            return sign * 0.5, ends[0], ends[1]

        return interval

    for sign in (1.0, -1.0):
        clear = always(sign * 0.2, *sorted((sign * 0.15, sign * 0.5)))
        assert told_apart([lopsided(sign), clear]) == [True, True]


def test_nothing_known_or_no_difference_comes_last() -> None:
    unknown, none = always(math.nan, -1.0, 1.0), always(0.0, -0.1, 0.1)
    exact, clear = always(0.3, 0.3, 0.3), always(-0.2, -0.3, -0.1)
    assert told_apart([unknown, exact, clear]) == [False, True, True]
    assert told_apart([none, clear, exact]) == [False, True, True]
    assert told_apart([none, unknown]) == [False, False]
    # No difference at all, and that for sure, is none; the greatest there is is one.
    assert told_apart([always(0.0, 0.0, 0.0), clear]) == [False, True]
    assert told_apart([always(0.1, -0.1, 0.3), always(1.0, 0.5, 1.0)]) == [False, True]


def test_level_for_several_comparisons() -> None:
    assert adjusted(1) == pytest.approx(0.95)
    assert adjusted(2) == pytest.approx(0.975)
    assert adjusted(0) == adjusted(1)


def test_student_s_quantile_is_as_sharp_as_numbers_go() -> None:
    # One degree of freedom is Cauchy's distribution: tan(0.5 pi level). Two: level x
    # sqrt(2 / (1 - level^2)).
    for level in (0.5, 0.95, 0.999):
        assert student_quantile(level, 1) == pytest.approx(math.tan(0.5 * math.pi * level))
        assert student_quantile(level, 2) == pytest.approx(
            level * math.sqrt(2.0 / (1.0 - level * level)), rel=1e-12
        )
