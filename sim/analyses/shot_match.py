"""The execution errors and aims with which simulated third shots look like charted ones.

The method of simulated moments: D. McFadden, A method of simulated moments for estimation of
discrete response models without numerical integration, Econometrica 57 (1989) 995 (memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final, Self

import numpy as np

from sim.analyses import posteriors
from sim.analyses.simulated_chart import (
    AIMS,
    Charts,
    simulated_charts,
    typical_aims,
    with_errors_and_aims,
)
from sim.blocks import Workers
from sim.comparison import Progress
from sim.court import Array
from sim.fitted import POSTERIOR
from sim.scenario import Scenario

# Times the usual execution errors: as many curves' points are played.
FACTORS: Final = np.geomspace(0.15, 4.0, 12)
# What an aim's own spread is before any chart: the scenario's, give or take a half (standard
# deviation of its logarithm) [A]. Charts alone hardly tell it from the errors' part in the scatter.
SPREAD_OF_SPREADS: Final = 0.5
# Draws of what was charted, of which those are taken that go with it.
CANDIDATES: Final = 4 * POSTERIOR
# Fewer candidates than so many (weighed) say nothing about a range.
_FEWEST: Final = 200.0
_MOST_ROUNDS: Final = 8
_STRIDE: Final = 2.0
_TURNS: Final = 8
# Rounds end once they move by less than this part of what the chart leaves open.
_NEAR: Final = 0.25
_SAME: Final = 1e-9
_NEXT_TO_NOTHING: Final = 50.0
# How far aims are nudged to see what that changes: a part of their mean, and of their variance,
# the usual one included.
_NUDGE: Final = 0.1, 0.25
# What is charted changes at least so much with its aim, or a step would lead anywhere.
_LEAST_SLOPE: Final = 0.2
# Keeps the curve of failures rising where none fail.
_RISE: Final = 1e-9


@dataclass(frozen=True)
class Target:
    """What was charted of an aim: mean and variance, with posterior draws of both (draws,).

    ``alike`` are values that scatter less than rounding alone would have them.
    """

    mean: float
    variance: float
    means: Array
    variances: Array
    fits_spread: bool
    alike: bool = False

    @classmethod
    def of(
        cls, values: Array, step: float, *, fits_spread: bool, random: np.random.Generator
    ) -> Self:
        """From charted values, rounded to ``step``; those that are alike tell no spread."""
        mean, variance = float(values.mean()), float(values.var(ddof=1))
        if alike := variance < posteriors.EVEN * step * step:
            means, variances = posteriors.draws_of_values_alike(mean, step, CANDIDATES, random)
        else:
            means, variances = posteriors.mean_and_variance_draws(values, CANDIDATES, random)
        return cls(mean, variance, means, variances, fits_spread and not alike, alike)


@dataclass(frozen=True)
class Match:
    """Errors (times the usual) and aims that go with a chart, as joint draws.

    ``factors`` has shape (draws,), ``aim_draws`` hold mean and variance (draws, 2) by the aim's
    number. ``rate`` is the charted share that fails; ``curve`` and ``net`` are the shares that fail
    and that go into the net at each of `FACTORS`, with the fitted aims; ``outside`` is how much of
    the rate's posterior lies beyond the curve. ``trust`` is the power at which what was assumed of
    the aims' spreads before counts: below 1 where next to no failures and landing spots that the
    chart allows go with it.
    """

    rate: float
    factors: Array
    aim_draws: dict[int, Array]
    targets: Mapping[int, Target]
    usual_aims: Array
    curve: Array
    net: Array
    outside: float
    trust: float

    @property
    def factor(self) -> float:
        """The middle of the factors."""
        return float(np.median(self.factors))

    @property
    def aims(self) -> dict[int, tuple[float, float]]:
        """Mean and variance in the middle of the draws, by the aim's number."""
        return _middles(self.aim_draws)

    @property
    def failing(self) -> tuple[float, float]:
        """Shares that fail and that go into the net with the errors in the middle."""
        at, factors = math.log(self.factor), np.log(FACTORS)
        return float(np.interp(at, factors, self.curve)), float(np.interp(at, factors, self.net))

    @property
    def at_limit(self) -> dict[int, float]:
        """In what share of the draws no mean within the limits of an aim lands balls as charted."""
        found = {}
        for number, draws in self.aim_draws.items():
            low, high, _ = AIMS[number].in_program_units()
            found[number] = float(np.mean((draws[:, 0] <= low) | (draws[:, 0] >= high)))
        return found

    @property
    def at_least(self) -> dict[int, float]:
        """In what share of the draws the charted spread left nothing for the aim's own."""
        return {
            number: float(np.mean(_is_least(number, draws)))
            for number, draws in self.aim_draws.items()
            if self.targets[number].fits_spread
        }


