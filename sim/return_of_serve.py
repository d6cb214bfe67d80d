"""The return of serve: from the pair's strike to the opponents' contact after its bounce."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from sim.aim import aim_to_top
from sim.ball import Ball
from sim.bounce import bounce
from sim.court import Array
from sim.flight import Flight, falling_time, fly, time_at_line, time_falling_to
from sim.intention import Landing, Striker, calm_to_top
from sim.scenario import Scenario

_STEPS: Final = 12
_STEPS_AFTER_BOUNCE: Final = 8


@dataclass(frozen=True)
class Contact:
    """Where (ft) and when (s after the return was struck) the opponents strike; (shots,) each."""

    time: Array
    x: Array
    y: Array
    z: Array

    def take(self, chosen: np.ndarray | slice) -> Contact:
        """The same contacts for the chosen shots only (mask, indices or slice)."""
        return Contact(self.time[chosen], self.x[chosen], self.y[chosen], self.z[chosen])


def returner_side(scenario: Scenario) -> int:
    """Sign of the returner's side: +1 on the even (right) side, -1 on the odd (left) side."""
    return 1 if scenario.return_of_serve.side == "even" else -1


def fly_return(
    scenario: Scenario, ball: Ball, directions: tuple[str, ...], uniform: dict[str, Array]
) -> Contact:
    """Draw returns of serve, fly them and find the opponents' contacts.

    ``uniform`` holds the columns of equally many returns in each direction, one after the other.
    """
    wishes = returns_wished(scenario, directions, uniform)
    height = scenario.opponents.contact_height.quantile(uniform["contact_height"])
    return contact_after(scenario, ball, *wishes, height)


def returns_wished(
    scenario: Scenario, directions: tuple[str, ...], uniform: dict[str, Array]
) -> tuple[Array, Array, Array]:
    """Where returns are to land (``x`` and depth, ft) and how high to rise (ft), each (shots,)."""
    wanted, side = scenario.return_of_serve, returner_side(scenario)
    landing_x = [
        getattr(wanted.lateral, direction).quantile(part)
        for direction, part in zip(
            directions, np.split(uniform["return_side"], len(directions)), strict=True
        )
    ]
    return (
        side * np.concatenate(landing_x),
        wanted.landing_depth.quantile(uniform["return_depth"]),
        wanted.top.quantile(uniform["return_top"]),
    )


def contact_after(
    scenario: Scenario,
    ball: Ball,
    landing_x: Array,
    landing_depth: Array,
    top: Array,
    contact_height: Array,
) -> Contact:
    """The opponents' contact after spinless returns that land at a given place (ft).

    They strike when the ball has fallen to ``contact_height``, or at its highest point if it never
    gets that high, or where it passes their farthest contact if it gets there first.
    """
    striker = _returner(scenario, ball, landing_x.size)
    landing = _land(striker, landing_x, landing_depth, top)
    second = _after_bounce(landing, ball)
    contact = _contact_on(second, contact_height, scenario.opponents.farthest_contact)
    return Contact(landing.time + contact.time, contact.x, contact.y, contact.z)


def flights_to_contact(
    scenario: Scenario, ball: Ball, landing_x: Array, landing_depth: Array, top: Array
) -> tuple[Flight, Array, Flight]:
    """The returns of `contact_after` flown, in still air, too, for whoever wants to see them.

    The flight to the bounce, its time (s), and the flight from there to the second bounce.
    """
    striker = _returner(scenario, ball, landing_x.size)
    flight = _fly(striker, landing_x, landing_depth, top)
    landing = _landing_of(flight)
    return flight, landing.time, _after_bounce(landing, ball)


def _returner(scenario: Scenario, ball: Ball, shots: int) -> Striker:
    """Who strikes the returns, without spin."""
    wanted = scenario.return_of_serve
    return Striker(
        np.full(shots, returner_side(scenario) * wanted.struck_from_centre),
        np.full(shots, -wanted.struck_depth),
        np.full(shots, wanted.struck_height),
        np.zeros(shots),
        ball,
        None,
    )


def _land(striker: Striker, landing_x: Array, landing_y: Array, top: Array) -> Landing:
    """The return as it lands: nobody errs, so that in still air it lands as it is meant to."""
    if striker.ball.calm:
        return calm_to_top(striker, landing_x, landing_y, top).landing()
    return _landing_of(_fly(striker, landing_x, landing_y, top))


def _fly(striker: Striker, landing_x: Array, landing_y: Array, top: Array) -> Flight:
    here, ball = (striker.x, striker.y, striker.z), striker.ball
    launch = aim_to_top(*here, landing_x, landing_y, top, striker.spin, ball)
    return fly(*here, launch, ball, falling_time(striker.z, launch, ball), _STEPS)


def _landing_of(flight: Flight) -> Landing:
    time = time_falling_to(flight, 0.0)
    (x, y, _), velocity = flight.place_and_launch(time)
    return Landing(time, x, y, velocity)


def _after_bounce(landing: Landing, ball: Ball) -> Flight:
    before = landing.velocity
    rebound = bounce(before.x, before.y, before.z, before.spin, ball)
    ground = np.zeros(landing.x.shape)
    longest = falling_time(ground, rebound, ball)
    return fly(landing.x, landing.y, ground, rebound, ball, longest, _STEPS_AFTER_BOUNCE)


def _contact_on(flight: Flight, height: Array, farthest: float) -> Contact:
    """Where the ball falls to ``height``, or gets as far as ``farthest`` before."""
    time = time_falling_to(flight, height)
    x, y, z = flight.position(time)
    late = np.flatnonzero(y > farthest)
    if late.size:
        sooner = flight.take(late)
        time[late] = time_at_line(sooner, farthest)
        x[late], y[late], z[late] = sooner.position(time[late])
    return Contact(time, x, y, z)
