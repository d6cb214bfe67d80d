"""The bounce: a hollow sphere that slides or grips, with no tangential rebound."""

from __future__ import annotations

from typing import Final

import numpy as np

from sim.ball import Ball
from sim.court import Array
from sim.flight import Launch

# Moment of inertia of a thin hollow sphere, as a part of m r^2.
INERTIA_FACTOR: Final = 2.0 / 3.0


def bounce(x: Array, y: Array, z: Array, spin: Array, ball: Ball) -> Launch:
    """Velocity and spin after the court, from the ground velocity (ft/s) and spin (rad/s) before.

    All arrays have shape (shots,); ``z`` is negative (falling). Friction passes on an impulse of at
    most ``mu (1 + e) u``. Where that is enough to stop the slipping the ball leaves rolling,
    elsewhere it slides throughout. The direction over the ground stays.

    Source: R. Cross, Grip-slip behavior of a bouncing ball, Am. J. Phys. 70 (2002) 1093, with the
    tangential rebound left out (abstract read; the equations are the textbook ones).
    """
    speed = np.sqrt(x * x + y * y)
    down = np.maximum(-z, 0.0)
    surface = ball.radius * spin
    rolling = (speed + INERTIA_FACTOR * surface) / (1.0 + INERTIA_FACTOR)
    most = ball.friction * (1.0 + ball.restitution) * down
    loss = np.clip(speed - rolling, -most, most)
    after = np.maximum(speed - loss, 0.0)
    keep = after / np.maximum(speed, 1e-9)
    return Launch(
        x=keep * x,
        y=keep * y,
        z=ball.restitution * down,
        spin=spin + loss / (INERTIA_FACTOR * ball.radius),
    )
