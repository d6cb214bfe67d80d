"""Aiming off for the wind: an intended ball's mark is moved by what the true flight misses.

Functions that say what a flight ``met`` return as many arrays as there are wishes. All arrays have
shape (shots,), positions are in ft over the ground, velocities in ft/s.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from sim.court import Array
from sim.flight import Flight, Launch, falling_time, fly, time_at_line, time_falling_to
from sim.intention import Striker, height_to_clear

_WIND_TURNS: Final = 10
_LONGEST_CORRECTION: Final = 5.0
_NEWTON_STEPS: Final = 12
_LONGEST_STEP: Final = 6.0
_NUDGE: Final = 1e-4
FLIGHT_STEPS: Final = 14
_CLOSE: Final = 1e-6
_ON_THE_MARK: Final = 1e-5
_AGAINST_WIND: Final = 1.5
# A launch that misses its wishes by more than this (ft) has gone astray.
ASTRAY: Final = 0.05


def clearance_of(flight: Flight) -> Array:
    """Height (ft) of the centre over net top plus radius as the ball passes the net's plane."""
    x, _, z = flight.position(time_at_line(flight, 0.0))
    return z - height_to_clear(x) - flight.ball.radius


def landing_of(flight: Flight) -> tuple[Array, Array, Array]:
    return flight.position(time_falling_to(flight, 0.0))


def aim_off_for_wind(
    striker: Striker,
    calm_aim: Callable[..., Launch],
    first_marks: tuple[Array, ...],
    wishes: tuple[Array, ...],
    met: Callable[[Flight], tuple[Array, ...]],
) -> tuple[Launch, Array]:
    """Aim as a player does: as in still air, but off the mark by what the wind will take.

    ``calm_aim`` takes the numbers of the shots to aim and as many marks as there are ``wishes``,
    and ``met`` says what a flight made of them. The last wish is the landing side, left alone where
    the azimuth is given. The marks are moved by what was missed, sped up by Anderson's method with
    a memory of one, until the shot is on its mark. The launch that misses least of all turns is
    kept for each shot; the second array is how much it misses (ft).

    Source: D. G. Anderson, J. ACM 12 (1965) 547, doi 10.1145/321296.321305 (memory).
    """
    free = len(wishes) - (striker.azimuth is not None)
    marks, wished = np.stack(first_marks), np.stack(wishes)
    going, least = np.arange(striker.x.size), np.full(striker.x.size, np.inf)
    velocity = np.empty((3, striker.x.size))
    before, missed_before = marks, np.zeros(marks.shape)
    # A mark gone astray may overflow; its launch then never misses least and is dropped.
    with np.errstate(all="ignore"):
        for turn in range(_WIND_TURNS):
            launch = calm_aim(going, *marks)
            missed = np.stack(met(fly_below_ground(striker.take(going), launch)))
            missed -= wished[:, going]
            missed[free:] = 0.0
            total = np.abs(missed).sum(axis=0)
            better = (total < least[going]) | (turn == 0)
            velocity[:, going[better]] = np.stack((launch.x, launch.y, launch.z))[:, better]
            least[going] = np.fmin(least[going], total)
            step = np.clip(-missed, -_LONGEST_CORRECTION, _LONGEST_CORRECTION)
            if turn > 0:
                change = missed - missed_before
                weight = (missed * change).sum(axis=0) / (change * change).sum(axis=0)
                weight = np.clip(np.nan_to_num(weight), -2.0, 0.9)
                step = step - weight * (marks - before - change)
            step = np.clip(np.nan_to_num(step), -_LONGEST_CORRECTION, _LONGEST_CORRECTION)
            off = ~(total < _ON_THE_MARK)
            going, before, missed_before = going[off], marks[:, off], missed[:, off]
            marks = before + step[:, off]
            if not going.size:
                break
    return Launch(velocity[0], velocity[1], velocity[2], striker.spin), least


