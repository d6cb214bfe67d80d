"""Who takes the middle, against a count ball by ball."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

import sim
from sim.analyses.middle import Middle, Share, middle, middle_rows
from sim.answers import answer_all
from sim.draws import REPLICATES
from sim.processes import Processes
from sim.rallies import Rally, play
from sim.reach import highest_reach
from sim.run_in import PLAYERS
from sim.scenario import Scenario
from sim.statistics import share_of_replicates, wilson
from sim.tables import ALL, Row, rows_of_shots

SHOTS = 192
POLICIES = ("wide", "follow", "one up")
SHARES = (
    "between",
    "by_left",
    "by_right",
    "at_full_stretch",
    "through",
    "both_could",
    "forehand",
    "left_forehand",
    "right_forehand",
)


def scenario(**changes: Any) -> Scenario:
    policies = [
        {"name": "wide", "rule": "halves", "spacing": "17 ft"},
        {"name": "follow", "rule": "follow"},
        {
            "name": "one up",
            "rule": "tethered",
            "returner_depth": "18 ft",
            "split_step": False,
        },
    ]
    return sim.load("fast-hitters", {"policies": policies, "run": {"shots": SHOTS}} | changes)


@pytest.fixture(scope="module")
def usual() -> Scenario:
    return scenario()


@pytest.fixture(scope="module")
def found(usual: Scenario) -> dict[tuple[str, str], Middle]:
    return {(each.policy, each.direction): each for each in middle(usual)}


def comes_between(scenario: Scenario, rally: Rally, row: Row, ball: int) -> bool:
    """Whether one ball in play does, from its flight in small steps: no code of the analysis."""
    depth = 0.5 * (row["left_y_ft"] + row["right_y_ft"])
    only = np.array([ball])
    for flight in (rally.approach.take(only), rally.rebound.take(only)):
        times = np.linspace(0.0, float(flight.duration[0]), 4001)
        x, y, z = (part[:, 0] for part in flight.position(times[:, None]))
        there = np.flatnonzero(y <= depth)
        if there.size:
            k = there[0]
            tallest = max(highest_reach(getattr(scenario.pair, name)) for name in PLAYERS)
            return bool(z[k] <= tallest and row["left_x_ft"] <= x[k] <= row["right_x_ft"])
    return False


def counted(scenario: Scenario, policy: int, direction: str) -> tuple[dict[str, int], int]:
    """Every number by name, ball by ball from the rows of all shots; and the balls in play."""
    rally = play(scenario, direction, 0, SHOTS)
    chosen = scenario.policies[policy]
    (answer,) = answer_all(scenario, rally, [chosen])
    rows = rows_of_shots(scenario, rally, chosen, answer, 0)
    balls = [rows[shot] for shot in rally.in_play]
    between = [row for k, row in enumerate(balls) if comes_between(scenario, rally, row, k)]
    numbers = {"between": len(between)}

    def of(**wanted: Any) -> int:
        return sum(all(row[key] == value for key, value in wanted.items()) for row in between)

    for name in PLAYERS:
        numbers[f"by_{name}"] = of(player=name, outcome="in control")
        numbers[f"{name}_forehand"] = of(player=name, hand="forehand")
    numbers["at_full_stretch"] = of(outcome="at full stretch")
    numbers["through"] = of(outcome="through")
    numbers["both_could"] = of(both_in_control=True)
    numbers["forehand"] = of(hand="forehand")
    return numbers, len(balls)


@pytest.mark.parametrize(("policy", "name"), list(enumerate(POLICIES)))
@pytest.mark.parametrize("direction", ["line", "cross"])
def test_every_number_is_that_of_a_count_ball_by_ball(
    usual: Scenario, found: dict[tuple[str, str], Middle], policy: int, name: str, direction: str
) -> None:
    numbers, in_play = counted(usual, policy, direction)
    ours = found[name, direction]
    assert ours.in_play == ours.between.of == in_play
    assert {share: getattr(ours, share).balls for share in SHARES} == numbers
    assert numbers["between"] > 20


def test_what_becomes_of_them_adds_up(found: dict[tuple[str, str], Middle]) -> None:
    for each in found.values():
        ends = (each.by_left, each.by_right, each.at_full_stretch, each.through)
        assert sum(end.balls for end in ends) == each.between.balls
        assert {end.of for end in (*ends, each.both_could)} == {each.between.balls}
        taken = each.between.balls - each.through.balls
        assert each.forehand.of == each.left_forehand.of + each.right_forehand.of == taken
        assert each.forehand.balls == each.left_forehand.balls + each.right_forehand.balls
        assert each.both_could.balls <= each.by_left.balls + each.by_right.balls


def test_all_returns_together_are_the_sum_of_each(found: dict[tuple[str, str], Middle]) -> None:
    for policy in POLICIES:
        every = [found[policy, direction] for direction in ("line", "middle", "cross")]
        whole = found[policy, ALL]
        assert whole.in_play == sum(each.in_play for each in every)
        for name in SHARES:
            share: Share = getattr(whole, name)
            assert share.balls == sum(getattr(each, name).balls for each in every)
            assert share.of == sum(getattr(each, name).of for each in every)


def test_those_that_get_through_are_the_leak_of_that_name(
    usual: Scenario, found: dict[tuple[str, str], Middle]
) -> None:
    through = {
        (row["policy"], row["return_direction"]): row["balls"]
        for row in sim.compare(usual).leak_rows
        if (row["shot"], row["leak"]) == ("all", "middle")
    }
    assert {key: each.through.balls for key, each in found.items()} == through
    assert sum(through.values()) > 10


def test_intervals_come_from_the_scatter_of_replicates(
    usual: Scenario, found: dict[tuple[str, str], Middle]
) -> None:
    rally = play(usual, "middle", 0, SHOTS)
    (answer,) = answer_all(usual, rally, [usual.policies[1]])
    rows = rows_of_shots(usual, rally, usual.policies[1], answer, 0)
    hits, balls = np.zeros((2, REPLICATES), int)
    for k, shot in enumerate(rally.in_play):
        replicate = int(shot) // (SHOTS // REPLICATES)
        balls[replicate] += 1
        hits[replicate] += comes_between(usual, rally, rows[shot], k)
    ours = found["follow", "middle"].between
    assert ours[:3] == (hits.sum(), balls.sum(), hits.sum() / balls.sum())
    assert ours[3:] == share_of_replicates(hits, balls)
    assert 0.0 < ours.low < ours.share < ours.high < 1.0


def test_independent_shots_are_judged_by_their_counts() -> None:
    plain = scenario(run={"shots": SHOTS, "sampling": "pseudo-random"})
    each = middle(plain)[0]
    assert each.by_left[3:] == wilson(each.by_left.balls, each.by_left.of)


def test_a_left_hander_on_the_left_has_the_backhand_in_the_middle(
    found: dict[tuple[str, str], Middle],
) -> None:
    """Of two right-handers the left one has the forehand there, whatever the program says."""
    before = found["wide", ALL]
    assert before.left_forehand.share > 0.9 > 0.1 > before.right_forehand.share
    pair = {"left": {"handed": "left"}}
    after = middle(scenario(pair=pair))[0]
    assert (after.policy, after.direction) == ("wide", ALL)
    assert after.left_forehand.share < 0.1


def test_the_farther_apart_the_more_come_between(found: dict[tuple[str, str], Middle]) -> None:
    assert found["wide", ALL].between.low > found["follow", ALL].between.high


def test_workers_and_more_shots_than_asked_for_change_nothing(
    usual: Scenario, found: dict[tuple[str, str], Middle]
) -> None:
    run = usual.run.model_copy(update={"shots": 10 * SHOTS})
    longer = usual.model_copy(update={"run": run})
    with Processes(2) as workers:
        assert middle(longer, workers, shots=SHOTS) == tuple(found.values())


def test_rows_say_what_was_counted_and_of_what(
    usual: Scenario, found: dict[tuple[str, str], Middle]
) -> None:
    rows = middle_rows(list(found.values()))
    assert [(row["policy"], row["return_direction"]) for row in rows] == list(found)
    for row, each in zip(rows, found.values(), strict=True):
        for name in SHARES:
            columns = (name, f"{name}_of", f"{name}_share", f"{name}_low", f"{name}_high")
            assert tuple(row[column] for column in columns) == getattr(each, name)


def test_no_ball_in_play_has_no_shares() -> None:
    into_the_net = {
        "shots": {"drive": 1, "drop": 0, "lob": 0},
        "drive": {"net_clearance": "0 ft"},
        "errors": {"speed": "0 %", "elevation": "-25 deg", "azimuth": "0 deg"},
    }
    for each in middle(scenario(opponents=into_the_net, run={"shots": 32})):
        assert (each.in_play, each.between.balls, each.forehand.of) == (0, 0, 0)
        assert all(map(math.isnan, each.between[2:]))
