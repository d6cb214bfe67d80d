"""What returns of serve of one depth and one height do for the pair's way in.

Depth and height are set constant, one return at a time, and everything else is drawn as the
scenario has it, with the same random numbers for every return: differences between two returns are
then known better than each by itself, and returns the pair rarely plays are known as well as its
usual ones. Binning the pair's own returns would leave a handful of balls at the ends.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from sim.analyses.approach_way import both_arrived
from sim.answers import answer_all
from sim.blocks import Block, Workers, blocks_of
from sim.comparison import Progress
from sim.draws import replicate_of
from sim.quantities import Constant
from sim.rallies import play
from sim.run_in import targets
from sim.scenario import Policy, Scenario
from sim.statistics import (
    LEVEL,
    adjusted,
    difference_of_shares,
    mean_of_replicates,
    share_of_replicates,
)
from sim.tables import Row, verdict

# Landing depth from the net and greatest height (ft); a scenario may not go deeper than 22 ft.
DEPTHS: Final = tuple(float(depth) for depth in range(7, 22, 2))
HEIGHTS: Final = tuple(float(height) for height in range(5, 15))
SUMS: Final = ("in_play", "arrived", "in_control", "reached", "time", "left_depth", "right_depth")
_SHARES: Final = ("arrived", "in_control", "reached")
_MEANS: Final = {
    "time": "time_s",
    "left_depth": "left_from_net_ft",
    "right_depth": "right_from_net_ft",
}
MOST_TIME, MOST_CONTROL, LEAST = "most time", "most in control", "lowest that lets them arrive"


@dataclass(frozen=True)
class Return:
    """A return of serve: landing depth and greatest height (ft), or None as the scenario draws it.

    ``direction`` is ``all`` for all of the scenario's.
    """

    direction: str = "all"
    depth: float | None = None
    height: float | None = None


@dataclass(frozen=True)
class Tried:
    """A return that was tried, with its `SUMS` by replicate, shape (replicates, sums)."""

    what: Return
    sums: np.ndarray

    def counts(self, measure: str) -> tuple[np.ndarray, np.ndarray]:
        """Balls that count for a measure and balls in play, shape (replicates,)."""
        return self._sum(measure), self._sum("in_play")

    @property
    def balls(self) -> int:
        """Balls in play."""
        return int(self._sum("in_play").sum())

    def share(self, measure: str) -> float:
        """Share of the balls in play; NaN without any."""
        hits, balls = self.counts(measure)
        return float(hits.sum() / balls.sum()) if self.balls else np.nan

    def mean(self, quantity: str) -> float:
        """Mean of a quantity over the balls in play; NaN without any."""
        return mean_of_replicates(*self.counts(quantity))[0]

    @property
    def depth(self) -> float:
        """Where the shot finds the two, on average of both (ft from the net)."""
        return 0.5 * (self.mean("left_depth") + self.mean("right_depth"))

    def more_than(
        self, other: Tried, measure: str, level: float = LEVEL
    ) -> tuple[float, float, float]:
        """Share minus the other's, with its interval; both have faced the same random numbers."""
        return difference_of_shares(self.counts(measure), other.counts(measure), level)

    def row(self) -> Row:
        """Shares and means with their intervals."""
        row: Row = {
            "return_direction": self.what.direction,
            "landing_depth_ft": np.nan if self.what.depth is None else self.what.depth,
            "height_ft": np.nan if self.what.height is None else self.what.height,
            "in_play": self.balls,
        }
        for measure in _SHARES:
            low, high = share_of_replicates(*self.counts(measure)) if self.balls else (np.nan,) * 2
            row |= {
                f"{measure}_share": self.share(measure),
                f"{measure}_low": low,
                f"{measure}_high": high,
            }
        for quantity, column in _MEANS.items():
            mean, low, high = mean_of_replicates(*self.counts(quantity))
            row |= {column: mean, f"{column}_low": low, f"{column}_high": high}
        return row

    def _sum(self, name: str) -> np.ndarray:
        return self.sums[:, SUMS.index(name)]


@dataclass(frozen=True)
class Returns:
    """One policy's returns: the pair's own, deeper and deeper, higher and higher, and all of both.

    The ``grid`` holds every depth and height for all directions together (where there are several)
    and for each. ``chosen`` are its best by their virtue, judged on fresh shots, since the best of
    many is flattered by the shots it was chosen on; a virtue that no return has is left out.
    """

    policy: Policy
    own: Tried
    by_depth: list[Tried]
    by_height: list[Tried]
    grid: list[Tried]
    chosen: dict[str, Tried]

    def together(self) -> list[Tried]:
        """The grid for all directions together."""
        return [tried for tried in self.grid if tried.what.direction == self.own.what.direction]

    def rows(self) -> list[Row]:
        """All that was tried, and what it was tried for."""
        parts = {
            "own returns": [self.own],
            "depth alone": self.by_depth,
            "height alone": self.by_height,
            "depth and height": self.grid,
            **{f"{virtue} (fresh shots)": [tried] for virtue, tried in self.chosen.items()},
        }
        return [
            {"tried": part, "policy": self.policy.name} | tried.row()
            for part, found in parts.items()
            for tried in found
        ]


