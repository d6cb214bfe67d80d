"""Long runs: shared among processes, killed and resumed, and always the same bytes."""

from __future__ import annotations

import json
import multiprocessing
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import sim
from sim.blocks import Block, blocks_of, play_block
from sim.comparison import Comparison
from sim.draws import BLOCK
from sim.processes import Processes, WorkerDied
from sim.run_store import RunStore, store_folder
from sim.scenario import Scenario
from sim.tally import Tally
from sim.wording import counted
from tests.faults.stores import (
    CHEAP_WORDS,
    SHORT,
    SMALL,
    contents,
    leave,
    run,
    same_tally,
    scenario,
    state,
)

psutil = pytest.importorskip("psutil", reason="looks at processes; comes with distributed")

# Warned of from Python 3.12 on where the matrix library has threads; it is made for being forked.
pytestmark = pytest.mark.filterwarnings(
    "ignore:This process .* is multi-threaded, use of fork:DeprecationWarning"
)
# The last block is not a whole one.
BLOCKS = 10
LONG = (*CHEAP_WORDS, "--no-figures", "--shots", str((BLOCKS - 1) * BLOCK + 1000))
LITTLE = [Block(number, 64) for number in range(6)]
# Against waiting for ever; nothing here takes that long.
GUARD = 120.0


def tasks_of(blocks: list[Block], played: Scenario | None = None) -> list[tuple[Scenario, Block]]:
    return [(played or scenario(), block) for block in blocks]


def faulty(_: Scenario, block: Block) -> Tally:
    raise ZeroDivisionError(f"block {block.number}")


def wait_until(true: Callable[[], object], what: str) -> None:
    end = time.monotonic() + GUARD
    while not true():
        assert time.monotonic() < end, f"waited in vain for {what}"
        time.sleep(0.005)


def wait_until_gone(workers: list[Any]) -> None:
    def gone(process: Any) -> bool:
        try:
            # Where the adopter of orphans does not bury them they stay in the list of processes.
            return process.status() == psutil.STATUS_ZOMBIE
        except psutil.NoSuchProcess:
            return True

    wait_until(lambda: all(map(gone, workers)), "the workers' end")


class Started:
    """The command in a process of its own, the head of its own process group."""

    def __init__(self, folder: Path, *words: str) -> None:
        self.store = folder / "out.unfinished"
        self.process = subprocess.Popen(
            [
                *(sys.executable, "-c", "from sim.cli import main; main()", "compare"),
                *words,
                *("--out", "out"),
            ],
            cwd=folder,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            encoding="utf-8",
            env=os.environ | {"PYTHONPATH": os.pathsep.join(path for path in sys.path if path)},
            start_new_session=True,
        )

    def kept(self) -> dict[str, int]:
        """Blocks in the store, and when each was written."""
        found = {}
        for path in self.store.glob("block-*.tally"):
            found[path.name] = path.stat().st_mtime_ns
        return found

    def workers(self) -> list[Any]:
        try:
            return psutil.Process(self.process.pid).children(recursive=True)
        except psutil.NoSuchProcess:
            return []

    def wait_for_blocks(self, count: int) -> None:
        wait_until(
            lambda: len(self.kept()) >= count or self.process.poll() is not None,
            f"{count} blocks",
        )
        assert self.process.poll() is None, self.end()

    def end(self) -> tuple[int, str, str]:
        out, err = self.process.communicate(timeout=GUARD)
        return self.process.returncode, out, err


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Callable[..., Started]]:
    """Starts commands in ``tmp_path``; whatever is left of them is ended after the test."""
    begun: list[Started] = []

    def begin(*words: str) -> Started:
        begun.append(Started(tmp_path, *words))
        return begun[-1]

    yield begin
    for one in begun:
        for process in [*one.workers(), one.process]:
            process.kill()
        one.end()


