"""Full disks, read-only folders, strange folders: whole results or none, and a clear word."""

from __future__ import annotations

import contextlib
import functools
import itertools
import os
import random
import shutil
import signal
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from sim.cli import main
from sim.outputs import reserved, whole_folder, write_manifest
from sim.stopping import told_by_signals
from tests.faults.children import (
    CHEAP,
    COMPARE,
    GUARD,
    Ended,
    at_change,
    at_file,
    begun,
    contents,
    forked,
    forked_command,
    kill_self,
    limit,
    started,
    without_privileges,
)

# Warned of from Python 3.12 on where the matrix library has threads; it is made for being forked.
pytestmark = pytest.mark.filterwarnings(
    "ignore:This process .* is multi-threaded, use of fork:DeprecationWarning"
)
CHART = Path(__file__).parents[1] / "charts" / "tuesday.csv"
FEW = ("--no-figures", "--shots", "16", *CHEAP)
MARKS = ("--height", "5 ft 7 in", "--mark", "70 in", "--mark", "71 in")
slow = pytest.mark.slow
WRITING = [
    pytest.param(COMPARE, id="compare"),
    pytest.param(("positions", *FEW, "--grid", "2 ft"), id="positions"),
    pytest.param(("sweep", *FEW, "--vary", "spacing=6:8:2 ft"), id="sweep"),
    pytest.param(("shot", *FEW, "--number", "1"), id="shot"),
    pytest.param(("draw", *FEW), id="draw"),
    pytest.param(("fit", "reach", "--no-figures", *MARKS), id="fit"),
    pytest.param(("handout", *FEW), id="handout", marks=slow),
    pytest.param(("approach", *FEW), id="approach", marks=slow),
    pytest.param(("counter", *FEW), id="counter", marks=slow),
    pytest.param(("report", *FEW, "--no-inputs"), id="report", marks=slow),
    pytest.param(
        ("sensitivity", *FEW, "--between", "follow", "halves", "--settings", "32"),
        id="sensitivity",
        marks=slow,
    ),
    pytest.param(
        ("fit", "shots", str(CHART), "--no-figures", "--shots", "256"), id="fit shots", marks=slow
    ),
]
NEW_FILES = [
    pytest.param(("scenario", "new", "mine.toml"), id="scenario new"),
    pytest.param(("fit", "runs", "--template", "mine.csv"), id="template"),
]


def refused(ended: Ended, *words: str) -> bool:
    """Whether a command was refused in plain words, all of these among them."""
    assert ended.code == 2, ended
    assert "Traceback" not in ended.err
    for word in words:
        assert word in ended.err
    return not ended.out


def test_no_command_is_left_out() -> None:
    commands = {param.values[0][0] for param in [*WRITING, *NEW_FILES]}
    # Rebuilding needs a run to begin with: tests/test_rebuild.py.
    assert commands == set(main.commands) - {"rebuild"}


# Disks


@pytest.mark.parametrize("words", WRITING)
def test_nothing_is_left_when_a_file_cannot_grow(words: tuple[str, ...], anywhere: Path) -> None:
    ended = forked_command((*words, "--out", "deep/here"), lambda: limit("FSIZE", 4096))
    assert refused(ended, "deep/here: writing failed: File too large")
    assert list(anywhere.iterdir()) == []


@pytest.mark.parametrize("words", NEW_FILES)
def test_no_half_file_to_fill_in(words: tuple[str, ...], anywhere: Path) -> None:
    ended = forked_command(words, lambda: limit("FSIZE", 100))
    assert refused(ended, "cannot be written: File too large")
    assert list(anywhere.iterdir()) == []


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Callable[[int], Path]]:
    """Mounts a disk of so many kilobytes."""
    at = tmp_path / "disk"
    at.mkdir()

    def of(kilobytes: int) -> Path:
        mount = ["mount", "-t", "tmpfs", "-o", f"size={kilobytes}k", "none", str(at)]
        if not shutil.which("mount") or subprocess.run(mount, capture_output=True).returncode:
            pytest.skip("this user may mount no disk")
        return at

    yield of
    while os.path.ismount(at):
        subprocess.run(["umount", str(at)], check=True)


