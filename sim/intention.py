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
from sim.court import BASELINE, NET_HEIGHT_AT_CENTRE, POST, Array, net_height
from sim.flight import Launch

_TURNS_OVER_NET: Final = 5
_TURNS_TO_TOP: Final = 4
_TURNS_AT_SPEED: Final = 5
_TURNS_WHEN_SLOW: Final = 10
_SETTLED: Final = 1e-5
_POINTS: Final = 10
_GUESSED_GROUND_SPEED: Final = 40.0
_LEAST_LANDING_SLOPE: Final = 0.03
_LEAST_RISE: Final = 0.1
_LEAST_REACH: Final = 1.0
# No third shot leaves these bounds; they keep a wish that no ball can grant from running away.
_STEEPEST: Final = 12.0
_LONGEST_STRETCH: Final = 6.0
_FASTEST: Final = 180.0
_QUICKEST: Final = 1.0 / _FASTEST
_SLOWEST: Final = 1.0 / 3.0
_FARTHEST: Final = 250.0
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


@dataclass(frozen=True)
class Landing:
    """When (s) and where (ft) a ball lands, and its velocity (ft/s) and spin just before."""

    time: Array
    x: Array
    y: Array
    velocity: Launch


def calm_over_net(striker: Striker, landing_x: Array, landing_y: Array, clearance: Array) -> Launch:
    """Clear the net by ``clearance`` (ft) and land at a given point."""
    ball_to_be = Intention(striker)
    ball_to_be.head_for(striker.side_at(landing_x, landing_y), landing_y)
    height = ball_to_be.put_gate_at_net(clearance)
    for _ in range(_TURNS_OVER_NET):
        ball_to_be.through_gate_to_end(height)
    return ball_to_be.launch()


def calm_to_top(striker: Striker, landing_x: Array, landing_y: Array, top: Array) -> Intention:
    """Rise to ``top`` (ft) and land at a given point; has a launch and a landing."""
    landing_y = np.where(striker.y > 0.0, np.minimum(landing_y, _SHORTEST_LANDING), landing_y)
    top = np.maximum(top, striker.z + _LEAST_RISE)
    ball_to_be = Intention(striker)
    ball_to_be.head_for(striker.side_at(landing_x, landing_y), landing_y)
    rising, falling = np.sqrt(top - striker.z), np.sqrt(top)
    ball_to_be.put_gate_at(ball_to_be.length * rising / (rising + falling))
    ball_to_be.through_gate_to_end(top)
    for _ in range(_TURNS_TO_TOP - 1):
        ball_to_be.put_gate_at_top()
        ball_to_be.through_gate_to_end(top)
    return ball_to_be


def calm_at_speed(
    striker: Striker, landing_x: Array, speed: Array, clearance: Array
) -> tuple[Launch, Array]:
    """Clear the net at a given launch speed (ft/s): the launch, and where it lands (``y``, ft)."""
    ball_to_be = Intention(striker)
    ball_to_be.guess_at_speed(speed, clearance)
    settled = ball_to_be.settle_at_speed(landing_x, speed, clearance, _TURNS_AT_SPEED)
    launch, landing_y = ball_to_be.launch(), ball_to_be.end_y()
    # Close to the least speed that gets there the turns close in slowly: those go on alone.
    slow = np.flatnonzero(~settled)
    if slow.size:
        slower = ball_to_be.take(slow)
        slower.settle_at_speed(landing_x[slow], speed[slow], clearance[slow], _TURNS_WHEN_SLOW)
        again = slower.launch()
        launch.x[slow], launch.y[slow], launch.z[slow] = again.x, again.y, again.z
        landing_y[slow] = slower.end_y()
    return launch, landing_y


