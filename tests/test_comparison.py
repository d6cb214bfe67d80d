"""Comparing policies: counts, tables, and runs of awkward sizes."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from sim import blocks, comparison
from sim.answers import LEAKS, answer_all
from sim.comparison import Comparison, Progress, compare, shot_rows
from sim.draws import BLOCK, REPLICATES, replicate_of
from sim.opponents import LANES, SHOTS
from sim.rallies import play
from sim.scenario import Scenario
from sim.statistics import (
    paired_difference,
    share_of_replicates,
    student_quantile,
    wilson,
)
from sim.tables import CANNOT_TELL, verdict
from sim.tally import GROUPS, Tally, count


def scenario_of(**tables: Any) -> Scenario:
    return Scenario.model_validate({"name": "comparison", **tables})


def rows_where(rows: list[dict[str, Any]], **wanted: Any) -> list[dict[str, Any]]:
    return [row for row in rows if all(row[key] == value for key, value in wanted.items())]


def total(rows: list[dict[str, Any]], policy: str) -> dict[str, Any]:
    (row,) = rows_where(rows, policy=policy, return_direction="all", shot="all", lane="all")
    return row


ONE_DIRECTION = {"directions": ["cross"]}
TWO_POLICIES = [{"name": "a", "rule": "halves"}, {"name": "b", "rule": "follow"}]
USUAL = compare(scenario_of(run={"shots": 900, "baseline": "centre"}))
PSEUDO = compare(scenario_of(run={"shots": 900, "baseline": "centre", "sampling": "pseudo-random"}))


def test_one_row_for_every_policy_direction_shot_and_lane() -> None:
    rows = USUAL.summary_rows
    assert len(rows) == 6 * (1 + 3) * (1 + len(SHOTS)) * (1 + len(LANES))
    keys = {(r["policy"], r["return_direction"], r["shot"], r["lane"]) for r in rows}
    assert len(keys) == len(rows)
    assert total(rows, "halves")["shots"] == 3 * 900


@pytest.mark.parametrize("column", ["shots", "net", "out", "in_play", "reached", "in_control"])
def test_parts_add_up_to_all(column: str) -> None:
    rows = USUAL.summary_rows
    for policy in USUAL.scenario.policies:
        whole = total(rows, policy.name)[column]
        directions = rows_where(rows, policy=policy.name, shot="all", lane="all")
        shots = rows_where(rows, policy=policy.name, return_direction="all", lane="all")
        lanes = rows_where(rows, policy=policy.name, return_direction="all", shot="all")
        for parts in (directions, shots, lanes):
            assert sum(row[column] for row in parts) == 2 * whole


def test_shares_and_intervals_are_those_of_the_counts() -> None:
    for row in PSEUDO.summary_rows:
        if not row["in_play"]:
            assert math.isnan(row["reached_share"])
            continue
        assert row["reached_share"] == row["reached"] / row["in_play"]
        assert (row["reached_low"], row["reached_high"]) == wilson(row["reached"], row["in_play"])
        assert row["in_control_share"] == row["in_control"] / row["in_play"]


def test_all_policies_face_the_same_shots() -> None:
    for direction in ("all", "line", "middle", "cross"):
        for shot in ("all", *SHOTS):
            faced = {
                (row["shots"], row["net"], row["out"], row["in_play"])
                for row in rows_where(
                    USUAL.summary_rows, return_direction=direction, shot=shot, lane="all"
                )
            }
            assert len(faced) == 1


@pytest.mark.parametrize("result", [USUAL, PSEUDO])
def test_differences_are_consistent_with_the_summary(result: Comparison) -> None:
    names = {row["policy"] for row in result.difference_rows}
    assert names == {policy.name for policy in result.scenario.policies} - {"centre"}
    for row in result.difference_rows:
        key = {"return_direction": row["return_direction"], "shot": row["shot"], "lane": "all"}
        (mine,) = rows_where(result.summary_rows, policy=row["policy"], **key)
        (base,) = rows_where(result.summary_rows, policy="centre", **key)
        assert row["baseline"] == "centre"
        measure = row["measure"]
        assert row["in_play"] == mine["in_play"]
        assert row["both"] + row["only_policy"] == mine[measure]
        assert row["both"] + row["only_baseline"] == base[measure]
        table = [row[name] for name in ("both", "only_policy", "only_baseline", "neither")]
        assert sum(table) == row["in_play"]
        difference, low, high = paired_difference(*table)
        if row["in_play"]:
            points = 100.0 * (mine[measure] - base[measure]) / row["in_play"]
            assert row["points"] == pytest.approx(points)
            assert row["points"] == pytest.approx(100.0 * difference)
        if result is PSEUDO:
            assert (row["points_low"], row["points_high"]) == (100.0 * low, 100.0 * high)
        if row["verdict"] == "more":
            assert row["points_low"] > 0.0
        if row["verdict"] == "fewer":
            assert row["points_high"] < 0.0


def test_intervals_of_replicates_are_made_of_their_counts() -> None:
    # Replicate by replicate, recounted from every shot.
    scenario = scenario_of(run={"shots": 700}, return_of_serve=ONE_DIRECTION, policies=TWO_POLICIES)
    rally = play(scenario, "cross", 0, 700)
    one, other = answer_all(scenario, rally, scenario.policies)
    replicate = replicate_of(700)[rally.in_play]
    trials = np.bincount(replicate, minlength=REPLICATES)
    hits = np.bincount(replicate[one.in_control], minlength=REPLICATES)
    gain = np.bincount(replicate, other.in_control.astype(float) - one.in_control)
    result = compare(scenario)
    row = total(result.summary_rows, "a")
    expected = share_of_replicates(hits, trials)
    assert (row["in_control_low"], row["in_control_high"]) == expected
    (difference,) = rows_where(
        result.difference_rows, return_direction="all", shot="all", measure="in_control"
    )
    residual = gain - trials * gain.sum() / trials.sum()
    error = np.sqrt(np.sum(residual**2) * 16 / 15) / trials.sum()
    half = 100.0 * student_quantile(0.95, 15) * error
    assert difference["points_high"] - difference["points"] == pytest.approx(half)
    assert difference["points"] - difference["points_low"] == pytest.approx(half)


@pytest.mark.parametrize(
    ("difference", "low", "high", "told", "words"),
    [
        (0.1, 0.01, 0.2, True, "more"),
        (-0.1, -0.2, -0.01, True, "fewer"),
        (0.1, 0.01, 0.2, False, CANNOT_TELL),
        (0.0, -0.1, 0.1, False, CANNOT_TELL),
        (0.0, -0.001, 0.001, False, "no difference larger than 0.1 points"),
        (0.001, -0.002, 0.004, False, "no difference larger than 0.5 points"),
        (0.001, -0.002, 0.0051, False, CANNOT_TELL),
        (math.nan, -1.0, 1.0, False, CANNOT_TELL),
    ],
)
def test_verdict(difference: float, low: float, high: float, told: bool, words: str) -> None:
    assert verdict(difference, low, high, told=told) == words


def test_lateral_and_run_in_rows_count_every_ball() -> None:
    for policy in USUAL.scenario.policies:
        in_play = total(USUAL.summary_rows, policy.name)["in_play"]
        reached = total(USUAL.summary_rows, policy.name)["reached"]
        lateral = rows_where(USUAL.lateral_rows, policy=policy.name, return_direction="all")
        assert sum(row["in_play"] for row in lateral) == in_play
        assert sum(row["reached"] for row in lateral) == reached
        edges = [row["x_from_ft"] for row in lateral] + [lateral[-1]["x_to_ft"]]
        assert edges == list(np.arange(-10.0, 11.0))
        on_the_way = rows_where(USUAL.run_in_rows, policy=policy.name)
        assert sum(row["in_play"] for row in on_the_way) == in_play
        for row in on_the_way:
            assert row["narrowest_ft"] <= row["spacing_ft"] + 1e-9
            assert row["spacing_ft"] <= row["widest_ft"] + 1e-9
            assert 7.0 <= row["left_depth_ft"] <= 22.5
            assert 0.0 <= row["left_arrived_share"] <= 1.0


def test_leaks_are_shares_of_the_balls_in_play() -> None:
    for row in USUAL.leak_rows:
        if row["in_play"]:
            assert row["leak_share"] == row["balls"] / row["in_play"]
    whole = rows_where(USUAL.leak_rows, policy="halves", return_direction="all", shot="all")
    assert [row["leak"] for row in whole] == list(LEAKS)
    assert sum(row["balls"] for row in whole) == total(USUAL.summary_rows, "halves")["through"]


def test_shots_table_tells_the_same_story() -> None:
    small = compare(scenario_of(run={"shots": 80}))
    shots = small.shots
    assert len(shots) == 80 * 3 * 6
    for policy in small.scenario.policies:
        mine = shots[shots["policy"] == policy.name]
        row = total(small.summary_rows, policy.name)
        outcome = mine["outcome"].value_counts()
        assert outcome.get("net", 0) == row["net"]
        assert outcome.get("out", 0) == row["out"]
        assert outcome.get("in control", 0) == row["in_control"]
        assert outcome.get("at full stretch", 0) == row["at_full_stretch"]
        assert outcome.get("through", 0) == row["through"]
        assert set(mine.loc[mine["outcome"] == "through", "leak"]) <= set(LEAKS)
        taken = mine["outcome"].isin(["in control", "at full stretch"])
        assert set(mine.loc[taken, "player"]) <= {"left", "right"}
        assert set(mine.loc[~taken, "player"]) <= {""}


def test_frames_hold_the_rows() -> None:
    for name in ("summary", "differences", "leaks", "lateral", "run_in"):
        frame, rows = getattr(USUAL, name), getattr(USUAL, f"{name.rstrip('s')}_rows", None)
        rows = rows if rows is not None else getattr(USUAL, f"{name}_rows")
        assert len(frame) == len(rows)
        assert list(frame.columns) == list(rows[0])


# --- blocks ------------------------------------------------------------------------------------


def small_blocks(monkeypatch: pytest.MonkeyPatch, size: int) -> None:
    monkeypatch.setattr(comparison, "BLOCK", size)
    monkeypatch.setattr(blocks, "BLOCK", size)


def test_tallies_of_blocks_add_up(monkeypatch: pytest.MonkeyPatch) -> None:
    small_blocks(monkeypatch, 60)
    scenario = scenario_of(run={"shots": 150}, return_of_serve=ONE_DIRECTION, policies=TWO_POLICIES)
    expected = Tally.empty(2, 1)
    for block, shots in ((0, 60), (1, 60), (2, 30)):
        rally = play(scenario, "cross", block, shots)
        answers = answer_all(scenario, rally, scenario.policies)
        expected.add(count(scenario, rally, answers), block)
    expected = expected.used()
    found = compare(scenario).tally
    for name in vars(expected):
        np.testing.assert_array_equal(getattr(found, name), getattr(expected, name))
    assert found.fates.sum() == 150


def test_shots_need_not_fill_the_last_block() -> None:
    scenario = scenario_of(
        run={"shots": BLOCK + 37}, return_of_serve=ONE_DIRECTION, policies=TWO_POLICIES
    )
    result = compare(scenario)
    assert total(result.summary_rows, "a")["shots"] == BLOCK + 37


def test_shot_numbers_run_through_the_blocks(monkeypatch: pytest.MonkeyPatch) -> None:
    small_blocks(monkeypatch, 40)
    scenario = scenario_of(
        run={"shots": 100}, return_of_serve=ONE_DIRECTION, policies=TWO_POLICIES[:1]
    )
    numbers = [row["shot_number"] for rows in shot_rows(scenario) for row in rows]
    assert numbers == list(range(1, 101))


def test_progress_counts_every_block(monkeypatch: pytest.MonkeyPatch) -> None:
    small_blocks(monkeypatch, 40)
    seen: list[Progress] = []
    compare(scenario_of(run={"shots": 100}, policies=TWO_POLICIES), progress=seen.append)
    assert seen == [Progress(done, 3) for done in (1, 2, 3)]


def test_the_caller_s_tally_is_not_shared() -> None:
    one, other = Tally.empty(1, 1, REPLICATES), Tally.empty(1, 1)
    one.fates += 1
    other.add(one, 0)
    one.fates += 5
    assert other.fates.max() == 1


def test_blocks_share_groups_in_turn() -> None:
    one, total = Tally.empty(1, 1, REPLICATES), Tally.empty(1, 1)
    one.fates += 1
    for block in range(GROUPS // REPLICATES + 2):
        total.add(one, block)
    by_group = total.fates.reshape(GROUPS, -1)[:, 0]
    assert by_group.tolist() == [2] * (2 * REPLICATES) + [1] * (GROUPS - 2 * REPLICATES)
    assert total.used().fates.shape[0] == GROUPS


# --- awkward runs ------------------------------------------------------------------------------


def test_no_ball_in_play_at_all() -> None:
    into_the_net = {
        "shots": {"drive": 1, "drop": 1, "lob": 0},
        "drive": {"net_clearance": "0 ft"},
        "drop": {"net_clearance": "0 ft"},
        "errors": {"speed": "0 %", "elevation": "-25 deg", "azimuth": "0 deg"},
    }
    result = compare(scenario_of(opponents=into_the_net, run={"shots": 100}))
    row = total(result.summary_rows, "halves")
    assert (row["shots"], row["net"], row["in_play"]) == (300, 300, 0)
    assert math.isnan(row["reached_share"])
    for difference in result.difference_rows:
        assert difference["in_play"] == 0
        assert math.isnan(difference["points"])
        assert difference["verdict"] == CANNOT_TELL
    assert all(math.isnan(way["spacing_ft"]) for way in result.run_in_rows)
    assert all(leak["balls"] == 0 for leak in result.leak_rows)
    assert sum(lateral["in_play"] for lateral in result.lateral_rows) == 0
    assert len(result.shots) == 100 * 3 * 6


def test_one_shot_one_direction_one_policy() -> None:
    result = compare(
        scenario_of(run={"shots": 1}, return_of_serve=ONE_DIRECTION, policies=TWO_POLICIES[:1])
    )
    row = total(result.summary_rows, "a")
    assert row["shots"] == row["net"] + row["out"] + row["in_play"] == 1
    assert result.difference_rows == []
    assert len(result.shots) == 1


def test_a_policy_against_itself_is_no_different() -> None:
    twins = [{"name": "a", "rule": "halves"}, {"name": "b", "rule": "halves"}]
    result = compare(scenario_of(run={"shots": 300}, policies=twins))
    for row in result.difference_rows:
        assert row["only_policy"] == row["only_baseline"] == 0
        assert row["verdict"] == CANNOT_TELL


def test_the_baseline_is_the_first_policy_unless_named() -> None:
    first = compare(scenario_of(run={"shots": 20}))
    assert {row["baseline"] for row in first.difference_rows} == {"halves"}
    assert {row["baseline"] for row in USUAL.difference_rows} == {"centre"}


def test_a_policy_that_cannot_reach_anything_is_told_apart() -> None:
    # Far behind the court on one side: a difference that no interval can miss.
    policies = [
        {"name": "usual", "rule": "centre"},
        {"name": "away", "rule": "centre", "depth": "26 ft", "spacing": "1 ft"},
    ]
    only_drops = {"shots": {"drive": 0, "drop": 1, "lob": 0}, "level": "5.0"}
    result = compare(scenario_of(run={"shots": 400}, policies=policies, opponents=only_drops))
    (row,) = rows_where(
        result.difference_rows, return_direction="all", shot="all", measure="in_control"
    )
    assert row["verdict"] == "fewer"
    assert row["points_high"] < 0.0
