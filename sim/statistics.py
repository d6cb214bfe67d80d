"""Intervals for shares and for paired differences of shares, and verdicts on many of them.

Independent shots are judged by their counts (score intervals). Quasi-random shots are not
independent, but replicates of them are: those are judged by their scatter. Counts by replicate have
shape (replicates,), tables of pairs (replicates, 4).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import lru_cache
from statistics import NormalDist
from typing import Final

import numpy as np

LEVEL: Final = 0.95
# With fewer hits, misses or disagreements than this the scatter of replicates says too little.
FEW: Final = 10

Interval = tuple[float, float]


@lru_cache
def normal_quantile(level: float) -> float:
    """Two-sided point of the standard normal distribution.

    >>> round(normal_quantile(0.95), 4)
    1.96
    """
    return NormalDist().inv_cdf(0.5 + 0.5 * level)


@lru_cache
def student_quantile(level: float, freedom: int) -> float:
    """Two-sided point of Student's t with a whole number of degrees of freedom, by bisection.

    Source of the distribution: M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions
    (1964), 26.7.3 and 26.7.4.

    >>> round(student_quantile(0.95, 15), 3)
    2.131
    """
    low, high = 0.0, 0.5 * math.pi
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if _within(middle, freedom) < level else (low, middle)
    return math.sqrt(freedom) * math.tan(0.5 * (low + high))


def _within(angle: float, freedom: int) -> float:
    """Probability that ``|t|`` stays below ``sqrt(freedom) tan(angle)``."""
    sine, cosine = math.sin(angle), math.cos(angle)
    odd = freedom % 2
    term = total = cosine if odd else 1.0
    for k in range(2 + odd, freedom, 2):
        term *= (k - 1) / k * cosine * cosine
        total += term
    if not odd:
        return sine * total
    return 2.0 / math.pi * (angle + (sine * total if freedom > 1 else 0.0))


def wilson(hits: float, trials: float, level: float = LEVEL) -> Interval:
    """Wilson's score interval for a share; (0, 1) when there were no trials.

    Source: R. G. Newcombe, Stat. Med. 17 (1998) 857, method 3.

    >>> tuple(round(bound, 4) for bound in wilson(81, 263))
    (0.2553, 0.3662)
    """
    if trials == 0:
        return 0.0, 1.0
    return _score_interval(hits / trials, trials, normal_quantile(level))


def _score_interval(share: float, trials: float, quantile: float) -> Interval:
    square = quantile * quantile
    middle = share + square / (2.0 * trials)
    half = quantile * math.sqrt(share * (1.0 - share) / trials + square / (4.0 * trials * trials))
    scale = 1.0 + square / trials
    # At the ends the exact bounds are 0 and 1; rounding must not step past them.
    low = 0.0 if share == 0.0 else max((middle - half) / scale, 0.0)
    high = 1.0 if share == 1.0 else min((middle + half) / scale, 1.0)
    return low, high


def paired_difference(
    both: int, only_first: int, only_second: int, neither: int, level: float = LEVEL
) -> tuple[float, float, float]:
    """First share minus second on the same trials, with its score interval; NaN without trials.

    Source: R. G. Newcombe, Stat. Med. 17 (1998) 2635, method 10.

    >>> tuple(round(value, 4) for value in paired_difference(36, 12, 2, 0))
    (0.2, 0.0569, 0.3404)
    """
    trials = both + only_first + only_second + neither
    if trials == 0:
        return math.nan, -1.0, 1.0
    first, second = both + only_first, both + only_second
    p1, p2 = first / trials, second / trials
    (low1, high1), (low2, high2) = wilson(first, trials, level), wilson(second, trials, level)
    correlation = _correlation(both, only_first, only_second, neither)

    def width(a: float, b: float) -> float:
        return math.sqrt(max(a * a - 2.0 * correlation * a * b + b * b, 0.0))

    difference = (only_first - only_second) / trials
    low = difference - width(p1 - low1, high2 - p2)
    high = difference + width(high1 - p1, p2 - low2)
    return difference, max(low, -1.0), min(high, 1.0)


def _correlation(both: int, only_first: int, only_second: int, neither: int) -> float:
    """Newcombe's phi, with his continuity correction where the answers agree."""
    trials = both + only_first + only_second + neither
    margins = (
        (both + only_first)
        * (only_second + neither)
        * (both + only_second)
        * (only_first + neither)
    )
    if margins == 0:
        return 0.0
    product = both * neither - only_first * only_second
    if product > 0:
        product = max(product - trials / 2.0, 0.0)  # type: ignore[assignment]
    return product / math.sqrt(margins)


def share_of_replicates(hits: np.ndarray, trials: np.ndarray, level: float = LEVEL) -> Interval:
    """Interval for a share from the scatter of independent replicates.

    Wilson's interval for as many independent trials as would scatter alike, with Student's t for
    the normal quantile: stays within 0 and 1, and holds for shares near them.

    Source: E. L. Korn and B. I. Graubard, Confidence intervals for proportions with small expected
    number of positive counts estimated from survey data, Survey Methodology 24 (1998) 193 (the
    effective sample size); memory.
    """
    total, size = int(hits.sum()), int(trials.sum())
    if size == 0:
        return 0.0, 1.0
    share = total / size
    variance = _variance_of_mean(hits - share * trials, size)
    effective = share * (1.0 - share) / variance if variance > 0.0 else math.inf
    if min(total, size - total) < FEW or not math.isfinite(effective):
        effective = min(effective, size)
    return _score_interval(share, effective, student_quantile(level, max(hits.size - 1, 1)))


