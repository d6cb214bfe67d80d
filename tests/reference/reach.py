"""Section 12 of the model page, "Reach".

The ball is reached, in control or at full stretch, if its ground distance from the feet is
within the reach at any one instant.
"""

from __future__ import annotations

import math

from tests.reference.court import NVZ_LINE, Vec2, Vec3
from tests.reference.run_in import Player, run_distance, run_towards

# Body, as parts of stature, and racket arm.
SHOULDER = 0.818 * 0.93  # shoulder height in playing posture
BODY_TO_SHOULDER = 0.129
ARM_TO_GRIP = 0.186 + 0.146 + 0.054
SWEET_SPOT = 0.71  # ft from the grip
TIP = 1.12  # ft from the grip
CONTROL_RAMP = 0.18  # s until the arm is fully out
LUNGE_RAMP = 0.45  # s until the lunge is complete


def feet_position(
    start: Vec2, ball_xy: Vec2, volley: bool, q: float, player: Player
) -> Vec2 | None:
    """Where the feet are for a ball over ``ball_xy``, ``q`` seconds after the reaction.

    Straight towards the ball; for a volley not over the NVZ line: there they are on the line, at
    the point nearest to the ball that can be got to. None for a player who stood in the zone and
    cannot be back at the line in time for a volley.
    """
    s = run_distance(q, player)
    feet = run_towards(start, ball_xy, s, player)
    if not volley or feet[1] <= NVZ_LINE:
        return feet
    to_line = NVZ_LINE - start[1]
    along = 1.0 if to_line > 0.0 else player.back
    left_over = s**2 - (to_line / along) ** 2
    if left_over < 0.0:
        if left_over < -1e-9:
            return None
        left_over = 0.0
    sideways = player.lateral * math.sqrt(left_over)
    x = min(start[0] + sideways, max(start[0] - sideways, ball_xy[0]))
    return x, NVZ_LINE


def shoulder_height(player: Player) -> float:
    """Height of the shoulder (ft) in playing posture."""
    return SHOULDER * player.height


def arm_length(player: Player, paddle: float, forehand: bool) -> float:
    """Shoulder to sweet spot or tip (ft), ``paddle`` feet beyond the grip."""
    length = ARM_TO_GRIP * player.height + paddle
    return length if forehand else player.backhand * length


def is_forehand(ball_x: float, feet_x: float, player: Player) -> bool:
    """True if a ball at ``ball_x`` is on the forehand of a player who stood at ``feet_x``."""
    hand = 1.0 if player.right_handed else -1.0
    return (ball_x - feet_x) * hand >= 0.0


def ramp(fraction: float) -> float:
    """Clip to [0, 1]."""
    return min(1.0, max(0.0, fraction))


def flat_reach(z: float, forehand: bool, stretched: bool, q: float, player: Player) -> float | None:
    """Ground distance (ft) from the feet at which a ball at height ``z`` can be played.

    Args:
        z: height of the ball's centre (ft).
        forehand: on the forehand side.
        stretched: at full stretch (to the tip, with a lunge); else in control (to the sweet spot).
        q: time since the reaction (s).
        player: who plays.

    Returns:
        The reach, or None if the racket does not get to that height at all.
    """
    shoulder = shoulder_height(player)
    dz = z - shoulder if z >= shoulder else max(0.0, shoulder - z - player.bend)
    length = arm_length(player, TIP if stretched else SWEET_SPOT, forehand)
    if dz > length:
        return None
    body = BODY_TO_SHOULDER * player.height
    reach = body + math.sqrt(length**2 - dz**2) * ramp(q / CONTROL_RAMP)
    if stretched:
        lunge = max(0.0, player.full_stretch - body - arm_length(player, TIP, True))
        reach += lunge * ramp(q / LUNGE_RAMP)
    return reach


def margin(
    start: Vec2, ball_at: Vec3, volley: bool, stretched: bool, q: float, player: Player
) -> float:
    """Reach minus ground distance (ft) for a ball at one instant.

    Minus infinity if it cannot be played: before the reaction (``q < 0``), too high or too low,
    or a volley by a player caught inside the zone.
    """
    if q < 0.0:
        return -math.inf
    feet = feet_position(start, (ball_at[0], ball_at[1]), volley, q, player)
    reach = flat_reach(ball_at[2], is_forehand(ball_at[0], start[0], player), stretched, q, player)
    if feet is None or reach is None:
        return -math.inf
    return reach - math.hypot(ball_at[0] - feet[0], ball_at[1] - feet[1])
