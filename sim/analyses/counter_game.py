"""The game after returns in one direction: who does how well, and how surely it is known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np

from sim.analyses.jackknife import Estimate
from sim.court import Array
from sim.games import Equilibrium, conceded, equilibrium, guaranteed
from sim.statistics import FEW, adjusted, mean_of_replicates, wilson


class Bracket(NamedTuple):
    """What a game is worth at least and at most, judged on shots that did not make the mixes.

    ``low`` and ``high`` allow for the error of sampling, too.
    """

    at_least: float
    at_most: float
    low: float
    high: float


class Solved(NamedTuple):
    """A game's equilibrium, its value, shape (1,), and the bracket of that value."""

    mixes: Equilibrium
    value: Estimate
    bracket: Bracket


@dataclass(frozen=True)
class Standing:
    """How the named policies do of 100 third shots, shape (policies,).

    Against the opponents' usual mix of shots, and against the best reply to each policy. Of shape
    (1,): what the ``best_alone`` of the policies keeps against its best reply, the ``value`` that
    the best mix of all policies and places guarantees, and the ``own_value`` that the best mix of
    the named policies does.
    """

    against_usual: Estimate
    against_best_reply: Estimate
    best_alone: Estimate
    value: Estimate
    own_value: Estimate

    @property
    def taken(self) -> Estimate:
        """What opponents gain by learning the pair's habit."""
        return self.against_usual.minus(self.against_best_reply)

    @property
    def exploitability(self) -> Estimate:
        """What the best reply leaves a policy short of the value of the game."""
        return self.value.minus(self.against_best_reply)


@dataclass(frozen=True)
class Game:
    """The game after returns in one direction; payoffs are of 100 third shots struck.

    ``sums`` is the worth of all third shots, shape (replicates, policies, options), ``struck`` how
    many they were, shape (replicates,). ``usual`` is the opponents' usual mix of the options. The
    first ``named`` policies are those of the scenario, the others places of the grid.
    """

    sums: Array
    struck: np.ndarray
    usual: Array
    named: int

    @cached_property
    def payoffs(self) -> Array:
        """Shape (policies, options)."""
        return _payoffs(self.sums, self.struck)

    @cached_property
    def own(self) -> Solved:
        """The game in which the pair mixes its named policies only."""
        return self._solved(self.named)

    @cached_property
    def whole(self) -> Solved:
        """The game in which the pair mixes all policies and places."""
        policies = self.sums.shape[1]
        return self.own if policies == self.named else self._solved(policies)

    @cached_property
    def standing(self) -> Standing:
        """How the named policies do."""
        # Options are played with as many shots each: the mix of them is known as well as so many.
        mixed = float(self.struck.sum() / np.square(self.usual).sum())
        return Standing(
            self._estimate(lambda payoffs: payoffs[: self.named] @ self.usual, mixed),
            self._estimate(lambda payoffs: payoffs[: self.named].min(axis=1)),
            self._estimate(lambda payoffs: payoffs[: self.named].min(axis=1).max(keepdims=True)),
            self.whole.value,
            self.own.value,
        )

    @cached_property
    def against_fresh_best_reply(self) -> Array:
        """Named policies against best replies found on half of the shots, judged on the others."""
        judged = []
        for found, fresh in self._halves():
            best = _payoffs(self.sums[found], self.struck[found])[: self.named].argmin(axis=1)
            payoffs = _payoffs(self.sums[fresh], self.struck[fresh])
            judged.append(payoffs[np.arange(self.named), best])
        return np.asarray(np.mean(judged, axis=0))

    def best_replies(self, policy: int) -> list[int]:
        """The best reply to a policy, then the options that cannot be told from it.

        Each of the others is compared with it on the same random numbers, all of them together at
        95 %.
        """
        payoffs = self.payoffs[policy]
        best = int(payoffs.argmin())
        level = adjusted(payoffs.size - 1)

        def as_good(option: int) -> bool:
            worse = self.sums[:, policy, option] - self.sums[:, policy, best]
            return mean_of_replicates(worse, self.struck, level)[1] <= 0.0

        others = np.argsort(payoffs, kind="stable")
        return [best, *(int(o) for o in others if o != best and as_good(int(o)))]

    def payoff(self, policy: int, option: int) -> tuple[float, float, float]:
        """A payoff with its interval."""
        sums = self.sums[:, policy, option]
        mean, low, high = mean_of_replicates(sums, self.struck)
        kept, size = float(sums.sum()), float(self.struck.sum())
        if min(kept, size - kept) < FEW:
            score_low, score_high = wilson(kept, size)
            low, high = min(low, score_low), max(high, score_high)
        return 100.0 * mean, 100.0 * max(low, 0.0), 100.0 * min(high, 1.0)

    def _estimate(self, measure: Callable[[Array], Array], trials: float | None = None) -> Estimate:
        return _estimate(measure, self.sums, self.struck, trials)

    def _halves(self) -> list[tuple[np.ndarray, np.ndarray]]:
        """Either half of the replicates, and the other half, on whose shots it is judged."""
        first, second = np.array_split(np.arange(self.struck.size), 2)
        return [(first, second), (second, first)]

    def _solved(self, policies: int) -> Solved:
        """The game in which the pair has the first so many policies."""
        mixes = equilibrium(self.payoffs[:policies])
        value = self._estimate(lambda payoffs: np.array([equilibrium(payoffs[:policies]).value]))
        judged = []
        for found, fresh in self._halves():
            sums = self.sums[:, :policies]
            half = equilibrium(_payoffs(sums[found], self.struck[found]))
            judged.append(_judged(half, sums[fresh], self.struck[fresh]))
        return Solved(mixes, value, _bracket(judged))


