"""The way in: what the pair can do between its return of serve and the opponents' third shot."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

from sim.analyses.approach_remedies import Remedy, remedies
from sim.analyses.approach_returns import Returns, returns
from sim.analyses.approach_split_step import Twins, split_step_rows, split_steps
from sim.analyses.approach_way import Way, arrival_rows, spacing_row, way_rows, ways
from sim.blocks import OneAfterTheOther, Workers
from sim.comparison import Progress
from sim.errors import refuse_unknown
from sim.scenario import Scenario
from sim.tables import Row


@dataclass(frozen=True)
class Approach:
    """The way in of a scenario's policies, and for the first of them the returns of serve tried.

    ``ways`` has for each policy all directions together (where there are several), then each;
    ``arrive`` is the share of balls for which both should arrive.
    """

    scenario: Scenario
    arrive: float
    ways: list[list[Way]]
    twins: list[Twins]
    returns: Returns
    remedies: list[Remedy]

    @property
    def directions(self) -> list[str]:
        """What rows are about: all directions together where there are several, and each."""
        return [way.direction for way in self.ways[0]]

    @cached_property
    def arrival_rows(self) -> list[Row]:
        """When players arrive, how often in time, and where the shot finds them."""
        return [row for found in self.ways for way in found for row in arrival_rows(way)]

    @cached_property
    def spacing_rows(self) -> list[Row]:
        """How far apart they are on the way."""
        return [spacing_row(way) for found in self.ways for way in found]

    @cached_property
    def way_rows(self) -> list[Row]:
        """Mean places and spacing over time."""
        return [row for found in self.ways for way in found for row in way_rows(self.scenario, way)]

    @cached_property
    def split_step_rows(self) -> list[Row]:
        """What stopping costs and gains."""
        return split_step_rows(self.scenario, self.twins)

    @cached_property
    def return_rows(self) -> list[Row]:
        """What each return tried does."""
        return self.returns.rows()

    @cached_property
    def remedy_rows(self) -> list[Row]:
        """What would let the pair arrive."""
        return [remedy.row() for remedy in self.remedies]


def approach(
    scenario: Scenario,
    arrive: float = 0.8,
    workers: Workers | None = None,
    progress: Callable[[Progress], None] = lambda progress: None,
) -> Approach:
    """Study the way in of all the scenario's policies; returns are tried with the first of them.

    The result does not depend on the workers.
    """
    workers = workers or OneAfterTheOther()
    found = ways(scenario)
    each = [way for way in found[0] if way.direction != "all"]
    return Approach(
        scenario=scenario,
        arrive=arrive,
        ways=found,
        twins=split_steps(scenario, workers, progress),
        returns=returns(scenario, arrive, workers, progress),
        remedies=remedies(scenario, each, arrive, workers),
    )


def only(scenario: Scenario, policies: Sequence[str], directions: Sequence[str]) -> Scenario:
    """The scenario with the named policies and return directions, in the order given.

    Without names: all of them, the baseline first. Raises `Refused` for unknown names.
    """
    known = {policy.name: policy for policy in scenario.policies}
    refuse_unknown("--policy", "a policy", policies, known)
    given = list(scenario.return_of_serve.directions)
    refuse_unknown("--return", "a return direction", directions, given)
    first = scenario.baseline.name
    names = dict.fromkeys(policies or [first, *known])
    chosen = [known[name] for name in names]
    kept = [direction for direction in given if direction in directions] or given
    return scenario.model_copy(
        update={
            "policies": chosen,
            "run": scenario.run.model_copy(update={"baseline": chosen[0].name}),
            "return_of_serve": scenario.return_of_serve.model_copy(update={"directions": kept}),
        }
    )
