"""Precision on request: when a run stops, what it says, and that it looks at the same moments."""

from __future__ import annotations

import csv
import json
import math
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

import sim
from sim.cli import main
from sim.comparison import Progress
from sim.draws import BLOCK
from sim.errors import Refused
from sim.precision import Precision
from sim.processes import Processes
from sim.scenario import Scenario
from sim.tally import Tally

CROSS_ONLY = {"return_of_serve": {"directions": ["cross"]}}
TWO = [{"name": "halves", "rule": "halves"}, {"name": "follow", "rule": "follow"}]
ANY_ERROR = 1e-9


def scenario(**changes: Any) -> Scenario:
    return sim.load("club-sixties", CROSS_ONLY | {"policies": TWO} | changes)


def compared(precision: Precision, *, policies: int = 2) -> sim.Comparison:
    return sim.compare(scenario(policies=TWO[:policies]), precision)


def run(*words: str | Path) -> Result:
    cheap = ("--set", 'return_of_serve.directions=["cross"]', "--no-figures")
    return CliRunner().invoke(main, ["compare", *map(str, words), *cheap])


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def half_widths(folder: Path, of: str, measure: str) -> list[float]:
    """Half-widths (points) of the headline numbers, read from the written tables."""
    if of == "difference":
        return [
            max(
                float(row["points_high"]) - float(row["points"]),
                float(row["points"]) - float(row["points_low"]),
            )
            for row in rows(folder / "differences.csv")
            if (row["return_direction"], row["shot"], row["measure"]) == ("all", "all", measure)
        ]
    return [
        100
        * max(
            float(row[f"{measure}_high"]) - float(row[f"{measure}_share"]),
            float(row[f"{measure}_share"]) - float(row[f"{measure}_low"]),
        )
        for row in rows(folder / "summary.csv")
        if (row["return_direction"], row["shot"], row["lane"]) == ("all", "all", "all")
    ]


@pytest.fixture
def anywhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


# The rule


@given(
    played=st.integers(1, 400).map(lambda blocks: blocks * BLOCK),
    excess=st.floats(1.0, 1e4, exclude_min=True),
    points=st.floats(0.01, 50.0),
    room=st.integers(1, 10_000_000),
)
def test_next_look_is_ahead_in_whole_blocks_and_not_too_far(
    played: int, excess: float, points: float, room: int
) -> None:
    most = played + room
    look = Precision(points, most_shots=most).shots_until_next_look(played, points * excess)
    assert played < look <= most
    assert look % BLOCK == 0 or look == most
    assert look <= max(4 * played, played + BLOCK)


def test_near_the_goal_the_next_look_is_a_little_beyond_it() -> None:
    shots = 100 * BLOCK
    # A tenth too wide asks for 1.21 times the shots, and some in reserve.
    assert 121 * BLOCK < Precision(1.0).shots_until_next_look(shots, 1.1) < 135 * BLOCK


@pytest.mark.parametrize("points", [0.0, -1.0, math.nan])
def test_precision_has_to_be_above_zero(points: float) -> None:
    with pytest.raises(Refused, match="above zero"):
        Precision(points)


def test_precision_needs_a_shot() -> None:
    with pytest.raises(Refused, match="at least 1"):
        Precision(1.0, most_shots=0)


@pytest.mark.parametrize("of", ["difference", "share"])
@pytest.mark.parametrize("policies", [1, 2])
def test_without_a_shot_in_play_nothing_is_known(of: Any, policies: int) -> None:
    nothing = Tally.empty(policies, 1)
    assert Precision(1.0, of).reached(scenario(policies=TWO[:policies]), nothing) == 100.0


# Runs


def test_run_stops_at_the_first_look_that_is_precise_enough() -> None:
    looks: list[Progress] = []
    precision = Precision(0.7)
    whole = sim.compare(scenario(), precision, progress=looks.append)
    before = [look.reached for look in looks if look.reached is not None]
    assert before, "the first block was precise enough: ask for more in this test"
    assert all(reached > precision.points for reached in before)
    assert whole.precise_enough
    assert whole.half_width is not None
    assert whole.half_width <= precision.points
    assert whole.shots_played % BLOCK == 0
    assert whole.tally.fates.sum() == whole.shots_played


def test_run_with_precision_is_the_run_of_as_many_shots() -> None:
    wished = compared(Precision(0.01, most_shots=BLOCK + 100))
    plain = sim.compare(scenario(run={"shots": BLOCK + 100, "baseline": "halves"}))
    assert wished.shots_played == plain.shots_played
    assert wished.summary_rows == plain.summary_rows
    assert wished.difference_rows == plain.difference_rows


def test_looks_happen_at_the_same_moments_whatever_the_workers() -> None:
    def looks_with(count: int) -> list[tuple[int, int, float | None]]:
        looks: list[Progress] = []
        with Processes(count) as workers:
            sim.compare(scenario(), Precision(0.45), workers, progress=looks.append)
        return [(look.done, look.planned, look.reached) for look in looks]

    alone = looks_with(1)
    assert len({planned for _, planned, _ in alone}) >= 2
    assert looks_with(2) == alone
    assert looks_with(3) == alone