def returns(
    scenario: Scenario,
    arrive: float,
    workers: Workers,
    progress: Callable[[Progress], None] = lambda progress: None,
) -> Returns:
    """Try all returns against the scenario's first policy.

    ``arrive`` is the share of balls for which both have to arrive for a return to let them.
    """
    scenario = scenario.model_copy(update={"policies": scenario.policies[:1]})
    deeper = [Return(depth=depth) for depth in DEPTHS]
    higher = [Return(height=height) for height in HEIGHTS]
    whole = [Return(depth=depth, height=height) for depth in DEPTHS for height in HEIGHTS]
    asked = [Return(), *deeper, *higher, *whole]
    settings = [with_return(scenario, what) for what in asked]
    played = play_alike(settings, blocks_of(scenario.run.shots), workers, progress)
    found = [_tried(scenario, what, sums) for what, sums in zip(asked, played, strict=True)]
    own, *curves = [each[0] for each in found[: -len(whole)]]
    grid = [tried for each in found[-len(whole) :] for tried in each]
    return Returns(
        policy=scenario.policies[0],
        own=own,
        by_depth=curves[: len(deeper)],
        by_height=curves[len(deeper) :],
        grid=grid,
        chosen=_on_fresh_shots(scenario, _chosen(grid, arrive), workers),
    )


def with_return(scenario: Scenario, what: Return) -> Scenario:
    """The scenario with all returns of that depth and height."""
    wanted = {"landing_depth": what.depth, "top": what.height}
    constant = {
        name: Constant(kind="constant", value=value)
        for name, value in wanted.items()
        if value is not None
    }
    changed = scenario.return_of_serve.model_copy(update=constant)
    return scenario.model_copy(update={"return_of_serve": changed})


def play_alike(
    scenarios: Sequence[Scenario],
    blocks: Sequence[Block],
    workers: Workers,
    progress: Callable[[Progress], None] = lambda progress: None,
) -> list[np.ndarray]:
    """Play the same blocks of every scenario against its first policy, all with the same numbers.

    Gives `SUMS` for each scenario, shape (replicates, directions, sums); whoever does the work.
    """
    tasks = [(scenario, block) for scenario in scenarios for block in blocks]
    done: dict[int, np.ndarray] = {}
    for number, sums in workers.run(sums_of_block, tasks):
        done[number] = sums
        progress(Progress(len(done), len(tasks)))
    many = len(blocks)
    return [
        np.concatenate([done[first + k] for k in range(many)])
        for first in range(0, len(tasks), many)
    ]


def sums_of_block(scenario: Scenario, block: Block) -> np.ndarray:
    """`SUMS` over the balls in play of one block, shape (replicates, directions, sums).

    Replicates that got no shots are left out.
    """
    policy, directions = scenario.policies[0], scenario.return_of_serve.directions
    replicates = replicate_of(block.shots)
    filled = int(replicates[-1]) + 1
    sums = np.zeros((filled, len(directions), len(SUMS)))
    for place, direction in enumerate(directions):
        rally = play(scenario, direction, block.number, block.shots)
        answer = answer_all(scenario, rally, [policy])[0]
        contact = rally.contact.take(rally.in_play)
        values = (
            np.ones(rally.in_play.size),
            both_arrived(answer.places, targets(scenario, policy, direction, contact)),
            answer.in_control,
            answer.reached,
            contact.time,
            -answer.places["left"].y,
            -answer.places["right"].y,
        )
        replicate = replicates[rally.in_play]
        for k, value in enumerate(values):
            sums[:, place, k] = np.bincount(replicate, value, minlength=filled)
    return sums


def fresh_blocks(scenario: Scenario) -> list[Block]:
    """As many shots again as the scenario's own, none of which was played before."""
    played = blocks_of(scenario.run.shots)
    return [Block(len(played) + block.number, block.shots) for block in played]


def difference_row(one: Tried, other: Tried, measure: str, comparisons: int) -> Row:
    """A share minus another's, in points, and a verdict that holds for so many comparisons."""
    difference, low, high = one.more_than(other, measure)
    together = one.more_than(other, measure, adjusted(comparisons))
    return {
        "points": 100.0 * difference,
        "points_low": 100.0 * low,
        "points_high": 100.0 * high,
        "verdict": verdict(*together, told=not together[1] <= 0.0 <= together[2]),
    }


def _tried(scenario: Scenario, what: Return, sums: np.ndarray) -> list[Tried]:
    """All directions together, and where there are several each of them."""
    directions = scenario.return_of_serve.directions
    each = [
        Tried(replace(what, direction=direction), sums[:, place])
        for place, direction in enumerate(directions)
    ]
    return each if len(each) == 1 else [Tried(what, sums.sum(axis=1)), *each]


def _chosen(grid: list[Tried], arrive: float) -> dict[str, Return]:
    """The returns of one direction that are the best by each virtue."""
    known = [tried for tried in grid if tried.what.direction != "all" and tried.balls]
    if not known:
        return {}
    chosen = {
        MOST_TIME: max(known, key=lambda tried: tried.mean("time")),
        MOST_CONTROL: max(known, key=lambda tried: tried.share("in_control")),
    }
    enough = [tried for tried in known if tried.share("arrived") >= arrive]
    if enough:
        # Grid values are never None; the least height first, then the least depth.
        chosen[LEAST] = min(
            enough, key=lambda tried: (tried.what.height, tried.what.depth, -tried.share("arrived"))
        )
    return {virtue: tried.what for virtue, tried in chosen.items()}


def _on_fresh_shots(
    scenario: Scenario, chosen: dict[str, Return], workers: Workers
) -> dict[str, Tried]:
    """The chosen returns with shots they were not chosen on; those with a ball in play."""
    settings = [with_return(scenario, what) for what in chosen.values()]
    played = play_alike(settings, fresh_blocks(scenario), workers)
    directions: list[str] = list(scenario.return_of_serve.directions)
    judged = {
        virtue: Tried(what, sums[:, directions.index(what.direction)])
        for (virtue, what), sums in zip(chosen.items(), played, strict=True)
    }
    return {virtue: tried for virtue, tried in judged.items() if tried.balls}
