"""From timed dashes to a player's top speed, time constant and share of it sideways, with ranges.

``d = V (t - tau (1 - exp(-t / tau)))``, from a standing start: K. Furusawa, A. V. Hill and J. L.
Parkinson, The dynamics of "sprint" running, 1927 (quoted); P. Samozino et al. 2016 (quoted). A dash
of ``d`` sideways takes as long as one of ``d / sideways`` straight ahead, as in `run_in`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from sim.charts import ChartError, ChartRow
from sim.court import Array
from sim.fitted import POSTERIOR, Estimate, Posterior, range_of, stream, written
from sim.players import Player
from sim.run_in import PLAYERS
from sim.scenario_files import ScenarioFile, build, merge, nested
from sim.wording import counted

DIRECTIONS: Final = ("forward", "sideways", "backwards")
# The time constant before any dash: about 1 s across levels (Clark and Ryan 2022, quoted) [P]; that
# players differ by a quarter of it either way (standard deviation of its logarithm) is assumed [A].
USUAL_TIME_CONSTANT: Final = 1.0
TIME_CONSTANT_SPREAD: Final = 0.25
# The same of the shares of speed sideways and backwards, around the scenario's own [A].
SHARE_SPREAD: Final = 0.25
# Scatter of hand timing and from dash to dash (s), as sure as from so many dashes [A].
WATCH_ERROR: Final = 0.1
WATCH_DASHES: Final = 4
# A posterior so much narrower than what was assumed before has learnt something from the dashes.
LEARNT: Final = 0.7
_STREAM: Final = 2001
_PROPOSALS: Final = 20_000
_MOST_NUMBERS: Final = 4_000_000
_FREEDOM: Final = 5.0
_WIDER: Final = 1.2
_NEWTON_STEPS: Final = 40
_SETTLING: Final = 6
_METHOD: Final = "posterior of the run's equation, errors of timing included"


@dataclass(frozen=True)
class Dashes:
    """One player's dashes, shape (dashes,): ft, s without reaction, and places in `DIRECTIONS`."""

    distance: Array
    seconds: Array
    direction: np.ndarray

    def all_from(self, direction: str) -> np.ndarray:
        return np.asarray(self.direction == DIRECTIONS.index(direction))


@dataclass(frozen=True)
class RunFit:
    """What one player's dashes say: draws of shape (draws,), in ft/s, s and shares of speed.

    ``shares`` holds only directions that were timed beside dashes straight ahead. ``watch`` is the
    scatter of the times (s). ``learnt`` is the posterior spread of the time constant against that
    assumed before: 1 where the dashes say nothing about it.
    """

    dashes: Dashes
    top_speed: Array
    time_constant: Array
    shares: dict[str, Array]
    watch: Array
    learnt: float
    usual: Player

    def factor(self, direction: str) -> Array:
        """Share of the straight-ahead speed in a direction, shape (draws,)."""
        if direction == "forward":
            return np.ones(self.top_speed.shape)
        usual = np.full(self.top_speed.shape, getattr(self.usual, direction))
        return self.shares.get(direction, usual)


@dataclass(frozen=True)
class RunsFit:
    """The fits of the players that were timed, by name, and what they hand on."""

    players: dict[str, RunFit]
    posterior: Posterior


def dash_time(distance: Array, top_speed: Array, time_constant: Array) -> Array:
    """Time (s) for a dash straight ahead from a standing start; shapes broadcast.

    Newton's method on ``u + exp(-u) - 1 = d / (V tau)`` with ``u = t / tau``; the left side is
    convex, so that steps from above its root never pass it.

    >>> float(dash_time(np.array(15.0), np.array(13.0), np.array(1.0)).round(2))
    2.02
    """
    wanted = distance / (top_speed * time_constant)
    u = wanted + 1.0
    for _ in range(_NEWTON_STEPS):
        step = (u + np.expm1(-u) - wanted) / -np.expm1(-u)
        u = u - step
        if np.all(step <= 1e-12 * u):
            break
    return np.asarray(u * time_constant)


