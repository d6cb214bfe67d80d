"""What every pair of places is worth: the best of all, and those that cannot be told from it.

A pair of places reaches what either player reaches: rows of yes and no added, less what both have.
The latter is one matrix product for all pairs of places. Nothing is left out, and nothing climbs:
the best is the best of all.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from sim.candidate_places import Candidates, Worth
from sim.court import Array
from sim.errors import Refused
from sim.run_in import PLAYERS
from sim.scenario import Spots
from sim.statistics import adjusted, normal_quantile

# Shoulders are a foot and a half wide: at two feet from middle to middle two players just fit side
# by side. The model lets both swing at every ball and would not keep them apart. Our assumption.
LEAST_APART: Final = 2.0
# Sums of worth that differ by less than this are the same but for rounding.
_SAME: Final = 1e-3


@dataclass(frozen=True)
class Landscape:
    """What every pair of places is worth after returns in one direction.

    ``worth`` is the mean over the balls in play, shape (targets of the left player, targets of the
    right one), minus infinity for pairs that stand too close or the wrong way round; ``best``
    indexes it. ``shots`` are those in play.
    """

    candidates: dict[str, Candidates]
    worth: Array
    best: tuple[int, int]
    shots: int

    @property
    def spots(self) -> Spots:
        """The best places, as a scenario holds them."""
        left, right = (
            self.candidates[name].spot(k) for name, k in zip(PLAYERS, self.best, strict=True)
        )
        return Spots(left=left, right=right)

    @property
    def pairs(self) -> int:
        """Pairs of places that were compared."""
        return int(np.isfinite(self.worth).sum())


def landscape(of_players: dict[str, Candidates], worth: Worth) -> Landscape:
    """What all pairs of places are worth, and the best of them.

    Of pairs that are worth exactly the same, the one nearest to the middle of them all is taken.
    Raises `Refused` where no two places are far enough apart.
    """
    left, right = (of_players[name] for name in PLAYERS)
    shots = left.control.shape[1]
    total = _worth_of_pairs(left, right, worth, np.ones(shots, bool))
    apart = right.x[None, :] - left.x[:, None]
    total[apart < LEAST_APART - 1e-9] = -np.inf
    most = total.max()
    if not np.isfinite(most):
        raise Refused(
            f"no two places that both players reach in time are {LEAST_APART:g} ft apart; ask for "
            "a smaller share in time"
        )
    best = _middle_one(left, right, np.argwhere(total >= most - _SAME))
    return Landscape(of_players, total / shots, best, shots)


def _worth_of_pairs(left: Candidates, right: Candidates, worth: Worth, shots: np.ndarray) -> Array:
    """Sum of worth over the chosen shots (a mask), for every pair of targets.

    Worth is that of a ball at full stretch for all that are reached, and the rest of a ball in
    control for those in control. Sums of ones are exact in single precision below 2^24.
    """
    total = np.zeros((left.x.size, right.x.size))
    for kind, value in (
        ("control", worth.in_control - worth.at_full_stretch),
        ("stretch", worth.at_full_stretch),
    ):
        if value != 0.0:
            here, there = (
                getattr(side, kind)[:, shots].astype(np.float32) for side in (left, right)
            )
            either = here.sum(axis=1)[:, None] + there.sum(axis=1)[None, :] - here @ there.T
            total += value * either
    return total


def _middle_one(left: Candidates, right: Candidates, tied: np.ndarray) -> tuple[int, int]:
    """Of the tied pairs the one nearest to their middle."""
    i, j = tied.T
    corners = np.stack([left.x[i], left.depth[i], right.x[j], right.depth[j]])
    away = corners - corners.mean(axis=1, keepdims=True)
    # Rounded, so that which of two equally near comes first does not hang on the last digit.
    chosen = int(np.argmin((away * away).sum(axis=0).round(6)))
    return int(i[chosen]), int(j[chosen])


def as_good(found: Landscape, worth: Worth) -> np.ndarray:
    """Which pairs of places cannot be told from the best, shape as ``found.worth``.

    A pair is told from the best where the interval of their difference, ball by ball, leaves zero
    out at a level that allows for all pairs (`statistics.adjusted`): with 95 % certainty the pair
    that is truly best is among those left. Balls are taken as independent, of which quasi-random
    ones scatter a little less, so that rather too many pairs are left than too few.

    Source: J. C. Hsu, Simultaneous confidence intervals for all distances from the "best", Annals
    of Statistics 9 (1981) 1026 (memory).
    """
    left, right = (found.candidates[name] for name in PLAYERS)
    i, j = found.best
    control = left.control[i] | right.control[j]
    stretch = left.stretch[i] | right.stretch[j]
    every = np.ones(found.shots, bool)
    squared = Worth(worth.in_control**2, worth.at_full_stretch**2)
    own = _worth_of_pairs(left, right, squared, every) / found.shots
    # Mean product with the worth of the best, which has one value on each of these balls.
    shared = worth.in_control * _worth_of_pairs(left, right, worth, control) / found.shots
    if worth.at_full_stretch != 0.0:
        stretched = _worth_of_pairs(left, right, worth, stretch & ~control)
        shared += worth.at_full_stretch * stretched / found.shots
    allowed = np.isfinite(found.worth)
    behind = np.where(allowed, found.worth[i, j] - np.where(allowed, found.worth, 0.0), np.inf)
    square = np.maximum(own[i, j] + own - 2.0 * shared, 0.0)
    variance = np.maximum(square - np.where(allowed, behind, 0.0) ** 2, 0.0) / found.shots
    half = normal_quantile(adjusted(found.pairs - 1)) * np.sqrt(variance)
    return allowed & (behind <= half + _SAME / found.shots)
