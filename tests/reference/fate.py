"""Section 11 of the model page, "Net, out, in play".

A ball that touches the tape is in the net: there are no net cords. Only balls in play can be
reached, and all shares of reached balls are shares of those.
"""

from __future__ import annotations

from dataclasses import dataclass

from tests.reference.ball import Ball
from tests.reference.bounce import Path, bounce
from tests.reference.court import HALF_LENGTH, HALF_WIDTH, POST_X, Vec2, net_top
from tests.reference.flight import Flight, fly, time_at_y
from tests.reference.launch import Launch
from tests.reference.return_of_serve import Contact


@dataclass(frozen=True)
class Fate:
    """How far a third shot gets if nobody plays it.

    Attributes:
        name: ``net``, ``out`` or ``in play``.
        landing: (x, y) of the landing (ft).
        landing_time: when that is (s after the contact).
        net_time: when the centre passes the plane ``y = 0`` (s), None if it lands before.
        net_x: where along the net it passes (ft), None likewise.
        net_clearance: height of the centre there above net top plus radius (ft), None likewise.
        path: the ball up to its second bounce, None if it is not in play.
    """

    name: str
    landing: Vec2
    landing_time: float
    net_time: float | None
    net_x: float | None
    net_clearance: float | None
    path: Path | None

    @property
    def room(self) -> float:
        """How far (ft) the ball is from another fate."""
        x, y = self.landing
        room = min(abs(HALF_WIDTH - abs(x)), abs(HALF_LENGTH + y))
        if self.net_clearance is not None and self.net_x is not None:
            room = min(room, abs(self.net_clearance), abs(POST_X - abs(self.net_x)))
        return room


def fate_of(contact: Contact, launch: Launch, ball: Ball) -> Fate:
    """Fly a struck third shot, execution error included."""
    first = fly(contact.position, launch.velocity, launch.spin, ball)
    x, y, _ = first.landing_position
    net_time = time_at_y(first, 0.0)
    if net_time is None:
        return Fate("net", (x, y), first.landing_time, None, None, None, None)
    net_x, _, net_z = first(net_time)
    clearance = net_z - net_top(net_x) - ball.radius
    path = None
    if clearance < 0.0 and abs(net_x) <= POST_X:
        name = "net"
    elif abs(x) > HALF_WIDTH or y < -HALF_LENGTH or y > 0.0:
        name = "out"
    else:
        name, path = "in play", bounced(first, launch.spin, ball)
    return Fate(name, (x, y), first.landing_time, net_time, net_x, clearance, path)


def bounced(first: Flight, spin: float, ball: Ball) -> Path:
    """A flight, and the one after its landing up to the second bounce."""
    velocity, new_spin = bounce(first.landing_velocity, spin, ball)
    return Path(first=first, second=fly(first.landing_position, velocity, new_spin, ball))
