"""Section 9 of the model page, the drive.

Speed and net clearance are chosen; of the two elevations that clear the net by that much the
flatter is taken, with the azimuth that lands at the intended `x`.
"""

from __future__ import annotations

import math

from scipy.optimize import brentq, minimize_scalar, newton

from tests.reference.ball import Ball
from tests.reference.court import Vec3
from tests.reference.flight import clearance_at_net, fly
from tests.reference.launch import Launch, launch_from_velocity
from tests.reference.solve import AIM_TOLERANCE, NotReachableError, velocity_over_net

DRIVE_DEEPEST_Y = -20.0  # an intended drive lands no deeper than this
WIDEST = math.radians(89.0)  # azimuth either way


def azimuth_for(
    position: Vec3,
    speed: float,
    elevation: float,
    spin: float,
    landing_x: float | None,
    azimuth: float | None,
    ball: Ball,
) -> float | None:
    """Azimuth whose ball lands at ``landing_x``; None if none does; a given azimuth as it is."""
    if azimuth is not None:
        return azimuth

    def miss(trial: float) -> float:
        launch = Launch(speed, elevation, trial, spin)
        return fly(position, launch.velocity, spin, ball).landing_position[0] - landing_x

    ahead = math.atan2(landing_x - position[0], position[1] - DRIVE_DEEPEST_Y)
    found, how = newton(miss, ahead, x1=ahead + 0.01, tol=1e-11, full_output=True, disp=False)
    if how.converged and abs(miss(found)) < AIM_TOLERANCE and abs(found) < WIDEST:
        return float(found)
    if miss(-WIDEST) > 0.0 or miss(WIDEST) < 0.0:
        return None
    return float(brentq(miss, -WIDEST, WIDEST, xtol=1e-14, rtol=1e-14))


def drive_miss(
    position: Vec3,
    speed: float,
    elevation: float,
    clearance: float,
    spin: float,
    landing_x: float | None,
    azimuth: float | None,
    ball: Ball,
) -> float:
    """Clearance at the net minus the one wanted (ft), the ball aimed sideways at that elevation.

    Minus 1000 where the ball cannot be aimed sideways or never gets to the net.
    """
    aimed = azimuth_for(position, speed, elevation, spin, landing_x, azimuth, ball)
    if aimed is None:
        return -1e3
    launch = Launch(speed, elevation, aimed, spin)
    value = clearance_at_net(position, launch.velocity, spin, ball) - clearance
    return max(value, -1e3)


def lower_elevation(
    position: Vec3,
    speed: float,
    clearance: float,
    spin: float,
    landing_x: float | None,
    azimuth: float | None,
    ball: Ball,
) -> float | None:
    """Lowest elevation (rad) that gives the clearance at a speed; None if none does."""

    def miss(elevation: float) -> float:
        return drive_miss(position, speed, elevation, clearance, spin, landing_x, azimuth, ball)

    # The straight line to the lowest possible target lies below every solution: without
    # backspin a ball falls below the line it was struck along.
    lowest = math.atan2(ball.radius + clearance - position[2], position[1]) - math.radians(3.0)
    step = math.radians(4.0)
    elevations = [lowest]
    values = [miss(lowest)]
    if values[0] >= 0.0:
        raise NotReachableError("the search for the lower elevation starts above the net")
    while elevations[-1] + step < math.radians(80.0):
        elevations.append(elevations[-1] + step)
        values.append(miss(elevations[-1]))
        if values[-1] >= 0.0:
            break
    if values[-1] >= 0.0:
        low, high = elevations[-2], elevations[-1]
    else:
        # The clearance may just be reached between two steps of the search.
        best = max(range(len(values)), key=values.__getitem__)
        around = (elevations[max(0, best - 1)], elevations[min(len(values) - 1, best + 1)])
        peak = minimize_scalar(
            lambda e: -miss(e), bounds=around, method="bounded", options={"xatol": 1e-9}
        )
        if -peak.fun < 0.0:
            return None
        low, high = around[0], float(peak.x)
    elevation = float(brentq(miss, low, high, xtol=1e-14, rtol=1e-14))
    if abs(miss(elevation)) > AIM_TOLERANCE:
        raise NotReachableError("the clearance jumps where it should be met (net post)")
    return elevation


def slowest_drive(
    position: Vec3,
    preferred: float,
    clearance: float,
    spin: float,
    landing_x: float | None,
    azimuth: float | None,
    ball: Ball,
) -> Launch:
    """The drive of the smallest speed, above the preferred one, that gives the clearance."""

    def speed_needed(elevation: float) -> float:
        def miss(speed: float) -> float:
            return drive_miss(position, speed, elevation, clearance, spin, landing_x, azimuth, ball)

        fast = preferred
        while miss(fast) < 0.0:
            fast *= 1.2
            if fast > 1000.0:
                return 1000.0
        if fast == preferred:
            return preferred
        return float(brentq(miss, fast / 1.2, fast, xtol=1e-13, rtol=1e-14))

    trials = [math.radians(a) for a in range(5, 81, 5)]
    best = min(trials, key=speed_needed)
    found = minimize_scalar(
        speed_needed,
        bounds=(best - math.radians(5.0), best + math.radians(5.0)),
        method="bounded",
        options={"xatol": 1e-8},
    )
    elevation, speed = float(found.x), float(found.fun)
    if speed >= 1000.0:
        raise NotReachableError("no speed gives the clearance")
    aimed = azimuth_for(position, speed, elevation, spin, landing_x, azimuth, ball)
    if aimed is None:
        raise NotReachableError("no azimuth lands where intended")
    return Launch(speed, elevation, aimed, spin)


def aim_drive(
    position: Vec3,
    speed: float,
    clearance: float,
    spin: float,
    landing_x: float | None,
    azimuth: float | None,
    ball: Ball,
) -> Launch:
    """Aim a drive.

    At the preferred speed the lower elevation that gives the clearance; a higher speed, the
    smallest that will do, if no elevation does; a lower speed, landing at ``y = -20``, if the ball
    would land deeper than that.

    Args:
        position: opponents' contact (ft).
        speed: preferred speed over the ground (ft/s).
        clearance: height of the centre above net top plus radius (ft).
        spin: topspin (rad/s).
        landing_x: intended landing ``x`` (ft), or None if ``azimuth`` is given.
        azimuth: ground launch azimuth (rad from ``-y``, positive towards ``+x``), or None.
        ball: the ball, air and wind.
    """
    elevation = lower_elevation(position, speed, clearance, spin, landing_x, azimuth, ball)
    if elevation is None:
        launch = slowest_drive(position, speed, clearance, spin, landing_x, azimuth, ball)
    else:
        aimed = azimuth_for(position, speed, elevation, spin, landing_x, azimuth, ball)
        if aimed is None:
            raise NotReachableError("no azimuth lands where intended")
        launch = Launch(speed, elevation, aimed, spin)
    landing = fly(position, launch.velocity, spin, ball).landing_position
    if landing[1] >= DRIVE_DEEPEST_Y:
        return launch
    velocity = velocity_over_net(
        position, landing_x, azimuth, DRIVE_DEEPEST_Y, clearance, spin, ball
    )
    slower = launch_from_velocity(velocity, spin)
    if slower.speed > launch.speed:
        raise NotReachableError("no lower speed lands inside the baseline")
    return slower
