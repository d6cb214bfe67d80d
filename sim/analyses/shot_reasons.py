"""Why a player does not get to a ball, found by letting go of one hindrance at a time."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from sim.analyses.shot_instants import Instants, instants_of
from sim.analyses.shot_responses import AT_FULL_STRETCH, IN_CONTROL, Response
from sim.court import Array
from sim.players import Player
from sim.reach import arm_length, highest_reach
from sim.run_in import Place
from sim.scenario import Scenario
from sim.track import Track

Reason = Literal["passed", "zone", "time", "high", "low", "far"]
PASSED: Final = "passed"
ZONE: Final = "zone"
TIME: Final = "time"
HIGH: Final = "high"
LOW: Final = "low"
FAR: Final = "far"
# A reaction is then known to a microsecond.
_HALVINGS: Final = 20


@dataclass(frozen=True)
class Miss:
    """What a player lacks, of a reach in control or ``at_full_stretch``.

    The ``reason`` is the first of these that holds:

    - ``passed``: the ball is behind the player, or dead, by the time of the reaction;
    - ``zone``: it would be reached were volleys from inside the non-volley zone allowed;
    - ``time``: it would be reached by one who reacts as it is struck;
    - ``high``, ``low``: it would be reached if it were at the height of the shoulder;
    - ``far``: none of these by itself would do.

    ``time`` (s since the return) is the instant at which least is lacking, ``height`` (ft) the
    ball's at it, and ``lacking`` (ft) how far the ball is then beyond the reach: infinite if no arm
    gets to its height at any instant. ``late`` (s) is how much sooner the player would have had to
    react: infinite if even at the strike would not have been soon enough.
    """

    reason: Reason
    at_full_stretch: bool
    time: float
    height: float
    lacking: float
    late: float


def miss_of(scenario: Scenario, response: Response, name: str) -> Miss | None:
    """What one player lacks to get to a ball in play; nothing if it can be had in control.

    For a player who gets to it at full stretch it is what is lacking for control.
    """
    if not response.in_play or response.gets[name] == IN_CONTROL:
        return None
    player: Player = getattr(scenario.pair, name)
    seen, stretched = response.instants[name], response.gets[name] != AT_FULL_STRETCH
    (x, y), ball = response.found[name], seen.track()
    place = Place(np.array([x]), np.array([y]))

    def room(ball: Track, reacts: float) -> Array:
        return _room(instants_of(player, ball, place, reacts), stretched)

    reason, freed = _reason(player, seen, y, room)
    left_over = _room(seen, stretched)
    here = int(np.argmax(freed if np.isneginf(left_over.max()) else left_over))
    late = _late(lambda reacts: float(room(ball, reacts).max()), float(seen.time[0]), seen.reacts)
    return Miss(
        reason=reason,
        at_full_stretch=stretched,
        time=float(seen.time[here]),
        height=float(seen.z[here]),
        lacking=max(-float(left_over[here]), 0.0),
        late=late,
    )


def _reason(
    player: Player, seen: Instants, found_y: float, room: Callable[[Track, float], Array]
) -> tuple[Reason, Array]:
    """The reason, and how much room (ft) there is at every instant without that hindrance."""
    ball = seen.track()
    at_once = room(ball, float(seen.time[0]))
    if not (seen.playable & (seen.y > found_y)).any():
        return PASSED, at_once
    in_zone = room(replace(ball, volley=np.zeros_like(ball.volley)), seen.reacts)
    if in_zone.max() >= 0.0:
        return ZONE, in_zone
    if at_once.max() >= 0.0:
        return TIME, at_once
    shoulder = highest_reach(player) - arm_length(player, stretched=True)
    level = room(replace(ball, z=np.full_like(ball.z, shoulder)), seen.reacts)
    if level.max() >= 0.0:
        return HIGH if seen.z[np.argmax(level)] > shoulder else LOW, level
    return FAR, level


def _late(most_room: Callable[[float], float], struck: float, reacts: float) -> float:
    """How much sooner (s) to react for room, by bisection: sooner never means less of it."""
    if most_room(struck) < 0.0:
        return math.inf
    enough, late = struck, reacts
    for _ in range(_HALVINGS):
        middle = 0.5 * (enough + late)
        if most_room(middle) >= 0.0:
            enough = middle
        else:
            late = middle
    return reacts - enough


def _room(seen: Instants, stretched: bool) -> Array:
    """Reach minus distance (ft), shape (n,)."""
    return (seen.stretch if stretched else seen.control) - seen.left