def _chebyshev_tables(points: int) -> tuple[Array, Array, Array]:
    """Chebyshev points on [0, 1]; for values there, to their integrals from 0, to power series.

    The series comes by the cosine transform and the powers by whole numbers: to invert a matrix of
    powers loses ten digits, and on another processor other ones.
    """
    cheb, last = np.polynomial.chebyshev, points - 1
    angles = np.pi * np.arange(points) / last
    unit = -np.cos(angles)
    half_at_ends = np.where(np.arange(points) % last == 0, 0.5, 1.0)
    to_series = np.cos(np.outer(np.arange(points), np.pi - angles))
    to_series *= 2.0 / last * np.outer(half_at_ends, half_at_ends)
    integrals = [
        0.5 * cheb.chebval(unit, cheb.chebint(column, lbnd=-1.0))  # d(node) = d(unit) / 2
        for column in np.eye(points)
    ]
    to_powers = np.zeros((points, points))
    for degree, column in enumerate(to_powers.T):
        on_unit = cheb.Chebyshev.basis(degree, domain=(0.0, 1.0))
        column[: degree + 1] = on_unit.convert(kind=np.polynomial.Polynomial).coef
    integral = np.stack(integrals, axis=1) @ to_series
    return 0.5 * (1.0 + unit), np.asarray(integral), np.asarray(to_powers @ to_series)


_NODES, _INTEGRAL, _TO_POWERS = _chebyshev_tables(_POINTS)
_TWICE: Final = _INTEGRAL @ _INTEGRAL
_TWICE_TO_POWERS: Final = _TO_POWERS @ _TWICE