def test_smallest_number_of_shots_is_kept_to_and_told() -> None:
    whole = compared(Precision(0.01, most_shots=300))
    assert (whole.shots_played, whole.precise_enough) == (300, False)
    assert whole.tally.fates.sum() == 300


def test_one_policy_alone_is_judged_by_its_share() -> None:
    by_default = compared(Precision(0.01, most_shots=500), policies=1)
    as_share = compared(Precision(0.01, "share", most_shots=500), policies=1)
    assert by_default.half_width == as_share.half_width
    row = by_default.summary_rows[0]
    assert by_default.half_width == pytest.approx(
        100.0
        * max(
            row["in_control_high"] - row["in_control_share"],
            row["in_control_share"] - row["in_control_low"],
        ),
        rel=ANY_ERROR,
    )


# The command


@pytest.mark.parametrize("of", ["difference", "share"])
@pytest.mark.parametrize("measure", ["in_control", "reached"])
def test_command_keeps_its_word_and_says_so(anywhere: Path, of: str, measure: str) -> None:
    words = ("--precision", "3", "--precision-of", of, "--measure", measure, "--out", "a")
    result = run(*words, "--between", "follow", "centre")
    assert result.exit_code == 0, result.stderr
    widths = half_widths(anywhere / "a", of, measure)
    assert len(widths) == (1 if of == "difference" else 2)
    manifest = json.loads((anywhere / "a" / "manifest.json").read_text(encoding="utf-8"))
    # Shares are written at six decimals: half of the last one, in points.
    assert manifest["half_width_reached_points"] == pytest.approx(max(widths), abs=1e-4)
    assert manifest["half_width_reached_points"] <= 3
    assert manifest["shots_per_return_direction"] == int(
        rows(anywhere / "a/summary.csv")[0]["shots"]
    )
    asked = {
        "precision": 3.0,
        "precision_of": of,
        "measure": measure,
        "max_shots": 1_000_000,
        "between": ["follow", "centre"],
    }
    assert asked.items() <= manifest["options"].items()
    for stream in (result.stdout, result.stderr):
        assert "as asked (±3)" in stream


def test_precision_not_reached_is_told_and_results_are_written(anywhere: Path) -> None:
    words = ("--precision", "0.01", "--max-shots", "300", "--between", "follow", "halves")
    result = run(*words, "--out", "a")
    assert result.exit_code == 3, result.stderr
    for stream in (result.stdout, result.stderr):
        assert "asked was ±0.01" in stream
        assert "--max-shots" in stream
    manifest = json.loads((anywhere / "a" / "manifest.json").read_text(encoding="utf-8"))
    assert manifest["shots_per_return_direction"] == 300
    assert manifest["half_width_reached_points"] > 0.01
    written = {path.name for path in (anywhere / "a").iterdir()} - {"manifest.json"}
    assert set(manifest["files"]) == written
    assert not (anywhere / "a.unfinished").exists()


def test_manifest_is_json_even_where_nothing_is_known(anywhere: Path) -> None:
    """One shot into the net tells nothing; JSON knows no infinity."""
    words = ("--precision", "1", "--precision-of", "share", "--max-shots", "1", "-q")
    reached = []

    def no_constant(name: str) -> None:
        raise AssertionError(f"{name} is not JSON")

    for seed in range(20):
        result = run(*words, "--seed", str(seed), "--out", f"{seed}")
        assert result.exit_code == 3, result.stderr
        text = (anywhere / f"{seed}" / "manifest.json").read_text(encoding="utf-8")
        manifest = json.loads(text, parse_constant=no_constant)
        reached.append(manifest["half_width_reached_points"])
    assert max(reached) == 100.0, "no such shot among them: take more seeds"


def test_only_the_two_policies_asked_for_are_played(anywhere: Path) -> None:
    result = run("--between", "bisect", "tethered", "--shots", "300", "--out", "a")
    assert result.exit_code == 0, result.stderr
    assert {row["policy"] for row in rows(anywhere / "a" / "summary.csv")} == {"bisect", "tethered"}
    differences = rows(anywhere / "a" / "differences.csv")
    assert {(row["policy"], row["baseline"]) for row in differences} == {("bisect", "tethered")}


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (("--precision", "1", "--shots", "300"), "--max-shots"),
        (("--precision", "0"), "--precision"),
        (("--precision", "nan"), "--precision"),
        (("--precision", "1", "--max-shots", "0"), "--max-shots"),
        (("--precision", "1", "--measure", "touched"), "in_control"),
        (("--between", "follow", "nonsense"), '"halves"'),
        (("--between", "follow", "follow"), "itself"),
        (("--between", "follow", "halves", "--baseline", "halves"), "--baseline"),
    ],
)
def test_refusals_name_what_is_wrong(anywhere: Path, words: tuple[str, ...], named: str) -> None:
    result = run(*words)
    assert result.exit_code == 2, result.stderr
    assert named in result.stderr
    assert not list(anywhere.iterdir())
