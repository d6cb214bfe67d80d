"""A slow, plain, one-shot-at-a-time reference of the doubles third-shot model.

The file is an independent second opinion: readable scalar code, adaptive integration at tight
tolerance for every flight in full 3-D Cartesian coordinates, general root finders for the aiming,
and a dense search over time for who reaches the ball. It draws no random number: everything that
is random in a simulation is an argument here.

Frame and units
---------------
Origin on the ground under the centre of the net. ``x`` points to the right of the pair as they
face the net, ``y`` from the pair towards the opponents, ``z`` up. The pair's court is
``-22 <= y <= 0`` and the opponents' ``0 <= y <= 22``, both with ``-10 <= x <= 10``.
Feet, seconds, radians, feet per second and radians per second throughout; angles in radians.

Times of the return of serve count from the return strike; times of the third shot count from the
opponents' contact.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq, minimize_scalar, root

Vec2 = tuple[float, float]
Vec3 = tuple[float, float, float]

# --- units -------------------------------------------------------------------------------------
FOOT_M = 0.3048
INCH_M = 0.0254
MPH = 5280.0 / 3600.0  # ft/s in one mile per hour
RPM = 2.0 * math.pi / 60.0  # rad/s in one revolution per minute
GRAVITY = 9.80665 / FOOT_M  # ft/s^2

# --- court -------------------------------------------------------------------------------------
HALF_WIDTH = 10.0
HALF_LENGTH = 22.0
NVZ_LINE = -7.0  # the pair's non-volley-zone line, as y
NET_CENTRE = 34.0 / 12.0
NET_SIDE = 36.0 / 12.0
POST_X = 11.0
DRIVE_DEEPEST_Y = -20.0  # an intended drive lands no deeper than this
OPPONENT_LAST_Y = 28.0  # the opponents strike here at the latest
PAIR_LAST_Y = -30.0  # nothing is reached at or behind this

# --- ball on the court -------------------------------------------------------------------------
INERTIA = 2.0 / 3.0  # hollow sphere

# --- body, as parts of stature, and racket arm -------------------------------------------------
SHOULDER = 0.818 * 0.93  # shoulder height in playing posture
BODY_TO_SHOULDER = 0.129
ARM_TO_GRIP = 0.186 + 0.146 + 0.054
SWEET_SPOT = 0.71  # ft from the grip
TIP = 1.12  # ft from the grip
CONTROL_RAMP = 0.18  # s until the arm is fully out
LUNGE_RAMP = 0.45  # s until the lunge is complete
RUNNING_PENALTY = 0.104  # s added to the reaction of a player who did not split-step

# --- numerics ----------------------------------------------------------------------------------
RTOL = 1e-10
ATOL = 1e-12
LONGEST_FLIGHT = 60.0
LARGEST_STEP = 0.05
AIM_TOLERANCE = 1e-7  # ft, largest miss of an aiming condition that is accepted


class NotReachableError(Exception):
    """No launch meets the conditions that were asked for."""


# ===============================================================================================
# Parameters and results
# ===============================================================================================
@dataclass(frozen=True)
class Ball:
    """The ball, the air and the court surface.

    Attributes:
        K: drag coefficient per mass, ``rho Cd A / 2m`` (1/ft).
        M: Magnus coefficient, ``rho A r slope / 2m`` (dimensionless), acceleration ``M w (s x v)``.
        radius: radius (ft).
        g: gravity (ft/s^2).
        e: vertical coefficient of restitution on the court.
        mu: friction coefficient on the court.
        wind: velocity of the air over the ground, (x, y) (ft/s).
    """

    K: float
    M: float
    radius: float = 2.92 / 24.0
    g: float = GRAVITY
    e: float = 0.66
    mu: float = 0.5
    wind: Vec2 = (0.0, 0.0)


@dataclass(frozen=True)
class Player:
    """One player of the pair.

    Attributes:
        height: stature (ft).
        V: top running speed forwards (ft/s).
        tau: time constant of the run (s).
        right_handed: True for a right-handed player.
        full_stretch: flat distance from the standing mark to the racket tip at full lunge (ft).
        lateral: running speed sideways as a part of the speed forwards.
        back: running speed backwards as a part of the speed forwards.
        bend: how far the shoulder can be lowered for a low ball (ft).
        backhand: arm and racket length on the backhand as a part of the forehand's.
    """

    height: float
    V: float
    tau: float
    right_handed: bool
    full_stretch: float
    lateral: float = 0.85
    back: float = 0.65
    bend: float = 1.2
    backhand: float = 0.92


@dataclass(frozen=True)
class Flight:
    """One flight from a strike or a bounce down to the next landing (centre at ``z = 0``).

    Call it with a time since its own start (s) to get the position of the centre (ft).

    Attributes:
        solution: dense output of the integrator, time -> (x, y, z, vx, vy, vz).
        spin: spin rate during the flight, topspin positive (rad/s).
        landing_time: time of the landing since the start of the flight (s).
        landing_position: position at the landing (ft), ``z = 0`` exactly.
        landing_velocity: velocity over the ground at the landing (ft/s).
    """

    solution: Callable[[float], Any]
    spin: float
    landing_time: float
    landing_position: Vec3
    landing_velocity: Vec3

    def __call__(self, t: float) -> Vec3:
        """Position (ft) at ``t`` seconds after the start of the flight."""
        state = self.solution(t)
        return float(state[0]), float(state[1]), float(state[2])

    def velocity(self, t: float) -> Vec3:
        """Velocity over the ground (ft/s) at ``t`` seconds after the start of the flight."""
        state = self.solution(t)
        return float(state[3]), float(state[4]), float(state[5])


@dataclass(frozen=True)
class Path:
    """A struck ball up to its second landing: a flight, a bounce, a flight.

    Call it with a time since the strike (s) to get the position of the centre (ft).
    """

    first: Flight
    second: Flight

    @property
    def bounce_time(self) -> float:
        """Time of the first bounce since the strike (s)."""
        return self.first.landing_time

    @property
    def end_time(self) -> float:
        """Time of the second bounce since the strike (s)."""
        return self.first.landing_time + self.second.landing_time

    def __call__(self, t: float) -> Vec3:
        """Position (ft) at ``t`` seconds after the strike."""
        if t <= self.bounce_time:
            return self.first(t)
        return self.second(t - self.bounce_time)


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


@dataclass(frozen=True)
class Launch:
    """A third shot as it leaves the racket, in the ground frame.

    Attributes:
        speed: speed over the ground (ft/s).
        elevation: angle above the horizontal (rad).
        azimuth: angle from the opponents' straight ahead (``-y``), positive to ``+x`` (rad).
        spin: spin rate, topspin positive (rad/s).
    """

    speed: float
    elevation: float
    azimuth: float
    spin: float

    @property
    def velocity(self) -> Vec3:
        """Velocity over the ground (ft/s)."""
        flat = self.speed * math.cos(self.elevation)
        return (
            flat * math.sin(self.azimuth),
            -flat * math.cos(self.azimuth),
            self.speed * math.sin(self.elevation),
        )


@dataclass(frozen=True)
class Reach:
    """What one player can do about one ball in play.

    A margin is the greatest value over time of (reach - ground distance) in feet, over the instants
    at which the ball is at a height the player can get the racket to; minus infinity if there is
    no such instant after the reaction. ``control`` and ``stretch`` say whether it is >= 0.

    Attributes:
        control: the ball can be taken in control.
        stretch: the ball can be reached at full stretch.
        control_margin: best margin in control (ft).
        control_time: when that is (s after the contact).
        stretch_margin: best margin at full stretch (ft).
        stretch_time: when that is (s after the contact).
        spare_time: how much later the player could have reacted and still have taken the ball in
            control (s); negative when it could not, minus infinity if no reaction would do.
    """

    control: bool = False
    stretch: bool = False
    control_margin: float = -math.inf
    control_time: float = math.nan
    stretch_margin: float = -math.inf
    stretch_time: float = math.nan
    spare_time: float = -math.inf


@dataclass(frozen=True)
class Result:
    """What became of a third shot.

    Attributes:
        outcome: ``net``, ``out``, ``control``, ``stretch`` or ``through``.
        leak: for ``through``: ``short``, ``over``, ``line``, ``cross`` or ``middle``; else None.
        left: reach of the left player (its defaults if the ball was not in play).
        right: reach of the right player (its defaults if the ball was not in play).
        net_time: when the centre passes the plane ``y = 0`` (s), None if it lands before.
        net_x: where along the net it passes (ft), None likewise.
        net_clearance: height of the centre there above net top plus radius (ft), None likewise.
        bounce_time: time of the landing (s after the contact).
        landing: (x, y) of the landing (ft).
        end_time: time of the second bounce (s after the contact); None if not in play.
        second_landing: (x, y) of the second bounce (ft); None if not in play.
    """

    outcome: str
    leak: str | None
    left: Reach
    right: Reach
    net_time: float | None
    net_x: float | None
    net_clearance: float | None
    bounce_time: float
    landing: Vec2
    end_time: float | None
    second_landing: Vec2 | None


# ===============================================================================================
# Physics
# ===============================================================================================
def coefficients(
    mass_g: float, diameter_in: float, cd: float, slope: float, rho: float
) -> tuple[float, float]:
    """Drag and Magnus coefficients of a ball.

    Args:
        mass_g: mass (g).
        diameter_in: diameter (in).
        cd: drag coefficient.
        slope: lift coefficient per unit of spin parameter ``r w / |v|``.
        rho: air density (kg/m^3).

    Returns:
        ``K = rho Cd A / 2m`` (1/ft) and ``M = rho A r slope / 2m`` (dimensionless).
    """
    radius = diameter_in * INCH_M / 2.0
    area = math.pi * radius**2
    mass = mass_g / 1000.0
    k_per_metre = rho * cd * area / (2.0 * mass)
    m = rho * area * radius * slope / (2.0 * mass)
    return k_per_metre * FOOT_M, m


def net_top(x: float) -> float:
    """Height of the net (ft) at ``x`` (ft); 0 beyond the posts, where there is no net."""
    distance = abs(x)
    if distance > POST_X:
        return 0.0
    if distance > HALF_WIDTH:
        return NET_SIDE
    return NET_CENTRE + (NET_SIDE - NET_CENTRE) * distance / HALF_WIDTH


def spin_axis(ground_velocity: Vec3, ball: Ball) -> Vec3:
    """Horizontal spin axis ``s = z x d`` of a flight, ``d`` the horizontal launch direction
    through the air; the zero vector if the launch has no horizontal part through the air."""
    ux = ground_velocity[0] - ball.wind[0]
    uy = ground_velocity[1] - ball.wind[1]
    flat = math.hypot(ux, uy)
    if flat == 0.0:
        return 0.0, 0.0, 0.0
    return -uy / flat, ux / flat, 0.0


def _integrate(
    position: Vec3, ground_velocity: Vec3, spin: float, ball: Ball, stop: Callable[..., float]
) -> Any:
    """Integrate a flight until the event ``stop(t, state)`` (an attribute ``direction`` applies).

    The state is (x, y, z, vx, vy, vz) over the ground; drag and Magnus force act on the velocity
    through the air, ``a = -g z - K |u| u + M w (s x u)``.
    """
    sx, sy, sz = spin_axis(ground_velocity, ball)
    wx, wy = ball.wind

    def derivative(_t: float, state: Any) -> list[float]:
        vx, vy, vz = float(state[3]), float(state[4]), float(state[5])
        ux, uy, uz = vx - wx, vy - wy, vz
        speed = math.sqrt(ux * ux + uy * uy + uz * uz)
        lift = ball.M * spin
        ax = -ball.K * speed * ux + lift * (sy * uz - sz * uy)
        ay = -ball.K * speed * uy + lift * (sz * ux - sx * uz)
        az = -ball.K * speed * uz + lift * (sx * uy - sy * ux) - ball.g
        return [vx, vy, vz, ax, ay, az]

    # A flight that starts on the ground must leave it within the first step.
    largest_step = LARGEST_STEP
    if position[2] <= 0.0 and ground_velocity[2] > 0.0:
        largest_step = min(largest_step, 0.25 * ground_velocity[2] / ball.g)
    stop.terminal = True  # type: ignore[attr-defined]
    return solve_ivp(
        derivative,
        (0.0, LONGEST_FLIGHT),
        [*position, *ground_velocity],
        method="DOP853",
        rtol=RTOL,
        atol=ATOL,
        max_step=largest_step,
        events=stop,
        dense_output=True,
    )


def fly(position: Vec3, ground_velocity: Vec3, spin: float, ball: Ball) -> Flight:
    """Fly a ball until its centre comes down to ``z = 0``.

    Args:
        position: start (ft).
        ground_velocity: start velocity over the ground (ft/s).
        spin: spin rate, topspin positive, constant in flight (rad/s).
        ball: the ball, air and wind.

    Returns:
        The flight, callable with the time since its start.
    """

    def ground(_t: float, state: Any) -> float:
        return float(state[2])

    ground.direction = -1.0  # type: ignore[attr-defined]
    run = _integrate(position, ground_velocity, spin, ball, ground)
    if run.t_events[0].size == 0:
        raise RuntimeError("the ball did not land")
    end = run.y_events[0][0]
    return Flight(
        solution=run.sol,
        spin=spin,
        landing_time=float(run.t_events[0][0]),
        landing_position=(float(end[0]), float(end[1]), 0.0),
        landing_velocity=(float(end[3]), float(end[4]), float(end[5])),
    )


def bounce(velocity: Vec3, spin: float, ball: Ball) -> tuple[Vec3, float]:
    """Bounce a hollow ball off the court, grip or slip without tangential rebound.

    Args:
        velocity: velocity over the ground at the landing (ft/s), ``vz < 0``.
        spin: spin before, topspin positive (rad/s).
        ball: gives radius, restitution and friction.

    Returns:
        Velocity over the ground (ft/s) and spin (rad/s) after the bounce. The horizontal direction
        is kept; the horizontal speed never goes below zero.
    """
    v = math.hypot(velocity[0], velocity[1])
    u = -velocity[2]
    r = ball.radius
    impulse = ball.mu * (1.0 + ball.e) * u
    rolling = (v + INERTIA * r * spin) / (1.0 + INERTIA)
    if abs(v - rolling) <= impulse:
        v_after = rolling
        spin_after = rolling / r
    else:
        sign = 1.0 if v - r * spin > 0.0 else -1.0
        v_after = v - sign * impulse
        spin_after = spin + sign * impulse / (INERTIA * r)
    v_after = max(0.0, v_after)
    scale = v_after / v if v > 0.0 else 0.0
    return (velocity[0] * scale, velocity[1] * scale, ball.e * u), spin_after


def fly_two(position: Vec3, ground_velocity: Vec3, spin: float, ball: Ball) -> Path:
    """Fly a ball, bounce it, and fly it to its second landing. Arguments as in `fly`."""
    first = fly(position, ground_velocity, spin, ball)
    velocity, new_spin = bounce(first.landing_velocity, spin, ball)
    second = fly(first.landing_position, velocity, new_spin, ball)
    return Path(first=first, second=second)


def apex(position: Vec3, ground_velocity: Vec3, spin: float, ball: Ball) -> tuple[float, float]:
    """Time (s) and height (ft) of the highest point of the ball's centre in a flight."""
    if ground_velocity[2] <= 0.0:
        return 0.0, position[2]

    def climbing(_t: float, state: Any) -> float:
        return float(state[5])

    climbing.direction = -1.0  # type: ignore[attr-defined]
    run = _integrate(position, ground_velocity, spin, ball, climbing)
    return float(run.t_events[0][0]), float(run.y_events[0][0][2])


