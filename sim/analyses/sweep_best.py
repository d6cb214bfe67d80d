"""Which of several settings is the best, and which cannot be told from it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.court import Array
from sim.statistics import FEW, adjusted, student_quantile, wilson


@dataclass(frozen=True)
class AgainstBest:
    """Settings held against the best of them; arrays of shape (settings,).

    ``best`` is the place of the largest share, None where no setting had balls in play.
    ``difference`` is a setting's share minus the best share of all the others, with its interval
    from ``low`` to ``high``. ``told`` are the settings that are told from the best; the others hold
    the truly best one. All of this together holds at 95 %. Settings without balls in play are NaN.
    """

    best: int | None
    difference: Array
    low: Array
    high: Array
    told: np.ndarray

    @property
    def tied(self) -> list[int]:
        """Places of the settings that cannot be told from the best, itself among them."""
        return [int(k) for k in np.flatnonzero(~self.told & ~np.isnan(self.difference))]


def against_best(hits: np.ndarray, balls: np.ndarray, families: int = 1) -> AgainstBest:
    """Multiple comparisons with the best, of settings that faced the same random numbers.

    ``hits`` and ``balls`` have the shape (settings, replicates). With ``families`` so many calls
    hold together.

    Were a setting the truly best one, hardly any other would beat it by more than the half-width of
    their paired interval: a setting that is beaten by more is told from the best. Intervals are
    those of `statistics.difference_of_shares`, with the level shared out among the comparisons
    (Bonferroni), because the errors of paired differences differ in size.

    Sources: J. C. Hsu, Constrained simultaneous confidence intervals for multiple comparisons with
    the best, Ann. Statist. 12 (1984) 1136; D. G. Edwards and J. C. Hsu, Multiple comparisons with
    the best treatment, J. Amer. Statist. Assoc. 78 (1983) 965 (both memory).
    """
    difference, low, high = np.full((3, hits.shape[0]), np.nan)
    told = np.zeros(hits.shape[0], bool)
    known = np.flatnonzero(balls.any(axis=1))
    if known.size == 0:
        return AgainstBest(None, difference, low, high, told)
    shares, to_low, to_high = _paired(hits[known], balls[known], families)
    best = int(known[shares.argmax()])
    if known.size == 1:
        difference[known] = low[known] = high[known] = 0.0
        return AgainstBest(best, difference, low, high, told)
    gap = shares[:, None] - shares
    np.fill_diagonal(gap, np.inf)
    below, above = gap - to_low, gap + to_high
    beaten = (above < 0.0).any(axis=1)
    difference[known], told[known] = gap.min(axis=1), beaten
    # Whichever is the best, it is not beaten: the bounds need look at those only. One that is
    # beaten is not better than the best, and one that is not may be the best itself.
    low[known] = np.minimum(np.where(beaten, np.inf, below).min(axis=1), 0.0)
    to_unbeaten = np.where(beaten, -np.inf, above).max(axis=1)
    high[known] = np.where(beaten, np.minimum(to_unbeaten, 0.0), np.maximum(above.min(axis=1), 0.0))
    return AgainstBest(best, difference, low, high, told)


def _paired(hits: np.ndarray, balls: np.ndarray, families: int) -> tuple[Array, Array, Array]:
    """Shares, shape (settings,), and how far the intervals of their differences reach down and up.

    The latter have the shape (settings, settings): `statistics.difference_of_shares` of all pairs
    at once, before it is cut at -1 and 1.
    """
    totals, sizes, count = hits.sum(axis=1), balls.sum(axis=1), hits.shape[1]
    level = adjusted(families * (hits.shape[0] - 1))
    shares: Array = totals / sizes
    residual = (hits - shares[:, None] * balls) / sizes[:, None]
    products = residual @ residual.T
    squares = np.diag(products)
    variance = np.maximum(squares[:, None] + squares - 2.0 * products, 0.0)
    variance *= count / max(count - 1.0, 1.0)
    half = student_quantile(level, max(count - 1, 1)) * np.sqrt(variance)
    # Few hits or misses scatter too little to say how sure they are.
    few = np.minimum(totals, sizes - totals) < FEW
    bounds = [
        wilson(int(total), int(size), level) for total, size in zip(totals, sizes, strict=True)
    ]
    lows, highs = shares - np.array(bounds)[:, 0], np.array(bounds)[:, 1] - shares
    either = few[:, None] | few
    to_low = np.where(either, np.maximum(half, np.hypot(lows[:, None], highs)), half)
    to_high = np.where(either, np.maximum(half, np.hypot(highs[:, None], lows)), half)
    return shares, to_low, to_high
