"""A drill that trains what a pair is taught: the balls to feed, and how many to expect."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np

from sim.statistics import LEVEL, normal_quantile

# Balls in play that are counted, and how sure the numbers to expect are.
BALLS: Final = 20
SURE: Final = 0.90


class Share(NamedTuple):
    """A share with its 95 % interval."""

    share: float
    low: float
    high: float


@dataclass(frozen=True)
class Drill:
    """Balls fed as after returns in one direction, and how many of them to expect in control.

    ``mix`` counts drives, drops and lobs in the proportions in which they stay in play,
    ``expected`` bounds the number in control with a chance of `SURE`, the uncertainty of the share
    included.
    """

    direction: str
    mix: dict[str, int]
    expected: tuple[int, int]

    @property
    def balls(self) -> int:
        """Balls to feed."""
        return sum(self.mix.values())


def drill(direction: str, in_play: dict[str, int], in_control: Share) -> Drill:
    """The drill for balls in play by kind of shot, of which such a share is in control."""
    expected = predicted(in_control, sum(in_play.values()), BALLS)
    return Drill(direction, whole_balls(in_play, BALLS), expected)


def predicted(known: Share, trials: int, balls: int, sure: float = SURE) -> tuple[int, int]:
    """Bounds of how many of ``balls`` succeed, of a share known from so many ``trials``.

    Beta-binomial: the share is beta distributed with the scatter of its interval, beforehand with
    half a success and half a failure (Jeffreys). Source: A. Gelman et al., Bayesian Data Analysis,
    3rd ed. (2013), section 2.4 (memory).

    >>> predicted(Share(0.92, 0.915, 0.925), 6000, 20)
    (16, 20)
    """
    error = (known.high - known.low) / (2.0 * normal_quantile(LEVEL))
    variance = known.share * (1.0 - known.share)
    # As many independent trials as would scatter alike.
    size = variance / error**2 if variance > 0.0 else trials
    hits, misses = size * known.share + 0.5, size * (1.0 - known.share) + 0.5

    def log_beta(a: float, b: float) -> float:
        return math.lgamma(a) + math.lgamma(b) - math.lgamma(a + b)

    chances = [
        math.comb(balls, k)
        * math.exp(log_beta(hits + k, misses + balls - k) - log_beta(hits, misses))
        for k in range(balls + 1)
    ]
    at_most = np.cumsum(chances)
    low, high = np.searchsorted(at_most, [0.5 - 0.5 * sure, 0.5 + 0.5 * sure])
    return int(low), min(int(high), balls)


def whole_balls(weights: dict[str, int], balls: int) -> dict[str, int]:
    """So many balls shared out in proportion; the largest remainders are rounded up.

    >>> whole_balls({"drive": 48, "drop": 50, "lob": 2}, 20)
    {'drive': 10, 'drop': 10, 'lob': 0}
    """
    total = sum(weights.values())
    parts = {name: balls * weight / total for name, weight in weights.items()}
    shared = {name: math.floor(part) for name, part in parts.items()}
    left = balls - sum(shared.values())
    for name in sorted(parts, key=lambda name: shared[name] - parts[name])[:left]:
        shared[name] += 1
    return shared
