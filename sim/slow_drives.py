"""Drives in wind that hardly clear the net: at the speed preferred, or the slowest that does.

Close to the least speed that clears the net as wished, aiming in turns as in `sim.aim` loses its
hold. Here such a drive is followed along its elevation ``e`` instead. With the height over the net
and the landing side held to the wish, every elevation asks for one speed ``v``. Without air

    1 / v^2 = (x sin 2e - 2 h cos^2 e) / (g x^2)

for a point to pass that is ``x`` ahead and ``h`` up: a wave in twice the elevation. In air it is
nearly one, so that the secant method on its slope soon finds its top, the least speed. For a higher
speed, Newton's method goes on to the flatter of the two elevations, from below the top.

A drive is told here by an array of shape (3, shots): 1 / speed^2 (s2/ft2), elevation and azimuth
(rad, from -y, positive towards +x), over the ground; other arrays have shape (shots,).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from sim.court import Array
from sim.flight import Launch

SLOWNESS, ELEVATION, AZIMUTH = range(3)

_LONGEST_STEP: Final = np.radians(5.0)
_SHORTER: Final = 0.3
_ON_THE_MARK: Final = 1e-5
_TURNS_TO_TOP: Final = 8
_TURNS_TO_BEGIN: Final = 8
_TURNS_HELD: Final = 3
_TURNS_TO_FLATTER: Final = 8
_NUDGE: Final = 1e-5
# The wave without air: the second derivative of 1 / v^2 by the elevation over its value at the top.
_BEND_WITHOUT_AIR: Final = -4.0

# By how much (ft) a drive misses its wishes, over the net and to the side: shape (2, shots).
Misses = Callable[[Array], Array]


def launch_of(drive: Array, spin: Array) -> Launch:
    """The launch of drives told as above."""
    slowness, elevation, azimuth = drive
    speed = 1.0 / np.sqrt(slowness)
    level = speed * np.cos(elevation)
    return Launch(
        level * np.sin(azimuth), -level * np.cos(azimuth), speed * np.sin(elevation), spin
    )


def _told(launch: Launch) -> Array:
    """Launches told as above."""
    squared = launch.x**2 + launch.y**2
    return np.stack(
        (
            1.0 / (squared + launch.z**2),
            np.arctan2(launch.z, np.sqrt(squared)),
            np.arctan2(launch.x, -launch.y),
        )
    )


def flatter_or_slowest(speed: Array, launch: Launch, misses: Misses) -> Launch:
    """The flatter drive at ``speed`` (ft/s) that misses nothing; where there is none, the slowest.

    ``launch`` is one that misses little, at another speed.
    """
    wanted = 1.0 / (speed * speed)
    start = _told(launch)
    slowest, bend = _slowest(start, misses)
    spare = np.maximum(slowest[SLOWNESS] - wanted, 0.0)
    flatter = slowest.copy()
    flatter[ELEVATION] -= np.sqrt(-2.0 * spare / bend)
    flatter[SLOWNESS] = np.minimum(wanted, slowest[SLOWNESS])
    closer, _ = _held(SLOWNESS, flatter, misses, _TURNS_TO_FLATTER)
    # At the top itself the speed fixes no elevation: there Newton's method has nothing to mend.
    closer = np.where(spare > 0.0, closer, flatter)
    best = _closest((start, flatter, closer), misses)
    return launch_of(best, launch.spin)


def _closest(drives: tuple[Array, ...], misses: Misses) -> Array:
    """Of each shot's drives the last one that is on its mark, or else the one that misses least."""
    missed = np.stack([np.abs(misses(drive)).sum(axis=0) for drive in drives])
    order = np.arange(len(drives))[:, None]
    rank = np.where(missed < _ON_THE_MARK, -1.0 - order, np.nan_to_num(missed, nan=np.inf))
    shots = np.arange(missed.shape[1])
    return np.asarray(np.stack(drives)[np.argmin(rank, axis=0), :, shots].T)


def _slowest(start: Array, misses: Misses) -> tuple[Array, Array]:
    """The slowest drives that miss nothing, and how 1 / speed^2 bends there by the elevation."""
    drive, change = _held(ELEVATION, start, misses, _TURNS_TO_BEGIN)
    bend = _BEND_WITHOUT_AIR * drive[SLOWNESS]
    shorter = np.ones(bend.shape)
    for _ in range(_TURNS_TO_TOP):
        step = np.clip(-change[SLOWNESS] / bend, -_LONGEST_STEP, _LONGEST_STEP) * shorter
        there, change_there = _held(ELEVATION, drive + step * change, misses, _TURNS_HELD)
        missed = np.abs(misses(there)).sum(axis=0)
        slower = (missed < _ON_THE_MARK) & (there[SLOWNESS] > drive[SLOWNESS])
        shorter = np.where(slower, 1.0, _SHORTER * shorter)
        # Where no step is left to take, nothing is measured.
        taken = np.where(step == 0.0, np.inf, step)
        measured = (change_there[SLOWNESS] - change[SLOWNESS]) / taken
        bend = np.where(slower & (measured < 0.0), measured, bend)
        drive, change = np.where(slower, there, drive), np.where(slower, change_there, change)
    return drive, bend


def _held(held: int, drive: Array, misses: Misses, turns: int) -> tuple[Array, Array]:
    """Newton's method on the two parts of ``drive`` that are not held, until it misses nothing.

    Returns the drive, and how its three parts change with the one held.
    """
    free = [part for part in range(3) if part != held]
    drive, change = drive.copy(), np.ones_like(drive)
    for _ in range(turns):
        now = misses(drive)
        nudges = _NUDGE * np.where(np.arange(3)[:, None] == SLOWNESS, drive[SLOWNESS], 1.0)
        by_part = []
        for part in range(3):
            nudged = drive.copy()
            nudged[part] += nudges[part]
            by_part.append((misses(nudged) - now) / nudges[part])
        change[free] = -_solved(by_part[free[0]], by_part[free[1]], by_part[held])
        step = -_solved(by_part[free[0]], by_part[free[1]], now)
        most = np.where(np.array(free)[:, None] == SLOWNESS, 0.5 * drive[SLOWNESS], _LONGEST_STEP)
        drive[free] += np.clip(step, -most, most)
    return drive, change


def _solved(first: Array, second: Array, right: Array) -> Array:
    """The two factors with which ``first`` and ``second``, (2, shots) each, add up to ``right``."""
    area = first[0] * second[1] - first[1] * second[0]
    area = np.where(area == 0.0, np.inf, area)
    return np.stack(
        (
            (right[0] * second[1] - right[1] * second[0]) / area,
            (first[0] * right[1] - first[1] * right[0]) / area,
        )
    )