@pytest.fixture(scope="module")
def needed(tmp_path_factory: pytest.TempPathFactory) -> int:
    """Kilobytes that the results take up on such a disk, in pages of 4."""
    out = tmp_path_factory.mktemp("needed") / "out"
    assert forked_command((*COMPARE, "--out", str(out))).code == 0
    return sum(4 * -(-path.stat().st_size // 4096) for path in out.iterdir())


@pytest.mark.parametrize("part", [0.2, 0.5, 1.0])
def test_full_disk_leaves_nothing(part: float, needed: int, disk: Callable[[int], Path]) -> None:
    """Full in the first file, in the middle, and one page before the end."""
    at = disk(round(part * needed) - 4)
    ended = forked_command((*COMPARE, "--out", str(at / "here")))
    assert refused(ended, "here: writing failed: No space left on device")
    assert list(at.iterdir()) == []


def test_full_disk_leaves_the_earlier_results(needed: int, disk: Callable[[int], Path]) -> None:
    """There is room for one run, and not for the next beside it."""
    at = disk(2 * needed - 4)
    out = ("--out", str(at / "here"))
    assert forked_command((*COMPARE, *out)).code == 0
    before = contents(at)
    again = forked_command((*COMPARE, *out, "--seed", "3", "--force"))
    assert refused(again, "No space left on device")
    assert contents(at) == before


def test_read_only_disk(disk: Callable[[int], Path]) -> None:
    at = disk(200)
    subprocess.run(["mount", "-o", "remount,ro", str(at)], check=True)
    assert refused(forked_command((*COMPARE, "--out", str(at / "here"))), "Read-only file system")
    assert list(at.iterdir()) == []


def test_where_a_disk_begins(disk: Callable[[int], Path]) -> None:
    """Results could not be moved there from beside it, and that is said before the work."""
    at = disk(1000)
    assert refused(forked_command((*COMPARE, "--out", str(at))), "disk begins", f"{at}/results")
    assert forked_command((*COMPARE, "--out", str(at / "results"))).code == 0


@pytest.mark.parametrize("mode", [0o500, 0o000])
def test_folder_without_permission(mode: int, anywhere: Path) -> None:
    plain = without_privileges()
    if plain is None:
        pytest.skip("nothing is forbidden to this user, who cannot give that up")
    Path("mine").mkdir()
    Path("mine").chmod(mode)
    try:
        ended = started((*COMPARE, "--out", "mine/here"), plain)
    finally:
        Path("mine").chmod(0o700)
    assert refused(ended, "mine/here: cannot be", "Permission denied")
    assert contents(anywhere) == {}


# Killed and stopped while results are written and moved

EARLIER = {"manifest.json": '{"program": "x", "files": ["a", "gone"]}', "a": "1", "gone": "2"}
LATER = {"a": "10", "b": "20", "c": "30"}
MINE = {"my notes": "mine"}


def _write_earlier(folder: Path) -> None:
    folder.mkdir()
    for name, text in (EARLIER | MINE).items():
        (folder / name).write_text(text, encoding="utf-8")


def _write_later(folder: Path) -> None:
    with reserved(folder, {"program": "x"}, force=True), whole_folder(folder) as scratch:
        for name, text in LATER.items():
            (scratch / name).write_text(text, encoding="utf-8")
        write_manifest(scratch, {"program": "x"})


def _state(folder: Path) -> str:
    """Whether all of the folder and its surroundings is as before or as after; else what it is."""
    found = contents(folder.parent)
    earlier = {f"{folder.name}/{name}": text.encode() for name, text in (EARLIER | MINE).items()}
    later = {f"{folder.name}/{name}": text.encode() for name, text in LATER.items()}
    manifest = found.pop(f"{folder.name}/manifest.json", b"")
    if not list(folder.parent.iterdir()):
        return "nothing"
    if list(folder.parent.iterdir()) != [folder]:
        return "something beside the folder"
    if found | {f"{folder.name}/manifest.json": manifest} == earlier:
        return "earlier"
    kept = {name: text for name, text in found.items() if not name.endswith("my notes")}
    return "later" if kept == later and manifest.startswith(b"{\n") else f"a mix: {sorted(found)}"


@pytest.mark.parametrize("earlier", [False, True])
@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGTERM, signal.SIGINT])
def test_ended_at_any_moment(number: signal.Signals, earlier: bool, tmp_path: Path) -> None:
    """One change of the disk after the other: told to stop before it, and what is left then."""
    states = set()
    for moment in itertools.count(1):
        folder = tmp_path / str(moment) / "here"
        folder.parent.mkdir()
        if earlier:
            _write_earlier(folder)

        def write(folder: Path = folder, moment: int = moment) -> None:
            at_change(moment, folder.parent, kill_self(number))
            with told_by_signals():
                _write_later(folder)

        ended = forked(write)
        if number == signal.SIGKILL:
            assert _with_a_manifest_all_is_there(folder)
            # The dead cannot clear up; the next run into the folder does so before all else.
            with reserved(folder, {"program": "x"}, force=True):
                pass
        states.add(_state(folder))
        if ended.code == 0:
            break
    assert states == {"later", "earlier" if earlier else "nothing"}
    # Lock, scratch folder, four files, the move; and to undo all that.
    assert moment > 12