@pytest.fixture
def anywhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture(scope="module")
def uninterrupted(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """Every file of the long run, played by one process in one go."""
    folder = tmp_path_factory.mktemp("uninterrupted")
    result = run(*LONG, "--workers", "1", "--out", folder / "out")
    assert result.exit_code == 0, result.stderr
    assert [path.name for path in folder.iterdir()] == ["out"]
    return contents(folder / "out")


@pytest.fixture(scope="module")
def small() -> Tally:
    return play_block(scenario(), SMALL)


# Several processes


@pytest.mark.parametrize("count", ["2", "3"])
def test_same_files_whatever_the_workers(
    count: str, uninterrupted: dict[str, bytes], tmp_path: Path
) -> None:
    result = run(*LONG, "--workers", count, "--out", tmp_path / "out")
    assert result.exit_code == 0, result.stderr
    assert contents(tmp_path / "out") == uninterrupted


def test_processes_add_up_to_what_one_counts() -> None:
    whole = scenario(run={"shots": 3 * BLOCK + 17})
    alone = sim.compare(whole)
    with Processes(2) as workers:
        first, second = (sim.compare(whole, workers=workers) for _ in range(2))
        assert len(multiprocessing.active_children()) == 2
    assert not multiprocessing.active_children()
    assert same_tally(first.tally, alone.tally)
    assert same_tally(second.tally, alone.tally)


def test_no_process_is_started_for_next_to_nothing() -> None:
    with Processes(2) as workers:
        assert len(list(workers.run(play_block, tasks_of(blocks_of(300))))) == 1
        assert not multiprocessing.active_children()


def test_more_processes_than_blocks_do_no_harm() -> None:
    with Processes(8) as workers:
        played = dict(workers.run(play_block, tasks_of(LITTLE[:3])))
        assert len(multiprocessing.active_children()) == 3
    assert len(played) == 3
    assert all(same_tally(tally, play_block(scenario(), LITTLE[k])) for k, tally in played.items())


def test_blocks_of_a_broken_off_run_do_not_turn_up_in_the_next() -> None:
    other = scenario(run={"seed": 2})
    with Processes(2) as workers:
        unfinished = workers.run(play_block, tasks_of(LITTLE))
        next(unfinished)
        played = dict(workers.run(play_block, tasks_of(LITTLE, other)))
    assert set(played) == set(range(len(LITTLE)))
    assert all(same_tally(tally, play_block(other, LITTLE[k])) for k, tally in played.items())


def test_processes_started_afresh_play_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    """As on systems where processes are not forked."""
    monkeypatch.setattr("sim.processes._CONTEXT", multiprocessing.get_context("spawn"))
    with Processes(2) as workers:
        played = dict(workers.run(play_block, tasks_of(LITTLE[:3])))
    assert len(played) == 3
    assert all(same_tally(tally, play_block(scenario(), LITTLE[k])) for k, tally in played.items())


def test_an_error_in_a_worker_is_told_with_its_origin() -> None:
    with Processes(2) as workers, pytest.raises(ZeroDivisionError, match="block") as caught:
        list(workers.run(faulty, tasks_of(LITTLE)))
    assert "in faulty" in caught.value.__notes__[0]
    assert not multiprocessing.active_children()


def test_a_killed_worker_is_told(start: Callable[..., Started]) -> None:
    command = start(*LONG, "--workers", "2")
    command.wait_for_blocks(2)
    os.kill(command.workers()[0].pid, signal.SIGKILL)
    code, out, err = command.end()
    assert code == 1
    assert "a worker process was killed" in err
    assert "--resume" in err
    assert "Traceback" not in err
    assert not out
    assert len(command.kept()) >= 2


def test_a_worker_killed_between_two_runs_is_told() -> None:
    tasks = tasks_of(LITTLE[:4])
    with Processes(2) as workers:
        list(workers.run(play_block, tasks))
        for worker in multiprocessing.active_children():
            worker.kill()
            worker.join()
        with pytest.raises(WorkerDied, match="--resume"):
            list(workers.run(play_block, tasks))


# Interrupted and killed


def test_run_killed_again_and_again_ends_in_the_same_files(
    start: Callable[..., Started], uninterrupted: dict[str, bytes], tmp_path: Path
) -> None:
    """Killed without warning: nothing finished is played again, no process is left behind."""
    chance = random.Random(5)
    before: dict[str, int] = {}
    for attempt in range(3):
        command = start(*LONG, "--workers", "2", "--resume")
        command.wait_for_blocks(len(before) + chance.choice((1, 2)))
        time.sleep(chance.uniform(0.0, 0.05))
        workers = command.workers()
        command.process.kill()
        code, _, err = command.end()
        assert code == -signal.SIGKILL
        assert len(workers) == 2
        wait_until_gone(workers)
        now = command.kept()
        assert {name: now[name] for name in before} == before, "played again"
        assert ("Going on with" in err) == (attempt > 0)
        before = now
    assert len(before) < BLOCKS, "nothing left to go on with: take more blocks"
    code, out, err = start(*LONG, "--workers", "2", "--resume").end()
    assert code == 0, err
    assert f"Going on with {counted(len(before), 'block')}" in err
    assert "Played again" not in err
    assert out
    assert contents(tmp_path / "out") == uninterrupted
    assert not (tmp_path / "out.unfinished").exists()


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(4))
def test_run_killed_at_any_moment_ends_in_the_same_files(
    seed: int, start: Callable[..., Started], uninterrupted: dict[str, bytes], tmp_path: Path
) -> None:
    chance = random.Random(seed)
    for _ in range(6):
        workers = str(chance.choice((1, 2, 3)))
        command = start(*LONG, "--workers", workers, "--resume")
        time.sleep(chance.uniform(0.0, 2.0))
        children = command.workers()
        command.process.kill()
        command.end()
        wait_until_gone(children)
    code, _, err = start(*LONG, "--resume").end()
    assert code == 0, err
    assert contents(tmp_path / "out") == uninterrupted


@pytest.mark.slow
def test_run_killed_while_it_draws_ends_in_the_same_files(
    start: Callable[..., Started], tmp_path: Path
) -> None:
    words = [*CHEAP_WORDS, "--shots", str(9 * BLOCK), "--workers", "2"]
    assert run(*words, "--out", tmp_path / "whole").exit_code == 0
    command = start(*words)
    wait_until(lambda: list(tmp_path.glob(".out.*/new/*.svg")), "the first figure")
    command.process.kill()
    command.end()
    assert len(command.kept()) == 9
    code, _, err = start(*words, "--resume").end()
    assert code == 0, err
    assert "Going on with 9 blocks" in err
    assert contents(tmp_path / "out") == contents(tmp_path / "whole")
    assert not command.store.exists()


