"""Aiming: the launch that makes a ball do what its striker intends.

In still air a flight's shape is known once the slope profile along it is: with ``s`` the ground
distance, ``p`` the slope dz/ds and ``f`` the pace dt/ds, the equations of `sim.flight` become

    f(s) = f0 E(s),    E = exp(K I[sqrt(1 + p^2)] - M w I[p f])
    z(s) = z0 + p0 s - g f0^2 II[E^2] - M w f0 II[E (1 + p^2)]

where ``I`` and ``II`` are the single and double integral from 0 to ``s``. Given ``E``, an intended
ball fixes ``p0`` and ``f0`` in closed form, as it would in a vacuum; given ``p0`` and ``f0``, the
profile follows. The two are repeated in turn (Picard's method) on a few Chebyshev points, where an
integral is a small matrix product. Drag bends the profile little, so that a handful of turns is
enough. In wind the mark is moved instead, turn by turn, by what the true flight misses. Tests
measure how well the true flight meets the intention.

Positions are in ft over the ground, all arrays have shape (shots,).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from sim.ball import GRAVITY, Ball
from sim.court import POST, Array, net_height
from sim.flight import Flight, Launch, falling_time, fly, time_at_line, time_falling_to, time_of_top

_TURNS: Final = 9
_TURNS_AT_SPEED: Final = 12
_POINTS: Final = 10
_GUESSED_GROUND_SPEED: Final = 40.0
_GUESSED_LANDING_DEPTH: Final = 15.0
_LEAST_LANDING_SLOPE: Final = 0.03
_LEAST_RISE: Final = 0.1
_SHORTEST_LANDING: Final = -0.5
_WIND_TURNS: Final = 10
_LONGEST_CORRECTION: Final = 5.0
_NEWTON_STEPS: Final = 12
_LONGEST_STEP: Final = 6.0
_NUDGE: Final = 1e-4
_WIND_FLIGHT_STEPS: Final = 10
_FASTER: Final = 1.04
_MOST_FASTER: Final = 20
_MISSED: Final = 0.05


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
    striker = _Striker(x, y, z, spin, ball, azimuth)
    calm = _calm_over_net(striker, landing_x, landing_y, clearance)
    if ball.calm:
        return calm
    # In wind a mark set by its top is surer than one set by its clearance, and near enough for
    # Newton's method to end on the clearance itself.
    still = replace(ball, wind_x=0.0, wind_y=0.0)
    flight = fly(x, y, z, calm, still, falling_time(z, calm, still), _WIND_FLIGHT_STEPS)
    top = flight.position(time_of_top(flight))[2]

    def met_top(flight: Flight) -> tuple[Array, ...]:
        ending_x, ending_y, _ = _landing(flight)
        return ending_y, top + _clearance(flight) - clearance, ending_x

    def met(flight: Flight) -> tuple[Array, ...]:
        ending_x, ending_y, _ = _landing(flight)
        return ending_y, _clearance(flight), ending_x

    def aim(landing_y: Array, top: Array, landing_x: Array) -> Launch:
        return _calm_to_top(striker, landing_x, landing_y, top)

    launch, _ = _aim_off_for_wind(striker, aim, (landing_y, top, landing_x), met_top)
    return _polish_in_wind(striker, launch, (landing_y, clearance, landing_x), met)


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
    striker = _Striker(x, y, z, spin, ball, azimuth)
    if ball.calm:
        return _calm_to_top(striker, landing_x, landing_y, top)

    def met(flight: Flight) -> tuple[Array, ...]:
        ending_x, ending_y, _ = _landing(flight)
        return ending_y, flight.position(time_of_top(flight))[2], ending_x

    def aim(landing_y: Array, top: Array, landing_x: Array) -> Launch:
        return _calm_to_top(striker, landing_x, landing_y, top)

    launch, _ = _aim_off_for_wind(striker, aim, (landing_y, top, landing_x), met)
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
    high, the smallest speed that does (in wind to within 4 %). ``azimuth`` as in `aim_over_net`.

    Returns the launch and the ``y`` (ft) at which that ball lands.
    """
    striker = _Striker(x, y, z, spin, ball, azimuth)
    if ball.calm:
        return _calm_at_speed(striker, landing_x, speed, clearance)
    velocity, missed = np.empty((3, x.size)), np.arange(x.size)
    for _ in range(_MOST_FASTER):
        here = striker.take(missed)

        def met(flight: Flight) -> tuple[Array, ...]:
            return _clearance(flight), _landing(flight)[0]

        def aim(
            clearance: Array,
            landing_x: Array,
            here: _Striker = here,
            speed: Array = speed[missed],
        ) -> Launch:
            return _calm_at_speed(here, landing_x, speed, clearance)[0]

        wishes = clearance[missed], landing_x[missed]
        launch, misses = _aim_off_for_wind(here, aim, wishes, met)
        velocity[:, missed] = launch.x, launch.y, launch.z
        missed = missed[misses > _MISSED]
        if not missed.size:
            break
        speed = speed.copy()
        speed[missed] *= _FASTER
    launch = Launch(velocity[0], velocity[1], velocity[2], spin)
    return launch, _landing(_fly_below_ground(striker, launch))[1]


