"""Section 10 of the model page, "Third shot: error".

The struck ball strays from the intended one in three independent ways, each normal around zero
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from tests.reference.court import Vec3


@dataclass(frozen=True)
class Launch:
    """A third shot as it leaves the racket, in the ground frame.

    Attributes:
        speed: speed over the ground (ft/s).
        elevation: angle above the horizontal (rad).
        azimuth: angle from the opponents' straight ahead (``-y``), positive to ``+x`` (rad).
        spin: spin rate, topspin positive (rad/s).
    """

    speed: float
    elevation: float
    azimuth: float
    spin: float

    @property
    def velocity(self) -> Vec3:
        """Velocity over the ground (ft/s)."""
        flat = self.speed * math.cos(self.elevation)
        return (
            flat * math.sin(self.azimuth),
            -flat * math.cos(self.azimuth),
            self.speed * math.sin(self.elevation),
        )


def launch_from_velocity(velocity: Vec3, spin: float) -> Launch:
    """The launch (speed, elevation, azimuth) with a given ground velocity (ft/s)."""
    flat = math.hypot(velocity[0], velocity[1])
    return Launch(
        speed=math.hypot(flat, velocity[2]),
        elevation=math.atan2(velocity[2], flat),
        azimuth=math.atan2(velocity[0], -velocity[1]),
        spin=spin,
    )


def with_error(
    launch: Launch, e_speed: float = 0.0, e_elevation: float = 0.0, e_azimuth: float = 0.0
) -> Launch:
    """A launch with its execution error: relative on speed, radians on the angles, same spin."""
    return Launch(
        speed=launch.speed * (1.0 + e_speed),
        elevation=launch.elevation + e_elevation,
        azimuth=launch.azimuth + e_azimuth,
        spin=launch.spin,
    )
