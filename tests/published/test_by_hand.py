"""Whole rallies that can be worked out on paper.

Two kinds. In the first the third shot is handed to the engine in air so thin that the ball flies a
parabola, straight towards the net line; legs, reactions and places are chosen so that everything
follows from flat distances. In the second every distribution of a scenario is a single value and
the engine plays it from the return of serve on; without spin and wind the ball's way over the
ground is a straight line whatever the drag does, so that distances across it are known.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from sim import answers
from sim.answers import answer_all, details
from sim.ball import Ball
from sim.comparison import compare
from sim.court import Array
from sim.flight import Launch
from sim.rallies import Rally, follow_through, play
from sim.return_of_serve import Contact
from sim.scenario import Scenario
from sim.third_shot import ThirdShot
from tests.published.check import Check, Property, Source

GRAVITY = 9.80665 / 0.3048
THIN_AIR = Ball(drag=1e-9, magnus=0.0, radius=1.46 / 12.0, restitution=0.66, friction=0.5)
# From y = 22 ft, 3 ft up, at 60 ft/s level and 7 ft/s upwards. It takes 0.5 s to the players'
# depth of 8 ft, and is there 3 + 7 * 0.5 - g / 8 = 2.478 ft up; it passes the net 3.404 ft up and
# lands after 0.703 s, 20.2 ft deep.
PACE, UP, START_HEIGHT = 60.0, 7.0, 3.0
TIME_TO_PLAYERS = 30.0 / PACE
HEIGHT_AT_PLAYERS = START_HEIGHT + UP * TIME_TO_PLAYERS - 0.5 * GRAVITY * TIME_TO_PLAYERS**2

# Slow legs: 2 ft/s and 3 s. In the q seconds since the reaction they run 2 (q - 3 (1 - exp(-q /
# 3))) ft straight ahead and 0.85 of that sideways. A reaction of 0.05 s, below the shortest one,
# is raised to 0.12 s by the engine, but not by `follow_through`, which is told the reactions.
REACTION = 0.05
SINCE = TIME_TO_PLAYERS - REACTION
RUN = 0.85 * 2.0 * (SINCE - 3.0 * (1.0 - math.exp(-SINCE / 3.0)))

# A 67 in player. Shoulder 0.818 * 0.93 * 67 in = 4.248 ft, lowered by a bend of 1.2 ft to 3.048 ft:
# the ball is 0.570 ft below. Arm to the sweet spot 0.386 * 67 in + 0.71 ft = 2.865 ft, to the tip
# 3.275 ft; half the shoulders 0.129 * 67 in = 0.720 ft; full stretch 72 in.
HEIGHT = 67.0 / 12.0
DOWN = 0.818 * 0.93 * HEIGHT - 1.2 - HEIGHT_AT_PLAYERS
BODY = 0.129 * HEIGHT
TO_SWEET_SPOT = 0.386 * HEIGHT + 0.71
TO_TIP = 0.386 * HEIGHT + 1.12
LUNGE = 6.0 - (BODY + TO_TIP)
# The lunge takes 0.45 s: at 0.45 s after the reaction it is just complete.
FOREHAND_CONTROL = BODY + math.sqrt(TO_SWEET_SPOT**2 - DOWN**2) + RUN
FOREHAND_STRETCH = BODY + math.sqrt(TO_TIP**2 - DOWN**2) + LUNGE + RUN
BACKHAND_CONTROL = BODY + math.sqrt((0.92 * TO_SWEET_SPOT) ** 2 - DOWN**2) + RUN
BACKHAND_STRETCH = BODY + math.sqrt((0.92 * TO_TIP) ** 2 - DOWN**2) + LUNGE + RUN


def standing_pair(left: float, right: float, top_speed: str = "2 ft/s") -> Scenario:
    """Two 67 in players who stand 8 ft deep at ``left`` and ``right`` long before the shot."""
    player = {"height": "67 in", "top_speed": top_speed, "time_constant": "3 s"}
    centre = f"{0.5 * (left + right)} ft"
    return Scenario.model_validate(
        {
            "name": "by hand",
            "pair": {"left": player, "right": player},
            "policies": [
                {
                    "name": "stand",
                    "rule": "fixed",
                    "spacing": f"{right - left} ft",
                    "centres": {"line": centre, "middle": centre, "cross": centre},
                }
            ],
        }
    )


def straight_shots(x: Array) -> Rally:
    """Balls struck straight towards the pair, along lines at ``x``, an hour after the return."""
    one = np.ones(x.size)
    launch = Launch(0.0 * one, -PACE * one, UP * one, 0.0 * one)
    kind = np.zeros(x.size, int)
    return follow_through(
        ("line",),
        Contact(3600.0 * one, x, 22.0 * one, START_HEIGHT * one),
        ThirdShot(kind, kind, launch),
        {"left": REACTION * one, "right": REACTION * one},
        THIN_AIR,
    )


def outcome(scenario: Scenario, x: float) -> str:
    rally = straight_shots(np.array([x]))
    assert rally.in_play.size == 1
    (answer,) = answer_all(scenario, rally, scenario.policies)
    detail = details(scenario, rally, scenario.policies[0], answer)
    if not answer.reached[0]:
        return answers.LEAKS[answer.leak[0]]
    hand = "forehand" if detail.forehand[0] else "backhand"
    how = "in control" if answer.in_control[0] else "stretched"
    return f"{('left', 'right')[detail.player[0]]} {hand} {how}"


def test_the_numbers_on_paper() -> None:
    found = FOREHAND_CONTROL, FOREHAND_STRETCH, BACKHAND_CONTROL, BACKHAND_STRETCH
    assert [round(value, 2) for value in found] == [3.58, 6.0, 3.35, 5.74]


# Half an inch either side of each limit: the ball's nearest point is as it passes the players'
# depth, but a little later the legs have run on, which gains them a tenth of an inch at most.
STEP = 0.5 / 12.0


@pytest.mark.parametrize(
    ("x", "expected"),
    [
        (3.0 + FOREHAND_CONTROL - STEP, "right forehand in control"),
        (3.0 + FOREHAND_CONTROL + STEP, "right forehand stretched"),
        (3.0 + FOREHAND_STRETCH - STEP, "right forehand stretched"),
        (3.0 + FOREHAND_STRETCH + STEP, "line"),
        (-3.0 - BACKHAND_CONTROL + STEP, "left backhand in control"),
        (-3.0 - BACKHAND_CONTROL - STEP, "left backhand stretched"),
        (-3.0 - BACKHAND_STRETCH + STEP, "left backhand stretched"),
        (-3.0 - BACKHAND_STRETCH - STEP, "line"),
        (-0.5, "left forehand in control"),
        (1.0, "right backhand in control"),
    ],
)
def test_who_reaches_a_straight_ball(x: float, expected: str) -> None:
    assert outcome(standing_pair(-3.0, 3.0), x) == expected


def test_the_gap_in_the_middle() -> None:
    # 16 ft apart: the left one's forehand ends at -8 + 6.00, the right one's backhand at 8 - 5.74.
    wide = standing_pair(-8.0, 8.0)
    assert outcome(wide, -8.0 + FOREHAND_STRETCH - STEP) == "left forehand stretched"
    assert outcome(wide, -8.0 + FOREHAND_STRETCH + STEP) == "middle"
    assert outcome(wide, 8.0 - BACKHAND_STRETCH - STEP) == "middle"
    assert outcome(wide, 8.0 - BACKHAND_STRETCH + STEP) == "right backhand stretched"


def union_within_court(intervals: list[tuple[float, float]]) -> float:
    """Length of the union of intervals, within the court, over its width."""
    covered, end = 0.0, -10.0
    for low, high in sorted(intervals):
        low, high = max(low, end), min(high, 10.0)
        covered += max(high - low, 0.0)
        end = max(end, high)
    return covered / 20.0


# A crossing point that is uniform over the width, as 2,000 equally spaced ones: shares are exact to
# one such point for each end of an interval, 4 in 2,000, and the short run of `STEP` for each.
CROSSINGS = -10.0 + (np.arange(2000) + 0.5) / 100.0
SHARE_TOLERANCE = 4.0 / 2000.0 + 4.0 * 0.01 / 20.0


@pytest.mark.parametrize(("left", "right"), [(-3.0, 3.0), (-5.0, 5.0), (-8.0, 8.0), (-9.0, -7.0)])
def test_share_of_uniform_crossings_is_interval_arithmetic(left: float, right: float) -> None:
    scenario = standing_pair(left, right)
    rally = straight_shots(CROSSINGS)
    assert rally.in_play.size == CROSSINGS.size
    (answer,) = answer_all(scenario, rally, scenario.policies)
    control = [(p - BACKHAND_CONTROL, p + FOREHAND_CONTROL) for p in (left, right)]
    stretch = [(p - BACKHAND_STRETCH, p + FOREHAND_STRETCH) for p in (left, right)]
    assert answer.in_control.mean() == pytest.approx(
        union_within_court(control), abs=SHARE_TOLERANCE
    )
    assert answer.reached.mean() == pytest.approx(union_within_court(stretch), abs=SHARE_TOLERANCE)
    # Where balls get through follows from the same intervals.
    x, middle = CROSSINGS, answer.leak == answers.THROUGH_MIDDLE
    expected = (x > left + FOREHAND_STRETCH) & (x < right - BACKHAND_STRETCH)
    assert np.count_nonzero(middle != expected) <= 4


def test_legs_without_limit_reach_everything() -> None:
    scenario = standing_pair(-3.0, 3.0)
    fast = scenario.pair.left.model_copy(update={"top_speed": 1e4, "time_constant": 1e-3})
    pair = scenario.pair.model_copy(update={"left": fast, "right": fast})
    quick = scenario.model_copy(update={"pair": pair})
    rally = straight_shots(CROSSINGS)
    (answer,) = answer_all(quick, rally, quick.policies)
    assert answer.in_control.all()


# --- a scenario without chance ---------------------------------------------------------------


def without_chance(landing: str, centre: str, reaction: str = "0.2 s") -> Scenario:
    """One policy, one return, one intended ball: a drop 20 ft deep that lands at ``landing``."""
    player = {"reaction": reaction, "height": "67 in"}
    return Scenario.model_validate(
        {
            "name": "without chance",
            "pair": {"left": player, "right": player},
            "return_of_serve": {
                "directions": ["middle"],
                "lateral": {"middle": "0 ft"},
                "landing_depth": "15 ft",
                "top": "8 ft",
            },
            "opponents": {
                "contact_height": "2 ft",
                "shots": {"drive": 0, "drop": 1, "lob": 0},
                "lanes": {"line": 0, "middle": 1, "cross": 0},
                "middle": landing,
                "drop": {"landing_depth": "20 ft", "net_clearance": "1.5 ft"},
                "errors": {"speed": "0 %", "elevation": "0 deg", "azimuth": "0 deg"},
            },
            "policies": [
                {
                    "name": "stand",
                    "rule": "fixed",
                    "spacing": "6 ft",
                    "depth": "21 ft",
                    "centres": {"middle": centre},
                }
            ],
            "run": {"shots": 64},
        }
    )


def test_every_shot_of_a_scenario_without_chance_is_the_same() -> None:
    rally = play(without_chance("2 ft", "0 ft"), "middle", shots=64)
    assert rally.in_play.size == 64
    # All land where they are meant to, and clear the net as meant (`test_aim` says how closely).
    np.testing.assert_allclose(rally.rebound.origin_x, 2.0, atol=1e-3)
    np.testing.assert_allclose(rally.rebound.origin_y, -20.0, atol=1e-3)
    np.testing.assert_allclose(rally.net_clearance, 1.5, atol=1e-3)
    np.testing.assert_allclose(rally.contact.z, 2.0, atol=1e-3)
    # The return came from (5, -22.5) by way of (0, 15): x = -5 / 37.5 ft for every foot beyond.
    beyond = rally.contact.y - 15.0
    np.testing.assert_allclose(rally.contact.x, -5.0 / 37.5 * beyond, atol=1e-3)


def test_where_the_ball_passes_by_hand() -> None:
    scenario = without_chance("2 ft", "0 ft")
    rally = play(scenario, "middle", shots=8)
    # A straight line over the ground from the contact (x, y) to (2, -20).
    x, y = rally.contact.x[0], rally.contact.y[0]
    expected = x + (2.0 - x) * (y + 8.0) / (y + 20.0)
    passing, _, arrived = answers.passing(rally, np.arange(8), np.full(8, -8.0))
    assert arrived.all()
    assert passing == pytest.approx(expected, abs=1e-3)


@pytest.mark.parametrize(
    ("landing", "centre", "reaction", "how", "where"),
    [
        # The player stands a foot behind the ball's landing point.
        ("2 ft", "5 ft", "0.2 s", "in control", "left"),
        ("2 ft", "-1 ft", "0.2 s", "in control", "right"),
        # Both 13 ft and more from a ball along a sideline, and asleep for 1.5 s, when the ball has
        # passed the depth of 30 ft beyond which nothing is reached. The contact is left of the
        # centre (the return crosses it on its way from the right): the right sideline is the far
        # one.
        ("9 ft", "-10 ft", "1.5 s", "through", "cross"),
        ("-9 ft", "10 ft", "1.5 s", "through", "line"),
    ],
)
def test_outcome_of_a_scenario_without_chance(
    landing: str, centre: str, reaction: str, how: str, where: str
) -> None:
    comparison = compare(without_chance(landing, centre, reaction))
    total = comparison.summary_rows[0]
    assert total["in_play"] == total["shots"] == 64
    if how == "in control":
        assert total["in_control"] == 64
        rally = play(comparison.scenario, "middle", shots=64)
        policy = comparison.scenario.policies[0]
        (answer,) = answer_all(comparison.scenario, rally, [policy])
        assert answer.control[where].all()
    else:
        assert total["reached"] == 0
        through = {row["leak"]: row["balls"] for row in comparison.leak_rows[: len(answers.LEAKS)]}
        assert through[where] == 64


ON_PAPER = Source("Flat distances and intervals on paper", "computed")
CHECKS: list[Check] = []
PROPERTIES = [
    Property(
        "Whole shots in thin air: who reaches them, half an inch either side of each limit.",
        ON_PAPER,
        test_who_reaches_a_straight_ball,
    ),
    Property(
        "Whole shots in thin air: where the gap in the middle begins and ends.",
        ON_PAPER,
        test_the_gap_in_the_middle,
    ),
    Property(
        "Shares of evenly spread shots are lengths of intervals.",
        ON_PAPER,
        test_share_of_uniform_crossings_is_interval_arithmetic,
    ),
    Property(
        "A scenario without chance comes out as on paper, from the return on.",
        ON_PAPER,
        test_outcome_of_a_scenario_without_chance,
    ),
]