def clearance_at_net(position: Vec3, ground_velocity: Vec3, spin: float, ball: Ball) -> float:
    """Height (ft) of the centre above net top plus radius in the plane ``y = 0``.

    For aiming: the flight is continued below the ground if it comes down before the plane, so that
    the value stays meaningful (and negative) for a ball that falls short. Minus infinity if the
    ball never gets to the plane.
    """

    def plane_or_lost(_t: float, state: Any) -> float:
        return float(state[1]) if state[2] > -500.0 else 0.0

    run = _integrate(position, ground_velocity, spin, ball, plane_or_lost)
    if run.t_events[0].size == 0:
        return -math.inf
    end = run.y_events[0][0]
    if end[2] <= -499.0:
        return -math.inf
    return float(end[2]) - net_top(float(end[0])) - ball.radius


# ===============================================================================================
# Aiming
# ===============================================================================================
def _scaled(ball: Ball, part: float) -> Ball:
    """The same ball with only a part of its drag, lift and wind."""
    return replace(
        ball,
        K=part * ball.K,
        M=part * ball.M,
        wind=(part * ball.wind[0], part * ball.wind[1]),
    )


def _solve_velocity(
    misses: Callable[[Vec3, Ball], list[float]], vacuum_guess: Vec3, ball: Ball
) -> Vec3:
    """Find the ground velocity for which three misses (ft) vanish.

    Tried directly from the guess for a ball in vacuum; if that fails, drag, lift and wind are
    brought in step by step, each solution the next one's guess.
    """
    for steps in (1, 4, 16):
        guess = vacuum_guess
        for step in range(steps + 1):
            part_ball = _scaled(ball, step / steps)

            def function(v: Any, part_ball: Ball = part_ball) -> list[float]:
                velocity = (float(v[0]), float(v[1]), float(v[2]))
                return [m if math.isfinite(m) else -1e3 for m in misses(velocity, part_ball)]

            answer = root(
                function, guess, method="hybr", tol=1e-13, options={"eps": 1e-13, "maxfev": 200}
            )
            guess = (float(answer.x[0]), float(answer.x[1]), float(answer.x[2]))
        if max(abs(m) for m in misses(guess, ball)) < AIM_TOLERANCE:
            return guess
    raise NotReachableError("no launch velocity meets the three conditions")


