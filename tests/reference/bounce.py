"""Section 4 of the model page, "Bounce".

A thin hollow sphere (moment of inertia `2/3 m r^2`) that slips or grips, with no tangential
rebound
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from tests.reference.ball import Ball
from tests.reference.court import Vec3
from tests.reference.flight import Flight, fly

INERTIA = 2.0 / 3.0  # hollow sphere


def bounce(velocity: Vec3, spin: float, ball: Ball) -> tuple[Vec3, float]:
    """Bounce a hollow ball off the court, grip or slip without tangential rebound.

    Args:
        velocity: velocity over the ground at the landing (ft/s), ``vz < 0``.
        spin: spin before, topspin positive (rad/s).
        ball: gives radius, restitution and friction.

    Returns:
        Velocity over the ground (ft/s) and spin (rad/s) after the bounce. The horizontal direction
        is kept; the horizontal speed never goes below zero.
    """
    v = math.hypot(velocity[0], velocity[1])
    u = -velocity[2]
    r = ball.radius
    impulse = ball.mu * (1.0 + ball.e) * u
    rolling = (v + INERTIA * r * spin) / (1.0 + INERTIA)
    if abs(v - rolling) <= impulse:
        v_after = rolling
        spin_after = rolling / r
    else:
        sign = 1.0 if v - r * spin > 0.0 else -1.0
        v_after = v - sign * impulse
        spin_after = spin + sign * impulse / (INERTIA * r)
    v_after = max(0.0, v_after)
    scale = v_after / v if v > 0.0 else 0.0
    return (velocity[0] * scale, velocity[1] * scale, ball.e * u), spin_after


@dataclass(frozen=True)
class Path:
    """A struck ball up to its second landing: a flight, a bounce, a flight.

    Call it with a time since the strike (s) to get the position of the centre (ft).
    """

    first: Flight
    second: Flight

    @property
    def bounce_time(self) -> float:
        """Time of the first bounce since the strike (s)."""
        return self.first.landing_time

    @property
    def end_time(self) -> float:
        """Time of the second bounce since the strike (s)."""
        return self.first.landing_time + self.second.landing_time

    def __call__(self, t: float) -> Vec3:
        """Position (ft) at ``t`` seconds after the strike."""
        if t <= self.bounce_time:
            return self.first(t)
        return self.second(t - self.bounce_time)


def fly_two(position: Vec3, ground_velocity: Vec3, spin: float, ball: Ball) -> Path:
    """Fly a ball, bounce it, and fly it to its second landing. Arguments as in `fly`."""
    first = fly(position, ground_velocity, spin, ball)
    velocity, new_spin = bounce(first.landing_velocity, spin, ball)
    second = fly(first.landing_position, velocity, new_spin, ball)
    return Path(first=first, second=second)
