"""Arm, paddle and lunge against published proportions and the trade's rule of thumb."""

from __future__ import annotations

import numpy as np
import pytest

from sim.players import Player
from sim.reach import arm_length, extent_of, highest_reach
from sim.track import Track

PLAYER = Player.model_validate({"height": "67 in"})
# Drillis and Contini 1966, in Winter (quoted): segment lengths as parts of stature.
UPPER_ARM, FOREARM, HAND, BIACROMIAL, SHOULDER_HEIGHT = 0.186, 0.146, 0.108, 0.259, 0.818
INCH = 1.0 / 12.0


def ball_at(height: float) -> Track:
    """A ball seen two seconds after the opponents' contact, a step behind the line."""
    one = np.ones((1, 1))
    return Track(2.0 * one, 0.0 * one, -8.0 * one, height * one, one > 0.0, one > 0.0)


def flat_reach(player: Player, height: float, which: str) -> float:
    return float(getattr(extent_of(player, ball_at(height), np.zeros(1)), which)[0, 0])


def test_proportions_of_the_body() -> None:
    assert PLAYER.arm_share == pytest.approx(UPPER_ARM + FOREARM + 0.5 * HAND)
    assert PLAYER.shoulder_share == SHOULDER_HEIGHT
    # Half the biacromial breadth, 0.1295, kept to three decimals.
    assert PLAYER.shoulder_offset_share == pytest.approx(0.5 * BIACROMIAL, abs=0.0006)


def test_sweet_spot_and_tip_fit_the_equipment_standard() -> None:
    # Equipment standard (quoted): paddle no longer than 17 in. The grip is a hand's width from the
    # butt at most, so that the tip is at most 17 in from the middle of the hand.
    assert arm_length(PLAYER, stretched=True) - PLAYER.arm_share * 67.0 * INCH <= 17.0 * INCH
    assert 0.0 < PLAYER.paddle_sweet_spot < PLAYER.paddle_tip


def test_stretched_reach_of_72_inches() -> None:
    # Common practice, no source: a 67 in player's paddle tip, stretched out, is 72 in from the
    # standing mark.
    assert PLAYER.stretched_reach == pytest.approx(6.0)
    shoulder = SHOULDER_HEIGHT * 0.93 * 67.0 * INCH
    assert flat_reach(PLAYER, shoulder, "stretch_forehand") == pytest.approx(6.0)


def test_reach_at_shoulder_height_by_hand() -> None:
    # 67 in: half the shoulders 8.643 in, arm to the middle of the hand 25.862 in, to the sweet spot
    # 8.52 in more: 43.03 in on the forehand side; the backhand arm is 0.92 as long: 40.28 in.
    shoulder = SHOULDER_HEIGHT * 0.93 * 67.0 * INCH
    assert flat_reach(PLAYER, shoulder, "control_forehand") / INCH == pytest.approx(43.03, abs=0.01)
    assert flat_reach(PLAYER, shoulder, "control_backhand") / INCH == pytest.approx(40.28, abs=0.01)


def test_bending_reaches_low_balls() -> None:
    # Down to 1.2 ft below the shoulder a bend keeps the full flat reach; below, the arm slopes.
    shoulder = SHOULDER_HEIGHT * 0.93 * 67.0 * INCH
    level = flat_reach(PLAYER, shoulder, "control_forehand")
    assert flat_reach(PLAYER, shoulder - 1.2, "control_forehand") == pytest.approx(level)
    arm = arm_length(PLAYER, stretched=False)
    low = 0.129 * 67.0 * INCH + np.sqrt(arm**2 - 1.0**2)
    assert flat_reach(PLAYER, shoulder - 2.2, "control_forehand") == pytest.approx(low)
    # No bend helps with a high ball: three, four, five: 3 ft up, 5 ft of arm, 4 ft out.
    long_arm = PLAYER.model_copy(update={"paddle_sweet_spot": 5.0 - PLAYER.arm_share * 67.0 / 12.0})
    found = flat_reach(long_arm, shoulder + 3.0, "control_forehand")
    assert found == pytest.approx(0.129 * 67.0 * INCH + 4.0)


def test_nothing_is_reached_above_the_tip() -> None:
    top = highest_reach(PLAYER)
    assert flat_reach(PLAYER, top - 1e-6, "stretch_forehand") > 0.0
    assert flat_reach(PLAYER, top + 1e-6, "stretch_forehand") == -np.inf


def test_lunge_is_shorter_than_a_maximum_lunge() -> None:
    # Maximum lateral lunge 131 +- 12 cm (men), 114 +- 11 cm (women), n 57 (J. Sport Rehabil. 13:44,
    # 2004, read). What the lunge adds to a straight arm is less than the women's mean less two sd.
    straight = (PLAYER.shoulder_offset_share + PLAYER.arm_share) * PLAYER.height + PLAYER.paddle_tip
    lunge_cm = (PLAYER.stretched_reach - straight) * 30.48
    assert 0.0 < lunge_cm < 114.0 - 2.0 * 11.0


def test_arm_and_lunge_take_their_time() -> None:
    # Ramps: 0.18 s until the arm is out, 0.45 s until the lunge is complete (our assumptions).
    shoulder = SHOULDER_HEIGHT * 0.93 * 67.0 * INCH
    body, tip = 0.129 * 67.0 * INCH, arm_length(PLAYER, stretched=True)
    lunge = 6.0 - body - tip
    for since, arm_share, lunge_share in ((0.0, 0.0, 0.0), (0.09, 0.5, 0.2), (0.225, 1.0, 0.5)):
        track = ball_at(shoulder)
        extent = extent_of(PLAYER, track, np.array([2.0 - since]))
        expected = body + arm_share * tip + lunge_share * lunge
        assert extent.stretch_forehand[0, 0] == pytest.approx(expected)
