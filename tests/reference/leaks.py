"""Section 14 of the model page, "Leaks".

A ball in play that nobody reaches is labelled by where it got through, **judged at the pair's
mean depth**, halfway between where the two stood at `T`
"""

from __future__ import annotations

from tests.reference.bounce import Path
from tests.reference.court import Vec2, side_of
from tests.reference.flight import time_at_y
from tests.reference.reach import TIP, arm_length, shoulder_height
from tests.reference.run_in import Player


def leak_label(
    path: Path, contact_x: float, left_at: Vec2, right_at: Vec2, left: Player, right: Player
) -> str:
    """Where a ball in play that nobody reached got through.

    Args:
        path: the third shot.
        contact_x: ``x`` of the opponents' contact (ft).
        left_at: left player's position at the contact (ft).
        right_at: right player's position at the contact (ft).
        left: the left player.
        right: the right player.

    Returns:
        ``short`` if it bounced twice before the players' (mean) depth; else, as it passed there,
        ``over`` above both players' highest reach, ``line`` or ``cross`` outside a player on the
        side of, or across from, the opponents' contact, or ``middle`` between the two.
    """
    depth_y = 0.5 * (left_at[1] + right_at[1])
    time = time_at_y(path.first, depth_y)
    if time is not None:
        x, _, z = path.first(time)
    else:
        time = time_at_y(path.second, depth_y)
        if time is None:
            return "short"
        x, _, z = path.second(time)
    highest = max(shoulder_height(p) + arm_length(p, TIP, True) for p in (left, right))
    if z > highest:
        return "over"
    if x > right_at[0]:
        return "line" if side_of(contact_x) > 0.0 else "cross"
    if x < left_at[0]:
        return "line" if side_of(contact_x) < 0.0 else "cross"
    return "middle"
