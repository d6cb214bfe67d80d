"""Work done on all cores of this machine."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import sys
import traceback
from collections.abc import Callable, Iterable, Iterator, Sequence
from multiprocessing.connection import Connection, wait
from typing import TYPE_CHECKING, Any, Final, Self

from sim.blocks import OneAfterTheOther, Result
from sim.errors import Refused
from sim.stopping import deaf_to_signals, undisturbed

if TYPE_CHECKING:
    from multiprocessing.process import BaseProcess

# Fewer tasks are done before other processes are under way.
_WORTH_SHARING: Final = 3
# A forked worker has everything loaded; other systems start afresh.
_CONTEXT: Final = (
    multiprocessing.get_context("fork")
    if sys.platform == "linux"
    else multiprocessing.get_context("spawn")
)


class WorkerDied(Refused):
    """A process that did part of the work is gone."""

    exit_code = 1


class CannotShareError(Refused):
    """This system starts no further process."""

    exit_code = 1


class Processes:
    """Does work in several processes, or in this one where there is little to share.

    Use as a context manager. ``count`` of None means a process for each core. Every worker has a
    pipe of its own, by which each end notices that the other is gone, even if it was killed.
    """

    def __init__(self, count: int | None = None) -> None:
        self.count = count or cores()
        self._workers: dict[Connection, BaseProcess] = {}
        self._doing: dict[Connection, int] = {}

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._end()

    def run(
        self, work: Callable[..., Result], tasks: Sequence[tuple[Any, ...]]
    ) -> Iterator[tuple[int, Result]]:
        """See `Workers`. Raises `WorkerDied`, `CannotShareError`, and whatever ``work`` raises."""
        if self.count == 1 or (not self._workers and len(tasks) < _WORTH_SHARING):
            yield from OneAfterTheOther().run(work, tasks)
            return
        if self._doing:
            # An earlier run was broken off; its results must not turn up in this one.
            self._end()
        while len(self._workers) < min(self.count, len(tasks)):
            self._start_another()
        to_do = iter(enumerate(tasks))
        self._hand_out(self._workers, work, to_do)
        while self._doing:
            ready = wait(self._doing)
            answers = {worker: _answer(worker) for worker in self._doing if worker in ready}
            done = [(self._doing.pop(worker), result) for worker, result in answers.items()]
            # Before the answers are looked at, so that the workers do not wait for that.
            self._hand_out(answers, work, to_do)
            yield from done

    def _hand_out(
        self,
        idle: Iterable[Connection],
        work: Callable[..., Any],
        to_do: Iterator[tuple[int, tuple[Any, ...]]],
    ) -> None:
        for worker, (number, task) in zip(idle, to_do, strict=False):
            self._doing[worker] = number
            with _told_when_gone():
                worker.send((work, task))

    def _start_another(self) -> None:
        # A worker is not to be stopped before it is deaf, nor left out of those to be ended.
        with _told_when_refused(len(self._workers)), undisturbed():
            here, there = _CONTEXT.Pipe()
            try:
                worker = _CONTEXT.Process(target=_work, args=(there, here), daemon=True)
                worker.start()
            except BaseException:
                here.close()
                raise
            finally:
                there.close()
            self._workers[here] = worker

    def _end(self) -> None:
        for connection, worker in self._workers.items():
            worker.kill()
            worker.join()
            connection.close()
        self._workers.clear()
        self._doing.clear()


def cores() -> int:
    """Cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _answer(worker: Connection) -> Any:
    with _told_when_gone():
        answer = worker.recv()
    if isinstance(answer, Exception):
        raise answer
    return answer


@contextlib.contextmanager
def _told_when_refused(started: int) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise CannotShareError(
            f"--workers: this system starts only {started} further processes ({error.strerror}); "
            "give it --workers 1, or fewer than now"
        ) from None


@contextlib.contextmanager
def _told_when_gone() -> Iterator[None]:
    try:
        yield
    except (EOFError, OSError):
        raise WorkerDied(
            "a worker process was killed, perhaps for want of memory; a long run has kept its "
            "finished blocks: run it again with --resume, and fewer --workers"
        ) from None


def _work(asker: Connection, other_end: Connection) -> None:
    """In a worker: do what is asked for until the asker is gone."""
    # The keyboard, a terminal that closes and others may tell all processes at once to stop; only
    # the first one is to act on it, and it ends this one.
    deaf_to_signals()
    # The asker must be the only one to hold it, or its end would not be noticed.
    other_end.close()
    with contextlib.suppress(EOFError, OSError):
        while True:
            asker.send(_done(*asker.recv()))


def _done(work: Callable[..., Any], task: tuple[Any, ...]) -> Any:
    try:
        return work(*task)
    except Exception as error:
        error.add_note(f"In a worker process:\n{traceback.format_exc()}")
        return error
