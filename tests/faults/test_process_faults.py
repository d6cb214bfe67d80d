"""Streams that are closed or full, want of memory, files and processes, signals, dead clusters."""

from __future__ import annotations

import multiprocessing.popen_fork  # noqa: F401  (a user of no rights may not be able to load it)
import os
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from sim.processes import Processes
from tests.faults.children import (
    CHEAP,
    COMPARE,
    GUARD,
    Ended,
    begun,
    contents,
    environment,
    forked,
    forked_command,
    limit,
    started,
)

# Warned of from Python 3.12 on where the matrix library has threads; it is made for being forked.
pytestmark = pytest.mark.filterwarnings(
    "ignore:This process .* is multi-threaded, use of fork:DeprecationWarning"
)
HERE = (*COMPARE, "--out", "here")
NOBODY = 65534
has_full_device = pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
has_proc = pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="looks into /proc")


@pytest.fixture(scope="module")
def usual(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """What the command writes where nothing is wrong."""
    out = tmp_path_factory.mktemp("usual") / "out"
    assert forked_command((*COMPARE, "--out", str(out))).code == 0
    return contents(out)


def plain(ended: Ended) -> bool:
    """Whether nothing was said in the language of programmers."""
    return not any(word in ended.err for word in ("Traceback", "Exception", "Errno 9]"))


# Standard output and error


def test_reader_that_has_had_enough(anywhere: Path, usual: dict[str, bytes]) -> None:
    """As `reachshare compare | head -1` does."""
    with begun(HERE) as command:
        assert command.stdout is not None
        command.stdout.close()
        assert command.stderr is not None
        err = command.stderr.read()
        code = command.wait(timeout=GUARD)
    assert (code, err) == (1, "Results in here\n")
    assert contents(anywhere / "here") == usual


def test_listener_that_has_had_enough(anywhere: Path, usual: dict[str, bytes]) -> None:
    """Of messages nobody hears, and of results that are there for all that."""
    with begun(HERE) as command:
        assert command.stderr is not None
        command.stderr.close()
        assert command.stdout is not None
        out = command.stdout.read()
        code = command.wait(timeout=GUARD)
    assert code == 0
    assert out.startswith("Club pair in their sixties")
    assert contents(anywhere / "here") == usual


@has_full_device
@pytest.mark.parametrize("words", [HERE, ("scenario", "show"), ("--help",), ("--version",)])
def test_full_standard_output(words: tuple[str, ...], anywhere: Path) -> None:
    with open("/dev/full", "w", encoding="utf-8") as full:
        ended = started(words, stdout=full)
    assert ended.code == 1
    assert plain(ended)
    assert ended.err.splitlines()[-1].startswith("Error: ")
    assert "No space left on device" in ended.err
    assert words[0].startswith("--") or "standard output cannot be written to" in ended.err
    assert (anywhere / "here" / "manifest.json").exists() == (words == HERE)


@has_full_device
@pytest.mark.parametrize("words", [(*HERE, "--seed", "-1"), ("compare", "--nonsense")])
def test_full_standard_error(words: tuple[str, ...], anywhere: Path) -> None:
    """What is wrong cannot be told; the exit code still says that something is."""
    with open("/dev/full", "w", encoding="utf-8") as full:
        assert started(words, stderr=full).code != 0
        assert started(HERE, stderr=full).code == 0


@pytest.mark.parametrize("closed", [">&-", "2>&-", "<&-", ">&- 2>&- <&-"])
def test_closed_streams(closed: str, anywhere: Path, usual: dict[str, bytes]) -> None:
    """Files opened later must not get their numbers, and what was meant for them."""
    shell = ("/bin/sh", "-c", f'exec "$@" {closed}', "sh")
    ended = started(HERE, shell)
    assert ended.code == 0, ended
    assert plain(ended)
    assert contents(anywhere / "here") == usual


def test_terminal_of_few_letters(anywhere: Path) -> None:
    named = ("--set", "name=Zoë & Ørjan 東")
    ended = started((*HERE, *named), env={"PYTHONIOENCODING": "latin-1"}, encoding="latin-1")
    assert ended.code == 0, ended
    assert ended.out.startswith("Zoë & Ørjan ?\n")
    assert '"Zoë & Ørjan 東"' in (anywhere / "here" / "manifest.json").read_text(encoding="utf-8")


def test_plain_old_locale(anywhere: Path, usual: dict[str, bytes]) -> None:
    bare = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
    ended = started((*COMPARE, "--out", "Zoë"), env=bare)
    assert ended.code == 0, ended
    assert contents(anywhere / "Zoë") == usual


# Surroundings


def test_neither_home_nor_cache_nor_folder_for_scratch_files(anywhere: Path) -> None:
    """Only for figures is a cache needed, and it says so; nothing else minds."""
    nowhere = "/dev/null/nowhere"
    code = (
        "import tempfile; tempfile._candidate_tempdir_list = lambda: ['/dev/null']\n"
        "from sim.cli import main; main()"
    )

    def run(*words: str) -> Ended:
        env = environment() | {"HOME": nowhere, "MPLCONFIGDIR": nowhere, "XDG_CACHE_HOME": nowhere}
        done = subprocess.run(
            [sys.executable, "-c", code, *words], capture_output=True, encoding="utf-8", env=env
        )
        return Ended(done.returncode, done.stdout, done.stderr)

    assert run(*HERE).code == 0
    drawn = run("compare", *CHEAP, "--shots", "64", "--out", "drawn")
    assert drawn.code == 2
    assert "MPLCONFIGDIR" in drawn.err.splitlines()[-1]
    assert not Path("drawn").exists()
    assert [path.name for path in anywhere.iterdir()] == ["here"]


# Want of files, processes and memory


def test_too_few_open_files_for_so_many_workers(anywhere: Path) -> None:
    words = ("compare", *CHEAP, "--no-figures", "--shots", "400000", "--out", "here")
    ended = forked_command((*words, "--workers", "40"), lambda: limit("NOFILE", 32))
    assert ended.code == 1, ended
    assert plain(ended)
    assert "--workers: this system starts only" in ended.err
    assert "Too many open files" in ended.err
    assert not Path("here").exists()


def _square(number: int) -> int:
    return number * number


def test_no_further_process() -> None:
    def share() -> None:
        if os.geteuid() == 0:
            # The limit does not bind the superuser.
            os.setuid(NOBODY)
        limit("NPROC", 1)
        with Processes(2) as workers:
            list(workers.run(_square, [(number,) for number in range(5)]))

    ended = forked(share)
    assert ended.code == 1
    assert "CannotShareError" in ended.err
    assert "starts only 0 further processes" in ended.err
    assert "--workers 1" in ended.err


@has_proc
def test_too_little_memory(anywhere: Path) -> None:
    """As much as is in use by now and a little more, for arrays of some hundred megabytes."""

    def little() -> None:
        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0])
        limit("AS", pages * resource.getpagesize() + 2**25)

    words = ("positions", *CHEAP, "--no-figures", "--shots", "100000", "--out", "here")
    ended = forked_command(words, little)
    assert ended.code == 1, ended
    assert plain(ended)
    assert "Error: there is not enough memory" in ended.err
    assert not ended.out
    assert list(anywhere.iterdir()) == []


