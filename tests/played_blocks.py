"""Blocks of shots played once for all tests that take single shots out of them.

Playing a block, in wind above all, is most of the work of taking one shot out of it.
"""

from __future__ import annotations

from functools import cache

from sim.rallies import Rally, play
from sim.scenario import Scenario

_SCENARIOS: dict[str, Scenario] = {}


def played_once(scenario: Scenario, direction: str, block: int, shots: int) -> Rally:
    """What `sim.rallies.play` gives; use it in its place in `sim.analyses.one_shot`."""
    digest = scenario.digest()
    _SCENARIOS[digest] = scenario
    return _played(digest, direction, block, shots)


@cache
def _played(digest: str, direction: str, block: int, shots: int) -> Rally:
    return play(_SCENARIOS[digest], direction, block, shots)
