"""A reference flight: three dimensions, SI units, `scipy.integrate.solve_ivp` at tight tolerance.

Written from the equation of motion alone, so that it shares neither code, nor units, nor the
reduction to a vertical plane with the package.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.integrate import solve_ivp

METRES_PER_FOOT = 0.3048
STANDARD_GRAVITY = 9.80665


@dataclass(frozen=True)
class Air:
    """Ball and air in SI units; the wind is the velocity of the air over the ground."""

    mass: float = 0.0243
    diameter: float = 2.92 * 0.0254
    density: float = 1.204
    drag_coefficient: float = 0.33
    lift_slope: float = 0.195
    wind: tuple[float, float, float] = (0.0, 0.0, 0.0)


@dataclass(frozen=True)
class ReferenceFlight:
    """A flight as a function of time, with its events (s); lengths in feet."""

    solution: object
    landing_time: float
    net_time: float
    top_time: float

    def position(self, time: float) -> np.ndarray:
        return self.solution(time)[:3] / METRES_PER_FOOT

    def velocity(self, time: float) -> np.ndarray:
        return self.solution(time)[3:] / METRES_PER_FOOT


def fly_by_adaptive_steps(
    start_feet: tuple[float, float, float],
    velocity_feet: tuple[float, float, float],
    spin: float,
    air: Air,
    ends_at_ground: bool = True,
    duration: float = 20.0,
) -> ReferenceFlight:
    """Integrate ``m a = -m g z - rho Cd A |v| v / 2 + rho A r slope w (s x v) / 2``.

    ``v`` is the velocity through the air, ``w`` the spin (rad/s, topspin positive) and ``s`` the
    horizontal unit vector ``z x d`` for the direction ``d`` of the launch through the air.
    """
    wind = np.array(air.wind)
    start = np.array(start_feet) * METRES_PER_FOOT
    velocity = np.array(velocity_feet) * METRES_PER_FOOT
    through_air = velocity - wind
    ground_speed = math.hypot(through_air[0], through_air[1])
    axis = np.array([-through_air[1], through_air[0], 0.0]) / (ground_speed or 1.0)
    area = math.pi * air.diameter**2 / 4.0
    drag = air.density * air.drag_coefficient * area / (2.0 * air.mass)
    lift = air.density * area * (air.diameter / 2.0) * air.lift_slope / (2.0 * air.mass)

    def rates(_: float, state: np.ndarray) -> np.ndarray:
        v = state[3:] - wind
        acceleration = -drag * math.sqrt(v @ v) * v + lift * spin * np.cross(axis, v)
        acceleration[2] -= STANDARD_GRAVITY
        return np.concatenate((state[3:], acceleration))

    def ground(_: float, state: np.ndarray) -> float:
        return float(state[2])

    def net(_: float, state: np.ndarray) -> float:
        return float(state[1])

    def top(_: float, state: np.ndarray) -> float:
        return float(state[5])

    ground.terminal, ground.direction = ends_at_ground, -1.0  # type: ignore[attr-defined]
    net.direction = top.direction = -1.0  # type: ignore[attr-defined]
    found = solve_ivp(
        rates,
        (0.0, duration),
        np.concatenate((start, velocity)),
        method="DOP853",
        rtol=1e-10,
        atol=1e-12,
        events=(ground, net, top),
        dense_output=True,
    )
    first = [times[0] if times.size else math.nan for times in found.t_events]
    return ReferenceFlight(found.sol, *first)
