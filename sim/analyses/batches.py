"""Thousands of settings played alike, a batch at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Final

from sim.blocks import Workers, blocks_of
from sim.comparison import Progress
from sim.scenario import Scenario
from sim.study import tallies
from sim.tally import Tally

# Large enough to keep all workers busy; the tallies of so many settings take some 40 MB.
_BATCH: Final = 256


def each_tally(
    scenarios: Sequence[Scenario],
    workers: Workers | None = None,
    progress: Callable[[Progress], None] = lambda progress: None,
) -> Iterator[Tally]:
    """What `study.tallies` gives, without keeping the tallies of all settings at a time."""
    work = [len(blocks_of(scenario.run.shots)) for scenario in scenarios]
    for first in range(0, len(scenarios), _BATCH):
        before = sum(work[:first])

        def show(batch: Progress, before: int = before) -> None:
            progress(Progress(before + batch.done, sum(work)))

        yield from tallies(scenarios[first : first + _BATCH], workers, show)
