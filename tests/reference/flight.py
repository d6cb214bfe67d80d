"""Section 3 of the model page, "Flight".

    The ball is a point that feels gravity, drag (by the square of its speed) and the Magnus force
    of its spin. The spin axis is horizontal and square to the flight, so the ball stays in one
    vertical plane.

Here it is flown in three dimensions all the same, by adaptive steps at a tight tolerance.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from tests.reference.ball import Ball
from tests.reference.court import Vec3, height_to_aim_over

RTOL = 1e-10
ATOL = 1e-12
LONGEST_FLIGHT = 60.0
LARGEST_STEP = 0.2


@dataclass(frozen=True)
class Flight:
    """One flight from a strike or a bounce down to the next landing (centre at ``z = 0``).

    Call it with a time since its own start (s) to get the position of the centre (ft).

    Attributes:
        solution: dense output of the integrator, time -> (x, y, z, vx, vy, vz).
        spin: spin rate during the flight, topspin positive (rad/s).
        landing_time: time of the landing since the start of the flight (s).
        landing_position: position at the landing (ft), ``z = 0`` exactly.
        landing_velocity: velocity over the ground at the landing (ft/s).
    """

    solution: Callable[[float], Any]
    spin: float
    landing_time: float
    landing_position: Vec3
    landing_velocity: Vec3

    def __call__(self, t: float) -> Vec3:
        """Position (ft) at ``t`` seconds after the start of the flight."""
        state = self.solution(t)
        return float(state[0]), float(state[1]), float(state[2])

    def velocity(self, t: float) -> Vec3:
        """Velocity over the ground (ft/s) at ``t`` seconds after the start of the flight."""
        state = self.solution(t)
        return float(state[3]), float(state[4]), float(state[5])


def spin_axis(ground_velocity: Vec3, ball: Ball) -> Vec3:
    """Horizontal spin axis ``s = z x d`` of a flight, ``d`` the horizontal launch direction
    through the air; the zero vector if the launch has no horizontal part through the air."""
    ux = ground_velocity[0] - ball.wind[0]
    uy = ground_velocity[1] - ball.wind[1]
    flat = math.hypot(ux, uy)
    if flat == 0.0:
        return 0.0, 0.0, 0.0
    return -uy / flat, ux / flat, 0.0


def integrate(
    position: Vec3, ground_velocity: Vec3, spin: float, ball: Ball, stop: Callable[..., float]
) -> Any:
    """Integrate a flight until the event ``stop(t, state)`` (an attribute ``direction`` applies).

    The state is (x, y, z, vx, vy, vz) over the ground; drag and Magnus force act on the velocity
    through the air, ``a = -g z - K |u| u + M w (s x u)``.
    """
    sx, sy, sz = spin_axis(ground_velocity, ball)
    wx, wy = ball.wind

    lift, drag, weight = ball.M * spin, ball.K, ball.g

    def derivative(_t: float, state: Any) -> list[float]:
        vx, vy, vz = state[3:].tolist()
        ux, uy, uz = vx - wx, vy - wy, vz
        slowing = drag * math.sqrt(ux * ux + uy * uy + uz * uz)
        ax = -slowing * ux + lift * (sy * uz - sz * uy)
        ay = -slowing * uy + lift * (sz * ux - sx * uz)
        az = -slowing * uz + lift * (sx * uy - sy * ux) - weight
        return [vx, vy, vz, ax, ay, az]

    # A flight that starts on the ground must leave it within the first step.
    largest_step = LARGEST_STEP
    if position[2] <= 0.0 and ground_velocity[2] > 0.0:
        largest_step = min(largest_step, 0.25 * ground_velocity[2] / ball.g)
    stop.terminal = True  # type: ignore[attr-defined]
    return solve_ivp(
        derivative,
        (0.0, LONGEST_FLIGHT),
        [*position, *ground_velocity],
        method="DOP853",
        rtol=RTOL,
        atol=ATOL,
        max_step=largest_step,
        events=stop,
        dense_output=True,
    )


def fly(position: Vec3, ground_velocity: Vec3, spin: float, ball: Ball) -> Flight:
    """Fly a ball until its centre comes down to ``z = 0``.

    Args:
        position: start (ft).
        ground_velocity: start velocity over the ground (ft/s).
        spin: spin rate, topspin positive, constant in flight (rad/s).
        ball: the ball, air and wind.

    Returns:
        The flight, callable with the time since its start.
    """

    def ground(_t: float, state: Any) -> float:
        return float(state[2])

    ground.direction = -1.0  # type: ignore[attr-defined]
    run = integrate(position, ground_velocity, spin, ball, ground)
    if run.t_events[0].size == 0:
        raise RuntimeError("the ball did not land")
    end = run.y_events[0][0]
    return Flight(
        solution=run.sol,
        spin=spin,
        landing_time=float(run.t_events[0][0]),
        landing_position=(float(end[0]), float(end[1]), 0.0),
        landing_velocity=(float(end[3]), float(end[4]), float(end[5])),
    )


def apex(position: Vec3, ground_velocity: Vec3, spin: float, ball: Ball) -> tuple[float, float]:
    """Time (s) and height (ft) of the highest point of the ball's centre in a flight."""
    if ground_velocity[2] <= 0.0:
        return 0.0, position[2]

    def climbing(_t: float, state: Any) -> float:
        return float(state[5])

    climbing.direction = -1.0  # type: ignore[attr-defined]
    run = integrate(position, ground_velocity, spin, ball, climbing)
    return float(run.t_events[0][0]), float(run.y_events[0][0][2])


def clearance_at_net(position: Vec3, ground_velocity: Vec3, spin: float, ball: Ball) -> float:
    """Height (ft) of the centre above net top plus radius in the plane ``y = 0``.

    For aiming: the flight is continued below the ground if it comes down before the plane, so that
    the value stays meaningful (and negative) for a ball that falls short. Minus infinity if the
    ball never gets to the plane.
    """

    def plane_or_lost(_t: float, state: Any) -> float:
        return float(state[1]) if state[2] > -500.0 else 0.0

    run = integrate(position, ground_velocity, spin, ball, plane_or_lost)
    if run.t_events[0].size == 0:
        return -math.inf
    end = run.y_events[0][0]
    if end[2] <= -499.0:
        return -math.inf
    return float(end[2]) - height_to_aim_over(float(end[0])) - ball.radius


def time_at_y(flight: Flight, y: float) -> float | None:
    """First time (s since its start) at which a flight towards ``-y`` gets to ``y``, or None."""
    if flight(0.0)[1] <= y:
        return 0.0
    if flight.landing_position[1] > y:
        return None
    return float(brentq(lambda t: flight(t)[1] - y, 0.0, flight.landing_time, xtol=1e-13))