@dataclass(frozen=True)
class _Striker:
    """Who strikes: from where, with what spin, which ball, and in a given direction or not."""

    x: Array
    y: Array
    z: Array
    spin: Array
    ball: Ball
    azimuth: Array | None

    def take(self, chosen: np.ndarray) -> _Striker:
        azimuth = None if self.azimuth is None else self.azimuth[chosen]
        rows = (self.x[chosen], self.y[chosen], self.z[chosen], self.spin[chosen])
        return _Striker(*rows, self.ball, azimuth)

    def side_at(self, landing_x: Array, landing_y: Array) -> Array:
        """Where the ball is to land across the court: as wished, or as the azimuth says."""
        if self.azimuth is None:
            return landing_x
        return self.x + (self.y - landing_y) * np.tan(self.azimuth)


def _calm_over_net(
    striker: _Striker, landing_x: Array, landing_y: Array, clearance: Array
) -> Launch:
    ball_to_be = _Intention(striker)
    ball_to_be.head_for(striker.side_at(landing_x, landing_y), landing_y)
    height = ball_to_be.put_gate_at_net(clearance)
    for _ in range(_TURNS):
        ball_to_be.through_gate_to_end(height)
    return ball_to_be.launch()


def _calm_to_top(striker: _Striker, landing_x: Array, landing_y: Array, top: Array) -> Launch:
    landing_y = np.where(striker.y > 0.0, np.minimum(landing_y, _SHORTEST_LANDING), landing_y)
    top = np.maximum(top, striker.z + _LEAST_RISE)
    ball_to_be = _Intention(striker)
    ball_to_be.head_for(striker.side_at(landing_x, landing_y), landing_y)
    rising, falling = np.sqrt(top - striker.z), np.sqrt(top)
    ball_to_be.gate = ball_to_be.length * rising / (rising + falling)
    ball_to_be.through_gate_to_end(top)
    for _ in range(_TURNS - 1):
        ball_to_be.put_gate_at_top()
        ball_to_be.through_gate_to_end(top)
    return ball_to_be.launch()


def _calm_at_speed(
    striker: _Striker, landing_x: Array, speed: Array, clearance: Array
) -> tuple[Launch, Array]:
    """The launch, and where it lands (``y``, ft)."""
    ball_to_be = _Intention(striker)
    ball_to_be.length = striker.y + _GUESSED_LANDING_DEPTH
    ball_to_be.pace[:] = 1.0 / speed
    for _ in range(_TURNS_AT_SPEED):
        ball_to_be.head_for_side(landing_x)
        ball_to_be.through_gate_at_speed(ball_to_be.put_gate_at_net(clearance), speed)
    return ball_to_be.launch(), striker.y + ball_to_be.length * ball_to_be.heading_y


