"""What each player covers of the court against a typical drive; for pictures.

A fan of typical drives is flown from one contact point to landing sides all across the court:
median speed, median net clearance, the usual topspin and no execution error. Every drive stays in
one vertical plane, so that a point on the ground belongs to one drive and one instant of it, and a
player covers the points at which the ball is within reach. Arrays of instants have shape
(instants, drives); ft and s throughout.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, cast

import numpy as np
from contourpy import FillType, contour_generator

from sim.ball import Ball
from sim.court import BASELINE, HALF_WIDTH, Array
from sim.flight import Launch
from sim.rallies import Rally, ball_of, follow_through
from sim.reach import extent_of, margins
from sim.return_of_serve import Contact
from sim.run_in import PLAYERS, Place, lateness
from sim.scenario import Policy, Scenario
from sim.third_shot import DRIVE, ThirdShot, aim_drive
from sim.track import Track, delayed, track_of

Point = tuple[float, float]
# A closed ring (ft), shape (points, 2): its last point is its first.
Outline = Array

# A third of a foot at the pair's baseline is half a degree from the opponents' baseline.
_LANDING_SIDES: Final = np.linspace(-HALF_WIDTH + 0.05, HALF_WIDTH - 0.05, 61)
_PER_STEP: Final = 8
# Stands for a margin (ft) of minus infinity, so that a contour can pass beside it.
_FLOOR: Final = -1.0


@dataclass(frozen=True)
class Fan:
    """Typical drives from one contact (x, y, z): those that land in, numbered from the left."""

    contact: tuple[float, float, float]
    drive: np.ndarray
    track: Track

    def neighbours(self) -> Iterator[slice]:
        """Runs of drives between which no drive fails; almost always all of them."""
        edges = np.flatnonzero(np.diff(self.drive) > 1) + 1
        for first, last in pairwise([0, *edges, self.drive.size]):
            if last - first > 1:
                yield slice(int(first), int(last))


@dataclass(frozen=True)
class Coverage:
    """Reach minus distance (ft) of each player, by name, at every instant of a fan's drives.

    A player covers the points where it is not negative; minus infinity where the ball cannot be
    played at all.
    """

    fan: Fan
    in_control: dict[str, Array]
    at_full_stretch: dict[str, Array]


def fan_of_drives(scenario: Scenario, direction: str, contact: tuple[float, float, float]) -> Fan:
    """Fly typical drives from ``contact`` (x, y, z) after a return in the given direction."""
    ball = ball_of(scenario)
    x, y, z = (np.full(_LANDING_SIDES.size, value) for value in contact)
    start = Contact(np.zeros(x.size), x, y, z)
    launch = typical_drive(scenario, ball, start, _LANDING_SIDES)
    lane = np.zeros(x.size, int)
    rally = follow_through(
        (direction,), start, ThirdShot(np.full(x.size, DRIVE), lane, launch), {}, ball
    )
    track = track_of(rally.approach, rally.rebound, _PER_STEP)
    since_contact = np.where(track.volley, rally.net_time, rally.landing_time)
    return Fan(contact, rally.in_play, delayed(track, since_contact))


def fan_after(scenario: Scenario, rally: Rally) -> Fan:
    """Typical drives from the mean contact of a rally's balls in play, of which there must be some.

    The rally is after returns in one direction.
    """
    at = rally.contact.take(rally.in_play)
    contact = float(at.x.mean()), float(at.y.mean()), float(at.z.mean())
    return fan_of_drives(scenario, rally.direction, contact)


def widest(fan: Fan) -> tuple[tuple[Point, Point], ...]:
    """The first and the last drive, two points (ft) each from the contact on; none without drives.

    Everything between them may have to be covered.
    """
    if not fan.drive.size:
        return ()
    track = fan.track
    x, y, _ = fan.contact
    ends = []
    for drive in (0, -1):
        last = int(np.argmin(np.maximum(track.y[:, drive], -BASELINE)))
        ends.append(((x, y), (float(track.x[last, drive]), float(track.y[last, drive]))))
    return tuple(ends)


def typical_drive(scenario: Scenario, ball: Ball, contact: Contact, landing_x: Array) -> Launch:
    """Launch of the median drive to each landing side, slower where it would land too deep."""
    drive = scenario.opponents.drive
    speed, clearance = (
        np.full(landing_x.size, value)
        for value in (drive.speed.typical(), drive.net_clearance.typical())
    )
    return aim_drive(drive, ball, contact, landing_x, speed, clearance)


def coverage(scenario: Scenario, policy: Policy, fan: Fan, places: Mapping[str, Point]) -> Coverage:
    """What both players cover from where they stand, reacting after their median reaction."""
    drives = fan.drive.size
    late = lateness(scenario, policy)
    in_control, at_full_stretch = {}, {}
    for name in PLAYERS:
        player = getattr(scenario.pair, name)
        median = max(player.reaction.typical(), scenario.run_in.shortest_reaction)
        extent = extent_of(player, fan.track, np.full(drives, median + late))
        x, y = places[name]
        place = Place(np.full(drives, x), np.full(drives, y))
        control, stretch = margins(player, fan.track, extent, place)
        in_control[name] = control
        at_full_stretch[name] = np.maximum(control, stretch)
    return Coverage(fan, in_control, at_full_stretch)


def outlines(fan: Fan, margin: Array) -> tuple[Outline, ...]:
    """Outlines of the points on the ground at which a margin is not negative, holes among them.

    ``margin`` is one of a `Coverage`; a point is inside where it is within an odd number of rings.
    """
    rings: list[Outline] = []
    for run in fan.neighbours():
        generator = contour_generator(
            fan.track.x[:, run],
            fan.track.y[:, run],
            np.maximum(margin[:, run], _FLOOR),
            fill_type=FillType.OuterOffset,
        )
        filled = generator.filled(0.0, math.inf)
        for points, offsets in zip(*cast("tuple[list[Array], list[Array]]", filled), strict=True):
            rings += np.split(points, offsets[1:-1])
    return tuple(rings)