# Signals

LONG = ("compare", *CHEAP, "--no-figures", "--shots", "2000000", "--out", "here")


def _children(process: int) -> list[int]:
    listed = Path(f"/proc/{process}/task/{process}/children").read_text(encoding="ascii")
    return [int(number) for number in listed.split()]


def _wait(until: Callable[[], object], what: str) -> None:
    end = time.monotonic() + GUARD
    while not until():
        assert time.monotonic() < end, f"waited in vain for {what}"
        time.sleep(0.01)


def _is_gone(process: int) -> bool:
    try:
        return Path(f"/proc/{process}/stat").read_text(encoding="ascii").split()[2] == "Z"
    except FileNotFoundError:
        return True


@has_proc
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP, signal.SIGINT])
def test_told_to_stop_while_playing(number: signal.Signals, anywhere: Path) -> None:
    with begun((*LONG, "--workers", "2")) as command:
        _wait(lambda: list(anywhere.glob("here.unfinished/block-*.tally")), "a block")
        workers = _children(command.pid)
        command.send_signal(number)
        out, err = command.communicate(timeout=GUARD)
    assert command.returncode == 128 + number
    assert "Interrupted: finished blocks are kept, add --resume" in err
    assert plain(Ended(command.returncode, out, err))
    assert not out
    assert len(workers) == 2
    _wait(lambda: all(map(_is_gone, workers)), "the workers' end")
    assert [path.name for path in anywhere.iterdir()] == ["here.unfinished"]
    assert not list(anywhere.glob("here.unfinished/*.partial"))


