"""Intervals for shares and for paired differences of shares, all at 95 %."""

from __future__ import annotations

import math
from typing import Final

# Two-sided 95 % point of the standard normal distribution.
Z: Final = 1.959963984540054


def wilson(hits: int, trials: int) -> tuple[float, float]:
    """Wilson's score interval for a share; (0, 1) when there were no trials.

    Source: R. G. Newcombe, Stat. Med. 17 (1998) 857, method 3.

    >>> tuple(round(bound, 4) for bound in wilson(81, 263))
    (0.2553, 0.3662)
    """
    if trials == 0:
        return 0.0, 1.0
    share = hits / trials
    middle = share + Z * Z / (2.0 * trials)
    half = Z * math.sqrt(share * (1.0 - share) / trials + Z * Z / (4.0 * trials * trials))
    scale = 1.0 + Z * Z / trials
    # At the ends the exact bounds are 0 and 1; rounding must not step past them.
    low = 0.0 if hits == 0 else max((middle - half) / scale, 0.0)
    high = 1.0 if hits == trials else min((middle + half) / scale, 1.0)
    return low, high


def paired_difference(
    both: int, only_first: int, only_second: int, neither: int
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
    (low1, high1), (low2, high2) = wilson(first, trials), wilson(second, trials)
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
