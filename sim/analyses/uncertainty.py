"""How much of a comparison's doubt is sampling, and how much is not knowing the inputs.

Every joint draw of the inputs is a setting, played in replicates. A few settings at a time face the
same shots: what these differ by is hardly noise. The next few have shots of their own, so that the
error of the shots averages out over all settings, which it does not if all have the same.

Source: A. O'Hagan, M. Stevenson and J. Madan, Monte Carlo probabilistic sensitivity analysis for
patient level simulation models: efficient estimation of mean and variance using ANOVA, Health Econ.
16 (2007) 1009 (memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Final, Literal

import numpy as np

from sim.analyses.batches import each_tally
from sim.blocks import Workers
from sim.comparison import Progress
from sim.court import Array
from sim.draws import REPLICATES
from sim.errors import GET_BALLS_IN_PLAY, Refused
from sim.scenario import Scenario
from sim.statistics import (
    FEW,
    LEVEL,
    adjusted,
    paired_difference,
    student_quantile,
    told_apart,
    wilson,
)
from sim.tables import Row, verdict
from sim.tally import MEASURES, Tally

# Shots of a setting are this part of those of the comparison.
PART_OF_SHOTS: Final = 16
_LEAST_SHOTS: Final = 16
# Settings that face the same shots. Two would be enough to tell what they differ by; with more the
# error of the shots averages out over fewer groups.
GROUP: Final = 4
# How the pairs both, only the policy, only the baseline and neither count.
Signs = tuple[int, int, int, int]
SHARE: Final[Signs] = (1, 1, 0, 0)
DIFFERENCE: Final[Signs] = (0, 1, -1, 0)
_SEEDS: Final = 1


@dataclass(frozen=True)
class Spread:
    """A table of settings by replicates, taken apart by `spread`; all but ``rows`` are variances.

    ``between`` is that of the settings' true values, ``noise`` what sampling adds to the difference
    of two settings of one group (half of it, for each), ``row_noise`` what it adds to a single one,
    ``sampling`` how far other shots would move the mean of all. ``rows`` are the settings' means,
    shape (groups, settings).
    """

    rows: Array
    between: float
    noise: float
    row_noise: float
    sampling: float

    @property
    def mean(self) -> float:
        """The mean over all settings."""
        return float(self.rows.mean())

    @property
    def noise_share(self) -> float:
        """The part of the variance between settings that is sampling noise."""
        whole = self.between + self.row_noise
        return self.row_noise / whole if whole > 0.0 else 0.0


def spread(table: Array) -> Spread:
    """Take a table apart whose shape is (groups, settings of a group, replicates).

    The settings of a group face the same shots, those of other groups others: value = mean +
    setting + replicate of the group + the rest, all independent. Within a group, settings' means
    differ by their true values and by the mean of the rest, whose variance the cells tell; an
    estimate below zero is none. The mean of a group moves by the scatter of its replicates.

    Source: S. R. Searle, G. Casella and C. E. McCulloch, Variance Components (1992), crossed and
    nested random effects (memory).
    """
    groups, settings, replicates = table.shape
    rows, columns = table.mean(axis=2), table.mean(axis=1)
    rest = table - rows[:, :, None] - columns[:, None, :] + rows.mean(axis=1)[:, None, None]
    cells = groups * (settings - 1) * (replicates - 1)
    noise = float(np.sum(rest * rest)) / cells / replicates
    between = max(float(rows.var(axis=1, ddof=1).mean()) - noise, 0.0)
    row_noise = float(table.var(axis=2, ddof=1).mean()) / replicates
    sampling = float(columns.var(axis=1, ddof=1).mean()) / replicates / groups
    return Spread(rows, between, noise, row_noise, sampling)


@dataclass(frozen=True)
class Doubt:
    """A number with its interval, and how far either reason alone would reach to each side.

    The squares of ``sampling`` and ``not_knowing`` add up to that of the interval's half-width.
    """

    mean: float
    low: float
    high: float
    sampling: float
    not_knowing: float


def doubt(table: Array, level: float = LEVEL, least: float = 0.0) -> Doubt:
    """Where the number lies in one more setting like those of the table, see `spread`.

    ``least`` is the half-width that sampling has at least, where the scatter of replicates says too
    little. Degrees of freedom: F. E. Satterthwaite, An approximate distribution of estimates of
    variance components, Biometrics Bull. 2 (1946) 110 (memory).
    """
    groups, settings, replicates = table.shape
    parts = spread(table)
    # The mean of finitely many draws is off by a little of the spread between them.
    more = 1.0 + 1.0 / (groups * settings)
    between, sampling = more * parts.between, parts.sampling
    squares = [(sampling, groups * (replicates - 1))]
    if parts.between > 0.0:
        # The variance between settings is the first of these squares less the second.
        free = groups * (settings - 1)
        squares += [(between + more * parts.noise, free)]
        squares += [(more * parts.noise, free * (replicates - 1))]
    uncertain = sum(square * square / freedom for square, freedom in squares)
    total = between + sampling
    freedom = int(min(total * total / uncertain, table.size)) if uncertain > 0.0 else 1
    quantile = student_quantile(level, max(freedom, 1))
    by_shots = max(quantile * math.sqrt(sampling), least)
    by_inputs = quantile * math.sqrt(between)
    half = math.hypot(by_shots, by_inputs)
    return Doubt(parts.mean, parts.mean - half, parts.mean + half, by_shots, by_inputs)


@dataclass(frozen=True)
class Estimate:
    """A share, or its difference to the baseline's, over all settings; ``doubt`` in parts of 1.

    ``ahead`` is the part of the settings in which the policy beats the baseline; NaN for a share.
    """

    policy: str
    measure: str
    quantity: Literal["share", "difference"]
    doubt: Doubt
    ahead: float = math.nan
    verdict: str = ""


@dataclass(frozen=True)
class Uncertainty:
    """A comparison played in many settings: estimates by policy, measure and quantity.

    ``sources`` are the files' names with the keys of what they draw.
    """

    scenario: Scenario
    sources: tuple[tuple[str, tuple[str, ...]], ...]
    settings: int
    shots: int
    estimates: tuple[Estimate, ...]

    @property
    def rows(self) -> list[Row]:
        """A row for every estimate, in percent or percentage points."""
        return [
            {
                "policy": each.policy,
                "measure": each.measure,
                "quantity": each.quantity,
                "mean": 100.0 * each.doubt.mean,
                "sampling_half_width": 100.0 * each.doubt.sampling,
                "not_knowing_half_width": 100.0 * each.doubt.not_knowing,
                "low": 100.0 * each.doubt.low,
                "high": 100.0 * each.doubt.high,
                "share_of_settings_ahead": each.ahead,
                "verdict": each.verdict,
                "settings": self.settings,
                "shots_per_return_direction": self.shots,
            }
            for each in self.estimates
        ]


def uncertainty(
    scenario: Scenario,
    settings: Sequence[Scenario],
    sources: Sequence[tuple[str, Sequence[str]]],
    workers: Workers | None = None,
    progress: Callable[[Progress], None] = lambda progress: None,
) -> Uncertainty:
    """Play the ``settings`` of a scenario, and take the doubt of every policy's shares apart.

    ``sources`` says where the settings come from, and what differs between them. The settings have
    the scenario's policies, and numbers of their own.
    """
    seed = scenario.run.seed
    kept = settings[: len(settings) // GROUP * GROUP]
    own = [with_own_shots(setting, seed, number // GROUP) for number, setting in enumerate(kept)]
    played = np.array([pairs_of(tally) for tally in each_tally(own, workers, progress)])
    pairs = played.reshape(-1, GROUP, *played.shape[1:])
    estimates: list[Estimate] = []
    for m, measure in enumerate(MEASURES):
        for p, policy in enumerate(scenario.policies):
            estimates.append(Estimate(policy.name, measure, "share", _share(pairs[:, :, p, m])))
        estimates += _differences(scenario, pairs[:, :, :, m], measure)
    named = tuple((name, tuple(keys)) for name, keys in sources)
    shots = settings[0].run.shots
    return Uncertainty(scenario, named, len(kept), shots, tuple(estimates))


def shots_of_a_setting(shots: int) -> int:
    """Shots for each return direction in every setting of a comparison of so many."""
    return max(shots // PART_OF_SHOTS, _LEAST_SHOTS)


def with_own_shots(scenario: Scenario, seed: int, number: int) -> Scenario:
    """The scenario with random numbers of its own, by the study's seed and a number."""
    words = np.random.SeedSequence(seed, spawn_key=(_SEEDS, number)).generate_state(1, np.uint64)
    run = scenario.run.model_copy(update={"seed": int(words[0]) >> 1})
    return scenario.model_copy(update={"run": run})


