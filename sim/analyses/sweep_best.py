"""Which of several settings is the best, and which cannot be told from it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.court import Array
from sim.statistics import adjusted, student_quantile


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
    their paired interval: a setting that is beaten by more is told from the best. Half-widths are
    Student's, with the level shared out among the comparisons (Bonferroni), because the errors of
    paired differences differ in size.

    Sources: J. C. Hsu, Constrained simultaneous confidence intervals for multiple comparisons with
    the best, Ann. Statist. 12 (1984) 1136; D. G. Edwards and J. C. Hsu, Multiple comparisons with
    the best treatment, J. Amer. Statist. Assoc. 78 (1983) 965 (both memory).
    """
    difference, low, high = np.full((3, hits.shape[0]), np.nan)
    told = np.zeros(hits.shape[0], bool)
    known = np.flatnonzero(balls.any(axis=1))
    if known.size == 0:
        return AgainstBest(None, difference, low, high, told)
    shares, half = _shares_and_half_widths(hits[known], balls[known], families)
    best = int(known[shares.argmax()])
    if known.size == 1:
        difference[known] = low[known] = high[known] = 0.0
        return AgainstBest(best, difference, low, high, told)
    gap = shares[:, None] - shares
    np.fill_diagonal(gap, np.inf)
    below, above = gap - half, gap + half
    beaten = (above < 0.0).any(axis=1)
    difference[known], told[known] = gap.min(axis=1), beaten
    # Whichever is the best, it is not beaten: the bounds need look at those only. One that is
    # beaten is not better than the best, and one that is not may be the best itself.
    low[known] = np.minimum(np.where(beaten, np.inf, below).min(axis=1), 0.0)
    to_unbeaten = np.where(beaten, -np.inf, above).max(axis=1)
    high[known] = np.where(beaten, np.minimum(to_unbeaten, 0.0), np.maximum(above.min(axis=1), 0.0))
    return AgainstBest(best, difference, low, high, told)


def _shares_and_half_widths(
    hits: np.ndarray, balls: np.ndarray, families: int
) -> tuple[Array, Array]:
    """Shares, shape (settings,), and half-widths of their differences, (settings, settings).

    As `statistics.difference_of_shares`, for all pairs at once.
    """
    sizes, count = balls.sum(axis=1, keepdims=True), hits.shape[1]
    shares = hits.sum(axis=1, keepdims=True) / sizes
    residual = (hits - shares * balls) / sizes
    products = residual @ residual.T
    squares = np.diag(products)
    variance = np.maximum(squares[:, None] + squares - 2.0 * products, 0.0)
    variance *= count / max(count - 1.0, 1.0)
    quantile = student_quantile(adjusted(families * (hits.shape[0] - 1)), max(count - 1, 1))
    return shares[:, 0], quantile * np.sqrt(variance)