def difference_of_replicates(table: np.ndarray, level: float = LEVEL) -> tuple[float, float, float]:
    """As `paired_difference`, from the scatter of replicates; columns as its arguments.

    Where few pairs differ the interval is not narrower than that of independent pairs.
    """
    trials = table.sum(axis=1)
    gain = table[:, 1] - table[:, 2]
    both, only_first, only_second, neither = table.sum(axis=0).tolist()
    size = both + only_first + only_second + neither
    if size == 0:
        return math.nan, -1.0, 1.0
    difference = (only_first - only_second) / size
    error = math.sqrt(_variance_of_mean(gain - difference * trials, size))
    half = student_quantile(level, max(gain.size - 1, 1)) * error
    low, high = max(difference - half, -1.0), min(difference + half, 1.0)
    if only_first + only_second < FEW:
        _, score_low, score_high = paired_difference(both, only_first, only_second, neither, level)
        low, high = min(low, score_low), max(high, score_high)
    return difference, low, high


def difference_of_shares(
    first: tuple[np.ndarray, np.ndarray],
    second: tuple[np.ndarray, np.ndarray],
    level: float = LEVEL,
) -> tuple[float, float, float]:
    """First share minus second, each (hits, trials) by replicate, with its interval.

    Both come from the same replicates (the same random numbers in other settings): what they have
    in common cancels. NaN where either had no trials. Where either had few hits or misses the
    interval is not narrower than that of independent trials.

    Source of the latter: R. G. Newcombe, Stat. Med. 17 (1998) 873, method 10 (memory).
    """
    if not (first[1].any() and second[1].any()):
        return math.nan, -1.0, 1.0
    (mine, residual), (theirs, others) = map(_share_and_residuals, (first, second))
    error = math.sqrt(_variance_of_mean(residual - others, 1.0))
    below = above = student_quantile(level, max(residual.size - 1, 1)) * error
    totals = [(int(hits.sum()), int(trials.sum())) for hits, trials in (first, second)]
    if any(min(total, size - total) < FEW for total, size in totals):
        (low1, high1), (low2, high2) = (wilson(total, size, level) for total, size in totals)
        below = max(below, math.hypot(mine - low1, high2 - theirs))
        above = max(above, math.hypot(high1 - mine, theirs - low2))
    difference = mine - theirs
    return difference, max(difference - below, -1.0), min(difference + above, 1.0)


def _share_and_residuals(counts: tuple[np.ndarray, np.ndarray]) -> tuple[float, np.ndarray]:
    """A share, and what each replicate adds to it beyond its fair part."""
    hits, trials = counts
    size = int(trials.sum())
    share = int(hits.sum()) / size
    return share, (hits - share * trials) / size


def mean_of_replicates(
    sums: np.ndarray, counts: np.ndarray, level: float = LEVEL
) -> tuple[float, float, float]:
    """A mean with its interval from the scatter of replicates; NaN without counts."""
    size = float(counts.sum())
    if size == 0.0:
        return math.nan, math.nan, math.nan
    mean = float(sums.sum()) / size
    error = math.sqrt(_variance_of_mean(sums - mean * counts, size))
    half = student_quantile(level, max(counts.size - 1, 1)) * error
    return mean, mean - half, mean + half


def _variance_of_mean(residual: np.ndarray, size: float) -> float:
    """Variance of a ratio of sums, from what each replicate adds beyond its fair part.

    Source: W. G. Cochran, Sampling Techniques, 3rd ed. (1977), section 6.3 (memory).
    """
    count = residual.size
    if count < 2:
        return 0.0
    return float(np.dot(residual, residual)) * count / (count - 1.0) / (size * size)


def told_apart(intervals: Sequence[Callable[[float], tuple[float, float, float]]]) -> list[bool]:
    """Which of several differences can be told from zero, all verdicts together at 95 %.

    Every entry gives a difference and its interval at a level. The clearest is held to the level
    that allows for all comparisons, the next to that for one less, until one fails.

    Source: S. Holm, A simple sequentially rejective multiple test procedure, Scand. J. Statist. 6
    (1979) 65.
    """
    clearness = [_clearness(*interval(LEVEL)) for interval in intervals]
    found = [False] * len(intervals)
    order = sorted(range(len(intervals)), key=lambda k: -clearness[k])
    for rank, k in enumerate(order):
        _, low, high = intervals[k](adjusted(len(intervals) - rank))
        if low <= 0.0 <= high:
            break
        found[k] = True
    return found


def adjusted(comparisons: int) -> float:
    """The level at which each of so many intervals has to be made to hold together (Bonferroni).

    >>> round(adjusted(5), 6)
    0.99
    """
    return 1.0 - (1.0 - LEVEL) / max(comparisons, 1)


def _clearness(difference: float, low: float, high: float) -> float:
    """Distance from zero in half-widths of the interval."""
    if math.isnan(difference) or difference == 0.0:
        return 0.0
    half = difference - low if difference > 0.0 else high - difference
    return abs(difference) / half if half > 0.0 else math.inf