def match(
    scenario: Scenario,
    failed_and_kept: tuple[int, int],
    targets: Mapping[int, Target],
    random: np.random.Generator,
    workers: Workers,
    progress: Callable[[Progress], None],
) -> Match:
    """Find errors and aims with which the scenario's third shots fail and land as charted ones.

    Every round plays the curve of failures, and what a nudge of each aim changes; the posterior of
    what was charted goes through the curve, aims moving along straight lines, and the next round
    starts from its middle.
    """
    failed, kept = failed_and_kept
    usual = typical_aims(scenario)
    aims = {number: (float(usual[number, 0]), float(usual[number, 1])) for number in targets}
    factor, rounds = 1.0, _MOST_ROUNDS if targets else 1
    uniform = random.random(CANDIDATES)
    charted = {n: np.column_stack((t.means, t.variances)) for n, t in targets.items()}
    for turn in range(rounds):
        local = _play(scenario, factor, aims, workers, _part_of(progress, turn, rounds))
        ends = float(local.curve[0]), float(local.curve[-1])
        rates, outside = posteriors.share_quantiles_between(failed, kept, *ends, uniform)
        factors, draws = local.solve(rates, charted, targets)
        weights, trust = _weights(draws, usual, targets)
        chosen = random.choice(CANDIDATES, POSTERIOR, p=weights)
        factors, draws = factors[chosen], {n: found[chosen] for n, found in draws.items()}
        settled = _settled(factor, aims, factors, draws)
        # Straight lines do not hold far away: the next round starts no farther off than twice the
        # errors or half of them, and half the way in the spreads.
        factor = float(np.clip(np.median(factors), factor / _STRIDE, factor * _STRIDE))
        aims = {
            number: (mean, math.sqrt(aims[number][1] * variance))
            for number, (mean, variance) in _middles(draws).items()
        }
        if settled:
            break
    rate = float(posteriors.share_means(np.array([failed, kept]))[0])
    net = local.charts.net[: FACTORS.size]
    return Match(rate, factors, draws, targets, usual, local.curve, net, outside, trust)


def _middles(draws: Mapping[int, Array]) -> dict[int, tuple[float, float]]:
    """Medians of mean and variance by the aim's number."""
    return {n: (float(np.median(d[:, 0])), float(np.median(d[:, 1]))) for n, d in draws.items()}


def _settled(
    factor: float,
    aims: dict[int, tuple[float, float]],
    factors: Array,
    draws: dict[int, Array],
) -> bool:
    """Whether a round ended where it started, as far as the chart can tell."""
    starts = [(np.array([factor]), factors[:, None])]
    starts += [(np.array(aims[number]), found) for number, found in draws.items()]
    return all(
        bool(np.all(np.abs(np.median(found, axis=0) - start) <= _NEAR * found.std(axis=0) + _SAME))
        for start, found in starts
    )


def _weights(
    draws: dict[int, Array], usual: Array, targets: Mapping[int, Target]
) -> tuple[Array, float]:
    """How likely candidates are by what was assumed of the aims' spreads before, adding up to 1.

    A density of a logarithm, over candidates that come from one of a variance: hence the division
    by it. Where errors alone scatter balls more than charted no aim would do, and such candidates
    next to nothing. Where that would leave all weight on a few candidates, which would look sure of
    what the chart contradicts, it counts at a lower power, returned too, until `_FEWEST` share it.
    """
    log = np.zeros(CANDIDATES)
    for number, found in draws.items():
        if targets[number].fits_spread:
            before = max(usual[number, 1], _least_variance(number))
            # Half the logarithm of a variance is that of a standard deviation.
            log -= 0.5 * np.square(0.5 * np.log(found[:, 1] / before) / SPREAD_OF_SPREADS)
            log -= np.log(found[:, 1])
            log[_is_least(number, found)] -= _NEXT_TO_NOTHING
    trust = 1.0
    while True:
        weights = np.exp(trust * (log - log.max()))
        weights /= weights.sum()
        if 1.0 / np.square(weights).sum() >= _FEWEST:
            return weights, trust
        trust *= 0.5