def pairs_of(tally: Tally) -> np.ndarray:
    """Pairs over all shots and directions, shape (policies, measures, `REPLICATES`, 4).

    Replicates of several blocks are added up to as many as one block has.
    """
    pairs = tally.pairs.sum(axis=(2, 3))
    missing = -len(pairs) % REPLICATES
    padded = np.concatenate((pairs, np.zeros((missing, *pairs.shape[1:]), pairs.dtype)))
    folded = padded.reshape(-1, REPLICATES, *pairs.shape[1:]).sum(axis=0)
    return folded.transpose(1, 2, 0, 3)


def by_replicate(pairs: np.ndarray, signs: Signs) -> Array:
    """What each replicate says of a share of the balls in play, or of a difference of shares.

    ``pairs`` has shape (..., replicates, 4), and the result (..., replicates): its mean over the
    replicates is the ratio of their sums, its scatter that of the ratio. Source: as
    `statistics.share_of_replicates`. Raises `Refused` where no ball is in play.
    """
    counts, balls = pairs @ np.array(signs), pairs.sum(axis=-1)
    size = balls.sum(axis=-1, keepdims=True)
    if not size.all():
        where = "one of the settings" if size.any() else "any setting"
        raise Refused(f"no third shot stays in play in {where}: {GET_BALLS_IN_PLAY}")
    ratio = counts.sum(axis=-1, keepdims=True) / size
    return ratio + balls.shape[-1] * (counts - ratio * balls) / size


