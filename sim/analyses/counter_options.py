"""What both sides may choose from when opponents adapt: third shots, and places for the pair."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import Any, Final, Literal

import numpy as np

from sim.court import HALF_WIDTH, Array
from sim.errors import Refused
from sim.opponents import LANES, SHOTS, LanesByReturn, LaneWeights, ShotWeights
from sim.quantities import Distribution, Shape
from sim.scenario import Centres, Policy, Scenario
from sim.wording import DIRECTIONS

PACES: Final = ("hard", "medium", "slow")
# All in ft; the centre of the pair is counted to its right.
GRID_CENTRES: Final = (-6.0, -4.0, -2.0, 0.0, 2.0, 4.0, 6.0)
GRID_SPACINGS: Final = (5.0, 7.0, 9.0, 11.0)
GRID_DEPTHS: Final = (8.0, 14.0)


class Third(Shape):
    """A third of another distribution: its largest (0), middle (1) or smallest (2) values."""

    kind: Literal["third"] = "third"
    whole: Distribution
    number: int

    def quantile(self, u: Array) -> Array:
        """Quantiles within the third."""
        return self.whole.quantile((2 - self.number + u) / 3.0)


@dataclass(frozen=True)
class Option:
    """A third shot the opponents may choose; drives have a ``pace`` where their speed varies."""

    shot: str
    lane: str
    pace: str | None = None

    @property
    def stroke(self) -> str:
        """The shot without its lane, such as "hard drive"."""
        return self.shot if self.pace is None else f"{self.pace} {self.shot}"

    @property
    def name(self) -> str:
        """In words, such as "hard drive down the line"."""
        return f"{self.stroke} {DIRECTIONS[self.lane]}"

    def played(self, scenario: Scenario) -> Scenario:
        """The scenario with this shot alone."""
        opponents = scenario.opponents
        changes: dict[str, Any] = {
            "shots": ShotWeights(**{name: float(name == self.shot) for name in SHOTS}),
            "lanes": LaneWeights(**{name: float(name == self.lane) for name in LANES}),
            "lanes_by_return": LanesByReturn(),
        }
        if self.pace is not None:
            whole, number = opponents.drive.speed, PACES.index(self.pace)
            third = Third.model_construct(whole=whole, number=number)
            changes["drive"] = opponents.drive.model_copy(update={"speed": third})
        return scenario.model_copy(update={"opponents": opponents.model_copy(update=changes)})

    def usual_share(self, scenario: Scenario, direction: str) -> float:
        """How often the scenario's opponents play it after a return in that direction."""
        opponents = scenario.opponents
        lanes = getattr(opponents.lanes_by_return, direction) or opponents.lanes
        shot, lane = (
            getattr(weights, name) / sum(weights.model_dump().values())
            for weights, name in ((opponents.shots, self.shot), (lanes, self.lane))
        )
        return float(shot * lane / (1 if self.pace is None else len(PACES)))


def refuse_without_lanes(scenario: Scenario, shown: str) -> None:
    """Raise `Refused`, naming what the scenario is ``shown`` as, where a shot has no lanes."""
    for shot in SHOTS:
        if getattr(scenario.opponents, shot).azimuth is not None:
            raise Refused(
                f"{shown}: opponents.{shot}.azimuth: opponents who adapt choose among lanes; leave "
                "it out, and say in opponents.lanes where they usually aim"
            )


def options_of(scenario: Scenario) -> list[Option]:
    """The opponents' options: every kind of shot into every lane, drives at three paces.

    The paces are the thirds of the scenario's own drive speeds, so that its usual mix of shots is
    a mix of the options. Raises `Refused` where a shot has no lanes to choose from.
    """
    refuse_without_lanes(scenario, scenario.name)
    slowest, fastest = scenario.opponents.drive.speed.quantile(np.array([0.01, 0.99]))
    paces = PACES if fastest > slowest else (None,)
    drives = [Option("drive", lane, pace) for pace, lane in product(paces, LANES)]
    return drives + [Option(shot, lane) for shot, lane in product(("drop", "lob"), LANES)]


def grid_of_places() -> list[Policy]:
    """Fixed places for the pair on a coarse grid, all of them with both players on the court."""
    return [
        _fixed(centre, spacing, depth)
        for depth, spacing, centre in product(GRID_DEPTHS, GRID_SPACINGS, GRID_CENTRES)
        if abs(centre) + 0.5 * spacing <= HALF_WIDTH
    ]


def _fixed(centre: float, spacing: float, depth: float) -> Policy:
    side = f"{abs(centre):g} ft {'right' if centre > 0.0 else 'left'}" if centre else "centre"
    return Policy.model_construct(
        name=f"{side}, {spacing:g} ft apart, {depth:g} ft from net",
        rule="fixed",
        spacing=spacing,
        depth=depth,
        centres=Centres.model_construct(line=centre, middle=centre, cross=centre),
    )