@dataclass(frozen=True)
class _Local:
    """How charts depend on the errors, and around certain aims on these.

    ``curve`` is the share failing by factor, made to rise throughout; ``slopes`` are, for each
    aim, what mean and variance of what is charted gain with the aim's mean and variance (2, 2);
    ``failing_slopes`` what the share failing gains (2,).
    """

    charts: Charts
    log_factors: Array
    curve: Array
    aims: dict[int, tuple[float, float]]
    slopes: dict[int, Array]
    failing_slopes: dict[int, Array]

    def solve(
        self, rates: Array, charted: dict[int, Array], targets: Mapping[int, Target]
    ) -> tuple[Array, dict[int, Array]]:
        """Factors and aims for charted rates (k,), means and variances (k, 2) by aim.

        Aims change how many fail, and errors where balls land: a few turns settle both.
        """
        shift = np.zeros(rates.shape)
        for _ in range(_TURNS):
            log_factor = np.interp(rates - shift, self.curve, self.log_factors)
            aims = {
                number: self._aim(number, log_factor, wanted, targets[number].fits_spread)
                for number, wanted in charted.items()
            }
            shift = np.zeros(rates.shape)
            for number, found in aims.items():
                shift += (found - self.aims[number]) @ self.failing_slopes[number]
        return np.exp(log_factor), aims

    def _aim(self, number: int, log_factor: Array, wanted: Array, fits_spread: bool) -> Array:
        """Mean and variance of an aim, shape (k, 2), held within what can be aimed at."""
        low, high, _ = AIMS[number].in_program_units()
        mean, variance = self.aims[number]
        points = self.log_factors.size
        missing_mean, missing_variance = (
            wanted[:, part] - np.interp(log_factor, self.log_factors, moments[:points, number])
            for part, moments in enumerate((self.charts.mean, self.charts.variance))
        )
        slopes = self.slopes[number]
        gain = np.zeros(log_factor.shape)
        if fits_spread:
            determinant = slopes[0, 0] * slopes[1, 1] - slopes[0, 1] * slopes[1, 0]
            determinant = max(determinant, _LEAST_SLOPE**2)
            gain = (slopes[0, 0] * missing_variance - slopes[1, 0] * missing_mean) / determinant
            gain = np.maximum(variance + gain, _least_variance(number)) - variance
        move = (missing_mean - slopes[0, 1] * gain) / max(slopes[0, 0], _LEAST_SLOPE)
        return np.column_stack((np.clip(mean + move, low, high), variance + gain))


def _play(
    scenario: Scenario,
    factor: float,
    aims: dict[int, tuple[float, float]],
    workers: Workers,
    progress: Callable[[Progress], None],
) -> _Local:
    """Play the curve at these aims, and at one factor what a nudge of each changes."""
    settings = [with_errors_and_aims(scenario, each, aims) for each in FACTORS]
    usual = typical_aims(scenario)
    settings.append(with_errors_and_aims(scenario, factor, aims))
    steps = {
        number: (_NUDGE[0] * max(mean, 1.0), _NUDGE[1] * (variance + float(usual[number, 1])))
        for number, (mean, variance) in aims.items()
    }
    for number, (mean, variance) in aims.items():
        for nudged in ((mean + steps[number][0], variance), (mean, variance + steps[number][1])):
            settings.append(with_errors_and_aims(scenario, factor, aims | {number: nudged}))
    charts = simulated_charts(settings, workers, progress)
    base = FACTORS.size
    slopes, failing_slopes = {}, {}
    for place, number in enumerate(aims):
        nudged_mean = base + 1 + 2 * place
        pair = slice(nudged_mean, nudged_mean + 2)
        step = np.array(steps[number])
        moments = np.stack((charts.mean[:, number], charts.variance[:, number]))
        slopes[number] = (moments[:, pair] - moments[:, [base]]) / step
        failing_slopes[number] = (charts.failing[pair] - charts.failing[base]) / step
    # Rounding and the finite number of shots must not make the curve fall anywhere.
    rising = np.maximum.accumulate(charts.failing[:base]) + _RISE * np.arange(base)
    return _Local(charts, np.log(FACTORS), rising, aims, slopes, failing_slopes)


def _is_least(number: int, draws: Array) -> np.ndarray:
    """Whether nothing was left for the aim's own spread, shape (draws,)."""
    return np.asarray(draws[:, 1] <= _least_variance(number) * (1.0 + _SAME))


def _least_variance(number: int) -> float:
    _, _, least = AIMS[number].in_program_units()
    return least * least


def _part_of(
    progress: Callable[[Progress], None], turn: int, rounds: int
) -> Callable[[Progress], None]:
    """Progress of one of several rounds as progress of the whole."""

    def show(part: Progress) -> None:
        progress(Progress(turn * part.planned + part.done, rounds * part.planned))

    return show
