"""Stores of finished blocks that are damaged, foreign, full or made of something else."""

from __future__ import annotations

import os
import random
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from sim.blocks import Block, play_block
from sim.run_store import RunStore
from sim.tally import Tally
from tests.faults.children import forked_command, limit, started, without_privileges
from tests.faults.stores import SHORT, SMALL, contents, leave, run, scenario, state

# Warned of from Python 3.12 on where the matrix library has threads; it is made for being forked.
pytestmark = pytest.mark.filterwarnings(
    "ignore:This process .* is multi-threaded, use of fork:DeprecationWarning"
)


@pytest.fixture(scope="module")
def small() -> Tally:
    return play_block(scenario(), SMALL)


@pytest.mark.parametrize(
    ("words", "reason"),
    [
        (("--seed", "2"), "other seed)"),
        (("--set", "pair.left.height='5 ft'"), "other settings of the scenario)"),
        (("--sampling", "pseudo-random"), "other settings of the scenario)"),
        (("--between", "follow", "halves"), "other settings of the scenario)"),
    ],
)
def test_store_of_another_run_is_refused(
    anywhere: Path, small: Tally, words: tuple[str, ...], reason: str
) -> None:
    left = leave(anywhere / "out", small).parent
    before = state(left)
    # The baseline of what is left is not named, so that naming one is another run.
    result = run(*SHORT, "--out", "out", "--resume", *words)
    assert result.exit_code == 2
    assert reason in result.stderr
    assert state(left) == before


@pytest.mark.parametrize(
    ("of", "reason"),
    [
        ("sim.run_store.__version__", "other version of reachshare)"),
        ("numpy.__version__", "other version of numpy)"),
    ],
)
def test_store_of_another_version_is_refused(
    anywhere: Path, small: Tally, monkeypatch: pytest.MonkeyPatch, of: str, reason: str
) -> None:
    with monkeypatch.context() as elsewhere:
        elsewhere.setattr(of, "0.0.1")
        left = leave(anywhere / "out", small).parent
    before = state(left)
    result = run(*SHORT, "--out", "out", "--resume")
    assert result.exit_code == 2
    assert reason in result.stderr
    assert state(left) == before


@pytest.mark.parametrize("text", ["", "{", "[]", "null", "[" * 100_000])
def test_store_that_does_not_say_whose_it_is_is_refused(
    anywhere: Path, small: Tally, text: str
) -> None:
    left = leave(anywhere / "out", small).parent
    (left / "run.json").write_text(text, encoding="utf-8")
    result = run(*SHORT, "--out", "out", "--resume")
    assert result.exit_code == 2
    assert "run.json is damaged" in result.stderr
    assert run(*SHORT, "--out", "out", "--force").exit_code == 3


def _flipped(data: bytes, bit: int) -> bytes:
    place, shift = divmod(bit, 8)
    return data[:place] + bytes([data[place] ^ (1 << shift)]) + data[place + 1 :]


def test_damaged_blocks_are_not_taken(tmp_path: Path, small: Tally) -> None:
    path = leave(tmp_path / "out", small)
    whole = path.read_bytes()
    chance = random.Random(7)
    damaged = [whole[: chance.randrange(len(whole))] for _ in range(50)]
    damaged += [_flipped(whole, chance.randrange(8 * len(whole))) for _ in range(200)]
    damaged += [b"", whole + b"\0", whole[::-1], b"\0" * len(whole)]
    for data in damaged:
        path.write_bytes(data)
        store = RunStore(path.parent, scenario())
        assert store.read(SMALL) is None
        assert store.unreadable == [path.name]


def test_block_of_another_run_or_number_is_not_taken(tmp_path: Path, small: Tally) -> None:
    other = leave(tmp_path / "other", small, scenario(run={"seed": 2}))
    own = leave(tmp_path / "out", small)
    store = RunStore(own.parent, scenario())
    shutil.copy(own, own.with_name("block-000001.tally"))
    assert store.read(Block(1, SMALL.shots)) is None
    shutil.copy(other, own)
    assert store.read(SMALL) is None
    assert store.unreadable == [own.name]


def test_damaged_block_is_played_again_and_said_so(anywhere: Path, small: Tally) -> None:
    assert run(*SHORT, "--out", "fresh").exit_code == 3
    path = leave(anywhere / "out", small)
    path.write_bytes(path.read_bytes()[:-5])
    (path.parent / "block-000007.123.partial").write_bytes(b"half of a blo")
    result = run(*SHORT, "--out", "out", "--resume")
    assert result.exit_code == 3, result.stderr
    assert "Played again" in result.stderr
    assert path.name in result.stderr
    assert contents(anywhere / "out") == contents(anywhere / "fresh")
    assert not path.parent.exists()


def test_files_of_others_in_the_folder_are_left_alone(anywhere: Path) -> None:
    folder = anywhere / "out.unfinished"
    folder.mkdir()
    (folder / "novel.txt").write_text("Chapter one", encoding="utf-8")
    assert run(*SHORT, "--out", "out").exit_code == 3
    assert [path.name for path in folder.iterdir()] == ["novel.txt"]