def _chebyshev_tables(points: int) -> tuple[Array, Array]:
    """For values at Chebyshev points on [0, 1]: to their integrals from 0, and to power series."""
    cheb = np.polynomial.chebyshev
    nodes = 0.5 * (1.0 - np.cos(np.pi * np.arange(points) / (points - 1)))
    unit = 2.0 * nodes - 1.0
    to_series = np.linalg.inv(cheb.chebvander(unit, points - 1))
    integrals = [
        0.5 * cheb.chebval(unit, cheb.chebint(column, lbnd=-1.0))  # d(node) = d(unit) / 2
        for column in np.eye(points)
    ]
    to_powers = np.linalg.inv(np.vander(nodes, points, increasing=True))
    return np.asarray(np.stack(integrals, axis=1) @ to_series), np.asarray(to_powers)


_INTEGRAL, _TO_POWERS = _chebyshev_tables(_POINTS)


class _Intention:
    """An intended ball in its vertical plane, made better turn by turn; still air throughout.

    ``slope`` and ``pace`` hold the profile at the Chebyshev points, shape (points, shots), on a
    plane that starts at the striker, ends after ``length`` (ft) and has a gate to pass at ``gate``.
    """

    def __init__(self, striker: _Striker) -> None:
        self.striker, self.drag = striker, striker.ball.drag
        self.turning = striker.ball.magnus * striker.spin
        shape = (_POINTS, striker.x.size)
        self.slope = np.zeros(shape)
        self.pace = np.full(shape, 1.0 / _GUESSED_GROUND_SPEED)
        self.heading_x = self.heading_y = self.length = self.gate = np.zeros(striker.x.size)

    def head_for(self, landing_x: Array, landing_y: Array) -> None:
        """Point the plane at a landing point and end it there."""
        along_x, along_y = landing_x - self.striker.x, landing_y - self.striker.y
        self.length = np.hypot(along_x, along_y)
        self.heading_x, self.heading_y = along_x / self.length, along_y / self.length

    def head_for_side(self, landing_x: Array) -> None:
        """Point the plane so that its end, wherever it lies, is at ``landing_x``."""
        if self.striker.azimuth is not None:
            self.heading_x = np.sin(self.striker.azimuth)
        else:
            self.heading_x = np.clip((landing_x - self.striker.x) / self.length, -0.95, 0.95)
        self.heading_y = -np.sqrt(1.0 - self.heading_x**2)

    def put_gate_at_net(self, clearance: Array) -> Array:
        """Put the gate over the net; returns the height (ft) of the centre as it passes there."""
        self.gate = -self.striker.y / self.heading_y
        x = self.striker.x + self.gate * self.heading_x
        return _height_to_clear(x) + self.striker.ball.radius + clearance

    def put_gate_at_top(self) -> None:
        """Move the gate to the highest point of the flight as known so far."""
        slope, pace = self._at_gate(self.slope, self.pace)
        rate = -pace * (GRAVITY * pace + self.turning * (1.0 + slope * slope))
        gate = self.gate - slope / rate
        self.gate = np.clip(gate, 0.05 * self.length, 0.95 * self.length)

    def through_gate_to_end(self, height: Array) -> None:
        """One turn: pass the gate at ``height`` (ft) and come to the ground at the end."""
        fall, falls, turn, turns, stretch = self._profile()
        falls_at_gate, turns_at_gate = self._at_gate(falls, turns)
        magnus = self.turning * self.pace[0]
        rise_at_gate = height - self.striker.z + magnus * turns_at_gate
        rise_at_end = -self.striker.z + magnus * turns[-1]
        ratio = self.length / self.gate
        # A ball cannot pass below the straight line to its landing point: such a wish is met by
        # the flattest ball there is.
        bend = np.maximum(rise_at_gate * ratio - rise_at_end, 1e-3)
        weight = bend / (falls[-1] - ratio * falls_at_gate)
        slope = (rise_at_end + weight * falls[-1]) / self.length
        self._start(slope, np.sqrt(weight / GRAVITY), fall, turn, stretch)

    def through_gate_at_speed(self, height: Array, speed: Array) -> None:
        """One turn: pass the gate at ``height`` (ft), struck at ``speed`` (ft/s).

        The flatter of the two elevations; where the speed is too small to get there, the smallest
        that does. The end moves to where the ball lands.
        """
        fall, falls, turn, turns, stretch = self._profile()
        falls_at_gate, turns_at_gate = self._at_gate(falls, turns)
        rise = height - self.striker.z + self.turning * self.pace[0] * turns_at_gate
        # With f0^2 = (1 + p0^2) / v^2 the condition at the gate is a quadratic in p0.
        drop = GRAVITY * falls_at_gate / speed**2
        drop = np.minimum(drop, 0.5 * (np.hypot(rise, self.gate) - rise))
        root = np.maximum(self.gate**2 - 4.0 * drop * (rise + drop), 0.0)
        slope = (self.gate - np.sqrt(root)) / (2.0 * drop)
        weight = drop * (1.0 + slope**2) / falls_at_gate
        pace = np.sqrt(weight / GRAVITY)
        self._start(slope, pace, fall, turn, stretch)
        ending = (
            self.striker.z
            + slope * self.length
            - weight * falls[-1]
            - self.turning * pace * turns[-1]
        )
        longer = -ending / np.minimum(self.slope[-1], -_LEAST_LANDING_SLOPE)
        length = np.clip(self.length + longer, 0.6 * self.length, 1.6 * self.length)
        self.length = np.maximum(length, 1.01 * self.gate)

    def launch(self) -> Launch:
        speed, spin = 1.0 / self.pace[0], self.striker.spin
        return Launch(self.heading_x * speed, self.heading_y * speed, self.slope[0] * speed, spin)

    def _profile(self) -> tuple[Array, Array, Array, Array, Array]:
        """``I`` and ``II`` of ``E^2``, of the Magnus term, and ``E`` itself, at the points."""
        square = 1.0 + self.slope**2
        growth = self.drag * np.sqrt(square) - self.turning * self.slope * self.pace
        stretch = np.exp((_INTEGRAL @ growth) * self.length)
        fall = (_INTEGRAL @ (stretch * stretch)) * self.length
        turn = (_INTEGRAL @ (stretch * square)) * self.length
        falls, turns = (_INTEGRAL @ fall) * self.length, (_INTEGRAL @ turn) * self.length
        return fall, falls, turn, turns, stretch

    def _start(self, slope: Array, pace: Array, fall: Array, turn: Array, stretch: Array) -> None:
        self.slope = slope - GRAVITY * pace**2 * fall - self.turning * pace * turn
        self.pace = pace * stretch

    def _at_gate(self, first: Array, second: Array) -> tuple[Array, Array]:
        """Two profiles, given at the points, at the gate."""
        fraction = np.minimum(self.gate / self.length, 1.0)
        powers = np.ones((_POINTS, fraction.size))
        for k in range(1, _POINTS):
            np.multiply(powers[k - 1], fraction, out=powers[k])
        weights = _TO_POWERS.T @ powers
        return np.einsum("ks,ks->s", weights, first), np.einsum("ks,ks->s", weights, second)


