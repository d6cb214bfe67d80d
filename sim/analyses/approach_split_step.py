"""What stopping for a split step costs and gains: every policy against its twin that runs on.

Twins differ in nothing but the split step, and both face the very same shots.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from sim.blocks import Workers
from sim.comparison import Progress
from sim.scenario import Policy, Scenario
from sim.statistics import adjusted, difference_of_replicates, mean_of_replicates, told_apart
from sim.study import counts, tallies
from sim.tables import Row, verdict
from sim.tally import MEASURES, ON_THE_WAY, Tally

STOPS, RUNS_ON = "stops", "runs on"


@dataclass(frozen=True)
class Twins:
    """A policy that stops and the one that runs on, and their tally in this order.

    Its pairs count the balls of the first against the second.
    """

    policy: Policy
    tally: Tally
    directions: list[str]

    def pairs(self, measure: str, direction: int | None) -> np.ndarray:
        """Two-by-two tables by replicate: both, only who stops, only who runs on, neither."""
        return self.tally.pairs[:, 0, _chosen(direction), :, MEASURES.index(measure)].sum(
            axis=(1, 2)
        )

    def deeper(self, direction: int | None) -> tuple[float, float, float]:
        """How much deeper (ft, mean of both players) the shot finds who stops, with interval."""
        columns = [ON_THE_WAY.index(f"{name}_depth") for name in ("left", "right")]
        depths = (
            self.tally.on_the_way[:, :, _chosen(direction)][..., columns].mean(axis=3).sum(axis=2)
        )
        _, balls = counts(self.tally, 0, "reached", direction)
        return mean_of_replicates(depths[:, 0] - depths[:, 1], balls)


def _chosen(direction: int | None) -> slice:
    return slice(None) if direction is None else slice(direction, direction + 1)


def split_steps(
    scenario: Scenario,
    workers: Workers,
    progress: Callable[[Progress], None] = lambda progress: None,
) -> list[Twins]:
    """Play every policy against its twin; policies that are each other's twins are played once."""
    chosen = [
        policy
        for place, policy in enumerate(scenario.policies)
        if not any(_alike(policy, earlier) for earlier in scenario.policies[:place])
    ]
    found = tallies([twins_of(scenario, policy) for policy in chosen], workers, progress)
    directions: list[str] = list(scenario.return_of_serve.directions)
    return [Twins(policy, tally, directions) for policy, tally in zip(chosen, found, strict=True)]


def twins_of(scenario: Scenario, policy: Policy) -> Scenario:
    """The scenario with the policy that stops and, as the baseline, the one that runs on."""
    stops = policy.model_copy(update={"name": STOPS, "split_step": True})
    runs_on = policy.model_copy(update={"name": RUNS_ON, "split_step": False})
    run = scenario.run.model_copy(update={"baseline": RUNS_ON})
    return scenario.model_copy(update={"policies": [stops, runs_on], "run": run})


def split_step_rows(scenario: Scenario, twins: list[Twins]) -> list[Row]:
    """Who stops minus who runs on, after all returns and after each.

    Verdicts about one direction and measure hold together for all policies, as in a comparison.
    """
    wanted = scenario.run_in
    directions = list(scenario.return_of_serve.directions)
    places: list[tuple[str, int | None]] = [(name, k) for k, name in enumerate(directions)]
    if len(directions) > 1:
        places = [("all", None), *places]
    rows = []
    for direction, place in places:
        for measure in MEASURES:
            tables = [each.pairs(measure, place) for each in twins]
            told = told_apart([partial(difference_of_replicates, table) for table in tables])
            for each, table, apart in zip(twins, tables, told, strict=True):
                difference, low, high = difference_of_replicates(table)
                together = difference_of_replicates(table, adjusted(len(twins)))
                deeper, deeper_low, deeper_high = each.deeper(place)
                both, only_stops, only_runs_on, neither = map(int, table.sum(axis=0))
                rows.append(
                    {
                        "policy": each.policy.name,
                        "return_direction": direction,
                        "measure": measure,
                        "in_play": both + only_stops + only_runs_on + neither,
                        "both": both,
                        "only_who_stops": only_stops,
                        "only_who_runs_on": only_runs_on,
                        "neither": neither,
                        "points": 100.0 * difference,
                        "points_low": 100.0 * low,
                        "points_high": 100.0 * high,
                        "verdict": verdict(*together, told=apart),
                        "deeper_ft": deeper,
                        "deeper_ft_low": deeper_low,
                        "deeper_ft_high": deeper_high,
                        "settled_sooner_s": wanted.split_step_lead,
                        "reacts_later_without_s": wanted.late_without_split_step,
                    }
                )
    return rows


def _alike(one: Policy, other: Policy) -> bool:
    """Whether two policies differ at most in name and split step."""
    apart = {"name", "split_step"}
    return one.model_dump(exclude=apart) == other.model_dump(exclude=apart)
