"""What people have typed or worked on is not lost to a run's results."""

from __future__ import annotations

from pathlib import Path

import pytest

from sim.outputs import MANIFEST
from tests.faults.children import Ended, contents, forked_command
from tests.faults.test_output_faults import refused

MARKS = ("--height", "5 ft 7 in", "--mark", "70 in")
FIT = ("fit", "reach", *MARKS, "--draws", "20", "--no-figures", "-q")
FEW = ("--no-figures", "-q", "--shots", "64")


def ran(*words: str) -> Ended:
    ended = forked_command(words)
    assert ended.code == 0, ended
    return ended


def test_results_worked_on_since_are_not_written_over(anywhere: Path) -> None:
    ran(*FIT, "--out", "legs")
    ran(*FIT, "--out", "legs")
    fitted = anywhere / "legs" / "fit.toml"
    fitted.write_text(fitted.read_text(encoding="utf-8") + "# mine\n", encoding="utf-8")
    before = contents(anywhere)
    assert refused(forked_command([*FIT, "--out", "legs"]), "fit.toml", "changed since", "--force")
    assert contents(anywhere) == before
    ran(*FIT, "--out", "legs", "--force")
    assert "# mine" not in fitted.read_text(encoding="utf-8")


def test_a_result_taken_away_since_is_written_again(anywhere: Path) -> None:
    ran(*FIT, "--out", "legs")
    (anywhere / "legs" / "fit.csv").unlink()
    ran(*FIT, "--out", "legs")
    assert (anywhere / "legs" / "fit.csv").is_file()


def test_files_of_an_earlier_run_that_this_one_reads_stay(anywhere: Path) -> None:
    ran(*FIT, "--out", "legs")
    before = contents(anywhere)
    doubt = ("--with-uncertainty", "legs/draws.csv", "--settings", "20")
    over_them = forked_command(["compare", "legs/fit.toml", *doubt, *FEW, "--out", "legs", "-q"])
    assert refused(over_them, "legs")
    forced = forked_command(["compare", "legs/fit.toml", *doubt, *FEW, "--out", "legs", "--force"])
    assert refused(forced, "legs", "is read by this run", "another --out")
    assert contents(anywhere) == before


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        pytest.param(
            "draws.csv",
            "shot,result\ndrive,in\ndrop,in\nlob,out\n",
            ("fit", "shots", "draws.csv", "--shots", "256", "--draws", "20", "--no-figures"),
            id="chart",
        ),
        pytest.param(
            "best.toml",
            'name = "mine"\nreturn_of_serve.directions = ["line"]\n',
            ("positions", "best.toml", "--grid", "3 ft", "--no-figures", "--shots", "16"),
            id="scenario",
        ),
        pytest.param(
            "summary.csv",
            "speed\n40\n",
            (
                *("compare", "--no-figures", "--shots", "16", "--set"),
                "opponents.drive.speed="
                '{kind="sample", file="summary.csv", column="speed", unit="mph"}',
            ),
            id="sample",
        ),
    ],
)
def test_no_result_takes_the_place_of_what_is_read(
    anywhere: Path, name: str, text: str, words: tuple[str, ...]
) -> None:
    (anywhere / name).write_text(text, encoding="utf-8")
    if name == "summary.csv":
        scenario = anywhere / "mine.toml"
        scenario.write_text('name = "mine"\n', encoding="utf-8")
        words = (words[0], "mine.toml", *words[1:])
    before = contents(anywhere)
    ended = forked_command([*words, "--out", ".", "--force"])
    assert refused(ended, name, "is read by this run")
    assert contents(anywhere) == before
    assert not (anywhere / MANIFEST).exists()


def test_a_file_without_ending_does_not_hide_a_bundled_scenario(anywhere: Path) -> None:
    (anywhere / "club-sixties").write_text('name = "shadow"\n', encoding="utf-8")
    (anywhere / "fast-hitters").write_text("rubbish", encoding="utf-8")
    assert "shadow" not in ran("compare", *FEW).out
    listed = ran("scenario", "list").out
    assert "shadow" not in listed
    assert "fast-hitters" in listed
    assert "shadow" in ran("compare", "./club-sixties", *FEW, "--out", "mine").out


@pytest.mark.parametrize("baseline", [(), ("--baseline", "centre")])
def test_all_scenarios_are_refused_before_one_is_played(
    anywhere: Path, baseline: tuple[str, ...]
) -> None:
    if not baseline:
        (anywhere / "all" / "tall-and-short").mkdir(parents=True)
        (anywhere / "all" / "tall-and-short" / "mine.txt").write_text("mine", encoding="utf-8")
    before = contents(anywhere)
    assert refused(forked_command(["compare", "--all", *FEW, "--out", "all", *baseline]))
    assert contents(anywhere) == before


def test_blocks_of_an_interrupted_run_refuse_all_scenarios_beforehand(anywhere: Path) -> None:
    store = anywhere / "all" / "fast-hitters.unfinished"
    store.mkdir(parents=True)
    (store / "block-000000.tally").write_bytes(b"kept")
    before = contents(anywhere)
    precise = ("--precision", "5", "--no-figures", "-q")
    ended = forked_command(["compare", "--all", *precise, "--out", "all"])
    assert refused(ended, "fast-hitters.unfinished", "add --resume")
    assert contents(anywhere) == before
