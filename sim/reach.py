"""How far a player gets: reaction, feet, arm, paddle and lunge at every instant of a ball's flight.

Available time is counted from a player's reaction. The feet go straight towards the ball, the arm
comes out while they do, and the ball is reached when what is left between them is within the reach
at its height. Proportions of the body: Drillis and Contini 1966, in Winter (quoted). Arrays of
instants have shape (instants, shots) and those of shots (shots,); ft and s throughout.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from sim.court import NON_VOLLEY_ZONE, Array
from sim.players import Player
from sim.run_in import Place, run_needed, straight_run
from sim.track import Track

_LONGEST_RUN: Final = 12.0
# Down to 1e-11 s: where another processor rounds otherwise, it shows no sooner than that.
_HALVINGS: Final = 34
_OUT_OF_REACH: Final = -np.inf


@dataclass(frozen=True)
class Extent:
    """What of a player's reach does not depend on where the player stands; (instants, shots).

    ``run`` is the straight-ahead distance run so far, the others are flat reaches at the ball's
    height, minus infinity where the ball cannot be played.
    """

    run: Array
    control_forehand: Array
    control_backhand: Array
    stretch_forehand: Array
    stretch_backhand: Array


@dataclass(frozen=True)
class Readiness:
    """How far a player has got at each instant, shape (instants, shots).

    ``run`` (ft) is straight ahead, ``arm_out`` a share of the arm, ``lunged`` (ft) goes on top;
    ``away_squared`` is what `_away_squared` gives, infinite where the ball cannot be played.
    """

    run: Array
    arm_out: Array
    lunged: Array
    away_squared: Array


def arm_length(player: Player, *, stretched: bool) -> float:
    """Shoulder to sweet spot, or to the tip of the paddle (ft), on the forehand side."""
    paddle = player.paddle_tip if stretched else player.paddle_sweet_spot
    return player.arm_share * player.height + paddle


def highest_reach(player: Player) -> float:
    """Height (ft) of the paddle's tip straight above the shoulder."""
    return _shoulder(player) + arm_length(player, stretched=True)


def body_to_shoulder(player: Player) -> float:
    """From the middle of the body to the shoulder (ft)."""
    return player.shoulder_offset_share * player.height


def _shoulder(player: Player) -> float:
    return player.shoulder_share * player.stance_share * player.height


def hands(player: Player, *, stretched: bool) -> tuple[float, float]:
    """Length of arm and paddle (ft), forehand and backhand."""
    length = arm_length(player, stretched=stretched)
    return length, length * player.backhand


def _away_squared(player: Player, z: Array) -> Array:
    """Square (ft^2) of how far the ball is above the shoulder, or below it after bending."""
    above = z - _shoulder(player)
    away = np.maximum(above, np.minimum(above + player.bend, 0.0))
    return away * away


def _flat_arm(length: float, away_squared: Array) -> Array:
    """How far (ft) an arm with paddle of that length reaches out; not a number if not so far."""
    with np.errstate(invalid="ignore"):
        return np.sqrt(length * length - away_squared)


def readiness(player: Player, track: Track, reaction: Array) -> Readiness:
    """Reaction, legs, arm and lunge of a player who reacts after ``reaction`` (s) to each shot."""
    since = track.time - reaction
    playable = track.live & (since >= 0.0)
    since = np.maximum(since, 0.0)
    straight_arm = body_to_shoulder(player) + arm_length(player, stretched=True)
    lunge = max(player.stretched_reach - straight_arm, 0.0)
    return Readiness(
        run=straight_run(player, since),
        arm_out=np.minimum(since / player.arm_time, 1.0),
        lunged=lunge * np.minimum(since / player.lunge_time, 1.0),
        away_squared=np.where(playable, _away_squared(player, track.z), np.inf),
    )


def flat_reach(body: float, length: float, ready: Readiness, lunged: Array | float) -> Array:
    """How far from the feet (ft) a paddle on an arm of that length gets at the ball's height.

    Not a number where it cannot get to the ball: no distance is within that.
    """
    reach = _flat_arm(length, ready.away_squared)
    reach *= ready.arm_out
    reach += body
    reach += lunged
    return reach


def extent_of(player: Player, track: Track, reaction: Array) -> Extent:
    """Reach of a player who reacts after ``reaction`` (s, shape (shots,)) to each shot."""
    ready, body = readiness(player, track, reaction), body_to_shoulder(player)
    reaches = []
    for stretched, lunged in ((False, 0.0), (True, ready.lunged)):
        for length in hands(player, stretched=stretched):
            reach = flat_reach(body, length, ready, lunged)
            reach[np.isnan(reach)] = _OUT_OF_REACH
            reaches.append(reach)
    return Extent(ready.run, *reaches)


