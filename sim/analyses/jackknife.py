"""Estimates that carry their uncertainty: made once of all replicates, and once without each."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from sim.court import Array
from sim.statistics import LEVEL, student_quantile


@dataclass(frozen=True)
class Estimate:
    """Numbers of any shape, and the same with every replicate left out in turn.

    ``left_out`` has an axis of replicates before those of ``whole``. The standard error is never
    below ``least_error``, of the shape of ``whole``: replicates that are all alike have no scatter.
    """

    whole: Array
    left_out: Array
    least_error: Array | float = 0.0

    @classmethod
    def of(cls, measure: Callable[[Array], Array | float], whole: Array, parts: Array) -> Estimate:
        """What ``measure`` makes of the whole, and of every part (first axis)."""
        return cls(np.asarray(measure(whole)), np.array([measure(part) for part in parts]))

    @classmethod
    def mean(cls, estimates: Sequence[Estimate]) -> Estimate:
        """The mean of several, whose replicates are independent, or the same random numbers."""
        return cls(
            np.mean([estimate.whole for estimate in estimates], axis=0),
            np.mean([estimate.left_out for estimate in estimates], axis=0),
            np.sqrt(sum(np.square(each.least_error) for each in estimates)) / len(estimates),
        )

    def minus(self, other: Estimate) -> Estimate:
        """The difference; what both have in common cancels."""
        return Estimate(
            self.whole - other.whole,
            self.left_out - other.left_out,
            np.maximum(self.least_error, other.least_error),
        )

    def at(self, place: int) -> Estimate:
        """One of the numbers."""
        least = np.broadcast_to(self.least_error, self.whole.shape)[place]
        return Estimate(self.whole[place], self.left_out[:, place], least)

    @property
    def error(self) -> Array:
        """Standard error, by the jackknife; infinite with fewer than two replicates.

        Source: J. W. Tukey, Bias and confidence in not-quite large samples, Ann. Math. Stat. 29
        (1958) 614; B. Efron and C. Stein, The jackknife estimate of variance, Ann. Stat. 9 (1981)
        586, which shows that it is too large rather than too small on average (memory).
        """
        count = self.left_out.shape[0]
        if count < 2:
            return np.full(self.whole.shape, math.inf)
        spread = self.left_out - self.left_out.mean(axis=0)
        error = np.sqrt((count - 1) / count * (spread * spread).sum(axis=0))
        return np.asarray(np.maximum(error, self.least_error))

    def half_width(self, level: float = LEVEL) -> Array:
        """Half the width of the interval at a level, with Student's t."""
        return student_quantile(level, max(self.left_out.shape[0] - 1, 1)) * self.error

    def interval(
        self, level: float = LEVEL, least: float = -math.inf, most: float = math.inf
    ) -> tuple[float, float, float]:
        """A single number with its interval, kept between what is possible at all."""
        half = float(self.half_width(level))
        value = float(self.whole)
        return value, max(value - half, least), min(value + half, most)