def _side_miss(
    velocity: Vec3, landing: Vec3, landing_x: float | None, azimuth: float | None
) -> float:
    """Sideways miss (ft or ft/s): of the landing ``x``, or of a launch azimuth given instead."""
    if azimuth is not None:
        return velocity[0] * math.cos(azimuth) + velocity[1] * math.sin(azimuth)
    assert landing_x is not None
    return landing[0] - landing_x


def _solve_apex_and_landing(
    position: Vec3,
    landing_x: float | None,
    azimuth: float | None,
    landing_y: float,
    apex_height: float,
    spin: float,
    ball: Ball,
) -> Vec3:
    """Ground velocity of the ball with a given apex and landing.

    Sideways either ``landing_x`` (ft) or ``azimuth`` (rad from ``-y``, positive towards ``+x``)
    is given, the other None.
    """
    x0, y0, z0 = position
    if apex_height <= z0:
        raise NotReachableError("the apex is not above the strike")

    def misses(velocity: Vec3, part_ball: Ball) -> list[float]:
        landing = fly(position, velocity, spin, part_ball).landing_position
        return [
            _side_miss(velocity, landing, landing_x, azimuth),
            landing[1] - landing_y,
            apex(position, velocity, spin, part_ball)[1] - apex_height,
        ]

    vz = math.sqrt(2.0 * ball.g * (apex_height - z0))
    time = vz / ball.g + math.sqrt(2.0 * apex_height / ball.g)
    vy = (landing_y - y0) / time
    if landing_x is not None:
        vx = (landing_x - x0) / time
    else:
        assert azimuth is not None
        vx = -vy * math.tan(azimuth)
    return _solve_velocity(misses, (vx, vy, vz), ball)


