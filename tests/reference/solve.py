"""General root finders for a launch that meets three conditions at once.

No section of the model page: it says what a ball is to do, and any method that finds it will do.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from scipy.optimize import root

from tests.reference.ball import Ball, scaled
from tests.reference.court import Vec3, height_to_aim_over
from tests.reference.flight import apex, clearance_at_net, fly

AIM_TOLERANCE = 1e-7  # ft, largest miss of an aiming condition that is accepted


class NotReachableError(Exception):
    """No launch meets the conditions that were asked for."""


def solve_velocity(
    misses: Callable[[Vec3, Ball], list[float]], vacuum_guess: Vec3, ball: Ball
) -> Vec3:
    """Find the ground velocity for which three misses (ft) vanish.

    Tried directly from the guess for a ball in vacuum; if that fails, drag, lift and wind are
    brought in step by step, each solution the next one's guess.
    """
    for steps in (1, 4, 16):
        guess = vacuum_guess
        for step in range(1, steps + 1):
            part_ball = scaled(ball, step / steps)

            def function(v: Any, part_ball: Ball = part_ball) -> list[float]:
                velocity = (float(v[0]), float(v[1]), float(v[2]))
                return [m if math.isfinite(m) else -1e3 for m in misses(velocity, part_ball)]

            answer = root(
                function, guess, method="hybr", tol=1e-10, options={"eps": 1e-13, "maxfev": 200}
            )
            guess = (float(answer.x[0]), float(answer.x[1]), float(answer.x[2]))
        if max(abs(m) for m in misses(guess, ball)) < AIM_TOLERANCE:
            return guess
    raise NotReachableError("no launch velocity meets the three conditions")


def _side_miss(
    velocity: Vec3, landing: Vec3, landing_x: float | None, azimuth: float | None
) -> float:
    """Sideways miss (ft or ft/s): of the landing ``x``, or of a launch azimuth given instead."""
    if azimuth is not None:
        return velocity[0] * math.cos(azimuth) + velocity[1] * math.sin(azimuth)
    assert landing_x is not None
    return landing[0] - landing_x


def velocity_to_top(
    position: Vec3,
    landing_x: float | None,
    azimuth: float | None,
    landing_y: float,
    apex_height: float,
    spin: float,
    ball: Ball,
) -> Vec3:
    """Ground velocity of the ball with a given apex and landing.

    Sideways either ``landing_x`` (ft) or ``azimuth`` (rad from ``-y``, positive towards ``+x``)
    is given, the other None.
    """
    x0, y0, z0 = position
    if apex_height <= z0:
        raise NotReachableError("the apex is not above the strike")

    def misses(velocity: Vec3, part_ball: Ball) -> list[float]:
        landing = fly(position, velocity, spin, part_ball).landing_position
        return [
            _side_miss(velocity, landing, landing_x, azimuth),
            landing[1] - landing_y,
            apex(position, velocity, spin, part_ball)[1] - apex_height,
        ]

    vz = math.sqrt(2.0 * ball.g * (apex_height - z0))
    time = vz / ball.g + math.sqrt(2.0 * apex_height / ball.g)
    vy = (landing_y - y0) / time
    if landing_x is not None:
        vx = (landing_x - x0) / time
    else:
        assert azimuth is not None
        vx = -vy * math.tan(azimuth)
    return solve_velocity(misses, (vx, vy, vz), ball)


def velocity_over_net(
    position: Vec3,
    landing_x: float | None,
    azimuth: float | None,
    landing_y: float,
    clearance: float,
    spin: float,
    ball: Ball,
) -> Vec3:
    """Ground velocity of the ball with a given net clearance and landing (see above)."""
    x0, y0, z0 = position

    def misses(velocity: Vec3, part_ball: Ball) -> list[float]:
        landing = fly(position, velocity, spin, part_ball).landing_position
        return [
            _side_miss(velocity, landing, landing_x, azimuth),
            landing[1] - landing_y,
            clearance_at_net(position, velocity, spin, part_ball) - clearance,
        ]

    # Vacuum guess: the parabola through the strike, the point above the net and the landing.
    if landing_x is not None:
        guess_x = landing_x
    else:
        assert azimuth is not None
        guess_x = x0 + (y0 - landing_y) * math.tan(azimuth)
    along = math.hypot(guess_x - x0, landing_y - y0)
    to_net = along * y0 / (y0 - landing_y)
    net_x = x0 + (guess_x - x0) * y0 / (y0 - landing_y)
    slope_to_net = (height_to_aim_over(net_x) + ball.radius + clearance - z0) / to_net
    slope_to_landing = -z0 / along
    curvature = max(1e-4, (slope_to_net - slope_to_landing) / (along - to_net))
    flat = math.sqrt(ball.g / (2.0 * curvature))
    rise = slope_to_net + curvature * to_net
    guess = (
        flat * (guess_x - x0) / along,
        flat * (landing_y - y0) / along,
        flat * rise,
    )
    return solve_velocity(misses, guess, ball)
