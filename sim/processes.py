"""Blocks played on all cores of this machine."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
from collections.abc import Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from types import TracebackType
from typing import Final, Self

from sim.blocks import Block, OneAfterTheOther, play_block
from sim.errors import Refused
from sim.scenario import Scenario
from sim.tally import Tally

# Fewer blocks are done before other processes are under way.
_WORTH_SHARING: Final = 3


class WorkerDied(Refused):
    """A process that played blocks is gone."""

    exit_code = 1


class Processes:
    """Plays blocks in several processes, or in this one where there is little to share.

    Use as a context manager. ``count`` of None means a process for each core.
    """

    def __init__(self, count: int | None = None) -> None:
        self.count = count or cores()
        self._pool: ProcessPoolExecutor | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        if self._pool is not None:
            self._pool.shutdown(wait=kind is None, cancel_futures=True)

    def play(self, scenario: Scenario, blocks: list[Block]) -> Iterator[tuple[Block, Tally]]:
        """Play the blocks and give each back as soon as it is done."""
        if self.count == 1 or (self._pool is None and len(blocks) < _WORTH_SHARING):
            yield from OneAfterTheOther().play(scenario, blocks)
            return
        if self._pool is None:
            self._pool = _pool(self.count)
        # Only a few are handed out ahead, so that an interrupted run has little to wait for.
        ahead = iter(blocks)
        doing: dict[Future[Tally], Block] = {}
        for block in ahead:
            doing[self._pool.submit(play_block, scenario, block)] = block
            if len(doing) < 2 * self.count:
                continue
            yield from _finished(doing)
        while doing:
            yield from _finished(doing)


def cores() -> int:
    """Cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _finished(doing: dict[Future[Tally], Block]) -> Iterator[tuple[Block, Tally]]:
    done, _ = wait(doing, return_when=FIRST_COMPLETED)
    for future in done:
        try:
            tally = future.result()
        except BrokenProcessPool:
            raise WorkerDied(
                "a worker process was killed, perhaps for want of memory; a long run has kept its "
                "finished blocks: run it again with --resume, and fewer --workers"
            ) from None
        yield doing.pop(future), tally


def _pool(count: int) -> ProcessPoolExecutor:
    # A forked worker has everything loaded; other systems start afresh.
    method = "fork" if sys.platform == "linux" else "spawn"
    context = multiprocessing.get_context(method)
    return ProcessPoolExecutor(count, mp_context=context, initializer=_leave_interrupts_alone)


def _leave_interrupts_alone() -> None:
    """An interrupt from the keyboard reaches all processes; only the first one is to act on it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
