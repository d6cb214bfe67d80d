"""The intended ball in still air: the launch that meets a wish, in closed form turn by turn.

In still air a flight's shape is known once the slope profile along it is: with ``s`` the ground
distance, ``p`` the slope dz/ds and ``f`` the pace dt/ds, the equations of `sim.flight` become

    f(s) = f0 E(s),    E = exp(K I[sqrt(1 + p^2)] - M w I[p f])
    z(s) = z0 + p0 s - g f0^2 II[E^2] - M w f0 II[E (1 + p^2)]

where ``I`` and ``II`` are the single and double integral from 0 to ``s``. Given ``E``, an intended
ball fixes ``p0`` and ``f0`` in closed form, as it would in a vacuum; given ``p0`` and ``f0``, the
profile follows. The two are repeated in turn (Picard's method) on a few Chebyshev points, where an
integral is a small matrix product. Drag bends the profile little, so that a handful of turns is
enough. Tests measure how well the true flight meets the intention.

Positions are in ft over the ground, all arrays have shape (shots,).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from sim.ball import GRAVITY, Ball
from sim.court import POST, Array, net_height
from sim.flight import Launch

_TURNS: Final = 9
_TURNS_AT_SPEED: Final = 12
_POINTS: Final = 10
_GUESSED_GROUND_SPEED: Final = 40.0
_GUESSED_LANDING_DEPTH: Final = 15.0
_LEAST_LANDING_SLOPE: Final = 0.03
_LEAST_RISE: Final = 0.1
# No third shot leaves these bounds; they keep a wish that no ball can grant from running away.
_STEEPEST: Final = 6.0
_SLOWEST_PACE: Final = 0.5
_FASTEST: Final = 180.0
_LIGHTEST: Final = GRAVITY / _FASTEST**2
_HEAVIEST: Final = GRAVITY / 3.0**2
_SHORTEST_LANDING: Final = -0.5


@dataclass(frozen=True)
class Striker:
    """Who strikes: from where, with what spin, which ball, and in a given direction or not."""

    x: Array
    y: Array
    z: Array
    spin: Array
    ball: Ball
    azimuth: Array | None

    def take(self, chosen: np.ndarray) -> Striker:
        azimuth = None if self.azimuth is None else self.azimuth[chosen]
        rows = (self.x[chosen], self.y[chosen], self.z[chosen], self.spin[chosen])
        return Striker(*rows, self.ball, azimuth)

    def side_at(self, landing_x: Array, landing_y: Array) -> Array:
        """Where the ball is to land across the court: as wished, or as the azimuth says."""
        if self.azimuth is None:
            return landing_x
        return self.x + (self.y - landing_y) * np.tan(self.azimuth)


def calm_over_net(striker: Striker, landing_x: Array, landing_y: Array, clearance: Array) -> Launch:
    ball_to_be = Intention(striker)
    ball_to_be.head_for(striker.side_at(landing_x, landing_y), landing_y)
    height = ball_to_be.put_gate_at_net(clearance)
    for _ in range(_TURNS):
        ball_to_be.through_gate_to_end(height)
    return ball_to_be.launch()


def calm_to_top(striker: Striker, landing_x: Array, landing_y: Array, top: Array) -> Launch:
    landing_y = np.where(striker.y > 0.0, np.minimum(landing_y, _SHORTEST_LANDING), landing_y)
    top = np.maximum(top, striker.z + _LEAST_RISE)
    ball_to_be = Intention(striker)
    ball_to_be.head_for(striker.side_at(landing_x, landing_y), landing_y)
    rising, falling = np.sqrt(top - striker.z), np.sqrt(top)
    ball_to_be.gate = ball_to_be.length * rising / (rising + falling)
    ball_to_be.through_gate_to_end(top)
    for _ in range(_TURNS - 1):
        ball_to_be.put_gate_at_top()
        ball_to_be.through_gate_to_end(top)
    return ball_to_be.launch()


def calm_at_speed(
    striker: Striker, landing_x: Array, speed: Array, clearance: Array
) -> tuple[Launch, Array]:
    """The launch, and where it lands (``y``, ft)."""
    ball_to_be = Intention(striker)
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


class Intention:
    """An intended ball in its vertical plane, made better turn by turn; still air throughout.

    ``slope`` and ``pace`` hold the profile at the Chebyshev points, shape (points, shots), on a
    plane that starts at the striker, ends after ``length`` (ft) and has a gate to pass at ``gate``.
    """

    def __init__(self, striker: Striker) -> None:
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
        return height_to_clear(x) + self.striker.ball.radius + clearance

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
        weight = np.clip(bend / (falls[-1] - ratio * falls_at_gate), _LIGHTEST, _HEAVIEST)
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
        most = 0.5 * (np.hypot(rise, self.gate) - rise)
        drop = np.maximum(np.minimum(drop, most), 1e-9)
        root = np.maximum(self.gate**2 - 4.0 * drop * (rise + drop), 0.0)
        slope = (self.gate - np.sqrt(root)) / (2.0 * drop)
        weight = drop * (1.0 + slope**2) / np.maximum(falls_at_gate, 1e-9)
        weight = np.clip(weight, _LIGHTEST, _HEAVIEST)
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
        along = 1.0 / self.pace[0]
        along = np.minimum(along, _FASTEST / np.sqrt(1.0 + self.slope[0] ** 2))
        up, spin = self.slope[0] * along, self.striker.spin
        return Launch(self.heading_x * along, self.heading_y * along, up, spin)

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
        slope = slope - GRAVITY * pace**2 * fall - self.turning * pace * turn
        self.slope = np.clip(slope, -_STEEPEST, _STEEPEST)
        self.pace = np.minimum(pace * stretch, _SLOWEST_PACE)

    def _at_gate(self, first: Array, second: Array) -> tuple[Array, Array]:
        """Two profiles, given at the points, at the gate."""
        fraction = np.minimum(self.gate / self.length, 1.0)
        powers = np.ones((_POINTS, fraction.size))
        for k in range(1, _POINTS):
            np.multiply(powers[k - 1], fraction, out=powers[k])
        weights = _TO_POWERS.T @ powers
        return np.einsum("ks,ks->s", weights, first), np.einsum("ks,ks->s", weights, second)


def height_to_clear(x: Array) -> Array:
    """Height (ft) that a striker aims over: the net's, and beyond its posts as if it went on.

    Nobody aims under a net that ends a foot away; and a jump at the post would leave aims that
    pass close to it without a solution.
    """
    return net_height(np.clip(x, -POST, POST))
