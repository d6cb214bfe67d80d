"""Aiming: the launch that makes a ball do what its striker intends, wind included.

In still air `sim.intention` gives the launch. In wind the mark is moved, turn by turn, by what the
true flight misses (`sim.aim_in_wind`), and drives too slow for that are followed to the least speed
that clears the net (`sim.slow_drives`). Tests measure how well the true flight meets the intention.
Positions are in ft over the ground, all arrays have shape (shots,).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

import numpy as np

from sim.aim_in_wind import (
    FLIGHT_STEPS,
    aim_off_for_wind,
    clearance_of,
    fly_below_ground,
    landing_of,
    polish,
    second_start,
)
from sim.ball import Ball
from sim.court import Array
from sim.flight import Flight, Launch, falling_time, fly, time_of_top
from sim.intention import Striker, calm_at_speed, calm_over_net, calm_to_top
from sim.slow_drives import AZIMUTH, flatter_or_slowest, launch_of

# A drive in wind whose aim does not settle to this (ft) is tried faster, by this step, so often.
_ROUGH: Final = 1e-3
_FASTER: Final = 1.12
_MOST_FASTER: Final = 7
_RAISED: Final = 1.0 + 1e-9


def aim_over_net(
    x: Array,
    y: Array,
    z: Array,
    landing_x: Array,
    landing_y: Array,
    clearance: Array,
    spin: Array,
    ball: Ball,
    azimuth: Array | None = None,
) -> Launch:
    """Clear the net by ``clearance`` (ft, from net top plus radius) and land at a given point.

    With ``azimuth`` (rad from -y, positive towards +x) the ball leaves in that direction instead of
    for ``landing_x``; it still lands at depth ``landing_y``.
    """
    striker = Striker(x, y, z, spin, ball, azimuth)
    calm = calm_over_net(striker, landing_x, landing_y, clearance)
    if ball.calm:
        return calm
    # In wind a mark set by its top is surer than one set by its clearance, and near enough for
    # Newton's method to end on the clearance itself.
    still = replace(ball, wind_x=0.0, wind_y=0.0)
    flight = fly(x, y, z, calm, still, falling_time(z, calm, still), FLIGHT_STEPS)
    top = flight.position(time_of_top(flight))[2]

    def met(flight: Flight) -> tuple[Array, ...]:
        ending_x, ending_y, _ = landing_of(flight)
        return ending_y, clearance_of(flight), ending_x

    def aim(chosen: np.ndarray, landing_y: Array, top: Array, landing_x: Array) -> Launch:
        return calm_to_top(striker.take(chosen), landing_x, landing_y, top).launch()

    wishes = landing_y, clearance, landing_x
    launch, _ = aim_off_for_wind(striker, aim, (landing_y, top, landing_x), wishes, met)
    launch, misses = polish(striker, launch, wishes, met)
    return second_start(striker, calm, launch, misses, wishes, met)


def aim_to_top(
    x: Array,
    y: Array,
    z: Array,
    landing_x: Array,
    landing_y: Array,
    top: Array,
    spin: Array,
    ball: Ball,
    azimuth: Array | None = None,
) -> Launch:
    """Rise to ``top`` (ft, the centre's greatest height) and land at a given point.

    ``top`` must lie above ``z``. ``azimuth`` as in `aim_over_net`.
    """
    striker = Striker(x, y, z, spin, ball, azimuth)
    if ball.calm:
        return calm_to_top(striker, landing_x, landing_y, top).launch()

    def met(flight: Flight) -> tuple[Array, ...]:
        ending_x, ending_y, _ = landing_of(flight)
        return ending_y, flight.position(time_of_top(flight))[2], ending_x

    def aim(chosen: np.ndarray, landing_y: Array, top: Array, landing_x: Array) -> Launch:
        return calm_to_top(striker.take(chosen), landing_x, landing_y, top).launch()

    wishes = landing_y, top, landing_x
    launch, _ = aim_off_for_wind(striker, aim, wishes, wishes, met)
    return launch


def aim_at_speed(
    x: Array,
    y: Array,
    z: Array,
    landing_x: Array,
    speed: Array,
    clearance: Array,
    spin: Array,
    ball: Ball,
    azimuth: Array | None = None,
) -> tuple[Launch, Array]:
    """Clear the net by ``clearance`` (ft) at a given launch speed (ft/s), landing at ``landing_x``.

    The flatter of the two elevations is taken; where the speed is too small to clear the net so
    high, the smallest speed that does. ``azimuth`` is as in `aim_over_net`.

    Returns the launch and the ``y`` (ft) at which that ball lands.
    """
    striker = Striker(x, y, z, spin, ball, azimuth)
    if ball.calm:
        return calm_at_speed(striker, landing_x, speed, clearance)
    launch, raised = _raised_in_wind(striker, landing_x, speed, clearance)
    if raised.size:
        hard = striker.take(raised)
        misses = _misses_of(hard, landing_x[raised], clearance[raised])
        mended = flatter_or_slowest(speed[raised], launch.take(raised), misses)
        launch.x[raised], launch.y[raised], launch.z[raised] = mended.x, mended.y, mended.z
    return launch, landing_of(fly_below_ground(striker, launch))[1]


def _raised_in_wind(
    striker: Striker, landing_x: Array, speed: Array, clearance: Array
) -> tuple[Launch, np.ndarray]:
    """Clear the net at a given speed in wind, or at one raised until the aim settles.

    The second array tells which ones were raised, here or by the aim in still air.
    """
    velocity, missed = np.empty((3, speed.size)), np.arange(speed.size)
    preferred = speed
    for _ in range(_MOST_FASTER):
        here = striker.take(missed)

        def met(flight: Flight) -> tuple[Array, ...]:
            return clearance_of(flight), landing_of(flight)[0]

        def aim(
            chosen: np.ndarray,
            clearance: Array,
            landing_x: Array,
            here: Striker = here,
            speed: Array = speed[missed],
        ) -> Launch:
            return calm_at_speed(here.take(chosen), landing_x, speed[chosen], clearance)[0]

        wishes = clearance[missed], landing_x[missed]
        launch, misses = aim_off_for_wind(here, aim, wishes, wishes, met)
        velocity[:, missed] = launch.x, launch.y, launch.z
        missed = missed[misses > _ROUGH]
        if not missed.size:
            break
        speed = speed.copy()
        speed[missed] *= _FASTER
    raised = np.flatnonzero(np.sqrt((velocity * velocity).sum(axis=0)) > _RAISED * preferred)
    return Launch(velocity[0], velocity[1], velocity[2], striker.spin), raised


def _misses_of(striker: Striker, landing_x: Array, clearance: Array) -> Callable[[Array], Array]:
    """By how much drives told as in `sim.slow_drives` miss their wishes."""

    def misses(drive: Array) -> Array:
        flight = fly_below_ground(striker, launch_of(drive, striker.spin))
        if striker.azimuth is None:
            aside = landing_of(flight)[0] - landing_x
        else:
            aside = drive[AZIMUTH] - striker.azimuth
        return np.stack((clearance_of(flight) - clearance, aside))

    return misses
