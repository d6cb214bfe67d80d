"""Which input's doubt makes how much of a result's: Sobol indices, of results that are noisy, too.

The first-order index of an input is the part of the variance that would go if it were known; its
total index the part that would stay if all the others were. Between them lie interactions.

`scipy.stats.sobol_indices` has the same formulas, and a test holds both together. It takes a result
for exact: replicates of a noisy one would go through it only as so many outputs, to a method of our
own that does all the work below, and its bootstrap takes no seed.

Source: A. Saltelli, P. Annoni, I. Azzini, F. Campolongo, M. Ratto and S. Tarantola, Variance based
sensitivity analysis of model output, Comput. Phys. Commun. 181 (2010) 259, table 2, rows b and f.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from sim.court import Array
from sim.statistics import LEVEL

_RESAMPLES: Final = 1000
# Streams of random numbers of the study, apart from those of the shots.
_DESIGN, _BOOTSTRAP = 2, 3


@dataclass(frozen=True)
class Indices:
    """First-order and total indices by input, and those of resampled settings (resamples, inputs).

    NaN where the results do not differ beyond their noise.
    """

    first: Array
    total: Array
    first_resampled: Array
    total_resampled: Array

    def interval(self, resampled: Array) -> tuple[Array, Array]:
        """Both ends of percentile intervals of what was resampled along its first axis.

        NaN, which says that nothing can be told, where the results of some resamples do not differ.
        """
        ends = 0.5 - 0.5 * LEVEL, 0.5 + 0.5 * LEVEL
        low, high = (np.quantile(resampled, end, axis=0) for end in ends)
        return low, high


def design(inputs: int, rows: int, seed: int) -> Array:
    """Settings to play, as uniform numbers in (0, 1), shape (inputs + 2, rows, inputs).

    The first two pages are independent samples of ``rows`` (a power of two) scrambled Sobol points;
    page 2 + k is the first one with input k taken from the second.
    """
    from scipy.stats.qmc import Sobol

    points = Sobol(2 * inputs, seed=_generator(seed, _DESIGN)).random(rows)
    first, second = points[:, :inputs], points[:, inputs:]
    mixed = np.repeat(first[None], inputs, axis=0)
    for k in range(inputs):
        mixed[k, :, k] = second[:, k]
    return np.concatenate((first[None], second[None], mixed))


def indices(values: Array, seed: int) -> Indices:
    """Indices from the values at the points of a `design`, shape (inputs + 2, rows, replicates).

    Replicates are noisy observations of the same value, whose noise is independent from one to the
    other; it counts in no index. A row of settings may have noise in common. The intervals resample
    rows.
    """
    products = _products(values)
    chance, rows = _generator(seed, _BOOTSTRAP), values.shape[1]
    means = [products[:, chance.integers(rows, size=rows)].mean(axis=1) for _ in range(_RESAMPLES)]
    first, total = _parts(products.mean(axis=1))
    first_resampled, total_resampled = _parts(np.array(means).T)
    return Indices(first, total, first_resampled.T, total_resampled.T)


def _products(values: Array) -> Array:
    """By row what the variance and the parts of all inputs are means of.

    Shape (1 + 2 inputs, rows): the variance, the first-order and the total parts.
    """
    first, second, *mixed = values - values[:2].mean()
    variance = 0.5 * (_product(first, first) + _product(second, second))
    alone = [_product(second, each - first) for each in mixed]
    in_all = [0.5 * _product(each - first, each - first) for each in mixed]
    return np.array([variance, *alone, *in_all])


def _parts(means: Array) -> tuple[Array, Array]:
    """First-order and total indices from the means of `_products` (first axis)."""
    variance = np.where(means[0] > 0.0, means[0], np.nan)
    alone, in_all = np.split(means[1:] / variance, 2)
    return alone, in_all


def _product(one: Array, other: Array) -> Array:
    """The product of two values known by noisy replicates (last axis).

    Only different replicates are multiplied: their noise is independent, and its products are none
    on average. A single replicate is taken to be without noise.
    """
    replicates = one.shape[-1]
    if replicates == 1:
        return np.asarray((one * other)[..., 0])
    pairs = one.sum(axis=-1) * other.sum(axis=-1) - (one * other).sum(axis=-1)
    return np.asarray(pairs / (replicates * (replicates - 1)))


def _generator(seed: int, stream: int) -> np.random.Generator:
    return np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(stream,)))
