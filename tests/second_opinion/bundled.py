"""Every bundled scenario, shot by shot, from the random numbers to who takes the ball.

Run it as a program for what `sim/docs/accuracy.md` says: ``python -m tests.second_opinion.bundled
100`` plays 100 shots after returns in each direction.
"""

from __future__ import annotations

import multiprocessing
import sys
from concurrent.futures import ProcessPoolExecutor
from functools import cache

import sim
from sim.scenario import RETURN_DIRECTIONS
from tests.second_opinion.comparison import Comparison, compared, table
from tests.second_opinion.shots import Block, Shot

SCENARIOS = (
    "club-sixties",
    "fast-hitters",
    "how-far-apart",
    "indoor-at-the-line",
    "seventies-lobs",
    "stop-or-run",
    "tall-and-short",
)


@cache
def block_of(name: str, direction: str, size: int) -> Block:
    """The first shots of a bundled scenario after returns in one direction."""
    return Block(sim.load(name), direction, size)


def scenario_compared(
    name: str, direction: str, shots: range, size: int, samples: int, policies: int | None = None
) -> Comparison:
    """Some of the first ``size`` shots of a scenario, against all policies, or few in turn."""
    found, block = Comparison(), block_of(name, direction, size)
    count = len(block.scenario.policies)
    for index in shots:
        numbers = [(index + k) % count for k in range(policies or count)]
        found.add(compared(Shot(block, index), numbers, samples))
    return found


def all_compared(name: str, size: int, samples: int) -> Comparison:
    """The first ``size`` shots after returns in each direction, on all cores."""
    found = Comparison()
    start = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(mp_context=start) as pool:
        parts = [
            pool.submit(scenario_compared, name, direction, range(k, size, 4), size, samples)
            for direction in RETURN_DIRECTIONS
            for k in range(4)
        ]
        for part in parts:
            found.add(part.result())
    return found


if __name__ == "__main__":
    for scenario in sys.argv[2:] or SCENARIOS:
        print("\n".join(table(scenario, all_compared(scenario, int(sys.argv[1]), 200))), flush=True)