@pytest.mark.parametrize("count", ["1", "2"])
def test_interrupt_from_the_keyboard_keeps_the_blocks(
    count: str, start: Callable[..., Started], tmp_path: Path
) -> None:
    command = start(*LONG, "--workers", count)
    command.wait_for_blocks(1)
    workers = command.workers()
    # As a terminal does: to all processes of the group.
    os.killpg(command.process.pid, signal.SIGINT)
    code, out, err = command.end()
    assert code == 130
    assert "Interrupted" in err
    assert "--resume" in err
    assert "Traceback" not in err
    assert not out
    wait_until_gone(workers)
    assert command.kept()
    assert not list(command.store.glob("*.partial"))
    assert not (tmp_path / "out").exists()


# The store


def test_store_gives_back_what_it_was_given(tmp_path: Path, small: Tally) -> None:
    leave(tmp_path / "out", small)
    store = RunStore(store_folder(tmp_path / "out"), scenario())
    assert store.open(resume=True) == 1
    kept = store.read(SMALL)
    assert kept is not None
    assert same_tally(kept, small)
    assert store.read(Block(1, 256)) is None
    assert store.read(Block(0, 255)) is None, "the last block of a shorter run is another one"
    assert not store.unreadable


def test_store_left_behind_is_refused_without_resume(anywhere: Path, small: Tally) -> None:
    left = leave(anywhere / "out", small).parent
    before = state(left)
    result = run(*SHORT, "--out", "out")
    assert result.exit_code == 2
    for word in ("1 finished block", "--resume", "--force", "out.unfinished"):
        assert word in result.stderr
    assert state(left) == before
    assert not (anywhere / "out").exists()


def test_force_throws_the_store_away(anywhere: Path, small: Tally) -> None:
    left = leave(anywhere / "out", small, scenario(run={"seed": 9}))
    result = run(*SHORT, "--out", "out", "--force")
    assert result.exit_code == 3, result.stderr
    assert not left.parent.exists()
    assert run(*SHORT, "--out", "fresh").exit_code == 3
    assert contents(anywhere / "out") == contents(anywhere / "fresh")


def test_resume_does_not_play_what_is_kept(
    anywhere: Path, small: Tally, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert run(*SHORT, "--out", "fresh").exit_code == 3
    leave(anywhere / "out", small)

    def none_to_play(scenario: Scenario, block: Block) -> Tally:
        raise AssertionError(f"block {block.number} was played again")

    monkeypatch.setattr("sim.comparison.play_block", none_to_play)
    result = run(*SHORT, "--out", "out", "--resume")
    assert result.exit_code == 3, result.stderr
    assert "Going on with 1 block kept" in result.stderr
    assert contents(anywhere / "out") == contents(anywhere / "fresh")


def test_resume_with_nothing_to_go_on_with_says_so(anywhere: Path) -> None:
    result = run(*SHORT, "--out", "out", "--resume")
    assert result.exit_code == 3
    assert "No interrupted run to go on with" in result.stderr
    result = run(*CHEAP_WORDS, "--no-figures", "--shots", "64", "--out", "other", "--resume")
    assert result.exit_code == 0
    assert "A short run keeps nothing" in result.stderr


def test_a_wider_interval_goes_on_as_a_narrower_one(
    anywhere: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Blocks are the same whatever precision was asked for."""
    asked = (*CHEAP_WORDS, "--no-figures", "--precision", "0.8")
    assert run(*asked, "--out", "fresh").exit_code == 0
    # Left behind by a run that asked for less, and was broken off before it could write.
    with monkeypatch.context() as broken:
        broken.setattr("sim.commands.one_comparison._write", _no_time_for_that)
        left = run(*CHEAP_WORDS, "--no-figures", "--precision", "2", "--out", "out")
        assert isinstance(left.exception, _NoTimeError)
    result = run(*asked, "--out", "out", "--resume")
    assert result.exit_code == 0, result.stderr
    assert "Going on with" in result.stderr
    assert contents(anywhere / "out") == contents(anywhere / "fresh")


class _NoTimeError(Exception):
    pass


def _no_time_for_that(*arguments: Any) -> None:
    raise _NoTimeError


def test_python_users_resume_as_well(tmp_path: Path) -> None:
    def compared(store: RunStore | None) -> Comparison:
        return sim.compare(scenario(run={"shots": 700}), store=store)

    store = RunStore(tmp_path / "store", scenario())
    store.open(resume=False)
    first = compared(store)
    assert same_tally(first.tally, compared(None).tally)
    assert same_tally(compared(store).tally, first.tally)
    assert json.loads((tmp_path / "store" / "run.json").read_text(encoding="utf-8"))["seed"] == 1
    store.remove()
    assert not (tmp_path / "store").exists()
    assert np.all(first.tally.fates >= 0)