def _clearance(flight: Flight) -> Array:
    """Height (ft) of the centre over net top plus radius as the ball passes the net's plane."""
    x, _, z = flight.position(time_at_line(flight, 0.0))
    return z - _height_to_clear(x) - flight.ball.radius


def _height_to_clear(x: Array) -> Array:
    """Height (ft) that a striker aims over: the net's, and beyond its posts as if it went on.

    Nobody aims under a net that ends a foot away; and a jump at the post would leave aims that
    pass close to it without a solution.
    """
    return net_height(np.clip(x, -POST, POST))


def _landing(flight: Flight) -> tuple[Array, Array, Array]:
    return flight.position(time_falling_to(flight, 0.0))


def _aim_off_for_wind(
    striker: _Striker,
    calm_aim: Callable[..., Launch],
    wishes: tuple[Array, ...],
    met: Callable[[Flight], tuple[Array, ...]],
) -> tuple[Launch, Array]:
    """Aim as a player does: as in still air, but off the mark by what the wind will take.

    ``calm_aim`` takes as many marks as there are ``wishes``, and ``met`` says what a flight made of
    them. The last wish is the landing side, left alone where the azimuth is given. The marks are
    moved by what was missed, sped up by Anderson's method with a memory of one. The launch that
    misses least of all turns is kept for each shot; the second array is how much it misses (ft).

    Source: D. G. Anderson, J. ACM 12 (1965) 547, doi 10.1145/321296.321305 (memory).
    """
    free = len(wishes) - (striker.azimuth is not None)
    marks = np.stack(wishes)
    best = calm_aim(*marks)
    least = np.full(striker.x.size, np.inf)
    before = missed_before = None
    # A mark gone astray may overflow; its launch then never misses least and is dropped.
    with np.errstate(all="ignore"):
        for _ in range(_WIND_TURNS):
            launch = calm_aim(*marks)
            missed = np.stack(met(_fly_below_ground(striker, launch))) - wishes
            missed[free:] = 0.0
            total = np.abs(missed).sum(axis=0)
            best = _choose(total < least, launch, best)
            least = np.fmin(least, total)
            step = np.clip(-missed, -_LONGEST_CORRECTION, _LONGEST_CORRECTION)
            if before is not None and missed_before is not None:
                change = missed - missed_before
                weight = (missed * change).sum(axis=0) / (change * change).sum(axis=0)
                weight = np.clip(np.nan_to_num(weight), -2.0, 0.9)
                step = step - weight * (marks - before - change)
            before, missed_before = marks, missed
            step = np.clip(np.nan_to_num(step), -_LONGEST_CORRECTION, _LONGEST_CORRECTION)
            marks = marks + step
    return best, least