def is_forehand(player: Player, x: Array, place: Place) -> np.ndarray:
    """Whether a ball at ``x`` is on the forehand side of where the player stood, or level."""
    side = 1.0 if player.handed == "right" else -1.0
    return np.asarray(side * (x - place.x) >= 0.0)


def distance_left(player: Player, track: Track, place: Place, run: Array) -> Array:
    """Ground distance from the feet to the ball after running for ``run`` straight-ahead feet.

    For a volley the feet stay behind the non-volley zone: where they would be over its line they
    stop on it, at the nearest point to the ball that they can get to.
    """
    to_x, to_y = track.x - place.x, track.y - place.y
    # In place wherever it can be: new memory costs as much as the sums.
    share = run_needed(player, to_x, to_y)
    np.maximum(share, 1e-12, out=share)
    np.divide(run, share, out=share)
    np.minimum(share, 1.0, out=share)
    left = np.multiply(to_x, to_x, out=to_x)
    left += to_y * to_y
    np.sqrt(left, out=left)
    left *= 1.0 - share
    feet_y = np.multiply(share, to_y, out=share)
    feet_y += place.y
    over = np.flatnonzero(track.volley & (feet_y > -NON_VOLLEY_ZONE))
    if over.size:
        shot = over % left.shape[-1]
        ran, ahead = run.take(over), -NON_VOLLEY_ZONE - place.y[shot]
        aside = np.sqrt(np.maximum(ran * ran - ahead * ahead, 0.0)) * player.sideways
        missing = np.maximum(np.abs(track.x.take(over) - place.x[shot]) - aside, 0.0)
        np.put(left, over, np.hypot(missing, track.y.take(over) + NON_VOLLEY_ZONE))
    return left


def margins(player: Player, track: Track, extent: Extent, place: Place) -> tuple[Array, Array]:
    """Reach minus distance in control and at full stretch, each (instants, shots)."""
    left = distance_left(player, track, place, extent.run)
    forehand = is_forehand(player, track.x, place)
    control = np.where(forehand, extent.control_forehand, extent.control_backhand)
    stretch = np.where(forehand, extent.stretch_forehand, extent.stretch_backhand)
    return control - left, stretch - left


def time_needed(player: Player, track: Track, place: Place) -> Array:
    """Least time since the reaction (s) to have each instant's ball in control; infinite if never.

    Shape (instants, shots). Exact in the run; the time until the arm is out is found by bisection.
    """
    body, away_squared = body_to_shoulder(player), _away_squared(player, track.z)
    forehand = is_forehand(player, track.x, place)
    arms = (_flat_arm(length, away_squared) for length in hands(player, stretched=False))
    arm = np.where(forehand, *arms)
    out = track.live & ~np.isnan(arm)
    arm = np.where(out, arm, 0.0)
    run = run_for(player, track, place, body + arm)
    times = np.linspace(0.0, _LONGEST_RUN, 6001)
    needed = np.interp(run, straight_run(player, times), times, right=np.inf)
    hurried = needed < player.arm_time
    low, high = np.zeros(needed.shape), np.full(needed.shape, player.arm_time)
    if hurried.any():
        for _ in range(_HALVINGS):
            middle = 0.5 * (low + high)
            left = distance_left(player, track, place, straight_run(player, middle))
            enough = body + arm * middle / player.arm_time >= left
            low, high = np.where(enough, low, middle), np.where(enough, middle, high)
    return np.where(out, np.where(hurried, high, needed), np.inf)


def run_for(player: Player, track: Track, place: Place, reach: Array) -> Array:
    """Straight-ahead run (ft) after which the ball is within ``reach``; infinite if never."""
    to_x, to_y = track.x - place.x, track.y - place.y
    distance = np.maximum(np.hypot(to_x, to_y), 1e-12)
    needed = run_needed(player, to_x, to_y)
    straight = np.maximum(distance - reach, 0.0) / distance * needed
    inside = track.y + NON_VOLLEY_ZONE
    ahead = -NON_VOLLEY_ZONE - place.y
    crossing = needed * ahead / np.maximum(to_y, 1e-12)
    held = track.volley & (inside > 0.0) & (straight > crossing)
    across = np.sqrt(np.maximum(reach * reach - inside * inside, 0.0))
    # More than nothing wherever the line holds the feet: else the straight way would be enough.
    aside = (np.abs(to_x) - across) / player.sideways
    from_line = np.where(inside <= reach, np.hypot(aside, ahead), np.inf)
    return np.where(held, from_line, straight)