def _share(pairs: np.ndarray) -> Doubt:
    """A policy's share; ``pairs`` has shape (groups, settings, replicates, 4)."""
    both, mine, theirs, neither = pairs.sum(axis=(0, 1, 2)).tolist()
    hits, balls = both + mine, both + mine + theirs + neither
    least = 0.0
    if min(hits, balls - hits) < FEW:
        low, high = wilson(hits, balls)
        least = 0.5 * (high - low)
    found = doubt(by_replicate(pairs, SHARE), least=least)
    low, high = max(found.low, 0.0), min(found.high, 1.0)
    return Doubt(found.mean, low, high, found.sampling, found.not_knowing)


def _difference(pairs: np.ndarray, level: float = LEVEL) -> Doubt:
    both, mine, theirs, neither = pairs.sum(axis=(0, 1, 2)).tolist()
    least = 0.0
    if mine + theirs < FEW:
        _, low, high = paired_difference(both, mine, theirs, neither, level)
        least = 0.5 * (high - low)
    return doubt(by_replicate(pairs, DIFFERENCE), level, least)


def _differences(scenario: Scenario, pairs: np.ndarray, measure: str) -> list[Estimate]:
    """All policies' differences to the baseline; the verdicts hold together."""
    others = [p for p, policy in enumerate(scenario.policies) if policy is not scenario.baseline]

    def interval(p: int, level: float) -> tuple[float, float, float]:
        found = _difference(pairs[:, :, p], level)
        return found.mean, found.low, found.high

    told = told_apart([partial(interval, p) for p in others])
    together = adjusted(len(others))
    estimates = []
    for p, apart in zip(others, told, strict=True):
        ahead = by_replicate(pairs[:, :, p], DIFFERENCE).mean(axis=-1) > 0.0
        said = verdict(*interval(p, together), told=apart)
        found, name = _difference(pairs[:, :, p]), scenario.policies[p].name
        estimates.append(Estimate(name, measure, "difference", found, float(ahead.mean()), said))
    return estimates
