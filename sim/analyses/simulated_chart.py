"""What a chart of a scenario's third shots would hold: how many fail, where those in land.

A chart knows only what happened: landing spots of balls that were in, not where they were aimed.
So the fit plays charts and looks for the aims and errors that make them look like the one at hand.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeVar, cast

import numpy as np

from sim.blocks import Block, Workers, blocks_of
from sim.comparison import Progress
from sim.court import HALF_WIDTH, Array
from sim.errors import Refused
from sim.opponents import Errors, Opponents
from sim.quantities import Normal, Shape, Strict, Truncated
from sim.rallies import FATES, NET, OUT, Rally, play
from sim.scenario import Scenario
from sim.settings import reader_of
from sim.third_shot import DRIVE, DROP, MIDDLE
from sim.units import parse_quantity


@dataclass(frozen=True)
class Aim:
    """Something the opponents mean to do, with its spread: where it stands in a scenario.

    ``low`` and ``high`` cut the fitted spread off; below ``least_sd`` no spread is fitted.
    Charted values are rounded to ``step`` [A].
    """

    name: str
    place: tuple[str, ...]
    dimension: str
    low: str
    high: str
    least_sd: str
    step: str

    @property
    def key(self) -> str:
        return ".".join(("opponents", *self.place))

    @property
    def rounding(self) -> float:
        """``step`` in the program's units."""
        return parse_quantity(self.step, self.dimension)

    def in_program_units(self) -> tuple[float, float, float]:
        """``low``, ``high`` and ``least_sd``."""
        low, high, least = (
            parse_quantity(text, self.dimension) for text in (self.low, self.high, self.least_sd)
        )
        return low, high, least


_Table = TypeVar("_Table", bound=Strict)

# In this order in all arrays below.
AIMS: Final = (
    Aim("depth of drops", ("drop", "landing_depth"), "length", "0.5 ft", "20 ft", "0.2 ft", "1 ft"),
    Aim("distance inside the sideline", ("inset",), "length", "0 ft", "9 ft", "0.2 ft", "1 ft"),
    Aim("speed of drives", ("drive", "speed"), "speed", "5 mph", "110 mph", "0.5 mph", "1 mph"),
)
DRIVE_SPEED: Final = 2
ERRORS: Final = ("speed", "elevation", "azimuth")
# Sums by chart: fates, and for each aim balls, values and their squares.
_FATES: Final = len(FATES)


@dataclass(frozen=True)
class Charts:
    """What charts of several scenarios hold, shapes (scenarios,) and (scenarios, aims).

    ``failing`` is the share into the net or out, ``net`` that into the net; ``mean`` and
    ``variance`` are those of what is charted, in the program's units: drops and balls beside the
    sidelines that were in, and all drives.
    """

    failing: Array
    net: Array
    mean: Array
    variance: Array


def simulated_charts(
    scenarios: Sequence[Scenario],
    workers: Workers,
    progress: Callable[[Progress], None] = lambda progress: None,
) -> Charts:
    """Play every scenario's own number of shots, all with the same random numbers, and chart them.

    The result does not depend on the workers.
    """
    tasks = [
        (number, scenario, block)
        for number, scenario in enumerate(scenarios)
        for block in blocks_of(scenario.run.shots)
    ]
    found = {}
    work = [(scenario, block) for _, scenario, block in tasks]
    for done, (task, sums) in enumerate(workers.run(chart_block, work), 1):
        found[task] = sums
        progress(Progress(done, len(tasks)))
    sums = np.zeros((len(scenarios), _FATES + 3 * len(AIMS)))
    # In the order of the tasks, whoever was done first.
    for task, (number, _, _) in enumerate(tasks):
        sums[number] += found[task]
    shots = sums[:, :_FATES].sum(axis=1)
    balls, first, second = np.moveaxis(sums[:, _FATES:].reshape(-1, len(AIMS), 3), 2, 0)
    balls = np.maximum(balls, 1.0)
    mean = first / balls
    return Charts(
        failing=sums[:, [NET, OUT]].sum(axis=1) / shots,
        net=sums[:, NET] / shots,
        mean=mean,
        variance=np.maximum(second / balls - mean * mean, 0.0),
    )