@pytest.mark.parametrize("moment", [12, 15, 18])
def test_killed_while_it_puts_back(moment: int, tmp_path: Path) -> None:
    """Killed while earlier results are replaced; and the next run, one step later every time."""
    states = set()
    for next_moment in itertools.count(1):
        folder = tmp_path / str(next_moment) / "here"
        folder.parent.mkdir()
        _write_earlier(folder)

        def write(at: int, folder: Path = folder) -> None:
            at_change(at, folder.parent, kill_self(signal.SIGKILL))
            _write_later(folder)

        assert forked(functools.partial(write, moment)).code == -signal.SIGKILL
        assert (folder.parent / ".here.reachshare-working" / "moving").exists()
        ended = forked(functools.partial(write, next_moment))
        assert _with_a_manifest_all_is_there(folder)
        with reserved(folder, {"program": "x"}, force=True):
            pass
        states.add(_state(folder))
        if ended.code == 0:
            break
    assert states == {"earlier", "later"}


def _with_a_manifest_all_is_there(folder: Path) -> bool:
    try:
        manifest = (folder / "manifest.json").read_text(encoding="utf-8")
    except FileNotFoundError:
        return True
    whole = EARLIER if manifest == EARLIER["manifest.json"] else LATER | {"manifest.json": manifest}
    return all((folder / name).read_text(encoding="utf-8") == whole[name] for name in whole)


@pytest.mark.parametrize("words", WRITING)
def test_told_to_stop_while_writing(words: tuple[str, ...], anywhere: Path) -> None:
    ended = forked_command(
        (*words, "--out", "here"), lambda: at_file("manifest.json", kill_self(signal.SIGTERM))
    )
    assert ended.code == 128 + signal.SIGTERM, ended
    assert "Interrupted: nothing was written to here." in ended.err
    assert "Traceback" not in ended.err
    assert not ended.out
    assert list(anywhere.iterdir()) == []


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(3))
def test_killed_at_random_moments(seed: int, anywhere: Path) -> None:
    """While it is loaded, plays, draws and writes; what is there then is whole, or not there."""
    words = ("compare", *CHEAP, "--shots", "64", "--out", "here")
    whole = forked_command((*words[:-1], "whole"))
    assert whole.code == 0, whole
    chance = random.Random(seed)
    for _ in range(10):
        with begun(words) as command:
            time.sleep(chance.uniform(0.0, 2.0))
            command.send_signal(chance.choice((signal.SIGKILL, signal.SIGTERM)))
            command.communicate(timeout=GUARD)
        if (anywhere / "here").exists():
            assert contents(anywhere / "here") == contents(anywhere / "whole")
            shutil.rmtree("here")
    assert forked_command(words).code == 0
    assert contents(anywhere / "here") == contents(anywhere / "whole")
    assert sorted(path.name for path in anywhere.iterdir()) == ["here", "whole"]


# Two at a time

LONG = ("compare", *CHEAP, "--no-figures", "--shots", "66000", "--out", "here")


