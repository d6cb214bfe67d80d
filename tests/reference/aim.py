"""Section 9 of the model page, "Third shot: aim".

Net clearance below always means the ball's centre above net top plus one radius, where it
crosses the net.
"""

from __future__ import annotations

from tests.reference.ball import Ball
from tests.reference.court import HALF_WIDTH, RPM, side_of
from tests.reference.drive import aim_drive
from tests.reference.launch import Launch, launch_from_velocity
from tests.reference.return_of_serve import Contact
from tests.reference.solve import velocity_over_net, velocity_to_top


def intended_landing_x(lane: str, contact_x: float, inset: float, middle_x: float) -> float:
    """Intended landing ``x`` (ft) of a third shot.

    Args:
        lane: ``line``, ``middle`` or ``cross``.
        contact_x: ``x`` of the opponents' contact (ft).
        inset: distance inside the sideline for line and cross (ft).
        middle_x: landing ``x`` for the middle (ft).
    """
    if lane == "line":
        return side_of(contact_x) * (HALF_WIDTH - inset)
    if lane == "cross":
        return -side_of(contact_x) * (HALF_WIDTH - inset)
    if lane == "middle":
        return middle_x
    raise ValueError(f"unknown lane {lane!r}")


def aim_third_shot(
    kind: str,
    contact: Contact,
    ball: Ball,
    *,
    lane: str = "middle",
    inset: float = 0.0,
    middle_x: float = 0.0,
    cross_azimuth: float | None = None,
    speed: float | None = None,
    clearance: float | None = None,
    depth: float | None = None,
    apex_height: float | None = None,
    spin: float | None = None,
) -> Launch:
    """The intended third shot.

    Args:
        kind: ``drive`` (uses speed and clearance), ``drop`` (depth and clearance) or ``lob``
            (depth and apex_height).
        contact: the opponents' contact.
        ball: the ball, air and wind.
        lane: ``line`` (near sideline), ``middle`` or ``cross`` (far sideline).
        inset: distance inside the sideline of the landing, for line and cross (ft).
        middle_x: landing ``x`` for the middle (ft).
        cross_azimuth: launch azimuth given directly instead of a lane: rad from straight ahead,
            positive towards the opponents' far sideline.
        speed: preferred speed of a drive over the ground (ft/s).
        clearance: height of the centre above net top plus radius (ft).
        depth: distance of the landing from the net (ft).
        apex_height: greatest height of the centre of a lob (ft).
        spin: topspin (rad/s); by default 500 rpm for a drive, none otherwise.

    Returns:
        The launch in the ground frame, without execution error.
    """
    position = contact.position
    azimuth: float | None = None
    landing_x: float | None = None
    if cross_azimuth is not None:
        azimuth = -side_of(contact.X) * cross_azimuth
    else:
        landing_x = intended_landing_x(lane, contact.X, inset, middle_x)
    if spin is None:
        spin = 500.0 * RPM if kind == "drive" else 0.0

    if kind == "drive":
        if speed is None or clearance is None:
            raise ValueError("a drive needs speed and clearance")
        return aim_drive(position, speed, clearance, spin, landing_x, azimuth, ball)
    if kind == "drop":
        if depth is None or clearance is None:
            raise ValueError("a drop needs depth and clearance")
        velocity = velocity_over_net(position, landing_x, azimuth, -depth, clearance, spin, ball)
        return launch_from_velocity(velocity, spin)
    if kind == "lob":
        if depth is None or apex_height is None:
            raise ValueError("a lob needs depth and apex_height")
        velocity = velocity_to_top(position, landing_x, azimuth, -depth, apex_height, spin, ball)
        return launch_from_velocity(velocity, spin)
    raise ValueError(f"unknown third shot {kind!r}")
