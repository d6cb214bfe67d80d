"""Comparing policies: a run from a scenario to its counts, tables and frames."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

from sim import tables
from sim.answers import Answer, answer_all
from sim.rallies import BLOCK, Rally, play
from sim.scenario import Scenario
from sim.tables import Row
from sim.tally import Tally, count

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Example:
    """The first block of one return direction, kept for pictures."""

    rally: Rally
    answers: list[Answer]


@dataclass(frozen=True)
class Comparison:
    """A finished run: the scenario, its counts and the first block of shots."""

    scenario: Scenario
    tally: Tally
    examples: dict[str, Example] = field(repr=False)

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
        return _frame([row for rows in shot_rows(self.scenario) for row in rows])


def _frame(rows: list[Row]) -> pd.DataFrame:
    import pandas as pd

    return pd.DataFrame(rows)


def compare(
    scenario: Scenario, progress: Callable[[int, int], None] = lambda done, total: None
) -> Comparison:
    """Play all shots of a scenario against all its policies.

    ``progress`` is called with the blocks done and the blocks in all.
    """
    directions = scenario.return_of_serve.directions
    tally = Tally.empty(len(scenario.policies), len(directions))
    examples: dict[str, Example] = {}
    blocks = list(_blocks(scenario.run.shots))
    total = len(blocks) * len(directions)
    for replicate, shots in blocks:
        for place, direction in enumerate(directions):
            rally = play(scenario, direction, replicate, shots)
            answers = answer_all(scenario, rally, scenario.policies)
            tally.add(count(scenario, rally, answers, place, len(directions)))
            if replicate == 0:
                examples[direction] = Example(rally, answers)
            progress(replicate * len(directions) + place + 1, total)
    return Comparison(scenario, tally, examples)


def shot_rows(scenario: Scenario) -> Iterator[list[Row]]:
    """Rows of every shot and policy, a block at a time."""
    for replicate, shots in _blocks(scenario.run.shots):
        for direction in scenario.return_of_serve.directions:
            rally = play(scenario, direction, replicate, shots)
            answers = answer_all(scenario, rally, scenario.policies)
            for policy, answer in zip(scenario.policies, answers, strict=True):
                yield tables.rows_of_shots(scenario, rally, policy, answer, replicate * BLOCK)


def _blocks(shots: int) -> Iterator[tuple[int, int]]:
    for replicate in range(math.ceil(shots / BLOCK)):
        yield replicate, min(BLOCK, shots - replicate * BLOCK)
