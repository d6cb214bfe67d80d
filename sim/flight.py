"""Ball flight: a point mass with quadratic drag and a Magnus force, many balls at once.

The spin axis is horizontal and square to the direction of flight through the air, so that a flight
stays in one vertical plane. With the speeds ``a`` along and ``u`` up in that plane, ``v`` the speed
through the air, drag ``K`` (1/ft), Magnus coefficient ``M`` and spin ``w`` (rad/s, topspin > 0)

    a' =     - K v a + M w u
    u' = - g - K v u - M w a

A uniform wind is a change of frame: the ball is flown in still air, the wind's drift added back.
Each ball takes a few large steps of its own length (classical fourth-order Runge-Kutta); quintic
Hermite interpolation on the exact accelerations gives the flight between them.

Positions in ft, times in s; arrays have shape (shots,) unless said otherwise. Drag coefficient and
lift slope are published values, see the model page.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import partial
from itertools import pairwise
from typing import Final

import numpy as np

from sim.ball import GRAVITY, Ball
from sim.court import Array

_NEWTON_STEPS: Final = 3
_PARABOLAS: Final = 3
_SMALLEST_SPEED: Final = 1e-6
_FLAT: Final = 1e-9
_MOST_STEPS: Final = 200


@dataclass(frozen=True)
class Launch:
    """Velocity over the ground (ft/s) and spin (rad/s, topspin positive)."""

    x: Array
    y: Array
    z: Array
    spin: Array

    def take(self, chosen: np.ndarray) -> Launch:
        """The same launches for the chosen shots only (mask or indices)."""
        return Launch(self.x[chosen], self.y[chosen], self.z[chosen], self.spin[chosen])


@dataclass(frozen=True)
class Flight:
    """A stretch of flight in equal time steps.

    The node arrays ``along`` and ``height`` (ft), their speeds and accelerations have shape
    (steps + 1, shots); ``step`` (s), the origin (ft) and the heading (unit vector) (shots,).
    ``along`` is distance through the air.
    """

    origin_x: Array
    origin_y: Array
    heading_x: Array
    heading_y: Array
    step: Array
    spin: Array
    along: Array
    height: Array
    speed_along: Array
    speed_up: Array
    change_along: Array
    change_up: Array
    ball: Ball

    @property
    def steps(self) -> int:
        return int(self.height.shape[0]) - 1

    @property
    def duration(self) -> Array:
        """Time (s) that the steps cover."""
        return self.step * self.steps

    def take(self, chosen: np.ndarray) -> Flight:
        """The same flight for the chosen shots only (mask or indices)."""
        if chosen.dtype == np.bool_:
            chosen = np.flatnonzero(chosen)
        rows = {
            name: value.take(chosen, axis=-1)
            for name, value in vars(self).items()
            if isinstance(value, np.ndarray)
        }
        return Flight(**rows, ball=self.ball)

    def ground(self, along: Array, time: Array) -> tuple[Array, Array]:
        """Position over the ground (ft), any leading shape."""
        x = self.origin_x + along * self.heading_x
        y = self.origin_y + along * self.heading_y
        if self.ball.calm:
            return x, y
        return x + self.ball.wind_x * time, y + self.ball.wind_y * time

    def position(self, time: Array) -> tuple[Array, Array, Array]:
        """Position ``x, y, z`` (ft) at a time of shape (shots,) or (k, shots)."""
        return self._position(time, *self._pieces(time))

    def velocity(self, time: Array) -> tuple[Array, Array, Array]:
        """Velocity over the ground (ft/s) at a time of shape (shots,) or (k, shots)."""
        return self._velocity(*self._pieces(time))

    def place_and_launch(self, time: Array) -> tuple[tuple[Array, Array, Array], Launch]:
        """Position, and velocity and spin, with which the flight goes on at a time (shots,)."""
        pieces = self._pieces(time)
        return self._position(time, *pieces), Launch(*self._velocity(*pieces), self.spin)

    def _pieces(self, time: Array) -> tuple[Array, Array, Array]:
        """Distance along and height in the step of each time, see `_piece`, and where in it."""
        place = time / self.step
        index = np.clip(place.astype(np.intp), 0, self.steps - 1)
        along = _piece(self.step, index, self.along, self.speed_along, self.change_along)
        height = _piece(self.step, index, self.height, self.speed_up, self.change_up)
        return along, height, place - index

    def _position(
        self, time: Array, along: Array, height: Array, place: Array
    ) -> tuple[Array, Array, Array]:
        return *self.ground(_value(along, place), time), _value(height, place)

    def _velocity(self, along: Array, height: Array, place: Array) -> tuple[Array, Array, Array]:
        speed = _rate(along, place) / self.step
        return (
            speed * self.heading_x + self.ball.wind_x,
            speed * self.heading_y + self.ball.wind_y,
            _rate(height, place) / self.step,
        )

    def samples(self, per_step: int, *, end: bool = False) -> tuple[Array, Array, Array, Array]:
        """Time and ``x, y, z`` at equal sub-steps, each of shape (steps * per_step, shots).

        The first sample stands at the start; the end of the last step is one more with ``end``.
        """
        count = self.steps * per_step
        weights = np.ascontiguousarray(_hermite(np.arange(per_step) / per_step).T)
        step = self.step

        def between(value: Array, speed: Array, change: Array) -> Array:
            known = np.stack((value, step * speed, step * step * change), axis=1)
            ends = np.concatenate((known[:-1], known[1:]), axis=1)
            values = np.matmul(weights, ends).reshape(count, -1)
            return np.concatenate((values, value[-1:])) if end else values

        along = between(self.along, self.speed_along, self.change_along)
        height = between(self.height, self.speed_up, self.change_up)
        time = (np.arange(count + end) / per_step)[:, None] * step
        return time, *self.ground(along, time), height


def _hermite(u: Array) -> Array:
    """Quintic Hermite weights of (value, speed, change) at both ends, shape (6, *u.shape)."""
    v = 1.0 - u
    return np.stack(
        (
            v**3 * (1.0 + 3.0 * u + 6.0 * u * u),
            u * v**3 * (1.0 + 3.0 * u),
            0.5 * u * u * v**3,
            u**3 * (1.0 + 3.0 * v + 6.0 * v * v),
            -v * u**3 * (1.0 + 3.0 * v),
            0.5 * v * v * u**3,
        )
    )


def fly(
    x: Array, y: Array, z: Array, launch: Launch, ball: Ball, duration: Array, steps: int
) -> Flight:
    """Fly balls from ``(x, y, z)`` for ``duration`` (s), in ``steps`` equal steps each.

    Where drag would stop the fastest ball within two steps, there are more of them. A ball that
    strong backspin keeps in the air for most of a minute is not flown to its end.
    """
    air_x, air_y = launch.x - ball.wind_x, launch.y - ball.wind_y
    level = air_x * air_x + air_y * air_y
    speed = np.sqrt(level)
    if speed.size:
        fastest = np.sqrt(level + launch.z * launch.z)
        needed = 2.0 * ball.drag * float((fastest * duration).max())
        # Written so that a launch gone astray, not a number, asks for no more steps.
        if needed > steps:
            steps = math.ceil(min(needed, _MOST_STEPS))
        if needed > _MOST_STEPS:
            # Longer steps would run away with the ball.
            longest = _MOST_STEPS / (2.0 * ball.drag * np.maximum(fastest, _SMALLEST_SPEED))
            duration = np.fmin(duration, longest)
    s, h, a, u, da, du = np.empty((6, steps + 1, speed.size))
    s[0], h[0], a[0], u[0] = 0.0, z, speed, launch.z
    step = duration / steps
    half, sixth = 0.5 * step, step / 6.0

    change = partial(_change, drag=ball.drag, turn=ball.magnus * launch.spin)
    for i in range(steps):
        a1, u1 = a[i], u[i]
        da[i], du[i] = da1, du1 = change(a1, u1)
        da2, du2 = change(_after(half, a1, da1), _after(half, u1, du1))
        da3, du3 = change(_after(half, a1, da2), _after(half, u1, du2))
        da4, du4 = change(_after(step, a1, da3), _after(step, u1, du3))
        da2 += da3
        du2 += du3
        da1 += da2
        du1 += du2
        s[i + 1] = _after(step, s[i], _after(sixth, a1, da1))
        h[i + 1] = _after(step, h[i], _after(sixth, u1, du1))
        da4 += da1
        du4 += du1
        da4 += da2
        du4 += du2
        a[i + 1] = _after(sixth, a1, da4)
        u[i + 1] = _after(sixth, u1, du4)
    da[steps], du[steps] = change(a[steps], u[steps])
    size = np.maximum(speed, _SMALLEST_SPEED)
    return Flight(x, y, air_x / size, air_y / size, step, launch.spin, s, h, a, u, da, du, ball)


def _change(along: Array, up: Array, drag: float, turn: Array) -> tuple[Array, Array]:
    """Accelerations along and up (ft/s2); ``turn`` is ``M w``. In place like `_after`."""
    slowing = along * along
    slowing += up * up
    np.sqrt(slowing, out=slowing)
    slowing *= drag
    change_along = turn * up
    change_along -= slowing * along
    slowing *= up
    slowing += turn * along
    return change_along, np.subtract(-GRAVITY, slowing, out=slowing)


def _after(time: Array, value: Array, rate: Array) -> Array:
    """``value + time * rate``; in place, as new arrays are what costs most in `fly`."""
    moved = time * rate
    moved += value
    return moved


def falling_time(z: Array, launch: Launch, ball: Ball) -> Array:
    """A time (s) by which a ball at height ``z`` has come down to the ground.

    A bound made of two: the rise of a ball without drag (higher and longer than the real one), and
    a fall in which the drag stays as at the greatest speed. Topspin only shortens the flight;
    backspin lifts the ball by at most ``M |w| v``, which is taken off gravity throughout.
    """
    fastest = np.sqrt(
        (launch.x - ball.wind_x) ** 2
        + (launch.y - ball.wind_y) ** 2
        + launch.z**2
        + 2.0 * GRAVITY * np.maximum(z, 0.0)
    )
    lift = ball.magnus * np.maximum(-launch.spin, 0.0) * fastest
    weight = np.maximum(GRAVITY - lift, 0.25 * GRAVITY)
    rise = np.maximum(launch.z, 0.0) / weight
    top = np.maximum(z, 0.0) + 0.5 * weight * rise * rise
    # Falling from rest with drag rate k: u' = w - k u, so that u = (w / k)(1 - exp(-k t)) and the
    # fall is (w / k)(t - (1 - exp(-k t)) / k); Newton from below, the fall is convex in time.
    rate = ball.drag * fastest
    fall = np.sqrt(2.0 * top / weight) * (1.0 + 0.25 * rate * np.sqrt(top / weight))
    for _ in range(3):
        gone = -np.expm1(-rate * fall)
        drop = weight / rate * (fall - gone / rate)
        fall = fall + (top - drop) / np.maximum(weight / rate * gone, _SMALLEST_SPEED)
    return rise + fall


def time_falling_to(flight: Flight, height: Array | float) -> Array:
    """Time (s) at which each ball falls through ``height``.

    Where the flight ends above ``height`` its end is given; where it never was above, the time of
    its highest point. In the step in which the ball falls through, parabolas that touch the flight
    are followed from the step's end backwards: a step is nearly a parabola, so that three turns are
    enough, and the vertex of a parabola that stays below ``height`` is that highest point.
    """
    fallen = (flight.height < height) & (flight.speed_up <= 0.0)
    index = _first(fallen)
    piece = _piece(flight.step, index, flight.height, flight.speed_up, flight.change_up)
    place = np.ones(flight.step.size)
    for _ in range(_PARABOLAS):
        value, rate, curve = _value(piece, place), _rate(piece, place), _curve(piece, place)
        above, bend = value - height, np.minimum(curve, -_FLAT)
        root = np.sqrt(np.maximum(rate * rate - 2.0 * bend * above, 0.0))
        place = np.minimum(np.maximum(place - (root + rate) / bend, 0.0), 1.0)
    return flight.step * (index + place)


def time_of_top(flight: Flight) -> Array:
    """Time (s) of each ball's highest point; 0 where it only falls."""
    return time_falling_to(flight, np.inf)