def _solve_clearance_and_landing(
    position: Vec3,
    landing_x: float | None,
    azimuth: float | None,
    landing_y: float,
    clearance: float,
    spin: float,
    ball: Ball,
) -> Vec3:
    """Ground velocity of the ball with a given net clearance and landing (see above)."""
    x0, y0, z0 = position

    def misses(velocity: Vec3, part_ball: Ball) -> list[float]:
        landing = fly(position, velocity, spin, part_ball).landing_position
        return [
            _side_miss(velocity, landing, landing_x, azimuth),
            landing[1] - landing_y,
            clearance_at_net(position, velocity, spin, part_ball) - clearance,
        ]

    # Vacuum guess: the parabola through the strike, the point above the net and the landing.
    if landing_x is not None:
        guess_x = landing_x
    else:
        assert azimuth is not None
        guess_x = x0 + (y0 - landing_y) * math.tan(azimuth)
    along = math.hypot(guess_x - x0, landing_y - y0)
    to_net = along * y0 / (y0 - landing_y)
    net_x = x0 + (guess_x - x0) * y0 / (y0 - landing_y)
    slope_to_net = (net_top(net_x) + ball.radius + clearance - z0) / to_net
    slope_to_landing = -z0 / along
    curvature = max(1e-4, (slope_to_net - slope_to_landing) / (along - to_net))
    flat = math.sqrt(ball.g / (2.0 * curvature))
    rise = slope_to_net + curvature * to_net
    guess = (
        flat * (guess_x - x0) / along,
        flat * (landing_y - y0) / along,
        flat * rise,
    )
    return _solve_velocity(misses, guess, ball)


def launch_from_velocity(velocity: Vec3, spin: float) -> Launch:
    """The launch (speed, elevation, azimuth) with a given ground velocity (ft/s)."""
    flat = math.hypot(velocity[0], velocity[1])
    return Launch(
        speed=math.hypot(flat, velocity[2]),
        elevation=math.atan2(velocity[2], flat),
        azimuth=math.atan2(velocity[0], -velocity[1]),
        spin=spin,
    )


