"""Comparing policies: a run from a scenario to its counts, tables and frames."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from sim import tables
from sim.answers import Answer, answer_all
from sim.best_places import places_in_feet, with_places_found
from sim.blocks import (
    Block,
    NoStore,
    OneAfterTheOther,
    RunningTotal,
    Store,
    Workers,
    blocks_of,
    play_block,
)
from sim.draws import BLOCK
from sim.precision import Precision
from sim.rallies import Rally, play
from sim.scenario import Scenario
from sim.tables import Row
from sim.tally import Tally

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Example:
    """The first block of one return direction, kept for pictures."""

    rally: Rally
    answers: list[Answer]


@dataclass(frozen=True)
class Comparison:
    """A finished run: the scenario, its counts, and the shots played for each return direction.

    Where a precision was asked for, ``half_width`` (points) is what was reached.
    """

    scenario: Scenario
    tally: Tally
    shots_played: int
    precision: Precision | None = None
    half_width: float | None = None

    @property
    def precise_enough(self) -> bool:
        """Whether the precision asked for was reached; true where none was."""
        if self.precision is None or self.half_width is None:
            return True
        return self.half_width <= self.precision.points

    def played(self) -> Row:
        """What the manifest says of the work done."""
        row: Row = {"shots_per_return_direction": self.shots_played}
        if places := places_in_feet(self.scenario):
            row["places_ft"] = places
        if self.half_width is not None:
            row["half_width_reached_points"] = self.half_width
        return row

    @cached_property
    def examples(self) -> dict[str, Example]:
        """The first block of each return direction, played once more for pictures."""
        shots = min(self.shots_played, BLOCK)
        found: dict[str, Example] = {}
        for direction in self.scenario.return_of_serve.directions:
            rally = play(self.scenario, direction, 0, shots)
            found[direction] = Example(
                rally, answer_all(self.scenario, rally, self.scenario.policies)
            )
        return found

    @cached_property
    def summary_rows(self) -> list[Row]:
        """Counts and shares by policy, return direction, shot and lane, ``all`` included."""
        return list(tables.summary_rows(self.scenario, self.tally))

    @cached_property
    def difference_rows(self) -> list[Row]:
        """Paired differences of every policy to the baseline."""
        return list(tables.difference_rows(self.scenario, self.tally))

    @cached_property
    def leak_rows(self) -> list[Row]:
        """Where balls got through."""
        return list(tables.leak_rows(self.scenario, self.tally))

    @cached_property
    def lateral_rows(self) -> list[Row]:
        """Shares by where the ball passes a step behind the non-volley line."""
        return list(tables.lateral_rows(self.scenario, self.tally))

    @cached_property
    def run_in_rows(self) -> list[Row]:
        """Where the shot finds the two, and their spacing along the way."""
        return list(tables.run_in_rows(self.scenario, self.tally))

    @property
    def summary(self) -> pd.DataFrame:
        """`summary_rows` as a frame."""
        return _frame(self.summary_rows)

    @property
    def differences(self) -> pd.DataFrame:
        """`difference_rows` as a frame."""
        return _frame(self.difference_rows)

    @property
    def leaks(self) -> pd.DataFrame:
        """`leak_rows` as a frame."""
        return _frame(self.leak_rows)

    @property
    def lateral(self) -> pd.DataFrame:
        """`lateral_rows` as a frame."""
        return _frame(self.lateral_rows)

    @property
    def run_in(self) -> pd.DataFrame:
        """`run_in_rows` as a frame."""
        return _frame(self.run_in_rows)

    @property
    def shots(self) -> pd.DataFrame:
        """Every shot of the run and every policy, one row each; the run is played once more."""
        return _frame([row for rows in shot_rows(self.scenario, self.shots_played) for row in rows])


def _frame(rows: list[Row]) -> pd.DataFrame:
    import pandas as pd

    return pd.DataFrame(rows)


@dataclass(frozen=True)
class Progress:
    """How far a run is: blocks done of those planned, and the half-width (points) at last look."""

    done: int
    planned: int
    reached: float | None = None


def compare(
    scenario: Scenario,
    precision: Precision | None = None,
    workers: Workers | None = None,
    store: Store | None = None,
    progress: Callable[[Progress], None] = lambda progress: None,
) -> Comparison:
    """Play the shots of a scenario against all its policies.

    That is ``scenario.run.shots`` for each return direction, or with ``precision`` as many as it
    takes. The result does not depend on the ``workers``, nor on what the ``store`` had kept.
    Policies of the rule best without places get theirs first: the scenario of the result has them.
    Raises `sim.errors.Refused` where there are none to be found, and what workers and store raise.
    """
    workers, store = workers or OneAfterTheOther(), store or NoStore()

    def searching(done: int, planned: int) -> None:
        progress(Progress(done, planned))

    scenario = with_places_found(scenario, workers, searching)
    directions = scenario.return_of_serve.directions
    total = RunningTotal(Tally.empty(len(scenario.policies), len(directions)))
    shots = min(BLOCK, precision.most_shots) if precision else scenario.run.shots
    reached: float | None = None
    while True:
        planned, played = blocks_of(shots, total.added), total.added
        for done, (block, tally) in enumerate(_played(scenario, planned, workers, store), 1):
            total.add(block, tally)
            progress(Progress(played + done, played + len(planned), reached))
        if precision is None:
            return Comparison(scenario, total.tally.used(), shots)
        reached = precision.reached(scenario, total.tally.used())
        if reached <= precision.points or shots >= precision.most_shots:
            return Comparison(scenario, total.tally.used(), shots, precision, reached)
        shots = precision.shots_until_next_look(shots, reached)


def _played(
    scenario: Scenario, blocks: list[Block], workers: Workers, store: Store
) -> Iterator[tuple[Block, Tally]]:
    """The blocks' tallies: those kept earlier, then those played now, which are kept."""
    missing = []
    for block in blocks:
        kept = store.read(block)
        if kept is None:
            missing.append(block)
        else:
            yield block, kept
    for number, tally in workers.run(play_block, [(scenario, block) for block in missing]):
        store.keep(missing[number], tally)
        yield missing[number], tally


def shot_rows(scenario: Scenario, shots: int | None = None) -> Iterator[list[Row]]:
    """Rows of every shot and policy, a block at a time; of the scenario's own number of shots."""
    for block in blocks_of(shots or scenario.run.shots):
        for direction in scenario.return_of_serve.directions:
            rally = play(scenario, direction, block.number, block.shots)
            answers = answer_all(scenario, rally, scenario.policies)
            for policy, answer in zip(scenario.policies, answers, strict=True):
                yield tables.rows_of_shots(scenario, rally, policy, answer, block.number * BLOCK)
