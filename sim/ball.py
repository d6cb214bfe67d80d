"""The ball and the air: what the flight and the bounce need to know about them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from sim.units import METRES_PER_FOOT

# [S] standard gravity, exact: 3rd General Conference on Weights and Measures, 1901.
GRAVITY: Final = 9.80665 / METRES_PER_FOOT

# ISO 2533 standard atmosphere (values from memory).
_SEA_LEVEL_PRESSURE: Final = 101325.0
_SEA_LEVEL_KELVIN: Final = 288.15
_LAPSE_KELVIN_PER_METRE: Final = 0.0065
_GAS_CONSTANT_DRY_AIR: Final = 287.05287
_PRESSURE_EXPONENT: Final = 5.25588
_KELVIN_AT_ZERO_CELSIUS: Final = 273.15


@dataclass(frozen=True)
class Ball:
    """Coefficients of one ball in one kind of air.

    ``drag`` is ``rho Cd A / 2m`` in 1/ft and ``magnus`` is ``rho A r slope / 2m``, a pure number:
    the acceleration is ``-drag |v| v + magnus * spin * (axis x v)``. ``radius`` is in ft, the wind
    is the velocity of the air over the ground in ft/s (to the right, and from the pair towards the
    opponents). ``restitution`` and ``friction`` belong to the bounce.
    """

    drag: float
    magnus: float
    radius: float
    restitution: float
    friction: float
    wind_x: float = 0.0
    wind_y: float = 0.0

    @property
    def calm(self) -> bool:
        """No wind at all, so that distances over the ground and through the air agree."""
        return self.wind_x == 0.0 and self.wind_y == 0.0


def air_density(temperature: float, altitude: float) -> float:
    """Density of dry air in kg/m3 from temperature (degrees C) and altitude (ft).

    Pressure from the standard atmosphere (ISO 2533, from memory), density from the ideal gas law.

    >>> round(air_density(15.0, 0.0), 3), round(air_density(20.0, 0.0), 3)
    (1.225, 1.204)
    """
    cooled = _LAPSE_KELVIN_PER_METRE * altitude * METRES_PER_FOOT / _SEA_LEVEL_KELVIN
    pressure = _SEA_LEVEL_PRESSURE * (1.0 - cooled) ** _PRESSURE_EXPONENT
    return pressure / (_GAS_CONSTANT_DRY_AIR * (temperature + _KELVIN_AT_ZERO_CELSIUS))


def make_ball(
    *,
    mass: float,
    diameter: float,
    drag_coefficient: float,
    lift_slope: float,
    density: float,
    restitution: float = 0.66,
    friction: float = 0.5,
    wind_x: float = 0.0,
    wind_y: float = 0.0,
) -> Ball:
    """Coefficients from mass (kg), diameter (ft), air density (kg/m3) and the rest as in `Ball`.

    >>> ball = make_ball(mass=0.0243, diameter=2.92 / 12, drag_coefficient=0.33, lift_slope=0.195,
    ...                  density=1.204)
    >>> round(ball.drag / METRES_PER_FOOT, 5)  # per metre
    0.03532
    """
    radius_metres = 0.5 * diameter * METRES_PER_FOOT
    area = math.pi * radius_metres**2
    per_metre = density * area / (2.0 * mass)
    return Ball(
        drag=per_metre * drag_coefficient * METRES_PER_FOOT,
        magnus=per_metre * lift_slope * radius_metres,
        radius=0.5 * diameter,
        restitution=restitution,
        friction=friction,
        wind_x=wind_x,
        wind_y=wind_y,
    )