def _judged(mixes: Equilibrium, sums: Array, struck: np.ndarray) -> tuple[Estimate, Estimate]:
    """What the pair's mix guarantees, and the opponents' mix concedes, on these shots."""
    return (
        _estimate(lambda payoffs: guaranteed(payoffs, mixes.rows), sums, struck),
        _estimate(lambda payoffs: conceded(payoffs, mixes.columns), sums, struck),
    )


def _bracket(judged: list[tuple[Estimate, Estimate]]) -> Bracket:
    """Bounds of the value from mixes judged on shots that did not make them.

    Whatever the true payoffs, a mix of the pair guarantees no more than the value, and a mix of the
    opponents concedes no less. The least of noisy payoffs is too small on average and the largest
    too large: that makes the bracket wider, not narrower.
    """
    below, above = zip(*judged, strict=True)
    at_least, at_most = (float(np.mean([part.whole for part in side])) for side in (below, above))
    # The halves' errors are independent: the error of their mean.
    less, more = (
        float(np.linalg.norm([part.half_width() for part in side])) / len(side)
        for side in (below, above)
    )
    return Bracket(at_least, at_most, max(at_least - less, 0.0), min(at_most + more, 100.0))


def _estimate(
    measure: Callable[[Array], Array | float],
    sums: Array,
    struck: np.ndarray,
    trials: float | None = None,
) -> Estimate:
    """What ``measure`` makes of the payoffs, known no better than from so many shots.

    Without ``trials`` those struck with a single option.
    """
    found = Estimate.of(measure, _payoffs(sums, struck), _left_out(sums, struck))
    least = _least_error(found.whole, float(struck.sum()) if trials is None else trials)
    return replace(found, least_error=least)


def _least_error(kept: Array, trials: float) -> Array:
    """Standard error (of 100) that few shots kept or few lost leave, however alike the replicates.

    That of independent shots with two more kept and two more lost; 0 where there are enough of
    both. With Student's t of 16 replicates, none lost of n is thereby at most 3 / n (95 %).

    Source: A. Agresti and B. A. Coull, Approximate is better than "exact" for interval estimation
    of binomial proportions, Am. Stat. 52 (1998) 119 (memory).
    """
    hits = trials * kept / 100.0
    share = (hits + 2.0) / (trials + 4.0)
    error = 100.0 * np.sqrt(share * (1.0 - share) / (trials + 4.0))
    return np.where(np.minimum(hits, trials - hits) < FEW, error, 0.0)


def _payoffs(sums: Array, struck: np.ndarray) -> Array:
    return np.asarray(100.0 * sums.sum(axis=0) / struck.sum())


def _left_out(sums: Array, struck: np.ndarray) -> Array:
    """The payoffs without each replicate, shape (replicates, policies, options)."""
    rest = struck.sum() - struck
    return np.asarray(100.0 * (sums.sum(axis=0) - sums) / rest[:, None, None])
