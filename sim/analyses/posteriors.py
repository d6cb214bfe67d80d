"""Posteriors of counts and of measured values: shares from Jeffreys' prior, means and variances.

Sources: A. Gelman et al., Bayesian Data Analysis, 3rd ed. (2013), sections 2.4, 3.2 and 3.4
(memory); L. D. Brown, T. T. Cai and A. DasGupta, Interval estimation for a binomial proportion,
Statistical Science 16 (2001) 101, who recommend Jeffreys' prior for small samples (memory).
"""

from __future__ import annotations

from typing import Final

import numpy as np

from sim.court import Array
from sim.statistics import LEVEL, Interval

# Jeffreys' prior: as if half a shot of each kind had been counted before.
PRIOR: Final = 0.5
# From so many values on their skewness is known well enough to be used.
ENOUGH_FOR_A_SHAPE: Final = 20
# The variance of an even distribution over a step, as a part of the step's square.
EVEN: Final = 1.0 / 12.0
_MOST_SURE: Final = 1e-12
_MOST_CORRELATED: Final = 0.9


def share_range(hits: float, misses: float, kinds: int = 2, level: float = LEVEL) -> Interval:
    """Equal-tailed posterior range of a share, of ``kinds`` that the prior counts half each.

    It begins at 0 where nothing was hit and ends at 1 where nothing was missed (Brown, Cai and
    DasGupta 2001).

    >>> tuple(round(end, 3) for end in share_range(8, 32))
    (0.099, 0.342)
    """
    from scipy.special import betaincinv

    tail = 0.5 * (1.0 - level)
    alpha, beta = hits + PRIOR, misses + PRIOR * (kinds - 1)
    low = 0.0 if hits == 0 else float(betaincinv(alpha, beta, tail))
    high = 1.0 if misses == 0 else float(betaincinv(alpha, beta, 1.0 - tail))
    return low, high


def share_means(counts: Array) -> Array:
    """Posterior means of shares, shape (kinds,)."""
    return np.asarray((counts + PRIOR) / (counts + PRIOR).sum())


def share_draws(counts: Array, size: int, random: np.random.Generator) -> Array:
    """Joint draws of shares that add up to 1 (Dirichlet), shape (size, kinds)."""
    gammas = random.standard_gamma(np.asarray(counts) + PRIOR, (size, len(counts)))
    gammas = np.maximum(gammas, np.finfo(float).tiny)
    return np.asarray(gammas / gammas.sum(axis=1, keepdims=True))


def share_quantiles_between(
    hits: float, misses: float, low: float, high: float, uniform: Array
) -> tuple[Array, float]:
    """Quantiles of a share known to lie between two values, and how much of its posterior does not.

    Where next to nothing of the posterior lies between, they stand at the nearer end.
    """
    from scipy.special import betainc, betaincinv

    alpha, beta = hits + PRIOR, misses + PRIOR
    below, above = float(betainc(alpha, beta, low)), float(betainc(alpha, beta, high))
    inside = np.clip(below + (above - below) * uniform, _MOST_SURE, 1.0 - _MOST_SURE)
    return np.clip(betaincinv(alpha, beta, inside), low, high), 1.0 - (above - below)


def mean_and_variance_draws(
    values: Array, size: int, random: np.random.Generator
) -> tuple[Array, Array]:
    """Draws of the mean and the variance that values come from, shape (size,).

    Those of normal values under the prior 1 / variance; from `ENOUGH_FOR_A_SHAPE` values on with
    mean and variance going up and down together as the values' skewness says: where balls land is
    skewed. The correlation of a sample's mean and variance is skewness over the square root of
    kurtosis less one, the latter taken from normal values (H. Cramér, Mathematical Methods of
    Statistics, 1946, chapter 27; memory).

    Needs two values that differ; for values that hardly do see `draws_of_values_alike`.
    """
    from scipy.special import gammainccinv, ndtr

    count, variance = values.size, float(values.var(ddof=1))
    correlation = 0.0
    if count >= ENOUGH_FOR_A_SHAPE:
        skewness = float(np.mean((values - values.mean()) ** 3)) / float(values.std()) ** 3
        correlation = min(max(skewness / np.sqrt(2.0), -_MOST_CORRELATED), _MOST_CORRELATED)
    of_variance, own = random.standard_normal((2, size))
    half_chi_square = gammainccinv(0.5 * (count - 1), ndtr(of_variance))
    variances = 0.5 * (count - 1) * variance / half_chi_square
    of_mean = correlation * of_variance + np.sqrt(1.0 - correlation**2) * own
    return values.mean() + np.sqrt(variances / count) * of_mean, variances


def draws_of_values_alike(
    value: float, step: float, size: int, random: np.random.Generator
) -> tuple[Array, Array]:
    """Draws of mean and variance behind values that rounding to ``step`` made alike, shape (size,).

    All lie within half a step of what was written, nobody knows where, and more of them would
    not tell: the mean is even over that step, and the spread even up to that of rounding alone.
    """
    offsets, parts = random.random((2, size))
    return value + step * (offsets - 0.5), np.square(step * parts) * EVEN