def chart_block(scenario: Scenario, block: Block) -> Array:
    """Chart one block of every return direction: the sums, shape (fates + 3 aims,)."""
    total = np.zeros(_FATES + 3 * len(AIMS))
    for direction in scenario.return_of_serve.directions:
        rally = play(scenario, direction, block.number, block.shots)
        total[:_FATES] += np.bincount(rally.fate, minlength=_FATES)
        for number, values in enumerate(charted_values(rally)):
            sums = values.size, values.sum(), np.square(values).sum()
            total[_FATES + 3 * number : _FATES + 3 * number + 3] += sums
    return total


def charted_values(rally: Rally) -> tuple[Array, Array, Array]:
    """What is charted of every aim (ft, ft, ft/s); balls counted once each."""
    (x, y, _), _ = rally.approach.place_and_launch(rally.landing_time - rally.net_time)
    shot, lane = rally.third_shot.shot[rally.in_play], rally.third_shot.lane[rally.in_play]
    launch = rally.third_shot.launch
    speed = np.sqrt(np.square(launch.x) + np.square(launch.y) + np.square(launch.z))
    depth = -y[shot == DROP]
    return depth, HALF_WIDTH - np.abs(x[lane != MIDDLE]), speed[rally.third_shot.shot == DRIVE]


def typical_aims(scenario: Scenario) -> Array:
    """Mean and variance of every aim as a scenario has it, shape (aims, 2).

    Spreads of other shapes than the normal one stand in by their own mean and variance.
    """
    found = []
    for aim in AIMS:
        shape = _at(scenario.opponents, aim.place)
        if isinstance(shape, Normal | Truncated):
            found.append((shape.mean, shape.sd**2))
        else:
            values = shape.quantile(np.linspace(0.0005, 0.9995, 1000))
            found.append((float(values.mean()), float(values.var())))
    return np.array(found)


def with_errors_and_aims(
    scenario: Scenario, factor: float, aims: Mapping[int, tuple[float, float]]
) -> Scenario:
    """The scenario with all execution errors times ``factor``, and the aims of some numbers new.

    An aim is mean and variance. Raises `Refused` for errors that no factor can be put to.
    """
    opponents = scenario.opponents
    shapes = {name: scaled_error(opponents.errors, name, factor) for name in ERRORS}
    opponents = opponents.model_copy(update={"errors": opponents.errors.model_copy(update=shapes)})
    for number, (mean, variance) in aims.items():
        low, high, _ = AIMS[number].in_program_units()
        shape = _truncated(mean, float(np.sqrt(variance)), low, high)
        opponents = _with(opponents, AIMS[number].place, shape)
    return scenario.model_copy(update={"opponents": opponents})


def scaled_error(errors: Errors, name: str, factor: float) -> Truncated:
    """One execution error with its spread times ``factor``, cut off at the scenario's limits.

    At the limits there is room for larger spreads than a normal distribution is allowed; they lie
    so far out that for usual spreads nothing is cut off.
    """
    shape = getattr(errors, name)
    if isinstance(shape, Truncated):
        return _truncated(shape.mean, factor * shape.sd, shape.low, shape.high)
    if not isinstance(shape, Normal) or shape.sd == 0.0:
        raise Refused(
            f"opponents.errors.{name}: has no spread that could be made larger or smaller; fit to "
            'a scenario in which it is kind = "normal"'
        )
    entry = Errors.model_fields[name]
    reader = reader_of((entry.annotation, *entry.metadata))
    low, high = reader.bounds if reader else (-np.inf, np.inf)
    return _truncated(shape.mean, factor * shape.sd, low, high)


def _truncated(mean: float, sd: float, low: float, high: float) -> Truncated:
    return Truncated(kind="truncated", mean=mean, sd=sd, low=low, high=high)


def _at(opponents: Opponents, place: tuple[str, ...]) -> Shape:
    found: Any = opponents
    for name in place:
        found = getattr(found, name)
    return cast(Shape, found)


def _with(table: _Table, place: tuple[str, ...], shape: Shape) -> _Table:
    first, *rest = place
    inner = _with(getattr(table, first), tuple(rest), shape) if rest else shape
    return table.model_copy(update={first: inner})
