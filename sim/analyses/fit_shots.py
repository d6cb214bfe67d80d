"""From a chart of third shots to what the opponents play, aim at and miss, with ranges."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from sim.analyses import posteriors
from sim.analyses.shot_chart import ShotChart, counts_of
from sim.analyses.shot_match import Match, Target, match
from sim.analyses.simulated_chart import AIMS, ERRORS, scaled_error, simulated_charts
from sim.blocks import OneAfterTheOther, Workers
from sim.charts import ChartRow
from sim.comparison import Progress
from sim.court import Array
from sim.fitted import POSTERIOR, Estimate, Posterior, range_of, stream, written
from sim.opponents import LANES, SHOTS
from sim.scenario import Scenario
from sim.scenario_files import ScenarioFile, build, merge, nested

# From so many shots after a return direction on, it gets lane weights of its own.
ENOUGH_FOR_A_DIRECTION: Final = 30
# From so many balls on the mean of an aim is fitted, and from so many its spread, too.
ENOUGH_FOR_A_MEAN: Final = 5
ENOUGH_FOR_A_SPREAD: Final = posteriors.ENOUGH_FOR_A_SHAPE
_STREAM: Final = 1001
_COUNTED: Final = "Dirichlet posterior, Jeffreys prior (half a shot of each kind)"
_ALIKE: Final = "anything that is rounded to what was written"
_MATCHED: Final = "simulated charts made alike in mean and spread"


@dataclass(frozen=True)
class ShotsFit:
    """What a chart says about the opponents of a scenario."""

    like: Scenario
    chart: ShotChart
    posterior: Posterior
    match: Match
    factor: Estimate
    failing: Estimate


def fit_shots(
    file: ScenarioFile,
    changes: dict[str, Any],
    rows: Sequence[ChartRow],
    units: str = "us",
    workers: Workers | None = None,
    progress: Callable[[Progress], None] = lambda progress: None,
) -> ShotsFit:
    """Fit a scenario's opponents to charted rows (see `chart_forms.THIRD_SHOTS`).

    Shot mix and lanes are counts; the execution errors are those with which the program's own
    third shots fail as often as the charted ones; the aims those with which they land alike. The
    scenario's ``run`` says how many shots are played for each setting, and gives the seed.
    """
    like = build(file, changes)
    chart = counts_of(rows, like)
    random = stream(like.run.seed, _STREAM)
    counted = _Collected(like, units)
    counted.shares("shots", SHOTS, chart.shots, random)
    if chart.lanes.sum():
        counted.shares("lanes", LANES, chart.lanes, random)
    for direction, lanes in chart.lanes_by_return.items():
        if lanes.sum() >= ENOUGH_FOR_A_DIRECTION:
            counted.shares(f"lanes_by_return.{direction}", LANES, lanes, random)
    opponents = build(file, merge(changes, counted.tables)).opponents
    played = like.model_copy(update={"opponents": opponents})
    targets = {
        number: Target.of(
            values,
            AIMS[number].rounding,
            fits_spread=values.size >= ENOUGH_FOR_A_SPREAD,
            random=random,
        )
        for number, values in chart.values.items()
        if values.size >= ENOUGH_FOR_A_MEAN and _matters(number, like)
    }
    kept = chart.size - chart.failed
    workers = workers or OneAfterTheOther()
    found = match(played, (chart.failed, kept), targets, random, workers, progress)
    failing_until_now = float(simulated_charts([like], workers).failing[0])
    factor, failing = counted.errors(chart, found, failing_until_now)
    counted.aims(chart, found)
    tables = merge(changes, counted.tables)
    tables.pop("run", None)
    posterior = Posterior(counted.estimates, tables, counted.remarks, counted.draws)
    return ShotsFit(like, chart, posterior, found, factor, failing)


def _matters(number: int, scenario: Scenario) -> bool:
    """Whether shots go by an aim; with azimuths given directly nobody aims beside the line."""
    shots = (getattr(scenario.opponents, kind) for kind in SHOTS)
    return AIMS[number].place != ("inset",) or any(shot.azimuth is None for shot in shots)


class _Collected:
    """Estimates, tables, remarks and draws as they come together."""

    def __init__(self, like: Scenario, units: str) -> None:
        self.like, self.units = like, units
        self.estimates: list[Estimate] = []
        self.tables: dict[str, Any] = {}
        self.remarks: dict[str, str] = {}
        self.draws: dict[str, Array] = {}

    def shares(
        self, place: str, kinds: Sequence[str], counts: Array, random: np.random.Generator
    ) -> None:
        """Weights in percent, from counts."""
        key, size = f"opponents.{place}", int(counts.sum())
        means = 100.0 * posteriors.share_means(counts)
        draws = 100.0 * posteriors.share_draws(counts, POSTERIOR, random)
        usual = self._usual_shares(place, kinds)
        ranges = []
        for number, kind in enumerate(kinds):
            hits = float(counts[number])
            low, high = posteriors.share_range(hits, size - hits, len(kinds))
            self.draws[f"{key}.{kind}"] = draws[:, number]
            estimate = Estimate(
                f"{kind}, of 100",
                f"{key}.{kind}",
                float(means[number]),
                100.0 * low,
                100.0 * high,
                size,
                _COUNTED,
                usual=usual[number],
            )
            self.estimates.append(estimate)
            ranges.append(f"{kind} {100 * low:.0f} to {100 * high:.0f}")
        weights = {kind: round(float(mean), 1) for kind, mean in zip(kinds, means, strict=True)}
        self.tables = merge(self.tables, nested(key, weights))
        self.remarks[key] = f"{size} shots; 95 %: {', '.join(ranges)}"

    def errors(
        self, chart: ShotChart, found: Match, failing_until_now: float
    ) -> tuple[Estimate, Estimate]:
        """The rate of failing and the execution errors: one factor for all three."""
        low, high = posteriors.share_range(chart.failed, chart.size - chart.failed)
        failing = Estimate(
            "fail, of 100",
            "",
            100.0 * found.rate,
            100.0 * low,
            100.0 * high,
            chart.size,
            "beta posterior, Jeffreys prior",
            usual=100.0 * failing_until_now,
        )
        method = "simulated failures made as frequent as charted ones"
        factor = Estimate(
            "errors, times the usual",
            "",
            found.factor,
            *range_of(found.factors),
            chart.size,
            method,
            usual=1.0,
        )
        self.estimates += [failing, factor]
        for name in ERRORS:
            shape = scaled_error(self.like.opponents.errors, name, 1.0)
            dimension = "share" if name == "speed" else "angle"
            self._spread(
                f"opponents.errors.{name}",
                {"sd": (shape.sd * found.factor, shape.sd * found.factors, shape.sd)},
                {"mean": shape.mean, "low": shape.low, "high": shape.high},
                dimension,
                chart.size,
                method,
            )
        return factor, failing

    def aims(self, chart: ShotChart, found: Match) -> None:
        """What was charted of each aim, and the aim that is charted like that."""
        for number, target in found.targets.items():
            aim, size = AIMS[number], chart.values[number].size
            spreads = np.sqrt(target.variances)
            method = _ALIKE if target.alike else "normal posterior, prior 1 / variance"
            for words, value, draws in (
                ("mean", target.mean, target.means),
                ("sd", float(np.sqrt(target.variance)), spreads),
            ):
                estimate = Estimate(
                    f"{aim.name}, charted {words}",
                    "",
                    value,
                    *range_of(draws),
                    size,
                    method,
                    aim.dimension,
                )
                self.estimates.append(estimate)
            mean, variance = found.aims[number]
            usual_mean, usual_variance = found.usual_aims[number]
            fitted = {"mean": (mean, found.aim_draws[number][:, 0], usual_mean)}
            sd, usual_sd = float(np.sqrt(variance)), float(np.sqrt(usual_variance))
            low, high, _ = aim.in_program_units()
            rest = {"low": low, "high": high}
            if target.fits_spread:
                fitted["sd"] = sd, np.sqrt(found.aim_draws[number][:, 1]), usual_sd
            else:
                rest = {"sd": sd} | rest
            self._spread(aim.key, fitted, rest, aim.dimension, size, _MATCHED)

    def _spread(
        self,
        key: str,
        fitted: dict[str, tuple[float, Array, float]],
        rest: dict[str, float],
        dimension: str,
        size: int,
        method: str,
    ) -> None:
        """A truncated distribution: fitted parts (value, draws, usual value) and the rest."""
        parts = {part: value for part, (value, _, _) in fitted.items()} | rest
        names = [part for part in ("mean", "sd", "low", "high") if part in parts]
        # Limits stand as scenarios have them: in other units they could round to just outside.
        table = {
            part: written(parts[part], dimension, self.units if part in ("mean", "sd") else "us")
            for part in names
        }
        self.tables = merge(self.tables, nested(key, {"kind": "truncated"} | table))
        ranges = []
        for part, (value, draws, usual) in fitted.items():
            low, high = range_of(draws)
            self.draws[f"{key}.{part}"] = draws
            name = f"{key}.{part}"
            self.estimates.append(
                Estimate(name, name, value, low, high, size, method, dimension, usual)
            )
            ends = (written(end, dimension, self.units) for end in (low, high))
            ranges.append(f"{part} {' to '.join(ends)}")
        self.remarks[key] = f"{size} shots; 95 %: {', '.join(ranges)}"

    def _usual_shares(self, place: str, kinds: Sequence[str]) -> list[float]:
        name, *rest = place.split(".")
        weights = getattr(self.like.opponents, name)
        for part in rest:
            weights = getattr(weights, part) or self.like.opponents.lanes
        values = [getattr(weights, kind) for kind in kinds]
        return [100.0 * value / sum(values) for value in values]
