"""Section 13 of the model page, "Spare time".

How much later could a player have reacted and still had the ball in control?
"""

from __future__ import annotations

import math

from tests.reference.court import Vec2, Vec3
from tests.reference.reach import margin
from tests.reference.run_in import Player


def in_control(start: Vec2, ball_at: Vec3, volley: bool, q: float, player: Player) -> bool:
    """Whether a ball there can be had in control ``q`` seconds after the reaction."""
    return margin(start, ball_at, volley, False, q, player) >= 0.0


def time_needed(start: Vec2, ball_at: Vec3, volley: bool, player: Player) -> float:
    """Smallest time since the reaction (s) at which a ball there is in control; inf if none.

    More time never hurts, so that halving finds it.
    """
    if in_control(start, ball_at, volley, 0.0, player):
        return 0.0
    low, high = 0.0, 0.1
    while not in_control(start, ball_at, volley, high, player):
        low, high = high, 2.0 * high
        if high > 1000.0:
            return math.inf
    while high - low > 1e-9:
        middle = 0.5 * (low + high)
        if in_control(start, ball_at, volley, middle, player):
            high = middle
        else:
            low = middle
    return high
