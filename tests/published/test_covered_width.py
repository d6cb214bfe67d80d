"""How much of the width two players cover, against the trade's rule of thumb.

Common practice, no source: two 67 in players with a step either way cover about 12 to 14 ft of the
20 ft width; they stand about 6 ft apart, 8 ft at most.

What the model says about it, for a ball at waist height (0.58 of stature, about the navel; common
anthropometry, memory) that passes at the players' depth:

- in control without moving the feet, the arm out: 12.9, 13.9 and 13.9 ft for a spacing of 6, 7 and
  8 ft, at 8 ft with a gap in the middle. The rule of thumb comes out here.
- in control 0.2 s after the reaction, the arm just out, with the run made by then: 13.4, 14.4 and
  14.7 ft.
- in control with a step of 3 to 4 ft straight ahead (2.6 to 3.4 ft sideways, at 0.85): 18 to 21.7
  ft. Taken literally, "with a step either way" is more than the rule promises.

So the rule is met by the reach of the arms alone. A step of that size takes the default player
about 0.75 s after the reaction, which third shots rarely leave: the rule is the better guide to
fast balls.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from sim.players import Player
from sim.reach import extent_of, margins
from sim.run_in import Place, straight_run
from sim.track import Track
from tests.published.check import COMMON_PRACTICE, Check, Property, Range
from tests.published.test_body import BY_HAND
from tests.published.test_running import RUN_EQUATION

PLAYER = Player.model_validate({"height": "67 in"})
ROOTED = PLAYER.model_copy(update={"top_speed": 1e-9})
WAIST = 0.58 * 67.0 / 12.0
DEPTH = 8.0
# Both by hand (`test_body`): forehand 43.03 in, backhand 40.28 in, so that two right-handers reach
# 40.28 in to the left of the left one and 43.03 in to the right of the right one.
ARMS = (43.03 + 40.28) / 12.0
GRID = np.linspace(-20.0, 20.0, 8001)
FINE = 2.5 * (GRID[1] - GRID[0])


def covered_in_control(
    spacing: float, since_reaction: float, player: Player = PLAYER
) -> np.ndarray:
    """Which crossing points of `GRID`, at the pair's depth, one of the two has in control."""
    row = np.ones((1, GRID.size))
    time, every = since_reaction * row, row > 0.0
    track = Track(time, GRID[None, :], -DEPTH * row, WAIST * row, every, every)
    extent = extent_of(player, track, np.zeros(GRID.size))
    covered = np.zeros(GRID.size, bool)
    for side in (-0.5, 0.5):
        place = Place(np.full(GRID.size, side * spacing), np.full(GRID.size, -DEPTH))
        covered |= margins(player, track, extent, place)[0][0] >= 0.0
    return covered


def width_of(covered: np.ndarray) -> float:
    """Width (ft) of the covered points."""
    return float(np.count_nonzero(covered) * (GRID[1] - GRID[0]))


def gap_in_the_middle(covered: np.ndarray) -> bool:
    return bool(np.count_nonzero(np.diff(covered.astype(int))) > 2)


def time_for_step(feet: float) -> float:
    return brentq(lambda time: straight_run(PLAYER, np.array([time]))[0] - feet, 0.0, 5.0)


def width_with_a_step(spacing: float, step: float) -> float:
    """Width (ft) in control after a step of so many feet, straight ahead, to either side."""
    return width_of(covered_in_control(spacing, time_for_step(step)))


RUN_OF_A_FIFTH = 0.85 * float(straight_run(PLAYER, np.array([0.2]))[0])  # ft sideways


@pytest.mark.parametrize("spacing", [6.0, 7.0])
def test_without_a_step_by_hand(spacing: float) -> None:
    covered = covered_in_control(spacing, 0.2)
    assert not gap_in_the_middle(covered)
    # The arms, the spacing, and the run of the first fifth of a second, 0.21 ft, on either side.
    expected = spacing + ARMS + 2.0 * RUN_OF_A_FIFTH
    assert width_of(covered) == pytest.approx(expected, abs=0.01 + FINE)


def test_too_far_apart_exposes_the_middle() -> None:
    # Common practice, no source: 8 ft apart at most; too far apart exposes the middle. Both cover
    # 43.03 + 40.28 in and the short run either way: 7.4 ft each, which leaves 0.6 ft between them.
    covered = covered_in_control(8.0, 0.2)
    assert gap_in_the_middle(covered)
    expected = 2.0 * (ARMS + 2.0 * RUN_OF_A_FIFTH)
    assert width_of(covered) == pytest.approx(expected, abs=0.01 + FINE)


@pytest.mark.parametrize("step", [3.0, 4.0])
@pytest.mark.parametrize("spacing", [6.0, 7.0, 8.0])
def test_with_a_whole_step_the_model_covers_more(spacing: float, step: float) -> None:
    # By hand: the arms, the spacing, and 0.85 of the step on either side.
    width = width_with_a_step(spacing, step)
    assert width == pytest.approx(spacing + ARMS + 2.0 * 0.85 * step, abs=0.01 + FINE)


def way_of_a_drive() -> float:
    """Seconds of a drive of 40 mph that keeps 85 % of its speed, over 30 ft, reaction included."""
    return 30.0 / 54.0


def test_a_step_takes_longer_than_fast_balls_leave() -> None:
    assert time_for_step(3.0) > way_of_a_drive()


RULE_OF_THUMB = Range(12.0, 14.0)  # ft
CHECKS = [
    *(
        Check(
            f"width two cover without a step, {spacing:.0f} ft apart",
            COMMON_PRACTICE,
            RULE_OF_THUMB,
            lambda spacing=spacing: width_of(covered_in_control(spacing, 0.2, ROOTED)),
            unit="ft",
            decimals=1,
        )
        for spacing in (6.0, 7.0, 8.0)
    ),
    Check(
        "width two cover with a step of 3 ft either way, 6 ft apart",
        COMMON_PRACTICE,
        RULE_OF_THUMB,
        lambda: width_with_a_step(6.0, 3.0),
        unit="ft",
        decimals=1,
        differs="the rule says “with a step either way”; the arms alone give its width",
    ),
    Check(
        "time of a step of 3 ft",
        RUN_EQUATION,
        0.75,
        lambda: time_for_step(3.0),
        allowed=0.02,
        why="worked out by hand",
        unit="s",
    ),
]
PROPERTIES = [
    Property(
        "Arms, spacing and a short run add up to the width covered, 6 and 7 ft apart.",
        BY_HAND,
        test_without_a_step_by_hand,
    ),
    Property(
        "8 ft apart the middle is open.", COMMON_PRACTICE, test_too_far_apart_exposes_the_middle
    ),
    Property(
        "With a whole step the width is that worked out by hand.",
        BY_HAND,
        test_with_a_whole_step_the_model_covers_more,
    ),
]