class Intention:
    """An intended ball in its vertical plane, made better turn by turn; still air throughout.

    The plane starts at the striker, ends after ``length`` (ft) and has a gate to pass at ``gate``.
    ``slope`` and ``stretch`` (``E``) hold the profile at the Chebyshev points, shape (points,
    shots); ``pace`` is the launch's ``f0``.
    """

    def __init__(self, striker: Striker) -> None:
        self.striker, self.drag = striker, striker.ball.drag
        self.turning = striker.ball.magnus * striker.spin
        self.spinning = bool(self.turning.any())
        shape = (_POINTS, striker.x.size)
        self.slope, self.stretch = np.zeros(shape), np.ones(shape)
        self.pace = np.full(striker.x.size, 1.0 / _GUESSED_GROUND_SPEED)
        self.heading_x = self.heading_y = self.length = self.gate = np.zeros(striker.x.size)
        self.to_gate = np.zeros(shape)
        # Memory for one turn's profiles: to ask for it anew each time would take longer.
        self.room = np.empty((3, *shape))

    def take(self, chosen: np.ndarray) -> Intention:
        """The same ball for the chosen shots only (indices), to go on with."""
        some = Intention(self.striker.take(chosen))
        some.slope, some.stretch = self.slope[:, chosen], self.stretch[:, chosen]
        some.pace, some.length = self.pace[chosen], self.length[chosen]
        return some

    def head_for(self, landing_x: Array, landing_y: Array) -> None:
        """Point the plane at a landing point and end it there."""
        along_x, along_y = landing_x - self.striker.x, landing_y - self.striker.y
        self.length = np.sqrt(along_x * along_x + along_y * along_y)
        self.heading_x, self.heading_y = along_x / self.length, along_y / self.length

    def head_for_side(self, landing_x: Array) -> None:
        """Point the plane so that its end, wherever it lies, is at ``landing_x``."""
        if self.striker.azimuth is not None:
            self.heading_x = np.sin(self.striker.azimuth)
        else:
            self.heading_x = np.clip((landing_x - self.striker.x) / self.length, -0.95, 0.95)
        self.heading_y = -np.sqrt(1.0 - self.heading_x * self.heading_x)

    def put_gate_at_net(self, clearance: Array) -> Array:
        """Put the gate over the net; returns the height (ft) of the centre as it passes there."""
        self.put_gate_at(-self.striker.y / self.heading_y)
        x = self.striker.x + self.gate * self.heading_x
        return height_to_clear(x) + self.striker.ball.radius + clearance

    def put_gate_at_top(self) -> None:
        """Move the gate to the highest point of the flight as known so far."""
        weights = _TO_POWERS.T @ self.powers
        slope, stretch = _sum(weights, self.slope), _sum(weights, self.stretch)
        pace = self.pace * stretch
        rate = -pace * (GRAVITY * pace + self.turning * (1.0 + slope * slope))
        gate = self.gate - slope / rate
        self.put_gate_at(np.clip(gate, 0.05 * self.length, 0.95 * self.length))

    def put_gate_at(self, gate: Array) -> None:
        """Put the gate so far (ft) from the striker."""
        self.gate = gate
        fraction = np.minimum(gate / self.length, 1.0)
        self.powers = np.ones((_POINTS, fraction.size))
        for k in range(1, _POINTS):
            np.multiply(self.powers[k - 1], fraction, out=self.powers[k])
        self.to_gate = _TWICE_TO_POWERS.T @ self.powers

    def through_gate_to_end(self, height: Array) -> None:
        """One turn: pass the gate at ``height`` (ft) and come to the ground at the end."""
        fall, pull = self._profile()
        fallen, fallen_at_gate = self._twice(fall)
        pulled, pulled_at_gate = self._twice(pull)
        # The straight line from the striker to the end, less the ball's fall from it, is a
        # quadratic in f0. A ball cannot pass below the straight line to its landing point: such a
        # wish is met by the flattest ball there is.
        ratio = self.length / self.gate
        bend = np.maximum((height - self.striker.z) * ratio + self.striker.z, 1e-3)
        weight = GRAVITY * np.maximum(fallen - ratio * fallen_at_gate, 0.0)
        magnus = self.turning * (pulled - ratio * pulled_at_gate)
        root = magnus + np.sqrt(magnus * magnus + 4.0 * weight * bend)
        pace = np.clip(2.0 * bend / np.maximum(root, 1e-9), _QUICKEST, _SLOWEST)
        drop = pace * (GRAVITY * pace * fallen + self.turning * pulled)
        self._start((drop - self.striker.z) / self.length, pace, fall, pull)

    def through_gate_at_speed(self, height: Array, speed: Array) -> None:
        """One turn: pass the gate at ``height`` (ft), struck at ``speed`` (ft/s).

        The flatter of the two elevations; where the speed is too small to get there, the smallest
        that does. The end moves to where the ball lands.
        """
        fall, pull = self._profile()
        fallen, fallen_at_gate = self._twice(fall)
        pulled, pulled_at_gate = self._twice(pull)
        rise = height - self.striker.z + self.turning * self.pace * pulled_at_gate
        # With f0^2 = (1 + p0^2) / v^2 the condition at the gate is a quadratic in p0. Its root is
        # taken of factors: at the smallest speed, where it is zero, a difference of large numbers
        # would leave half of the digits to the processor.
        drop = GRAVITY * fallen_at_gate / (speed * speed)
        straight = np.sqrt(rise * rise + self.gate * self.gate)
        most = 0.5 * (straight - rise)
        drop = np.maximum(np.minimum(drop, most), 1e-9)
        root = 2.0 * np.maximum(most - drop, 0.0) * (straight + rise + 2.0 * drop)
        slope = (self.gate - np.sqrt(root)) / (2.0 * drop)
        weight = drop * (1.0 + slope * slope) / np.maximum(GRAVITY * fallen_at_gate, 1e-9)
        pace = np.clip(np.sqrt(weight), _QUICKEST, _SLOWEST)
        ending = self.striker.z + slope * self.length
        ending -= pace * (GRAVITY * pace * fallen + self.turning * pulled)
        self._start(slope, pace, fall, pull)
        longer = -ending / np.minimum(self.slope[-1], -_LEAST_LANDING_SLOPE)
        length = np.clip(self.length + longer, 0.6 * self.length, 1.6 * self.length)
        self._end_at(np.clip(length, 1.01 * self.gate, _FARTHEST))

    def guess_at_speed(self, speed: Array, clearance: Array) -> None:
        """Start from a parabola over the middle of the net, with the drag of a flat flight."""
        reach, start = np.maximum(self.striker.y, _LEAST_REACH), self.striker.z
        rise = NET_HEIGHT_AT_CENTRE + self.striker.ball.radius + clearance - start
        bend = 0.5 * GRAVITY / (speed * speed) * (1.0 + 2.0 / 3.0 * self.drag * reach)
        slope = rise / reach + bend * reach
        # Once more, as a ball that leaves at a slope goes slower over the ground.
        bend *= 1.0 + slope * slope
        slope = rise / reach + bend * reach
        length = (slope + np.sqrt(slope * slope + 4.0 * bend * start)) / (2.0 * bend)
        self.length = np.clip(length, 1.01 * reach, 3.0 * reach + BASELINE)
        self.slope = slope - _NODES[:, None] * (2.0 * bend * self.length)
        self.pace = np.sqrt(1.0 + slope * slope) / speed

    def settle_at_speed(
        self, landing_x: Array, speed: Array, clearance: Array, turns: int
    ) -> np.ndarray:
        """So many turns of `through_gate_at_speed`; says whose slope has settled."""
        before = np.zeros(speed.shape)
        for _ in range(turns):
            before = self.slope[0].copy()
            self.head_for_side(landing_x)
            self.through_gate_at_speed(self.put_gate_at_net(clearance), speed)
        return np.abs(self.slope[0] - before) < _SETTLED

    def end_y(self) -> Array:
        """How far from the net the ball lands (a ``y``, ft)."""
        return self.striker.y + self.length * self.heading_y

    def launch(self) -> Launch:
        """How the ball leaves, no faster than anybody strikes it."""
        along = 1.0 / self.pace
        slope = np.clip(self.slope[0], -_STEEPEST, _STEEPEST)
        along = np.minimum(along, _FASTEST / np.sqrt(1.0 + slope * slope))
        up, spin = slope * along, self.striker.spin
        return Launch(self.heading_x * along, self.heading_y * along, up, spin)

    def landing(self) -> Landing:
        """How the ball comes down at its end."""
        pace = self.pace * self.stretch[-1]
        x = self.striker.x + self.length * self.heading_x
        time = self.pace * self.length * (_INTEGRAL[-1] @ self.stretch)
        up = self.slope[-1] / pace
        velocity = Launch(self.heading_x / pace, self.heading_y / pace, up, self.striker.spin)
        return Landing(time, x, self.end_y(), velocity)

    def _profile(self) -> tuple[Array, Array | None]:
        """What is to be integrated, at the points: ``E^2`` for the fall, ``E (1 + p^2)`` for spin.

        None for the second where no ball spins.
        """
        slope = np.clip(self.slope, -_STEEPEST, _STEEPEST, out=self.room[0])
        square = np.multiply(slope, slope, out=self.room[1])
        square += 1.0
        growth = np.sqrt(square, out=self.room[2])
        growth *= self.drag
        if self.spinning:
            slope *= self.stretch
            slope *= self.turning * self.pace
            growth -= slope
        exponent = np.matmul(_INTEGRAL, growth, out=self.stretch)
        exponent *= self.length
        np.minimum(exponent, _LONGEST_STRETCH, out=exponent)
        stretch = np.exp(exponent, out=self.stretch)
        fall = np.multiply(stretch, stretch, out=self.room[0])
        return fall, np.multiply(stretch, square, out=square) if self.spinning else None

    def _twice(self, integrand: Array | None) -> tuple[Array, Array]:
        """Double integral of values at the points, from the start to the end and to the gate."""
        if integrand is None:
            return np.zeros(self.length.size), np.zeros(self.length.size)
        square = self.length * self.length
        return square * (_TWICE[-1] @ integrand), square * _sum(self.to_gate, integrand)

    def _start(self, slope: Array, pace: Array, fall: Array, pull: Array | None) -> None:
        """Take a new launch, and the slope that it has along the flight."""
        bend = np.multiply(GRAVITY * pace * pace * self.length, fall, out=self.room[2])
        if pull is not None:
            bend += (self.turning * pace * self.length) * pull
        np.matmul(_INTEGRAL, bend, out=self.slope)
        np.subtract(slope, self.slope, out=self.slope)
        self.pace = pace

    def _end_at(self, length: Array) -> None:
        """Move the end, and along with it the points at which the slope is known."""
        longer = np.multiply(_NODES[:, None], length / self.length - 1.0, out=self.room[0])
        longer *= self.room[2]  # what the slope loses from the start to the end
        self.slope -= longer
        self.length = length


def _sum(weights: Array, values: Array) -> Array:
    return np.asarray(np.einsum("ks,ks->s", weights, values))


def height_to_clear(x: Array) -> Array:
    """Height (ft) that a striker aims over: the net's, and beyond its posts as if it went on.

    Nobody aims under a net that ends a foot away; and a jump at the post would leave aims that
    pass close to it without a solution.
    """
    return net_height(np.clip(x, -POST, POST))
