"""What the page on security says: what is written where, and that no network is used."""

from __future__ import annotations

import json
import os
import shutil
import socket
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from matplotlib import font_manager, get_cachedir

from sim import charts, joint_draws, rebuilding, samples, scenario_errors, scenario_files
from sim.cli import main
from sim.scenario import Scenario

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="looks open folders up in /proc")
ROOT = Path(__file__).parent.parent
PAGE = ROOT / "sim" / "docs" / "security.md"
CHART = ROOT / "tests" / "charts" / "tuesday.csv"
FEW = ("--shots", "32", "--quiet")
BARE = (*FEW, "--no-figures")
# Every command, into the folder "out"; figures where a page or a film is made of them.
COMMANDS: list[tuple[str, ...]] = [
    ("scenario", "new", "out/mine.toml"),
    ("scenario", "check", "out/mine.toml"),
    ("scenario", "show", "--full"),
    ("scenario", "list"),
    ("scenario", "schema"),
    ("compare", "out/mine.toml", "--out", "out/compare", "--every-shot", *FEW),
    ("compare", "--precision", "9", "--workers", "2", "--out", "out/precise", "-q", "--no-figures"),
    ("sweep", "--vary", "spacing=6:9:3 ft", "--out", "out/sweep", *BARE),
    ("positions", "--out", "out/positions", *BARE),
    ("counter", "--out", "out/counter", *BARE),
    (
        *("sensitivity", "--between", "follow", "halves", "--settings", "32"),
        *("--out", "out/sensitivity", *BARE),
    ),
    ("approach", "--out", "out/approach", *BARE),
    ("fit", "shots", "--template", "out/chart.csv"),
    ("fit", "shots", str(CHART), "--out", "out/fit", "-q", "--no-figures"),
    ("draw", "--speed", "1", "--out", "out/draw", "--shots", "256", "--quiet"),
    ("shot", "--number", "3", "--out", "out/shot", "--shots", "32", "--quiet"),
    ("report", "--no-inputs", "--out", "out/report", *BARE),
    ("handout", "--out", "out/handout", *BARE),
    ("rebuild", "out/counter", "--quiet"),
    ("rebuild", "out/fit/manifest.json", "--out", "out/rebuilt", "--quiet"),
]


def watched(folder: Path, commands: list[tuple[str, ...]]) -> list[dict[str, Any]]:
    """Run commands in an empty folder that have places of their own for all that may be written."""
    for name in ("tmp", "matplotlib", "home", "work"):
        (folder / name).mkdir()
    # The list of fonts is made once for each user; matplotlib starts fc-list for it.
    assert font_manager.fontManager.ttflist
    for made in Path(get_cachedir()).glob("fontlist-*.json"):
        shutil.copy(made, folder / "matplotlib")
    (folder / "work" / "out").mkdir()
    done = subprocess.run(
        [sys.executable, "-m", "tests.watched", str(folder / "log")],
        cwd=folder / "work",
        input=json.dumps(commands),
        capture_output=True,
        text=True,
        check=False,
        env=os.environ
        | {
            "PYTHONPATH": os.pathsep.join([str(ROOT), *filter(None, sys.path)]),
            "PYTHONDONTWRITEBYTECODE": "1",
            "TMPDIR": str(folder / "tmp"),
            "MPLCONFIGDIR": str(folder / "matplotlib"),
            "HOME": str(folder / "home"),
        },
    )
    assert done.returncode == 0, done.stderr
    lines = (folder / "log").read_text(encoding="utf-8").splitlines()
    return [json.loads(line) for line in lines]


@pytest.fixture(scope="module")
def run_of_all(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[dict[str, Any]]]:
    folder = tmp_path_factory.mktemp("watched")
    return folder, watched(folder, COMMANDS)


def test_all_commands_are_watched() -> None:
    assert {words[0] for words in COMMANDS} == set(main.commands)


def test_nothing_is_written_but_results_and_scratch(
    run_of_all: tuple[Path, list[dict[str, Any]]],
) -> None:
    folder, events = run_of_all
    allowed = [folder / "work" / "out", folder / "tmp", folder / "matplotlib"]
    written = [event for event in events if event["kind"] == "write"]
    assert {event["command"] for event in written} >= {words[0] for words in COMMANDS}
    for event in written:
        for path in map(Path, event["what"]):
            inside = any(path.is_relative_to(place) for place in allowed)
            assert inside or path == Path(os.devnull), event
    assert list((folder / "home").iterdir()) == []
    assert list((folder / "tmp").iterdir()) == []
    assert [path.name for path in (folder / "work").iterdir()] == ["out"]


def test_nothing_goes_over_a_network_and_no_program_is_started(
    run_of_all: tuple[Path, list[dict[str, Any]]],
) -> None:
    _, events = run_of_all
    assert [event for event in events if event["kind"] != "write"] == []


def test_results_hold_nothing_hidden_and_nothing_unfinished(
    run_of_all: tuple[Path, list[dict[str, Any]]],
) -> None:
    folder, _ = run_of_all
    names = [path.name for path in (folder / "work" / "out").rglob("*")]
    assert len(names) > 50
    assert [name for name in names if name.startswith(".") or "unfinished" in name] == []


def test_the_watch_sees_what_it_is_to_see(tmp_path: Path) -> None:
    """A cluster is on a network, and the hook neither overlooks nor allows it."""
    (tmp_path / "stopped").mkdir()
    with socket.create_server(("127.0.0.1", 0)) as server:
        address = f"tcp://127.0.0.1:{server.getsockname()[1]}"
        with pytest.raises(AssertionError, match=r"no scheduler answers|network"):
            watched(tmp_path / "stopped", [("compare", "--cluster", address, *BARE)])
    seen = (tmp_path / "stopped" / "log").read_text(encoding="utf-8")
    assert '"network"' in seen


def test_limits_on_the_page_are_those_of_the_program() -> None:
    page = PAGE.read_text(encoding="utf-8")
    (policies,) = (
        entry.max_length
        for entry in Scenario.model_fields["policies"].metadata
        if hasattr(entry, "max_length")
    )
    assert scenario_files._LARGEST_FILE == charts._LARGEST_FILE
    assert samples.LARGEST_SAMPLE == joint_draws._MOST_DRAWS
    for said in (
        f"A scenario file or chart may have {charts._LARGEST_FILE // 10**6} MB",
        f"a sample {samples._LARGEST_FILE // 10**6} MB",
        f"a file of draws {joint_draws._LARGEST_FILE // 10**6} MB",
        f"a manifest {rebuilding._LARGEST_FILE // 10**6} MB",
        f"A chart may have {charts._MOST_ROWS:,} rows",
        f"a sample and a file of draws {samples.LARGEST_SAMPLE:,}",
        f"at most {policies} policies",
        f"{scenario_errors.DEEPEST_TABLE} deep",
    ):
        assert said in page
