"""Section 2 of the model page, "Ball and air".

Density comes from the ideal gas law for dry air, pressure from the standard atmosphere,
ISO 2533
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from tests.reference.court import FOOT_M, INCH_M, Vec2

GRAVITY = 9.80665 / FOOT_M  # ft/s^2
DRAG_COEFFICIENT = {"outdoor": 0.33, "indoor": 0.45}


@dataclass(frozen=True)
class Ball:
    """The ball, the air and the court surface.

    Attributes:
        K: drag coefficient per mass, ``rho Cd A / 2m`` (1/ft).
        M: Magnus coefficient, ``rho A r slope / 2m`` (dimensionless), acceleration ``M w (s x v)``.
        radius: radius (ft).
        g: gravity (ft/s^2).
        e: vertical coefficient of restitution on the court.
        mu: friction coefficient on the court.
        wind: velocity of the air over the ground, (x, y) (ft/s).
    """

    K: float
    M: float
    radius: float = 2.92 / 24.0
    g: float = GRAVITY
    e: float = 0.66
    mu: float = 0.5
    wind: Vec2 = (0.0, 0.0)


def coefficients(
    mass_g: float, diameter_in: float, cd: float, slope: float, rho: float
) -> tuple[float, float]:
    """Drag and Magnus coefficients of a ball.

    Args:
        mass_g: mass (g).
        diameter_in: diameter (in).
        cd: drag coefficient.
        slope: lift coefficient per unit of spin parameter ``r w / |v|``.
        rho: air density (kg/m^3).

    Returns:
        ``K = rho Cd A / 2m`` (1/ft) and ``M = rho A r slope / 2m`` (dimensionless).
    """
    radius = diameter_in * INCH_M / 2.0
    area = math.pi * radius**2
    mass = mass_g / 1000.0
    k_per_metre = rho * cd * area / (2.0 * mass)
    m = rho * area * radius * slope / (2.0 * mass)
    return k_per_metre * FOOT_M, m


def air_density(celsius: float, altitude: float) -> float:
    """Density (kg/m^3) of dry air at an altitude (ft)."""
    gas, lapse, gravity = 287.05287, 0.0065, 9.80665
    cooled = 1.0 - lapse * altitude * FOOT_M / 288.15
    pressure = 101325.0 * cooled ** (gravity / (gas * lapse))
    return pressure / (gas * (celsius + 273.15))


def scaled(ball: Ball, part: float) -> Ball:
    """The same ball with only a part of its drag, lift and wind."""
    return replace(
        ball,
        K=part * ball.K,
        M=part * ball.M,
        wind=(part * ball.wind[0], part * ball.wind[1]),
    )
