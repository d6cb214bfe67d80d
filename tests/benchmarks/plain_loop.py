"""The whole comparison shot by shot with ``scipy.integrate.solve_ivp``: what one writes first.

One shot after the other: aim the return, fly it, let it bounce and fly on to the contact; aim the
third shot, strike it with its error and fly it over two bounces; then for every policy and player
go through the instants of its flight until the ball is reached. Flights are integrated in three
dimensions with the default method at a relative tolerance of 1e-6, with the landing as an event;
aims are solved by ``scipy.optimize.root`` over such flights at its default tolerance. The parts
without a flight in them come from the plain reference in ``tests/reference``. Draws are not timed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any
from unittest import mock

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import root

from tests.reference import court, drive, flight, solve
from tests.reference.aim import intended_landing_x
from tests.reference.ball import Ball, scaled
from tests.reference.bounce import bounce
from tests.reference.court import Vec3
from tests.reference.launch import Launch, launch_from_velocity
from tests.reference.reach import margin
from tests.reference.return_of_serve import Contact
from tests.second_opinion.shots import Shot

TOLERANCE = 1e-6
# As many instants before the bounce, and after it, as the package looks at.
INSTANTS = 20


def play_shot(shot: Shot) -> list[tuple[bool, bool]]:
    """One shot from the return of serve to who reaches it: (in control, reached) by policy."""
    ball, scenario = shot.ball, shot.scenario
    contact = shot.contact_after_return()
    struck = shot.struck(aim(shot, contact))
    first = flight.fly(contact.position, struck.velocity, struck.spin, ball)
    net_time = flight.time_at_y(first, 0.0)
    if net_time is None:
        return []
    x, _, z = first(net_time)
    landing = first.landing_position
    if z - ball.radius < court.net_top(x) and abs(x) <= court.POST_X:
        return []
    if abs(landing[0]) > court.HALF_WIDTH or not -court.HALF_LENGTH <= landing[1] <= 0.0:
        return []
    velocity, spin = bounce(first.landing_velocity, struck.spin, ball)
    second = flight.fly(landing, velocity, spin, ball)
    balls = [
        (net_time + share * (first.landing_time - net_time), True, first)
        for share in np.arange(INSTANTS) / INSTANTS
    ] + [
        (share * second.landing_time, False, second) for share in np.arange(INSTANTS + 1) / INSTANTS
    ]
    seen = [
        (time + (0.0 if volley else first.landing_time), volley, part(time))
        for time, volley, part in balls
    ]
    return [answer(shot, contact, policy, seen) for policy in scenario.policies]


def aim(shot: Shot, contact: Contact) -> Launch:
    """The intended launch; a drive at its speed, or slower where it would land too deep."""
    wishes = shot.wishes
    if shot.kind != "drive":
        return shot.reference_aim(contact)
    ball, speed, clearance = shot.ball, wishes["speed"], wishes["clearance"]
    side = intended_landing_x(shot.lane, contact.X, wishes["inset"], wishes["middle_x"])
    spin = float(shot.scenario.opponents.drive.topspin)

    def missed(angles: Any) -> list[float]:
        launch = Launch(speed, float(angles[0]), float(angles[1]), spin)
        flown = flight.fly(contact.position, launch.velocity, spin, ball)
        time = flight.time_at_y(flown, 0.0)
        if time is None:
            return [-10.0, flown.landing_position[0] - side]
        x, _, z = flown(time)
        return [
            z - court.net_top(x) - ball.radius - clearance,
            flown.landing_position[0] - side,
        ]

    across = math.atan2(side - contact.X, contact.Y + 15.0)
    for elevation in (0.1, 0.3, 0.5):
        angles = root(missed, [elevation, across], tol=1e-6).x
        if max(map(abs, missed(angles))) < 0.01 and abs(angles[0]) < 1.5:
            break
    launch = Launch(speed, float(angles[0]), float(angles[1]), spin)
    flown = flight.fly(contact.position, launch.velocity, spin, ball)
    if flown.landing_position[1] >= drive.DRIVE_DEEPEST_Y:
        return launch
    velocity = solve.velocity_over_net(
        contact.position, side, None, drive.DRIVE_DEEPEST_Y, clearance, spin, ball
    )
    return launch_from_velocity(velocity, spin)


def answer(
    shot: Shot,
    contact: Contact,
    policy: Any,
    seen: list[tuple[float, bool, Vec3]],
) -> tuple[bool, bool]:
    """Whether the pair has the ball in control, and whether it reaches it."""
    control = stretch = False
    for who in shot.pair_at(shot.reference_places(policy, contact), policy):
        for stretched in (False, True):
            hit = any(
                margin(who.at, at, volley, stretched, time - who.reaction, who.player) >= 0.0
                for time, volley, at in seen
            )
            stretch |= hit
            control |= hit and not stretched
            if hit:
                break
    return control, stretch


@contextmanager
def everyday_tolerances() -> Iterator[None]:
    """The reference with the tolerances and methods of an everyday program."""
    with (
        mock.patch.object(flight, "integrate", _integrate),
        mock.patch.object(solve, "solve_velocity", _solve_velocity),
    ):
        yield


def _integrate(
    position: Vec3,
    velocity: Vec3,
    spin: float,
    ball: Ball,
    stop: Callable[..., float],
) -> Any:
    axis = np.array(flight.spin_axis(velocity, ball))
    wind, weight = np.array([*ball.wind, 0.0]), np.array([0.0, 0.0, -ball.g])

    def change(_: float, state: np.ndarray) -> np.ndarray:
        v = state[3:] - wind
        force = weight - ball.K * np.linalg.norm(v) * v + ball.M * spin * np.cross(axis, v)
        return np.concatenate((state[3:], force))

    stop.terminal = True  # type: ignore[attr-defined]
    start = np.array([*position, *velocity])
    # A ball on the ground must leave it within the first step.
    longest = 0.25 * velocity[2] / ball.g if position[2] <= 0.0 < velocity[2] else np.inf
    return solve_ivp(
        change,
        (0.0, 10.0),
        start,
        rtol=TOLERANCE,
        atol=TOLERANCE,
        first_step=min(longest, 0.1),
        events=stop,
        dense_output=True,
    )


def _solve_velocity(
    misses: Callable[[Vec3, Ball], list[float]],
    guess: Vec3,
    ball: Ball,
) -> Vec3:
    for parts in (1, 4):
        velocity = guess
        # Where the guess for a vacuum leads nowhere, drag is brought in step by step.
        for part in range(1, parts + 1):
            part_ball = scaled(ball, part / parts)
            velocity = _solve_from(velocity, lambda v, b=part_ball: misses(v, b))
        if max(map(abs, misses(velocity, ball))) < 0.01:
            break
    return velocity


def _solve_from(guess: Vec3, misses: Callable[[Vec3], list[float]]) -> Vec3:
    # Differences, taken in proportion to the unknowns, have to be larger than the noise of flights
    # at this tolerance: the unknowns are distances from far away.
    away = np.array(guess) - 10.0

    def function(v: Any) -> list[float]:
        x, y, z = map(float, away + v)
        return [miss if math.isfinite(miss) else -1e3 for miss in misses((x, y, z))]

    found = root(function, [10.0, 10.0, 10.0], tol=1e-4, options={"eps": 1e-6})
    x, y, z = map(float, away + found.x)
    return x, y, z