def fit_runs(
    file: ScenarioFile,
    changes: dict[str, Any],
    rows: Sequence[ChartRow],
    player: str | None = None,
    reaction: float = 0.0,
    units: str = "us",
) -> RunsFit:
    """Fit the legs of a scenario's players to timed dashes (see `chart_forms.DASHES`).

    ``player`` ran where a row names nobody; ``reaction`` (s) is in the times where a row names
    none. Raises `ChartError` where nobody is named.
    """
    scenario = build(file, changes)
    players = {}
    random = stream(scenario.run.seed, _STREAM)
    names = [row["player"] or player for row in rows]
    if None in names:
        raise ChartError(
            [
                "whose dashes are these? Add --player left or --player right, or fill in the "
                "column player"
            ]
        )
    for name in PLAYERS:
        own = [row for row, ran in zip(rows, names, strict=True) if ran == name]
        if own:
            usual = getattr(scenario.pair, name)
            players[name] = fit_player(_dashes(own, reaction), usual, random)
    estimates: list[Estimate] = []
    tables, remarks, draws = changes, dict[str, str](), dict[str, Array]()
    for name, fit in players.items():
        for setting, values, dimension in _settings(fit):
            key = f"pair.{name}.{setting}"
            low, high = range_of(values)
            middle, usual = float(np.median(values)), getattr(fit.usual, setting)
            size, words = fit.dashes.distance.size, f"{name}: {setting.replace('_', ' ')}"
            estimates.append(
                Estimate(words, key, middle, low, high, size, _METHOD, dimension, usual)
            )
            text = written(middle, dimension, units)
            tables = merge(tables, nested(key, text if dimension else float(text)))
            ends = " to ".join(written(end, dimension, units) for end in (low, high))
            remarks[key] = f"{counted(size, 'dash')}; 95 %: {ends}"
            draws[key] = values
    tables = {key: value for key, value in tables.items() if key != "run"}
    return RunsFit(players, Posterior(estimates, tables, remarks, draws))


def _settings(fit: RunFit) -> list[tuple[str, Array, str | None]]:
    """What goes into the scenario: setting, draws, dimension."""
    found: list[tuple[str, Array, str | None]] = [
        ("top_speed", fit.top_speed, "running speed"),
        ("time_constant", fit.time_constant, "time"),
    ]
    return found + [(name, draws, None) for name, draws in fit.shares.items()]


def _dashes(rows: Sequence[ChartRow], reaction: float) -> Dashes:
    late = np.array([reaction if row["reaction"] is None else row["reaction"] for row in rows])
    seconds = np.array([row["seconds"] for row in rows]) - late
    if (seconds <= 0.0).any():
        raise ChartError([f"--reaction {reaction:g} s: must be shorter than every dash"])
    return Dashes(
        np.array([row["distance"] for row in rows]),
        seconds,
        np.array([DIRECTIONS.index(row["direction"] or "forward") for row in rows]),
    )


