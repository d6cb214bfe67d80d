"""The ball's way in one rally: the return of serve, and the third shot to its end."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from sim.ball import Ball
from sim.court import Array
from sim.flight import Flight, Launch, time_at_line, time_falling_to
from sim.rallies import IN_PLAY, NET, Rally, fly_third_shot
from sim.return_of_serve import Contact, flights_to_contact, returns_wished
from sim.scenario import Scenario

# Seconds between the points of a path: straight lines between them leave it by under 0.001 ft.
_EVERY: Final = 0.01

Place = tuple[float, float, float, float]


@dataclass(frozen=True)
class BallPath:
    """A ball on its way: arrays of shape (n,), ``times`` in s since the return was struck, ft.

    ``bounce`` is when it touches the court before the path ends, if it does.
    """

    times: Array
    x: Array
    y: Array
    z: Array
    bounce: float | None

    def at(self, times: Array) -> tuple[Array, Array, Array]:
        """``x, y, z`` (ft) at times of any shape; before and after the path its ends."""
        x, y, z = (np.interp(times, self.times, part) for part in (self.x, self.y, self.z))
        return x, y, z


@dataclass(frozen=True)
class Struck:
    """How a ball leaves the paddle: ft/s and rad over the ground, spin in rad/s, topspin positive.

    ``azimuth`` counts from straight towards the pair's baseline, positive to the pair's right.
    """

    speed: float
    elevation: float
    azimuth: float
    spin: float


@dataclass(frozen=True)
class ThirdShotPath:
    """A third shot's path, and its places ``(t, x, y, z)``, in s since the return and ft.

    ``over_net`` is where it crosses the net's plane, if it gets there; ``landing`` where it first
    touches the court, if no net stops it; ``end`` is the second bounce of a ball in play.
    """

    path: BallPath
    over_net: Place | None
    landing: Place | None
    end: Place


def launch_of(launch: Launch) -> Struck:
    """The launch of one ball in speed and angles."""
    x, y, z = (float(part[0]) for part in (launch.x, launch.y, launch.z))
    ground = math.hypot(x, y)
    return Struck(
        math.hypot(ground, z), math.atan2(z, ground), math.atan2(x, -y), float(launch.spin[0])
    )


def return_path(
    scenario: Scenario, ball: Ball, direction: str, uniform: dict[str, Array], contact: Contact
) -> BallPath:
    """One return from the pair's strike over its bounce to the opponents' ``contact``.

    ``uniform`` holds the shot's own random numbers, shape (1,). In still air the engine lands a
    return without flying it: flown here, it ends at the contact to within a hundredth of a foot.
    """
    wishes = returns_wished(scenario, (direction,), uniform)
    first, landing, second = flights_to_contact(scenario, ball, *wishes)
    bounce, strikes = float(landing[0]), float(contact.time[0])
    legs = [(first, 0.0, 0.0, bounce), (second, bounce, bounce, strikes)]
    return _joined(legs, bounce)


def third_shot_path(ball: Ball, rally: Rally) -> ThirdShotPath:
    """The third shot of a rally of one shot, from the contact to its end."""
    struck = fly_third_shot(rally.contact, rally.third_shot, ball)
    start, fate = float(rally.contact.time[0]), int(rally.fate[0])
    to_net, to_ground = float(time_at_line(struck, 0.0)[0]), float(time_falling_to(struck, 0.0)[0])
    gets_there = to_net < to_ground
    over_net = _place(struck, start, start + to_net) if gets_there else None
    if fate == IN_PLAY:
        net, lands = start + to_net, start + float(rally.landing_time[0])
        ends = lands + float(rally.rebound.duration[0])
        legs = [
            (struck, start, start, net),
            (rally.approach, net, net, lands),
            (rally.rebound, lands, lands, ends),
        ]
        landing = _place(rally.rebound, lands, lands)
        return ThirdShotPath(
            _joined(legs, lands), over_net, landing, _place(rally.rebound, lands, ends)
        )
    stopped = fate == NET and gets_there
    ends = start + (to_net if stopped else to_ground)
    end = _place(struck, start, ends)
    path = _joined([(struck, start, start, ends)], None)
    return ThirdShotPath(path, over_net, None if stopped else end, end)


def _place(flight: Flight, start: float, time: float) -> Place:
    x, y, z = flight.position(np.array([time - start]))
    return time, float(x[0]), float(y[0]), float(z[0])


def _joined(legs: list[tuple[Flight, float, float, float]], bounce: float | None) -> BallPath:
    """Legs of flight, each with its flight's start, and from when to when it is followed."""
    parts = []
    for flight, start, begins, ends in legs:
        count = max(math.ceil((ends - begins) / _EVERY), 1) + 1
        times = np.linspace(begins, ends, count)
        x, y, z = (part[:, 0] for part in flight.position((times - start)[:, None]))
        # The point where two legs meet belongs to the later one.
        stop = None if ends == legs[-1][3] else -1
        parts.append(np.stack((times, x, y, z))[:, :stop])
    times, x, y, z = np.concatenate(parts, axis=1)
    return BallPath(times, x, y, z, bounce)