def time_at_line(flight: Flight, y: Array | float) -> Array:
    """Time (s) at which each ball passes over the line at ``y`` (ft); its end if it never does."""
    node_y = flight.origin_y + flight.along * flight.heading_y
    if flight.ball.wind_y != 0.0:
        node_y += np.arange(flight.steps + 1)[:, None] * (flight.ball.wind_y * flight.step)
    beyond = (node_y > y) != (flight.origin_y > y)
    index = _first(beyond)
    shots = np.arange(flight.step.size)
    before, after = node_y[index, shots], node_y[index + 1, shots]
    gap = np.where(np.abs(after - before) > _FLAT, after - before, _FLAT)
    place = np.minimum(np.maximum((y - before) / gap, 0.0), 1.0)
    piece = _piece(flight.step, index, flight.along, flight.speed_along, flight.change_along)
    drift = flight.ball.wind_y * flight.step
    for _ in range(_NEWTON_STEPS):
        now = flight.origin_y + _value(piece, place) * flight.heading_y + (index + place) * drift
        rate = _rate(piece, place) * flight.heading_y + drift
        rate = np.where(np.abs(rate) > _FLAT, rate, _FLAT)
        place = np.minimum(np.maximum(place - (now - y) / rate, 0.0), 1.0)
    return np.where(beyond.any(axis=0), flight.step * (index + place), flight.duration)


