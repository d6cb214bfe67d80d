"""The court and the net.

The origin lies on the ground under the centre of the net. ``x`` points to the right of the pair as
they face the net, ``y`` from the pair towards the opponents, ``z`` up. The pair's court is
``-22 <= y <= 0``, the opponents' ``0 <= y <= 22``. All lengths in feet.

Every value here is a rule [S]: USA Pickleball rulebook 2025, section 2.A to 2.C (read on a
republishing site).
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

HALF_WIDTH: Final = 10.0
BASELINE: Final = 22.0
NON_VOLLEY_ZONE: Final = 7.0
NET_HEIGHT_AT_CENTRE: Final = 34.0 / 12.0
NET_HEIGHT_AT_SIDELINE: Final = 36.0 / 12.0
POST: Final = 11.0
# A ball that was followed to the plane of the net is there to within rounding (ft).
AT_NET: Final = 1e-6


def net_height(x: Array) -> Array:
    """Height of the net's top edge (ft) where a ball crosses its plane at ``x`` (ft), any shape.

    Linear in ``|x|`` from the centre to the sidelines, level from there to the posts, and nothing
    beyond them: a ball may go around the post.

    >>> net_height(np.array([0.0, 10.0, 10.5, 12.0])) * 12
    array([34., 36., 36.,  0.])
    """
    out = np.abs(x)
    rise = (NET_HEIGHT_AT_SIDELINE - NET_HEIGHT_AT_CENTRE) / HALF_WIDTH
    height = NET_HEIGHT_AT_CENTRE + rise * np.minimum(out, HALF_WIDTH)
    return np.where(out <= POST, height, 0.0)


def is_in(x: Array, y: Array) -> NDArray[np.bool_]:
    """Whether a ball whose centre lands at ``(x, y)`` is in the pair's court; lines are in."""
    return (np.abs(x) <= HALF_WIDTH) & (y >= -BASELINE) & (y <= 0.0)
