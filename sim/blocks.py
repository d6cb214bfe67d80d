"""Blocks: the unit of work of a run, keyed by number, so that it can be done anywhere."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, Protocol, TypeVar

from sim.answers import answer_all
from sim.draws import BLOCK
from sim.rallies import play_together
from sim.scenario import Scenario
from sim.tally import Tally, count

# Blocks of so few shots spend their time in calls; arrays of more than a few thousand leave the
# cache.
_SMALL: Final = 2048


@dataclass(frozen=True)
class Block:
    """``shots`` third shots after each return direction, in sixteen replicates."""

    number: int
    shots: int


Result = TypeVar("Result")


class Workers(Protocol):
    """Whoever does the work: this process, several of them, or a cluster."""

    def run(
        self, work: Callable[..., Result], tasks: Sequence[tuple[Any, ...]]
    ) -> Iterator[tuple[int, Result]]:
        """Do ``work`` with the arguments of every task, such as `play_block`.

        Gives each result back with its task's number as soon as it is done, in any order. ``work``
        has to be a function of a module, so that other processes find it.
        """


class OneAfterTheOther:
    """Does everything in this process."""

    def run(
        self, work: Callable[..., Result], tasks: Sequence[tuple[Any, ...]]
    ) -> Iterator[tuple[int, Result]]:
        """Do the tasks in order."""
        for number, task in enumerate(tasks):
            yield number, work(*task)


class Store(Protocol):
    """Where finished blocks are kept until the run is done."""

    def read(self, block: Block) -> Tally | None:
        """A block kept earlier, or nothing."""

    def keep(self, block: Block, tally: Tally) -> None:
        """Keep a finished block."""


class NoStore:
    """Keeps nothing: a short run is as quickly played again."""

    def read(self, block: Block) -> Tally | None:
        """Nothing."""

    def keep(self, block: Block, tally: Tally) -> None:
        """Do nothing."""


@dataclass
class RunningTotal:
    """Tallies added up in the order of their numbers, in whatever order they come.

    Sums of real numbers depend on the order in which they are added, and the bytes of a result must
    not depend on who was done first.
    """

    tally: Tally
    added: int = 0
    _waiting: dict[int, Tally] = field(default_factory=dict)

    def add(self, block: Block, tally: Tally) -> None:
        """Take in the tally of a block."""
        self._waiting[block.number] = tally
        while self.added in self._waiting:
            self.tally.add(self._waiting.pop(self.added), self.added)
            self.added += 1


def blocks_of(shots: int, start: int = 0) -> list[Block]:
    """The blocks of a run of so many shots for each return direction, from a number on."""
    count = math.ceil(shots / BLOCK)
    return [Block(number, min(BLOCK, shots - number * BLOCK)) for number in range(start, count)]


def play_block(scenario: Scenario, block: Block) -> Tally:
    """Play and count one block of every return direction; all in the same arrays if it is small."""
    directions = tuple(scenario.return_of_serve.directions)
    together = [directions] if block.shots <= _SMALL else [(each,) for each in directions]
    tallies = []
    for some in together:
        rally = play_together(scenario, some, block.number, block.shots)
        tallies.append(count(scenario, rally, answer_all(scenario, rally, scenario.policies)))
    return Tally.of_directions(tallies)