def _polish_in_wind(
    striker: _Striker,
    launch: Launch,
    wishes: tuple[Array, ...],
    met: Callable[[Flight], tuple[Array, ...]],
) -> Launch:
    """Newton's method on the launch velocity, so that the true flight in wind grants the wishes."""
    free = len(wishes) - (striker.azimuth is not None)
    ground = np.hypot(launch.x, launch.y)
    ahead = np.stack((launch.x / ground, launch.y / ground, np.zeros_like(ground)), axis=1)
    across = ahead[:, [1, 0, 2]] * [-1.0, 1.0, 0.0]
    up = np.broadcast_to([0.0, 0.0, 1.0], ahead.shape)
    axes = (ahead, up, across)[:free]

    def missed(velocity: Array) -> Array:
        trial = Launch(velocity[:, 0], velocity[:, 1], velocity[:, 2], striker.spin)
        got = met(_fly_below_ground(striker, trial))
        return np.stack([g - w for g, w in zip(got, wishes, strict=True)][:free], axis=1)

    start = velocity = np.stack((launch.x, launch.y, launch.z), axis=1)
    for _ in range(_NEWTON_STEPS):
        now = missed(velocity)
        nudged = [missed(velocity + _NUDGE * axis) for axis in axes]
        matrix = (np.stack(nudged, axis=2) - now[:, :, None]) / _NUDGE
        matrix[np.abs(np.linalg.det(matrix)) < 1e-9] = np.eye(free)
        step = np.linalg.solve(matrix, now[:, :, None])[:, :, 0]
        size = np.linalg.norm(step, axis=1, keepdims=True)
        step *= np.minimum(1.0, _LONGEST_STEP / np.maximum(size, 1e-12))
        velocity = velocity - sum(step[:, [k]] * axis for k, axis in enumerate(axes))
    polished = Launch(velocity[:, 0], velocity[:, 1], velocity[:, 2], launch.spin)
    better = np.abs(missed(velocity)).sum(axis=1) < np.abs(missed(start)).sum(axis=1)
    return _choose(better, polished, launch)


def _fly_below_ground(striker: _Striker, launch: Launch) -> Flight:
    """Fly on below the ground, so that a ball that falls short still has a height at the net."""
    longer = 1.4 * falling_time(striker.z, launch, striker.ball)
    here = striker.x, striker.y, striker.z
    return fly(*here, launch, striker.ball, longer, _WIND_FLIGHT_STEPS)


def _choose(mask: np.ndarray, first: Launch, second: Launch) -> Launch:
    return Launch(
        np.where(mask, first.x, second.x),
        np.where(mask, first.y, second.y),
        np.where(mask, first.z, second.z),
        first.spin,
    )
