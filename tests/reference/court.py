"""Section 1 of the model page, "Court and frame".

`x` counts feet to the right of the centre line, `y` feet beyond the net (negative on your own
side), `z` feet above the ground.
"""

from __future__ import annotations

import math

Vec2 = tuple[float, float]
Vec3 = tuple[float, float, float]

FOOT_M = 0.3048
INCH_M = 0.0254
MPH = 5280.0 / 3600.0  # ft/s in one mile per hour
RPM = 2.0 * math.pi / 60.0  # rad/s in one revolution per minute

HALF_WIDTH = 10.0
HALF_LENGTH = 22.0
NVZ_LINE = -7.0  # the pair's non-volley line, as y
NET_CENTRE = 34.0 / 12.0
NET_SIDE = 36.0 / 12.0
POST_X = 11.0


def net_top(x: float) -> float:
    """Height of the net (ft) at ``x`` (ft); 0 beyond the posts, where there is no net."""
    distance = abs(x)
    if distance > POST_X:
        return 0.0
    if distance > HALF_WIDTH:
        return NET_SIDE
    return NET_CENTRE + (NET_SIDE - NET_CENTRE) * distance / HALF_WIDTH


def height_to_aim_over(x: float) -> float:
    """Height (ft) that is aimed over: beyond the posts as if the net went on (section 9)."""
    return net_top(max(-POST_X, min(POST_X, x)))


def side_of(x: float) -> float:
    """Side of the court of a contact: -1 for ``x < 0``, else +1 (0 counts as right)."""
    return -1.0 if x < 0.0 else 1.0