def _wait_for_blocks(folder: Path, command: subprocess.Popen[str]) -> None:
    end = time.monotonic() + GUARD
    while not list(folder.glob("here.unfinished/block-*.tally")):
        assert time.monotonic() < end
        assert command.poll() is None, command.communicate()
        time.sleep(0.01)


def test_second_run_into_a_folder_is_refused(anywhere: Path) -> None:
    """Whatever it asks for; and the one that was first is none the worse for it."""
    with begun(LONG) as first:
        _wait_for_blocks(anywhere, first)
        # So that it cannot end before the others have been refused.
        first.send_signal(signal.SIGSTOP)
        for more in ((), ("--resume",), ("--force",), ("--seed", "3", "--force")):
            assert refused(forked_command((*LONG, *more)), "here: another run is to write there")
        other = forked_command(("sweep", *FEW, "--vary", "spacing=6:8:2 ft", "--out", "here"))
        assert refused(other, "here: another run is to write there")
        first.send_signal(signal.SIGCONT)
        _, err = first.communicate(timeout=GUARD)
    assert first.returncode == 0, err
    assert [path.name for path in anywhere.iterdir()] == ["here"]
    alone = (*LONG[:-1], "alone", "--quiet")
    assert forked_command(alone).code == 0
    assert contents(anywhere / "here") == contents(anywhere / "alone")


def test_folder_is_free_once_its_run_is_killed(anywhere: Path) -> None:
    with begun(LONG) as first:
        _wait_for_blocks(anywhere, first)
        first.kill()
        first.communicate(timeout=GUARD)
    assert list(anywhere.glob(".here.*"))
    assert forked_command((*COMPARE, "--out", "here")).code == 0
    assert sorted(path.name for path in anywhere.iterdir()) == ["here", "here.unfinished"]


def test_many_at_once_give_one_whole_run(anywhere: Path) -> None:
    seeds = range(3)
    for seed in seeds:
        alone = forked_command((*COMPARE, "--seed", str(seed), "--out", f"alone/{seed}"))
        assert alone.code == 0, alone
    with contextlib.ExitStack() as stack:
        racing = [
            stack.enter_context(begun((*COMPARE, "--seed", str(seed), "--out", "here")))
            for seed in seeds
        ]
        ends = [(each.communicate(timeout=GUARD)[1], each.returncode) for each in racing]
    assert sorted(code for _, code in ends) == [0, 2, 2], ends
    winner = [code for _, code in ends].index(0)
    assert contents(anywhere / "here") == contents(anywhere / "alone" / str(winner))
    for err, code in ends:
        assert code == 0 or "another run" in err
    assert sorted(path.name for path in anywhere.iterdir()) == ["alone", "here"]


# Strange folders


def test_folder_that_is_a_link(anywhere: Path) -> None:
    Path("disk").mkdir()
    Path("here").symlink_to("disk")
    assert forked_command((*COMPARE, "--out", "here")).code == 0
    assert Path("here").is_symlink()
    assert "manifest.json" in contents(anywhere / "disk")
    assert sorted(path.name for path in anywhere.iterdir()) == ["disk", "here"]


@pytest.mark.parametrize("out", ["here", "here/deeper"])
def test_folder_that_is_a_link_to_nowhere(out: str, anywhere: Path) -> None:
    """A disk that is not there, most likely: not the place to make a folder in its stead."""
    Path("here").symlink_to("disk/results")
    assert refused(forked_command((*COMPARE, "--out", out)), "here is a link to disk/results")
    assert [path.name for path in anywhere.iterdir()] == ["here"]


def test_links_in_a_circle(anywhere: Path) -> None:
    Path("here").symlink_to("there")
    Path("there").symlink_to("here")
    assert refused(forked_command((*COMPARE, "--out", "here")), "here: ", "link")
    assert refused(forked_command((*COMPARE, "--out", "here/deeper")), "here/deeper: ", "link")