def polish(
    striker: Striker,
    launch: Launch,
    wishes: tuple[Array, ...],
    met: Callable[[Flight], tuple[Array, ...]],
) -> tuple[Launch, Array]:
    """Newton's method on the launch velocity, so that the true flight in wind grants the wishes.

    Returns the better of the launches at which it starts and ends, and how much that misses (ft).
    """
    free = len(wishes) - (striker.azimuth is not None)
    ground = np.hypot(launch.x, launch.y)
    ahead = np.stack((launch.x / ground, launch.y / ground, np.zeros_like(ground)), axis=1)
    across = ahead[:, [1, 0, 2]] * [-1.0, 1.0, 0.0]
    up = np.broadcast_to([0.0, 0.0, 1.0], ahead.shape)
    axes = (ahead, up, across)[:free]

    def missed(velocity: Array, chosen: np.ndarray) -> Array:
        here = striker.take(chosen)
        trial = Launch(velocity[:, 0], velocity[:, 1], velocity[:, 2], here.spin)
        got = met(fly_below_ground(here, trial))
        return np.stack([g - w[chosen] for g, w in zip(got, wishes, strict=True)][:free], axis=1)

    everyone = going = np.arange(striker.x.size)
    start = np.stack((launch.x, launch.y, launch.z), axis=1)
    velocity = start.copy()
    for _ in range(_NEWTON_STEPS):
        now = missed(velocity[going], going)
        unsettled = np.abs(now).sum(axis=1) > _CLOSE
        going, now = going[unsettled], now[unsettled]
        if not going.size:
            break
        nudged = [missed(velocity[going] + _NUDGE * axis[going], going) for axis in axes]
        matrix = (np.stack(nudged, axis=2) - now[:, :, None]) / _NUDGE
        matrix[np.abs(np.linalg.det(matrix)) < 1e-9] = np.eye(free)
        step = np.linalg.solve(matrix, now[:, :, None])[:, :, 0]
        size = np.linalg.norm(step, axis=1, keepdims=True)
        step *= np.minimum(1.0, _LONGEST_STEP / np.maximum(size, 1e-12))
        velocity[going] -= sum(step[:, [k]] * axis[going] for k, axis in enumerate(axes))
    polished = Launch(velocity[:, 0], velocity[:, 1], velocity[:, 2], launch.spin)
    at_end, at_start = (np.abs(missed(v, everyone)).sum(axis=1) for v in (velocity, start))
    return _choose(at_end < at_start, polished, launch), np.fmin(at_end, at_start)


def second_start(
    striker: Striker,
    calm: Launch,
    launch: Launch,
    misses: Array,
    wishes: tuple[Array, ...],
    met: Callable[[Flight], tuple[Array, ...]],
) -> Launch:
    """Newton's method once more, for the few launches that went astray.

    It starts from the launch for still air made faster into the wind, or slower down it.
    """
    astray = np.flatnonzero(misses > ASTRAY)
    if not astray.size:
        return launch
    start, ball = calm.take(astray), striker.ball
    start.x[:] -= _AGAINST_WIND * ball.wind_x
    start.y[:] -= _AGAINST_WIND * ball.wind_y
    chosen_wishes = tuple(wish[astray] for wish in wishes)
    other, rest = polish(striker.take(astray), start, chosen_wishes, met)
    other = _choose(rest < misses[astray], other, launch.take(astray))
    launch.x[astray], launch.y[astray], launch.z[astray] = other.x, other.y, other.z
    return launch


def fly_below_ground(striker: Striker, launch: Launch) -> Flight:
    """Fly on below the ground, so that a ball that falls short still has a height at the net."""
    longer = 1.4 * falling_time(striker.z, launch, striker.ball)
    here = striker.x, striker.y, striker.z
    return fly(*here, launch, striker.ball, longer, FLIGHT_STEPS)


def _choose(mask: np.ndarray, first: Launch, second: Launch) -> Launch:
    return Launch(
        np.where(mask, first.x, second.x),
        np.where(mask, first.y, second.y),
        np.where(mask, first.z, second.z),
        first.spin,
    )