def test_told_to_stop_before_anything_was_begun(anywhere: Path) -> None:
    code = (
        "import os, signal, sys\n"
        "from sim.cli import main\n"
        "sys.addaudithook(lambda event, args: event == 'import' and args[0] == 'numpy'\n"
        "                 and os.kill(os.getpid(), signal.SIGTERM))\n"
        "main()"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *HERE],
        capture_output=True,
        encoding="utf-8",
        env=environment(),
    )
    assert (done.returncode, done.stdout, done.stderr) == (143, "", "Interrupted.\n")
    assert list(anywhere.iterdir()) == []


def test_run_that_was_told_not_to_mind_the_terminal(anywhere: Path) -> None:
    """As nohup does."""
    ended = forked_command(
        HERE,
        lambda: (
            signal.signal(signal.SIGHUP, signal.SIG_IGN),
            signal.setitimer(signal.ITIMER_REAL, 0.05),
            signal.signal(signal.SIGALRM, lambda *_: os.kill(os.getpid(), signal.SIGHUP)),
        ),
    )
    assert ended.code == 0, ended
    assert "Results in here" in ended.err


# A cluster whose scheduler dies

SCHEDULER = """
import time
from distributed import LocalCluster
if __name__ == "__main__":
    cluster = LocalCluster(
        n_workers=1,
        threads_per_worker=1,
        processes=False,
        protocol="tcp",
        dashboard_address="127.0.0.1:0",
    )
    print(cluster.scheduler_address, flush=True)
    time.sleep(600)
"""


@contextmanager
def _scheduler() -> Iterator[tuple[subprocess.Popen[str], str]]:
    with subprocess.Popen(
        [
            sys.executable,
            "-c",
            SCHEDULER,
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        encoding="utf-8",
        env=environment(),
    ) as process:
        try:
            assert process.stdout is not None
            yield process, process.stdout.readline().strip()
        finally:
            process.kill()


@pytest.mark.parametrize("blocks", [pytest.param(0, marks=pytest.mark.slow), 1])
def test_scheduler_that_dies_is_told(blocks: int, anywhere: Path) -> None:
    pytest.importorskip("distributed", reason="needs reachshare[cluster]")
    words = [word for word in LONG if word not in ("--workers", "1")]
    with _scheduler() as (scheduler, address), begun((*words, "--cluster", address)) as command:
        store = anywhere / "here.unfinished"
        _wait(
            lambda: len(list(store.glob("block-*.tally"))) >= blocks and store.exists(), "a block"
        )
        scheduler.kill()
        out, err = command.communicate(timeout=GUARD)
    assert command.returncode == 1
    assert f"Error: --cluster {address}: gave the work up" in err
    assert "add --resume to go on" in err
    assert plain(Ended(command.returncode, out, err))
    assert {path.name for path in anywhere.iterdir()} <= {"here.unfinished"}