def test_store_that_is_a_file_is_refused(anywhere: Path) -> None:
    (anywhere / "out.unfinished").write_text("mine", encoding="utf-8")
    for more in ((), ("--resume",), ("--force",)):
        result = run(*SHORT, "--out", "out", *more)
        assert result.exit_code == 2
        assert "out.unfinished: is a file" in result.stderr
    assert (anywhere / "out.unfinished").read_text(encoding="utf-8") == "mine"


def test_store_that_cannot_be_written_to_is_refused(anywhere: Path) -> None:
    # A folder where a file has to be: nobody, however mighty, can write that file.
    (anywhere / "out.unfinished" / "run.json").mkdir(parents=True)
    result = run(*SHORT, "--out", "out")
    assert result.exit_code == 2
    assert "out.unfinished: cannot be written to" in result.stderr
    assert not (anywhere / "out").exists()


def test_store_without_permission_is_refused(anywhere: Path) -> None:
    plain = without_privileges()
    if plain is None:
        pytest.skip("nothing is forbidden to this user, who cannot give that up")
    (anywhere / "out.unfinished").mkdir(mode=0o500)
    ended = started(("compare", *SHORT, "--out", "out"), plain)
    assert ended.code == 2
    assert "out.unfinished: cannot be written to: Permission denied" in ended.err


def test_full_disk_leaves_no_half_block(anywhere: Path) -> None:
    """There is room to say which run it is, and none for its first block."""
    ended = forked_command(("compare", *SHORT, "--out", "out"), lambda: limit("FSIZE", 2000))
    assert ended.code == 2
    assert "out.unfinished: cannot be written to: File too large" in ended.err
    assert list(anywhere.iterdir()) == []


def test_full_disk_keeps_the_blocks_that_there_are(anywhere: Path, small: Tally) -> None:
    left = leave(anywhere / "out", small).parent
    before = state(left)
    more = ("--max-shots", "9000", "--resume", "--out", "out")
    ended = forked_command(("compare", *SHORT, *more), lambda: limit("FSIZE", 2000))
    assert ended.code == 2, ended
    assert "File too large" in ended.err
    assert {name: state(left)[name] for name in before if name != "run.json"} == {
        name: kept for name, kept in before.items() if name != "run.json"
    }
    assert set(state(left)) == set(before)


# Stores made of something else than files


def _folder(path: Path) -> None:
    (path / "mine").mkdir(parents=True)


def _link_to_somebody(path: Path) -> None:
    somebody = path.parents[1] / "somebody"
    somebody.write_text("mine", encoding="utf-8")
    path.symlink_to(somebody)


def _link_to_nowhere(path: Path) -> None:
    path.symlink_to(path.parents[1] / "nowhere")


NOT_FILES = [os.mkfifo, _folder, _link_to_somebody, _link_to_nowhere]


@pytest.mark.parametrize("make", NOT_FILES)
def test_block_that_is_no_file(make: Callable[[Path], None], anywhere: Path, small: Tally) -> None:
    """It is played again; only a folder stands in its way, and is not taken away for it."""
    assert run(*SHORT, "--out", "fresh").exit_code == 3
    path = leave(anywhere / "out", small)
    path.unlink()
    make(path)
    result = run(*SHORT, "--out", "out", "--resume")
    if make == _folder:
        assert result.exit_code == 2
        assert "out.unfinished: cannot be written to: Is a directory" in result.stderr
        assert path.name in result.stderr
        assert (path / "mine").is_dir()
    else:
        assert result.exit_code == 3, result.stderr
        assert contents(anywhere / "out") == contents(anywhere / "fresh")
        assert not path.parent.exists()
    _check_that_nobody_is_harmed(anywhere)


@pytest.mark.parametrize("make", NOT_FILES)
def test_store_with_no_file_to_say_whose_it_is(
    make: Callable[[Path], None], anywhere: Path, small: Tally
) -> None:
    path = leave(anywhere / "out", small).with_name("run.json")
    path.unlink()
    make(path)
    result = run(*SHORT, "--out", "out", "--resume")
    assert result.exit_code == 2
    assert "run.json is damaged" in result.stderr
    result = run(*SHORT, "--out", "out", "--force")
    assert result.exit_code == (2 if make == _folder else 3), result.stderr
    _check_that_nobody_is_harmed(anywhere)


def _check_that_nobody_is_harmed(folder: Path) -> None:
    somebody = folder / "somebody"
    assert not somebody.exists() or somebody.read_text(encoding="utf-8") == "mine"
    assert not (folder / "nowhere").exists()


def test_store_that_is_a_link(anywhere: Path) -> None:
    """To a larger disk, perhaps: it is used, and the link is left."""
    (anywhere / "disk").mkdir()
    (anywhere / "out.unfinished").symlink_to("disk")
    assert run(*SHORT, "--out", "out").exit_code == 3
    assert (anywhere / "out.unfinished").is_symlink()
    assert list((anywhere / "disk").iterdir()) == []


def test_store_that_is_a_link_to_nowhere_is_refused(anywhere: Path) -> None:
    (anywhere / "out.unfinished").symlink_to("disk")
    result = run(*SHORT, "--out", "out")
    assert result.exit_code == 2
    assert "out.unfinished: is a link to nowhere" in result.stderr
    assert [path.name for path in anywhere.iterdir()] == ["out.unfinished"]
