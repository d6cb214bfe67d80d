"""Arm, paddle and lunge against published proportions and the trade's rule of thumb."""

from __future__ import annotations

from functools import partial

import numpy as np
import pytest

from sim.players import Player
from sim.reach import arm_length, extent_of, highest_reach
from sim.track import Track
from tests.published.check import COMMON_PRACTICE, Check, Property, Range, Source
from tests.published.test_ball_and_air import EQUIPMENT_STANDARD

PLAYER = Player.model_validate({"height": "67 in"})
# Segment lengths as parts of stature.
DRILLIS_AND_CONTINI = Source("Drillis and Contini 1966", "quoted")
UPPER_ARM, FOREARM, HAND, BIACROMIAL, SHOULDER_HEIGHT = 0.186, 0.146, 0.108, 0.259, 0.818
INCH = 1.0 / 12.0
SHOULDER = SHOULDER_HEIGHT * 0.93 * 67.0 * INCH


def ball_at(height: float) -> Track:
    """A ball seen two seconds after the opponents' contact, a step behind the line."""
    one = np.ones((1, 1))
    return Track(2.0 * one, 0.0 * one, -8.0 * one, height * one, one > 0.0, one > 0.0)


def flat_reach(player: Player, height: float, which: str) -> float:
    return float(getattr(extent_of(player, ball_at(height), np.zeros(1)), which)[0, 0])


def test_the_sweet_spot_is_on_the_paddle() -> None:
    assert 0.0 < PLAYER.paddle_sweet_spot < PLAYER.paddle_tip


def test_bending_reaches_low_balls() -> None:
    # Down to 1.2 ft below the shoulder a bend keeps the full flat reach; below, the arm slopes.
    level = flat_reach(PLAYER, SHOULDER, "control_forehand")
    assert flat_reach(PLAYER, SHOULDER - 1.2, "control_forehand") == pytest.approx(level)
    arm = arm_length(PLAYER, stretched=False)
    low = 0.129 * 67.0 * INCH + np.sqrt(arm**2 - 1.0**2)
    assert flat_reach(PLAYER, SHOULDER - 2.2, "control_forehand") == pytest.approx(low)
    # No bend helps with a high ball: three, four, five: 3 ft up, 5 ft of arm, 4 ft out.
    long_arm = PLAYER.model_copy(update={"paddle_sweet_spot": 5.0 - PLAYER.arm_share * 67.0 / 12.0})
    found = flat_reach(long_arm, SHOULDER + 3.0, "control_forehand")
    assert found == pytest.approx(0.129 * 67.0 * INCH + 4.0)


def test_nothing_is_reached_above_the_tip() -> None:
    top = highest_reach(PLAYER)
    assert flat_reach(PLAYER, top - 1e-6, "stretch_forehand") > 0.0
    assert flat_reach(PLAYER, top + 1e-6, "stretch_forehand") == -np.inf


def test_arm_and_lunge_take_their_time() -> None:
    # Ramps: 0.18 s until the arm is out, 0.45 s until the lunge is complete (our assumptions).
    body, tip = 0.129 * 67.0 * INCH, arm_length(PLAYER, stretched=True)
    lunge = 6.0 - body - tip
    for since, arm_share, lunge_share in ((0.0, 0.0, 0.0), (0.09, 0.5, 0.2), (0.225, 1.0, 0.5)):
        track = ball_at(SHOULDER)
        extent = extent_of(PLAYER, track, np.array([2.0 - since]))
        expected = body + arm_share * tip + lunge_share * lunge
        assert extent.stretch_forehand[0, 0] == pytest.approx(expected)


def paddle_beyond_the_hand() -> float:
    """From the middle of the hand to the tip (ft)."""
    return arm_length(PLAYER, stretched=True) - PLAYER.arm_share * PLAYER.height


def lunge() -> float:
    """What the lunge adds to a straight arm (ft)."""
    straight = (PLAYER.shoulder_offset_share + PLAYER.arm_share) * PLAYER.height
    return PLAYER.stretched_reach - straight - PLAYER.paddle_tip


BY_HAND = Source("Lengths of body and paddle added by hand", "computed")
LUNGE_STUDY = Source("Maximum lateral lunge, J. Sport Rehabil. 2004", "read")
CHECKS = [
    Check(
        "arm to the middle of the hand, part of stature",
        DRILLIS_AND_CONTINI,
        UPPER_ARM + FOREARM + 0.5 * HAND,
        lambda: PLAYER.arm_share,
        allowed=3.8e-7,
        why="rounding of the arithmetic",
        decimals=3,
        origin="taken over",
    ),
    Check(
        "height of the shoulder, part of stature",
        DRILLIS_AND_CONTINI,
        SHOULDER_HEIGHT,
        lambda: PLAYER.shoulder_share,
        decimals=3,
        origin="taken over",
    ),
    Check(
        "half the breadth of the shoulders, part of stature",
        DRILLIS_AND_CONTINI,
        0.5 * BIACROMIAL,
        lambda: PLAYER.shoulder_offset_share,
        allowed=0.0006,
        why="kept to three decimals",
        decimals=4,
        origin="taken over",
    ),
    # The grip is a hand's width from the butt at most, so that the tip is at most a whole paddle
    # from the middle of the hand.
    Check(
        "paddle beyond the middle of the hand",
        EQUIPMENT_STANDARD,
        Range(0.0, 17.0),
        lambda: paddle_beyond_the_hand() / INCH,
        unit="in",
        decimals=1,
        origin="set to fit",
    ),
    Check(
        "full stretch of a player of 67 in",
        COMMON_PRACTICE,
        72.0,
        lambda: PLAYER.stretched_reach / INCH,
        allowed=7.2e-5,
        why="rounding of the arithmetic",
        unit="in",
        decimals=1,
        origin="taken over",
    ),
    Check(
        "full stretch as the reach has it, at shoulder height",
        COMMON_PRACTICE,
        72.0,
        lambda: flat_reach(PLAYER, SHOULDER, "stretch_forehand") / INCH,
        allowed=7.2e-5,
        why="rounding of the arithmetic",
        unit="in",
        decimals=1,
    ),
    # Half the shoulders 8.643 in, arm to the middle of the hand 25.862 in, to the sweet spot 8.52
    # in more; the backhand arm is 0.92 as long.
    *(
        Check(
            f"{hand} in control at shoulder height, player of 67 in",
            BY_HAND,
            inches,
            partial(lambda which: flat_reach(PLAYER, SHOULDER, which) / INCH, f"control_{hand}"),
            allowed=0.01,
            why="the sum by hand is rounded",
            unit="in",
        )
        for hand, inches in (("forehand", 43.03), ("backhand", 40.28))
    ),
    Check(
        "what the lunge adds to a straight arm",
        LUNGE_STUDY,
        Range(0.0, 114.0 - 2.0 * 11.0),
        lambda: lunge() * 30.48,
        why="less than the greatest lunge of nearly all women, 114 cm less two sd of 11 cm",
        unit="cm",
        decimals=0,
    ),
]
PROPERTIES = [
    Property(
        "Bending reaches low balls, and no high ones; triangles by hand.",
        BY_HAND,
        test_bending_reaches_low_balls,
    ),
    Property(
        "Nothing is reached above the tip of the paddle.",
        BY_HAND,
        test_nothing_is_reached_above_the_tip,
    ),
]