def fit_player(dashes: Dashes, usual: Player, random: np.random.Generator) -> RunFit:
    """Posterior of one player's legs, drawn by importance from a t distribution around its peak.

    Times scatter normally with an unknown spread, whose prior is a scaled inverse chi-square of
    `WATCH_DASHES` dashes at `WATCH_ERROR` and is integrated out; top speed has a flat prior in its
    logarithm, time constant and shares of speed log-normal ones. Source: Gelman et al., Bayesian
    Data Analysis, 3rd ed. (2013), sections 3.2, 10.4 and 14.8 (memory).

    ``usual`` gives the shares of speed sideways and backwards where no dash tells them.
    """
    timed = [name for name in DIRECTIONS[1:] if dashes.all_from(name).any()]
    # Without a dash straight ahead a share cannot be told from the top speed.
    shares = timed if dashes.all_from("forward").any() else []
    centre = np.log([USUAL_TIME_CONSTANT, *(getattr(usual, name) for name in shares)])
    spread = np.array([TIME_CONSTANT_SPREAD, *([SHARE_SPREAD] * len(shares))])

    def late(logs: Array) -> Array:
        """Times less the equation's, shape (..., dashes), for logarithms (..., parameters)."""
        factors = [np.zeros(logs.shape[:-1])]
        for name in DIRECTIONS[1:]:
            known = np.full(logs.shape[:-1], math.log(getattr(usual, name)))
            factors.append(logs[..., 2 + shares.index(name)] if name in shares else known)
        ahead = dashes.distance / np.exp(np.stack(factors, axis=-1)[..., dashes.direction])
        time = dash_time(ahead, np.exp(logs[..., :1]), np.exp(logs[..., 1:2]))
        return np.asarray(dashes.seconds - time)

    peak, covariance = _peak(late, centre, spread, dashes)
    count = max(min(_PROPOSALS, _MOST_NUMBERS // dashes.seconds.size), 2000)
    logs, weights, squares = _proposals(late, centre, spread, peak, covariance, count, random)
    chosen = random.choice(count, POSTERIOR, p=weights)
    freedom = WATCH_DASHES + dashes.seconds.size
    variance = squares[chosen] / (2.0 * random.standard_gamma(0.5 * freedom, POSTERIOR))
    found = np.exp(logs[chosen])
    return RunFit(
        dashes,
        found[:, 0],
        found[:, 1],
        {name: found[:, 2 + place] for place, name in enumerate(shares)},
        np.sqrt(variance),
        float(logs[chosen, 1].std()) / TIME_CONSTANT_SPREAD,
        usual,
    )


def _peak(
    late: Callable[[Array], Array], centre: Array, spread: Array, dashes: Dashes
) -> tuple[Array, Array]:
    """Where the posterior is highest, and its covariance there; of logarithms of the parameters."""
    from scipy.optimize import least_squares

    fastest = float((dashes.distance / dashes.seconds).max())
    logs, watch = np.array([math.log(1.5 * fastest), *centre]), WATCH_ERROR
    for _ in range(_SETTLING):

        def residuals(logs: Array, watch: float = watch) -> Array:
            return np.concatenate((late(logs) / watch, (logs[1:] - centre) / spread))

        found = least_squares(residuals, logs)
        logs = found.x
        watch = math.sqrt(_squares(late(logs)) / (WATCH_DASHES + dashes.seconds.size))
    slopes = np.asarray(found.jac, dtype=float)
    return logs, np.linalg.inv(slopes.T @ slopes)


def _squares(late: Array) -> Array:
    """Sum of squared errors, the prior's included (s2)."""
    return np.asarray(WATCH_DASHES * WATCH_ERROR**2 + np.square(late).sum(axis=-1))


def _proposals(
    late: Callable[[Array], Array],
    centre: Array,
    spread: Array,
    peak: Array,
    covariance: Array,
    count: int,
    random: np.random.Generator,
) -> tuple[Array, Array, Array]:
    """Proposed logarithms (count, parameters), their weights and sums of squares (count,)."""
    size = peak.size
    root = np.linalg.cholesky(covariance) * _WIDER
    normal = random.standard_normal((count, size))
    chi_square = 2.0 * random.standard_gamma(0.5 * _FREEDOM, count)
    unit = normal * np.sqrt(_FREEDOM / chi_square)[:, None]
    logs = peak + unit @ root.T
    errors = late(logs)
    squares = _squares(errors)
    freedom = WATCH_DASHES + errors.shape[-1]
    density = -0.5 * freedom * np.log(squares)
    density -= 0.5 * np.square((logs[:, 1:] - centre) / spread).sum(axis=1)
    proposed = -0.5 * (_FREEDOM + size) * np.log1p(np.square(unit).sum(axis=1) / _FREEDOM)
    weights = np.exp(density - proposed - (density - proposed).max())
    return logs, weights / weights.sum(), squares