def test_links_in_the_folder_are_never_written_through(anywhere: Path) -> None:
    assert forked_command((*COMPARE, "--out", "here")).code == 0
    before = contents(anywhere / "here")
    Path("precious").write_text("mine", encoding="utf-8")
    for name, target in (("summary.csv", "precious"), ("leaks.csv", "nowhere")):
        (anywhere / "here" / name).unlink()
        (anywhere / "here" / name).symlink_to(anywhere / target)
    assert forked_command((*COMPARE, "--out", "here")).code == 0
    assert contents(anywhere / "here") == before
    assert Path("precious").read_text(encoding="utf-8") == "mine"
    assert sorted(path.name for path in anywhere.iterdir()) == ["here", "precious"]


@pytest.mark.parametrize("make", [os.mkfifo, Path.touch])
def test_folder_that_is_none(make: Callable[[Path], None], anywhere: Path) -> None:
    make(Path("here"))
    assert refused(forked_command((*COMPARE, "--out", "here")), "here: is a file")
    assert [path.name for path in anywhere.iterdir()] == ["here"]
    assert refused(forked_command((*COMPARE, "--out", os.devnull)), f"{os.devnull}: is a file")


def test_folder_with_a_pipe_for_a_manifest(anywhere: Path) -> None:
    """Reading it would wait for ever."""
    Path("here").mkdir()
    os.mkfifo("here/manifest.json")
    assert refused(forked_command((*COMPARE, "--out", "here")), "files that are not from reachs")


def test_folder_with_a_folder_for_a_file(anywhere: Path) -> None:
    Path("here/summary.csv/mine").mkdir(parents=True)
    Path("here/leaks.csv").write_text("mine", encoding="utf-8")
    ended = forked_command((*COMPARE, "--out", "here", "--force"))
    assert refused(ended, "here: writing failed: Is a directory (summary.csv)")
    assert contents(anywhere) == {"here/leaks.csv": b"mine"}


@pytest.mark.parametrize(
    "text",
    [
        '{"program": "reachshare", "files": 5}',
        '{"program": "reachshare", "files": {"..": "x", "a": "y", "/etc/passwd": ""}}',
        '{"program": "reachshare", "files": [[], null, "../precious", ".", ""]}',
        "[" * 100_000,
        '{"program": 1e999}',
    ],
)
def test_manifests_of_all_kinds_do_no_harm(text: str, anywhere: Path) -> None:
    Path("precious").write_text("mine", encoding="utf-8")
    Path("here").mkdir()
    Path("here/manifest.json").write_text(text, encoding="utf-8")
    assert refused(forked_command((*COMPARE, "--out", "here")), "here: holds")
    assert forked_command((*COMPARE, "--out", "here", "--force")).code == 0
    assert Path("precious").read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize(
    "words",
    [
        (*COMPARE, "--out", "x" * 256),
        (*COMPARE, "--out", "é" * 120),
        (*COMPARE, "--out", "deep/" * 1000),
        (*LONG, "--out", "x" * 240),
        ("scenario", "new", "x" * 256 + ".toml"),
    ],
)
def test_names_too_long(words: tuple[str, ...], anywhere: Path) -> None:
    assert refused(forked_command(words), "File name too long")
    assert list(anywhere.iterdir()) == []


def test_current_folder_that_is_gone(tmp_path: Path) -> None:
    gone = tmp_path / "gone"

    def leave() -> None:
        gone.mkdir()
        os.chdir(gone)
        gone.rmdir()

    for words in (COMPARE, (*COMPARE, "--out", "here"), ("scenario", "new", "mine.toml")):
        assert refused(forked_command(words, leave), "No such file or directory")
    assert forked_command((*COMPARE, "--out", str(tmp_path / "here")), leave).code == 0


def test_left_overs_that_cannot_be_understood_are_kept(anywhere: Path) -> None:
    working = anywhere / ".here.reachshare-working"
    (working / "old").mkdir(parents=True)
    (working / "old" / "a").write_text("mine", encoding="utf-8")
    for note in ("{", "5", '["../precious"]', "[" * 100_000):
        (working / "moving").write_text(note, encoding="utf-8")
        assert refused(forked_command((*COMPARE, "--out", "here")), "moving is damaged")
        assert contents(working) == {"old/a": b"mine", "moving": note.encode()}