def side_of(x: float) -> float:
    """Side of the court of a contact: -1 for ``x < 0``, else +1 (0 counts as right)."""
    return -1.0 if x < 0.0 else 1.0


def intended_landing_x(lane: str, contact_x: float, inset: float, middle_x: float) -> float:
    """Intended landing ``x`` (ft) of a third shot.

    Args:
        lane: ``line``, ``middle`` or ``cross``.
        contact_x: ``x`` of the opponents' contact (ft).
        inset: distance inside the sideline for line and cross (ft).
        middle_x: landing ``x`` for the middle (ft).
    """
    if lane == "line":
        return side_of(contact_x) * (HALF_WIDTH - inset)
    if lane == "cross":
        return -side_of(contact_x) * (HALF_WIDTH - inset)
    if lane == "middle":
        return middle_x
    raise ValueError(f"unknown lane {lane!r}")


def _azimuth_for(
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

    widest = math.radians(89.0)
    if miss(-widest) > 0.0 or miss(widest) < 0.0:
        return None
    return float(brentq(miss, -widest, widest, xtol=1e-14, rtol=1e-14))


def _drive_miss(
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
    aimed = _azimuth_for(position, speed, elevation, spin, landing_x, azimuth, ball)
    if aimed is None:
        return -1e3
    launch = Launch(speed, elevation, aimed, spin)
    value = clearance_at_net(position, launch.velocity, spin, ball) - clearance
    return max(value, -1e3)


def _lower_elevation(
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
        return _drive_miss(position, speed, elevation, clearance, spin, landing_x, azimuth, ball)

    # The straight line to the lowest possible target lies below every solution: without
    # backspin a ball falls below the line it was struck along.
    lowest = math.atan2(ball.radius + clearance - position[2], position[1]) - math.radians(3.0)
    step = math.radians(1.0)
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


def _slowest_drive(
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
            return _drive_miss(
                position, speed, elevation, clearance, spin, landing_x, azimuth, ball
            )

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
    aimed = _azimuth_for(position, speed, elevation, spin, landing_x, azimuth, ball)
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
    elevation = _lower_elevation(position, speed, clearance, spin, landing_x, azimuth, ball)
    if elevation is None:
        launch = _slowest_drive(position, speed, clearance, spin, landing_x, azimuth, ball)
    else:
        aimed = _azimuth_for(position, speed, elevation, spin, landing_x, azimuth, ball)
        if aimed is None:
            raise NotReachableError("no azimuth lands where intended")
        launch = Launch(speed, elevation, aimed, spin)
    landing = fly(position, launch.velocity, spin, ball).landing_position
    if landing[1] >= DRIVE_DEEPEST_Y:
        return launch
    velocity = _solve_clearance_and_landing(
        position, landing_x, azimuth, DRIVE_DEEPEST_Y, clearance, spin, ball
    )
    slower = launch_from_velocity(velocity, spin)
    if slower.speed > launch.speed:
        raise NotReachableError("no lower speed lands inside the baseline")
    return slower


def aim_third_shot(
    kind: str,
    contact: Contact,
    ball: Ball,
    *,
    lane: str = "middle",
    inset: float = 0.0,
    middle_x: float = 0.0,
    cross_azimuth: float | None = None,
    speed: float | None = None,
    clearance: float | None = None,
    depth: float | None = None,
    apex_height: float | None = None,
    spin: float | None = None,
) -> Launch:
    """The intended third shot.

    Args:
        kind: ``drive`` (uses speed and clearance), ``drop`` (depth and clearance) or ``lob``
            (depth and apex_height).
        contact: the opponents' contact.
        ball: the ball, air and wind.
        lane: ``line`` (near sideline), ``middle`` or ``cross`` (far sideline).
        inset: distance inside the sideline of the landing, for line and cross (ft).
        middle_x: landing ``x`` for the middle (ft).
        cross_azimuth: launch azimuth given directly instead of a lane: rad from straight ahead,
            positive towards the opponents' far sideline.
        speed: preferred speed of a drive over the ground (ft/s).
        clearance: height of the centre above net top plus radius (ft).
        depth: distance of the landing from the net (ft).
        apex_height: greatest height of the centre of a lob (ft).
        spin: topspin (rad/s); by default 500 rpm for a drive, none otherwise.

    Returns:
        The launch in the ground frame, without execution error.
    """
    position = contact.position
    azimuth: float | None = None
    landing_x: float | None = None
    if cross_azimuth is not None:
        azimuth = -side_of(contact.X) * cross_azimuth
    else:
        landing_x = intended_landing_x(lane, contact.X, inset, middle_x)
    if spin is None:
        spin = 500.0 * RPM if kind == "drive" else 0.0

    if kind == "drive":
        if speed is None or clearance is None:
            raise ValueError("a drive needs speed and clearance")
        return aim_drive(position, speed, clearance, spin, landing_x, azimuth, ball)
    if kind == "drop":
        if depth is None or clearance is None:
            raise ValueError("a drop needs depth and clearance")
        velocity = _solve_clearance_and_landing(
            position, landing_x, azimuth, -depth, clearance, spin, ball
        )
        return launch_from_velocity(velocity, spin)
    if kind == "lob":
        if depth is None or apex_height is None:
            raise ValueError("a lob needs depth and apex_height")
        velocity = _solve_apex_and_landing(
            position, landing_x, azimuth, -depth, apex_height, spin, ball
        )
        return launch_from_velocity(velocity, spin)
    raise ValueError(f"unknown third shot {kind!r}")


def with_error(
    launch: Launch, e_speed: float = 0.0, e_elevation: float = 0.0, e_azimuth: float = 0.0
) -> Launch:
    """A launch with its execution error: relative on speed, radians on the angles, same spin."""
    return Launch(
        speed=launch.speed * (1.0 + e_speed),
        elevation=launch.elevation + e_elevation,
        azimuth=launch.azimuth + e_azimuth,
        spin=launch.spin,
    )


# ===============================================================================================
# Return of serve
# ===============================================================================================
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
    velocity = _solve_apex_and_landing(
        position, landing_x, None, landing_depth, apex_height, 0.0, ball
    )
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


# ===============================================================================================
# Where the pair stands
# ===============================================================================================
def bisect_x(contact_x: float, contact_y: float, depth: float) -> float:
    """``x`` (ft), at a depth (ft from the net), of the bisector of the angle from the contact to
    the two sidelines at that depth."""
    ahead = contact_y + depth
    to_left = math.atan2(-HALF_WIDTH - contact_x, ahead)
    to_right = math.atan2(HALF_WIDTH - contact_x, ahead)
    return contact_x + ahead * math.tan((to_left + to_right) / 2.0)


def target_centre(
    rule: str,
    contact_x: float,
    contact_y: float,
    k: float,
    *,
    spacing: float = 7.0,
    depth: float = 8.0,
    shift: float = 0.40,
    fixed: float = 0.0,
) -> float:
    """Centre ``x`` of the pair (ft) under a rule, clipped so that both stand on the court.

    Args:
        rule: ``follow``, ``tethered``, ``halves``, ``centre``, ``bisect`` or ``fixed``.
        contact_x: ``x`` of the opponents' contact (ft).
        contact_y: ``y`` of the opponents' contact (ft).
        k: side of the returner, +1 or -1.
        spacing: distance between the two players (ft); ``halves`` always uses 10.
        depth: distance of the pair from the net (ft).
        shift: part of the contact's ``x`` that ``follow`` moves by.
        fixed: the centre for ``fixed`` (ft).
    """
    if rule == "follow":
        centre = shift * contact_x
    elif rule == "tethered":
        centre = 5.0 * k - k * spacing / 2.0
    elif rule == "halves":
        centre, spacing = 0.0, 10.0
    elif rule == "centre":
        centre = 0.0
    elif rule == "bisect":
        centre = bisect_x(contact_x, contact_y, depth)
    elif rule == "fixed":
        centre = fixed
    else:
        raise ValueError(f"unknown rule {rule!r}")
    room = max(0.0, HALF_WIDTH - spacing / 2.0)
    return min(room, max(-room, centre))


def target_positions(
    rule: str,
    contact_x: float,
    contact_y: float,
    k: float,
    *,
    spacing: float = 7.0,
    depth: float = 8.0,
    shift: float = 0.40,
    fixed: float = 0.0,
    places: tuple[Vec2, Vec2] | None = None,
) -> tuple[Vec2, Vec2]:
    """Targets (x, y) of the left and the right player (ft). Arguments as in `target_centre`.

    For ``best``, ``places`` are those of the left and the right player: how far to the right of the
    centre line, and how far from the net (ft).
    """
    if rule == "best":
        if places is None:
            raise ValueError("the rule best needs places")
        return (places[0][0], -places[0][1]), (places[1][0], -places[1][1])
    centre = target_centre(
        rule, contact_x, contact_y, k, spacing=spacing, depth=depth, shift=shift, fixed=fixed
    )
    if rule == "halves":
        spacing = 10.0
    return (centre - spacing / 2.0, -depth), (centre + spacing / 2.0, -depth)


# ===============================================================================================
# Running
# ===============================================================================================
def run_distance(q: float, player: Player) -> float:
    """Distance (ft) run straight forwards ``q`` seconds after the start; 0 for ``q <= 0``."""
    if q <= 0.0:
        return 0.0
    return player.V * (q - player.tau * (1.0 - math.exp(-q / player.tau)))


def forward_equivalent(dx: float, dy: float, player: Player) -> float:
    """Length (ft) of a forward run that takes as long as a run by ``(dx, dy)`` (ft)."""
    along = 1.0 if dy > 0.0 else player.back
    return math.hypot(dx / player.lateral, dy / along)


def run_towards(start: Vec2, goal: Vec2, s: float, player: Player) -> Vec2:
    """Position (ft) after a straight run to ``goal``, stopping there, with ``s`` feet forwards."""
    dx, dy = goal[0] - start[0], goal[1] - start[1]
    length = forward_equivalent(dx, dy, player)
    if length <= s:
        return goal
    return start[0] + dx * s / length, start[1] + dy * s / length


def run_in(
    start: Vec2,
    target: Vec2,
    T: float,
    player: Player,
    *,
    delay: float,
    split_step: bool,
    settle: float = 0.15,
) -> Vec2:
    """Position (ft) of a player at the opponents' contact.

    Args:
        start: position at the return strike (ft).
        target: where the player is going (ft).
        T: time of the opponents' contact since the return strike (s).
        player: who runs.
        delay: when the run starts (s); 0.30 for the returner and 0.25 for the partner.
        split_step: True for a player who has settled ``settle`` seconds before ``T``.
        settle: how long before ``T`` (s).
    """
    stop = T - settle if split_step else T
    return run_towards(start, target, run_distance(max(0.0, stop - delay), player), player)


# ===============================================================================================
# Reaching
# ===============================================================================================
def feet_position(
    start: Vec2, ball_xy: Vec2, volley: bool, q: float, player: Player
) -> Vec2 | None:
    """Where the feet are for a ball over ``ball_xy``, ``q`` seconds after the reaction.

    Straight towards the ball; for a volley not over the NVZ line: there they are on the line, at
    the point nearest to the ball that can be got to. None for a player who stood in the zone and
    cannot be back at the line in time for a volley.
    """
    s = run_distance(q, player)
    feet = run_towards(start, ball_xy, s, player)
    if not volley or feet[1] <= NVZ_LINE:
        return feet
    to_line = NVZ_LINE - start[1]
    along = 1.0 if to_line > 0.0 else player.back
    left_over = s**2 - (to_line / along) ** 2
    if left_over < 0.0:
        if left_over < -1e-9:
            return None
        left_over = 0.0
    sideways = player.lateral * math.sqrt(left_over)
    x = min(start[0] + sideways, max(start[0] - sideways, ball_xy[0]))
    return x, NVZ_LINE


def shoulder_height(player: Player) -> float:
    """Height of the shoulder (ft) in playing posture."""
    return SHOULDER * player.height


def arm_length(player: Player, paddle: float, forehand: bool) -> float:
    """Shoulder to sweet spot or tip (ft), ``paddle`` feet beyond the grip."""
    length = ARM_TO_GRIP * player.height + paddle
    return length if forehand else player.backhand * length


def is_forehand(ball_x: float, feet_x: float, player: Player) -> bool:
    """True if a ball at ``ball_x`` is on the forehand of a player who stood at ``feet_x``."""
    hand = 1.0 if player.right_handed else -1.0
    return (ball_x - feet_x) * hand >= 0.0


def _ramp(fraction: float) -> float:
    """Clip to [0, 1]."""
    return min(1.0, max(0.0, fraction))


def flat_reach(z: float, forehand: bool, stretched: bool, q: float, player: Player) -> float | None:
    """Ground distance (ft) from the feet at which a ball at height ``z`` can be played.

    Args:
        z: height of the ball's centre (ft).
        forehand: on the forehand side.
        stretched: at full stretch (to the tip, with a lunge); else in control (to the sweet spot).
        q: time since the reaction (s).
        player: who plays.

    Returns:
        The reach, or None if the racket does not get to that height at all.
    """
    shoulder = shoulder_height(player)
    dz = z - shoulder if z >= shoulder else max(0.0, shoulder - z - player.bend)
    length = arm_length(player, TIP if stretched else SWEET_SPOT, forehand)
    if dz > length:
        return None
    body = BODY_TO_SHOULDER * player.height
    reach = body + math.sqrt(length**2 - dz**2) * _ramp(q / CONTROL_RAMP)
    if stretched:
        lunge = max(0.0, player.full_stretch - body - arm_length(player, TIP, True))
        reach += lunge * _ramp(q / LUNGE_RAMP)
    return reach


def margin(
    start: Vec2, ball_at: Vec3, volley: bool, stretched: bool, q: float, player: Player
) -> float:
    """Reach minus ground distance (ft) for a ball at one instant.

    Minus infinity if it cannot be played: before the reaction (``q < 0``), too high or too low,
    or a volley by a player caught inside the zone.
    """
    if q < 0.0:
        return -math.inf
    feet = feet_position(start, (ball_at[0], ball_at[1]), volley, q, player)
    reach = flat_reach(ball_at[2], is_forehand(ball_at[0], start[0], player), stretched, q, player)
    if feet is None or reach is None:
        return -math.inf
    return reach - math.hypot(ball_at[0] - feet[0], ball_at[1] - feet[1])


def time_needed(start: Vec2, ball_at: Vec3, volley: bool, player: Player) -> float:
    """Smallest time since the reaction (s) at which a ball there is in control; inf if none."""

    def in_control(q: float) -> bool:
        return margin(start, ball_at, volley, False, q, player) >= 0.0

    if in_control(0.0):
        return 0.0
    high = 0.1
    while not in_control(high):
        high *= 2.0
        if high > 1000.0:
            return math.inf
    low = 0.0
    while high - low > 1e-11:
        middle = 0.5 * (low + high)
        if in_control(middle):
            high = middle
        else:
            low = middle
    return high


def maximise(
    function: Callable[[float], float], start: float, end: float, samples: int = 1000, few: int = 5
) -> tuple[float, float]:
    """Greatest value of a function of time and where, by dense sampling and golden section.

    Args:
        function: of time; may jump, may be minus infinity.
        start: start of the interval.
        end: its end.
        samples: instants tried.
        few: around how many of the best local maxima to refine.
    """
    times = [float(t) for t in np.linspace(start, end, samples)]
    values = [function(t) for t in times]
    peaks = [
        i
        for i in range(samples)
        if values[i] > -math.inf
        and values[i] >= values[max(0, i - 1)]
        and values[i] >= values[min(samples - 1, i + 1)]
    ]
    peaks.sort(key=lambda i: -values[i])
    best_value, best_time = -math.inf, math.nan
    golden = (math.sqrt(5.0) - 1.0) / 2.0
    for i in peaks[:few]:
        if values[i] > best_value:
            best_value, best_time = values[i], times[i]
        low, high = times[max(0, i - 1)], times[min(samples - 1, i + 1)]
        left, right = high - golden * (high - low), low + golden * (high - low)
        at_left, at_right = function(left), function(right)
        while high - low > 1e-11:
            if at_left >= at_right:
                high, right, at_right = right, left, at_left
                left = high - golden * (high - low)
                at_left = function(left)
            else:
                low, left, at_left = left, right, at_right
                right = low + golden * (high - low)
                at_right = function(right)
            for t, value in ((left, at_left), (right, at_right)):
                if value > best_value:
                    best_value, best_time = value, t
    return best_value, best_time


def _time_at_y(flight: Flight, y: float) -> float | None:
    """First time (s since its start) at which a flight towards ``-y`` gets to ``y``, or None."""
    if flight(0.0)[1] <= y:
        return 0.0
    if flight.landing_position[1] > y:
        return None
    return float(brentq(lambda t: flight(t)[1] - y, 0.0, flight.landing_time, xtol=1e-13))


def reach_of(
    path: Path,
    net_time: float,
    start: Vec2,
    player: Player,
    reaction: float,
    split_step: bool,
    samples: int = 1000,
) -> Reach:
    """What one player can do about a ball in play.

    Args:
        path: the third shot, timed from the contact.
        net_time: when it passes the net plane (s).
        start: where the player is at the contact (ft).
        player: who.
        reaction: reaction time of a player who split-steps (s).
        split_step: False for a player who kept running: reacts 0.104 s later.
        samples: instants tried before, and again after, the bounce.
    """
    if not split_step:
        reaction += RUNNING_PENALTY
    end = path.end_time
    behind = _time_at_y(path.second, PAIR_LAST_Y)
    if behind is not None:
        end = path.bounce_time + behind

    found: dict[str, tuple[float, float]] = dict.fromkeys(
        ("control", "stretch", "spare"), (-math.inf, math.nan)
    )
    for volley in (True, False):
        # The flights are asked for directly: at the bounce itself both belong.
        flight = path.first if volley else path.second
        zero = 0.0 if volley else path.bounce_time
        window = (net_time, path.bounce_time) if volley else (path.bounce_time, end)

        def ball_at(t: float, flight: Flight = flight, zero: float = zero) -> Vec3:
            return flight(t - zero)

        def control(t: float, volley: bool = volley, ball_at: Any = ball_at) -> float:
            return margin(start, ball_at(t), volley, False, t - reaction, player)

        def stretch(t: float, volley: bool = volley, ball_at: Any = ball_at) -> float:
            return margin(start, ball_at(t), volley, True, t - reaction, player)

        def spare(t: float, volley: bool = volley, ball_at: Any = ball_at) -> float:
            return t - reaction - time_needed(start, ball_at(t), volley, player)

        for name, function in (("control", control), ("stretch", stretch), ("spare", spare)):
            found[name] = max(
                found[name],
                maximise(function, window[0], window[1], samples),
                key=lambda pair: pair[0],
            )
    return Reach(
        control=found["control"][0] >= 0.0,
        stretch=found["stretch"][0] >= 0.0,
        control_margin=found["control"][0],
        control_time=found["control"][1],
        stretch_margin=found["stretch"][0],
        stretch_time=found["stretch"][1],
        spare_time=found["spare"][0],
    )


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
    time = _time_at_y(path.first, depth_y)
    if time is not None:
        x, _, z = path.first(time)
    else:
        time = _time_at_y(path.second, depth_y)
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


# ===============================================================================================
# The third shot
# ===============================================================================================
def play_third_shot(
    contact: Contact,
    launch: Launch,
    positions: tuple[Vec2, Vec2],
    players: tuple[Player, Player],
    reactions: tuple[float, float],
    split_steps: tuple[bool, bool],
    ball: Ball,
    samples: int = 1000,
) -> Result:
    """Fly a third shot and see what the pair can do about it.

    Pairs of values are (left player, right player).

    Args:
        contact: the opponents' contact.
        launch: the shot as struck, execution error included (see `with_error`).
        positions: where the players are at the contact (ft).
        players: the players.
        reactions: their reaction times (s) when split-stepping.
        split_steps: False for a player who keeps running (reacts later).
        ball: the ball, air and wind.
        samples: instants tried before, and again after, the bounce.
    """
    first = fly(contact.position, launch.velocity, launch.spin, ball)
    landing = (first.landing_position[0], first.landing_position[1])
    result = Result(
        outcome="net",
        leak=None,
        left=Reach(),
        right=Reach(),
        net_time=None,
        net_x=None,
        net_clearance=None,
        bounce_time=first.landing_time,
        landing=landing,
        end_time=None,
        second_landing=None,
    )

    net_time = _time_at_y(first, 0.0)
    if net_time is None:
        return result
    net_x, _, net_z = first(net_time)
    clearance = net_z - net_top(net_x) - ball.radius
    result = replace(result, net_time=net_time, net_x=net_x, net_clearance=clearance)
    if clearance < 0.0 and abs(net_x) <= POST_X:
        return result

    if abs(landing[0]) > HALF_WIDTH or landing[1] < -HALF_LENGTH or landing[1] > 0.0:
        return replace(result, outcome="out")

    velocity, spin = bounce(first.landing_velocity, launch.spin, ball)
    path = Path(first=first, second=fly(first.landing_position, velocity, spin, ball))
    left, right = (
        reach_of(path, net_time, positions[i], players[i], reactions[i], split_steps[i], samples)
        for i in (0, 1)
    )
    leak = None
    if left.control or right.control:
        outcome = "control"
    elif left.stretch or right.stretch:
        outcome = "stretch"
    else:
        outcome = "through"
        leak = leak_label(path, contact.X, positions[0], positions[1], players[0], players[1])
    end = path.second.landing_position
    return replace(
        result,
        outcome=outcome,
        leak=leak,
        left=left,
        right=right,
        end_time=path.end_time,
        second_landing=(end[0], end[1]),
    )