def _first(nodes: np.ndarray) -> np.ndarray:
    """The step that ends at the first marked node; the last step where no node is marked.

    ``nodes`` has shape (steps + 1, shots); every node after a marked one gets marked.
    """
    for earlier, later in pairwise(nodes):
        np.logical_or(earlier, later, out=later)
    marked = np.add.reduce(nodes, axis=0, dtype=np.int16).astype(np.intp)
    return np.clip(nodes.shape[0] - 1 - marked, 0, nodes.shape[0] - 2)


def _piece(step: Array, index: np.ndarray, value: Array, speed: Array, change: Array) -> Array:
    """One step's quintic as a power series in the place from 0 to 1, shape (6, *index.shape).

    ``index`` has shape (shots,) or (k, shots), ``step`` (shots,), the rest (steps + 1, shots).
    """
    start = index * step.size + np.arange(step.size)
    end = start + step.size
    square = step * step
    first = value.take(start)
    speed0, speed1 = step * speed.take(start), step * speed.take(end)
    change0, change1 = square * change.take(start), square * change.take(end)
    rise = value.take(end) - first - speed0 - 0.5 * change0
    gain, bend = speed1 - speed0 - change0, change1 - change0
    half = 0.5 * bend
    return np.stack(
        (
            first,
            speed0,
            0.5 * change0,
            10.0 * rise - 4.0 * gain + half,
            -15.0 * rise + 7.0 * gain - bend,
            6.0 * rise - 3.0 * gain + half,
        )
    )


def _value(piece: Array, place: Array) -> Array:
    c0, c1, c2, c3, c4, c5 = piece
    return np.asarray(c0 + place * (c1 + place * (c2 + place * (c3 + place * (c4 + place * c5)))))


def _rate(piece: Array, place: Array) -> Array:
    """First derivative of a piece by the place."""
    _, c1, c2, c3, c4, c5 = piece
    higher = 2.0 * c2 + place * (3.0 * c3 + place * (4.0 * c4 + place * (5.0 * c5)))
    return np.asarray(c1 + place * higher)


def _curve(piece: Array, place: Array) -> Array:
    """Second derivative of a piece by the place."""
    _, _, c2, c3, c4, c5 = piece
    return np.asarray(2.0 * c2 + place * (6.0 * c3 + place * (12.0 * c4 + place * (20.0 * c5))))
