"""Section 5 of the model page, "Return of serve".

Speed and elevation are solved so that a return without spin has that top and lands there.
"""

from __future__ import annotations

from dataclasses import dataclass

from scipy.optimize import brentq

from tests.reference.ball import Ball
from tests.reference.bounce import Path, fly_two
from tests.reference.court import Vec3
from tests.reference.solve import velocity_to_top

OPPONENT_LAST_Y = 28.0  # the opponents strike here at the latest


@dataclass(frozen=True)
class Contact:
    """The opponents' contact: time since the return strike ``T`` (s) and position (ft)."""

    T: float
    X: float
    Y: float
    Z: float

    @property
    def position(self) -> Vec3:
        """The contact point (ft)."""
        return self.X, self.Y, self.Z


def return_of_serve(
    k: float,
    landing_x: float,
    landing_depth: float,
    apex_height: float,
    contact_height: float,
    ball: Ball,
) -> tuple[Contact, Path]:
    """The return of serve and the opponents' contact.

    The spinless return is struck at ``(5 k, -22.5, 2.5)``.

    Args:
        k: +1 for the even side (the right player returns), -1 for the odd side (the left one).
        landing_x: ``x`` of the landing (ft).
        landing_depth: distance of the landing from the net (ft).
        apex_height: greatest height of the centre (ft).
        contact_height: height at which the opponent likes to strike (ft).
        ball: the ball, air and wind.

    Returns:
        The contact: after the bounce, where the falling ball comes to the contact height; its
        highest point if it never gets that high; ``y = 28`` if it gets there first. And the path
        of the ball, as if nobody struck it, timed from the return strike.
    """
    position = (5.0 * k, -22.5, 2.5)
    velocity = velocity_to_top(position, landing_x, None, landing_depth, apex_height, 0.0, ball)
    path = fly_two(position, velocity, 0.0, ball)
    second = path.second

    top_time = 0.0
    if second.velocity(0.0)[2] > 0.0:
        top_time = float(
            brentq(lambda t: second.velocity(t)[2], 0.0, second.landing_time, xtol=1e-13)
        )
    time = top_time
    if second(top_time)[2] > contact_height:
        time = float(
            brentq(
                lambda t: second(t)[2] - contact_height, top_time, second.landing_time, xtol=1e-13
            )
        )
    if second(time)[1] > OPPONENT_LAST_Y:
        time = float(brentq(lambda t: second(t)[1] - OPPONENT_LAST_Y, 0.0, time, xtol=1e-13))
    x, y, z = second(time)
    return Contact(T=path.bounce_time + time, X=x, Y=y, Z=z), path
