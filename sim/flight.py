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
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from sim.ball import GRAVITY, Ball
from sim.court import Array

_NEWTON_STEPS: Final = 4
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
        rows = {
            name: value[..., chosen]
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
        along, height = self._between_nodes(time, _hermite)
        return *self.ground(along, time), height

    def velocity(self, time: Array) -> tuple[Array, Array, Array]:
        """Velocity over the ground (ft/s) at a time of shape (shots,) or (k, shots)."""
        along, height = self._between_nodes(time, _hermite_rates)
        along, height = along / self.step, height / self.step
        return (
            along * self.heading_x + self.ball.wind_x,
            along * self.heading_y + self.ball.wind_y,
            height,
        )

    def _between_nodes(self, time: Array, basis: Callable[[Array], Array]) -> tuple[Array, Array]:
        """Distance along and height, or with `_hermite_rates` their rates by the step."""
        place = time / self.step
        index = np.clip(place.astype(np.intp), 0, self.steps - 1)
        weights = basis(place - index)
        shots = np.arange(self.step.size)
        start, end = (index, shots), (index + 1, shots)
        square = self.step * self.step

        def between(value: Array, speed: Array, change: Array) -> Array:
            total = weights[0] * value[start] + weights[3] * value[end]
            total += self.step * (weights[1] * speed[start] + weights[4] * speed[end])
            total += square * (weights[2] * change[start] + weights[5] * change[end])
            return np.asarray(total)

        return (
            between(self.along, self.speed_along, self.change_along),
            between(self.height, self.speed_up, self.change_up),
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


def _hermite_rates(u: Array) -> Array:
    """Derivatives of `_hermite` by ``u``, shape (6, *u.shape)."""
    v = 1.0 - u
    return np.stack(
        (
            -30.0 * u * u * v * v,
            v * v * (1.0 + 2.0 * u - 15.0 * u * u),
            0.5 * u * v * v * (2.0 - 5.0 * u),
            30.0 * u * u * v * v,
            u * u * (1.0 + 2.0 * v - 15.0 * v * v),
            -0.5 * v * u * u * (2.0 - 5.0 * v),
        )
    )


def fly(
    x: Array, y: Array, z: Array, launch: Launch, ball: Ball, duration: Array, steps: int
) -> Flight:
    """Fly balls from ``(x, y, z)`` for ``duration`` (s), in ``steps`` equal steps each.

    Where drag would stop the fastest ball within two steps, there are more of them.
    """
    air_x, air_y = launch.x - ball.wind_x, launch.y - ball.wind_y
    speed = np.hypot(air_x, air_y)
    if speed.size:
        needed = 2.0 * ball.drag * float((np.hypot(speed, launch.z) * duration).max())
        # Written so that a launch gone astray, not a number, asks for no more steps.
        if needed > steps:
            steps = math.ceil(min(needed, _MOST_STEPS))
    shape = (steps + 1, speed.size)
    s, h, a, u, da, du = (np.empty(shape) for _ in range(6))
    s[0], h[0], a[0], u[0] = 0.0, z, speed, launch.z
    drag, turn = ball.drag, ball.magnus * launch.spin
    step = duration / steps
    half, sixth = 0.5 * step, step / 6.0

    def change(along: Array, up: Array) -> tuple[Array, Array]:
        slowing = drag * np.sqrt(along * along + up * up)
        return turn * up - slowing * along, -GRAVITY - slowing * up - turn * along

    for i in range(steps):
        a1, u1 = a[i], u[i]
        da1, du1 = change(a1, u1)
        a2, u2 = a1 + half * da1, u1 + half * du1
        da2, du2 = change(a2, u2)
        a3, u3 = a1 + half * da2, u1 + half * du2
        da3, du3 = change(a3, u3)
        a4, u4 = a1 + step * da3, u1 + step * du3
        da4, du4 = change(a4, u4)
        da[i], du[i] = da1, du1
        a[i + 1] = a1 + sixth * (da1 + 2.0 * (da2 + da3) + da4)
        u[i + 1] = u1 + sixth * (du1 + 2.0 * (du2 + du3) + du4)
        s[i + 1] = s[i] + sixth * (a1 + 2.0 * (a2 + a3) + a4)
        h[i + 1] = h[i] + sixth * (u1 + 2.0 * (u2 + u3) + u4)
    da[steps], du[steps] = change(a[steps], u[steps])
    size = np.maximum(speed, _SMALLEST_SPEED)
    return Flight(x, y, air_x / size, air_y / size, step, launch.spin, s, h, a, u, da, du, ball)


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
    """Time (s) at which each ball last falls through ``height``.

    Newton's method on the interpolated flight, from the end of the step in which the ball falls
    through: a flight is concave in time, so that the method comes down on the fall and not on the
    rise. Where the flight ends above ``height`` its end is given; where it never was above, the
    time of its highest point.
    """
    above = flight.height[:-1] >= height
    top_index, top = _top(flight)
    index = np.where(
        above.any(axis=0), flight.steps - 1 - np.argmax(above[::-1], axis=0), top_index
    )
    least = np.where(index == top_index, top, 0.0)
    piece = _piece(flight, index, flight.height, flight.speed_up, flight.change_up)
    place = np.ones(flight.step.size)
    for _ in range(_NEWTON_STEPS + 2):
        value, rate, _ = _along_piece(piece, place)
        place = np.clip(place - (value - height) / np.minimum(rate, -_FLAT), least, 1.0)
    return flight.step * (index + place)


def time_of_top(flight: Flight) -> Array:
    """Time (s) of each ball's highest point; 0 where it only falls."""
    index, place = _top(flight)
    return flight.step * (index + place)


def time_at_line(flight: Flight, y: Array | float) -> Array:
    """Time (s) at which each ball passes over the line at ``y`` (ft); its end if it never does."""
    node_time = np.arange(flight.steps + 1)[:, None] * flight.step
    _, node_y = flight.ground(flight.along, node_time)
    beyond = (node_y - y) * np.sign(y - flight.origin_y) > 0.0
    index = np.where(beyond.any(axis=0), np.argmax(beyond, axis=0), flight.steps) - 1
    index = np.maximum(index, 0)
    shots = np.arange(flight.step.size)
    before, after = node_y[index, shots], node_y[index + 1, shots]
    gap = np.where(np.abs(after - before) > _FLAT, after - before, _FLAT)
    place = np.clip((y - before) / gap, 0.0, 1.0)
    piece = _piece(flight, index, flight.along, flight.speed_along, flight.change_along)
    drift = flight.ball.wind_y * flight.step
    for _ in range(_NEWTON_STEPS):
        value, rate, _ = _along_piece(piece, place)
        now = flight.origin_y + value * flight.heading_y + (index + place) * drift
        rate = rate * flight.heading_y + drift
        rate = np.where(np.abs(rate) > _FLAT, rate, _FLAT)
        place = np.clip(place - (now - y) / rate, 0.0, 1.0)
    return flight.step * (index + place)


def _top(flight: Flight) -> tuple[np.ndarray, Array]:
    """The step in which each ball is highest, and where in it, from 0 to 1."""
    rising = flight.speed_up[:-1] > 0.0
    index = np.where(rising.any(axis=0), flight.steps - 1 - np.argmax(rising[::-1], axis=0), 0)
    shots = np.arange(flight.step.size)
    before, after = flight.speed_up[index, shots], flight.speed_up[index + 1, shots]
    place = np.clip(before / np.maximum(before - after, _FLAT), 0.0, 1.0)
    piece = _piece(flight, index, flight.height, flight.speed_up, flight.change_up)
    inside = place > 0.0
    for _ in range(2):
        _, rate, curve = _along_piece(piece, place)
        place = np.clip(place - inside * rate / np.minimum(curve, -_FLAT), 0.0, 1.0)
    return index, place


def _piece(flight: Flight, index: np.ndarray, value: Array, speed: Array, change: Array) -> Array:
    """One step's quintic as a power series in the place from 0 to 1, shape (6, shots)."""
    shots, step = np.arange(flight.step.size), flight.step
    start, end = (index, shots), (index + 1, shots)
    speed0, speed1 = step * speed[start], step * speed[end]
    change0, change1 = step * step * change[start], step * step * change[end]
    first = value[start]
    rise = value[end] - first - speed0 - 0.5 * change0
    gain, bend = speed1 - speed0 - change0, change1 - change0
    return np.stack(
        (
            first,
            speed0,
            0.5 * change0,
            10.0 * rise - 4.0 * gain + 0.5 * bend,
            -15.0 * rise + 7.0 * gain - bend,
            6.0 * rise - 3.0 * gain + 0.5 * bend,
        )
    )


def _along_piece(piece: Array, place: Array) -> tuple[Array, Array, Array]:
    """Value of a piece and its first and second derivative by the place."""
    c0, c1, c2, c3, c4, c5 = piece
    value = c0 + place * (c1 + place * (c2 + place * (c3 + place * (c4 + place * c5))))
    rate = c1 + place * (2.0 * c2 + place * (3.0 * c3 + place * (4.0 * c4 + place * 5.0 * c5)))
    curve = 2.0 * c2 + place * (6.0 * c3 + place * (12.0 * c4 + place * 20.0 * c5))
    return value, rate, curve
