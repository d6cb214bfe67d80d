"""Any valid scenario is played, and its counts and shares add up."""

from __future__ import annotations

from collections import defaultdict
from typing import Any, Final

import numpy as np
import pytest
from hypothesis import given

from sim.comparison import Comparison, compare
from sim.draws import draw
from sim.rallies import IN_PLAY, NET, OUT, play
from sim.scenario import Scenario
from sim.tables import ALL, Row
from tests.properties.corners import corners
from tests.properties.scenarios import Tables, scenarios

COUNTS: Final = (
    *("shots", "net", "out", "in_play", "reached", "in_control", "at_full_stretch", "through"),
    *("reached_by_left", "reached_by_right", "in_control_by_both"),
)


@given(scenarios())
@corners(12)
def test_counts_and_shares_add_up(tables: Tables) -> None:
    comparison = compare(Scenario.model_validate(tables))
    for row in comparison.summary_rows:
        assert_row_adds_up(row)
    assert_splits_add_up(comparison.summary_rows)
    assert_every_shot_is_counted(comparison)
    assert_leaks_add_up(comparison)
    assert_differences_fit(comparison)
    for column in ("in_play", "reached", "in_control"):
        assert_lateral_adds_up(comparison, column)


def assert_row_adds_up(row: Row) -> None:
    assert row["net"] + row["out"] + row["in_play"] == row["shots"]
    assert row["in_control"] + row["at_full_stretch"] + row["through"] == row["in_play"]
    assert row["in_control"] + row["at_full_stretch"] == row["reached"]
    by_each = row["reached_by_left"], row["reached_by_right"]
    assert max(by_each) <= row["reached"] <= sum(by_each)
    assert row["in_control_by_both"] <= min(row["in_control"], *by_each)
    if row["in_play"]:
        for measure in ("reached", "in_control"):
            share, low, high = (row[f"{measure}_{part}"] for part in ("share", "low", "high"))
            assert share == row[measure] / row["in_play"]
            assert 0.0 <= low <= share <= high <= 1.0


def assert_splits_add_up(rows: list[Row]) -> None:
    """By return direction, by kind of shot and by lane: the parts make up the whole."""
    for key in ("return_direction", "shot", "lane"):
        whole, parts = defaultdict[Any, Any](int), defaultdict[Any, Any](int)
        others = [name for name in ("policy", "return_direction", "shot", "lane") if name != key]
        for row in rows:
            cell = tuple(row[name] for name in others)
            counts = np.array([row[name] for name in COUNTS])
            (whole if row[key] == ALL else parts)[cell] += counts
        assert whole.keys() == parts.keys()
        for cell, counts in whole.items():
            assert counts.tolist() == parts[cell].tolist()


def all_together(comparison: Comparison) -> list[Row]:
    """Each policy's row of all directions, shots and lanes."""
    splits = ("return_direction", "shot", "lane")
    return [row for row in comparison.summary_rows if {row[name] for name in splits} == {ALL}]


def assert_every_shot_is_counted(comparison: Comparison) -> None:
    scenario = comparison.scenario
    played = scenario.run.shots * len(scenario.return_of_serve.directions)
    rows = all_together(comparison)
    assert [row["policy"] for row in rows] == [policy.name for policy in scenario.policies]
    assert {row["shots"] for row in rows} == {played}
    assert len({row["in_play"] for row in rows}) == 1


def assert_leaks_add_up(comparison: Comparison) -> None:
    through: dict[tuple[str, ...], int] = defaultdict(int)
    for row in comparison.leak_rows:
        assert 0 <= row["balls"] <= row["in_play"]
        through[row["policy"], row["return_direction"], row["shot"]] += row["balls"]
    for row in comparison.summary_rows:
        if row["lane"] == ALL:
            assert through[row["policy"], row["return_direction"], row["shot"]] == row["through"]


def assert_lateral_adds_up(comparison: Comparison, column: str) -> None:
    """Every ball in play passes somewhere."""
    found: dict[str, int] = defaultdict(int)
    for row in comparison.lateral_rows:
        if row["return_direction"] == ALL:
            found[row["policy"]] += row[column]
    assert dict(found) == {row["policy"]: row[column] for row in all_together(comparison)}


def assert_differences_fit(comparison: Comparison) -> None:
    """A paired difference is that of the two shares, and its interval holds it."""
    counts = {
        (row["policy"], row["return_direction"], row["shot"]): row
        for row in comparison.summary_rows
        if row["lane"] == ALL
    }
    for row in comparison.difference_rows:
        mine = counts[row["policy"], row["return_direction"], row["shot"]]
        theirs = counts[row["baseline"], row["return_direction"], row["shot"]]
        assert row["both"] + row["only_policy"] == mine[row["measure"]]
        assert row["both"] + row["only_baseline"] == theirs[row["measure"]]
        assert (
            sum(row[n] for n in ("both", "only_policy", "only_baseline", "neither"))
            == (row["in_play"])
        )
        if row["in_play"]:
            assert -100.0 <= row["points_low"] <= row["points"] <= row["points_high"] <= 100.0


@given(scenarios())
@corners(20)
def test_every_distribution_stays_within_its_limits(tables: Tables) -> None:
    # What a scenario says is what is struck: speeds, places and times are never beyond its limits.
    scenario = Scenario.model_validate(tables)
    numbers = draw(scenario.run.sampling, scenario.run.seed, 0, 0, 64)["pace"]
    drive, pair = scenario.opponents.drive, scenario.pair
    mph = 5280.0 / 3600.0
    for values, low, high in (
        (drive.speed.quantile(numbers), 5.0 * mph, 110.0 * mph),
        (drive.net_clearance.quantile(numbers), 0.0, 8.0),
        (pair.left.reaction.quantile(numbers), 0.01, 1.5),
        (scenario.return_of_serve.top.quantile(numbers), 4.5, 30.0),
    ):
        assert np.all(np.isfinite(values))
        if scenario.run.sampling == "quasi-random":
            assert low - 1e-9 <= values.min() <= values.max() <= high + 1e-9


def test_every_shot_has_one_fate() -> None:
    rally = play(Scenario(name="any"), "cross", shots=1000)
    assert set(np.unique(rally.fate)) == {NET, OUT, IN_PLAY}
    assert rally.in_play.tolist() == np.flatnonzero(rally.fate == IN_PLAY).tolist()


@pytest.mark.parametrize("wind", ["4 mph", "15 mph"])
@pytest.mark.parametrize("azimuth", [{}, {"azimuth": "50 deg"}])
def test_wishes_that_no_ball_can_grant_give_balls_all_the_same(wind: str, azimuth: Tables) -> None:
    # Backspin that carries the ball, and half a foot behind the net to land in: the flight of such
    # a ball used to run away in steps too long, and the aim in wind to end in no numbers.
    drop = {"landing_depth": "0.5 ft", "topspin": "-2000 rpm"} | azimuth
    shots = {"drive": 0.0, "drop": 1.0, "lob": 0.0}
    tables = {"air": {"wind_from_behind": wind}, "opponents": {"shots": shots, "drop": drop}}
    rally = play(Scenario.model_validate({"name": "any"} | tables), "line", shots=300)
    launch = rally.third_shot.launch
    assert np.all(np.isfinite([launch.x, launch.y, launch.z]))
    assert np.all(np.isfinite(rally.net_clearance))
