"""Who reaches the ball: reaction, feet, arm, paddle and lunge against every instant of its flight.

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
from sim.flight import Flight
from sim.players import Player
from sim.run_in import Place, run_needed, straight_run

# Nothing farther back than this is reached (ft from the net).
LAST_DEPTH: Final = 30.0
_PER_STEP: Final = 6
_FINER: Final = 12
# A miss by less than this (ft) between two instants may hide a reach: it is looked at more finely.
_NEAR_MISS: Final = 0.25
_LONGEST_RUN: Final = 12.0
# A flight ends on the ground to within its numerical error (ft).
_GROUND: Final = 1e-3
_OUT_OF_REACH: Final = -np.inf


@dataclass(frozen=True)
class Track:
    """The ball on the pair's side, instant by instant.

    ``volley`` says whether the ball has not bounced yet, ``live`` whether it may still be played;
    both have a shape that goes with (instants, shots).
    """

    time: Array
    x: Array
    y: Array
    z: Array
    volley: np.ndarray
    live: np.ndarray


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


def track_of(approach: Flight, rebound: Flight, per_step: int = _PER_STEP) -> Track:
    """The ball from the net to its first bounce (``approach``) and from there on (``rebound``)."""
    before = approach.samples(per_step)
    after = rebound.samples(per_step, end=True)
    time, x, y, z = (np.concatenate(pair) for pair in zip(before, after, strict=True))
    late = before[0].shape[0]
    return Track(
        time=time,
        x=x,
        y=y,
        z=z,
        volley=(np.arange(time.shape[0]) < late)[:, None],
        live=_is_live(y, z),
    )


def delayed(track: Track, start: Array) -> Track:
    """The same track with its clock starting ``start`` (s) earlier for each shot."""
    return Track(track.time + start, track.x, track.y, track.z, track.volley, track.live)


def _is_live(y: Array, z: Array) -> np.ndarray:
    return (y <= 0.0) & (y > -LAST_DEPTH) & (z >= -_GROUND)


def arm_length(player: Player, *, stretched: bool) -> float:
    """Shoulder to sweet spot, or to the tip of the paddle (ft), on the forehand side."""
    paddle = player.paddle_tip if stretched else player.paddle_sweet_spot
    return player.arm_share * player.height + paddle


def highest_reach(player: Player) -> float:
    """Height (ft) of the paddle's tip straight above the shoulder."""
    return _shoulder(player) + arm_length(player, stretched=True)


def _shoulder(player: Player) -> float:
    return player.shoulder_share * player.stance_share * player.height


def _flat_arm(player: Player, z: Array, *, stretched: bool, backhand: bool) -> Array:
    """How far the arm and paddle reach out at height ``z``; minus infinity above or below them."""
    length = arm_length(player, stretched=stretched) * (player.backhand if backhand else 1.0)
    above = z - _shoulder(player)
    away = np.maximum(above, np.minimum(above + player.bend, 0.0) * -1.0)
    squared = length * length - away * away
    return np.where(squared >= 0.0, np.sqrt(np.maximum(squared, 0.0)), _OUT_OF_REACH)


def extent_of(player: Player, track: Track, reaction: Array) -> Extent:
    """Reach of a player who reacts after ``reaction`` (s, shape (shots,)) to each shot."""
    since = track.time - reaction
    playable = track.live & (since >= 0.0)
    since = np.maximum(since, 0.0)
    body = player.shoulder_offset_share * player.height
    arm_out = np.minimum(since / player.arm_time, 1.0)
    straight_arm = body + arm_length(player, stretched=True)
    lunge = max(player.stretched_reach - straight_arm, 0.0)
    lunged = lunge * np.minimum(since / player.lunge_time, 1.0)

    def flat(*, stretched: bool, backhand: bool) -> Array:
        arm = _flat_arm(player, track.z, stretched=stretched, backhand=backhand)
        usable = playable & (arm >= 0.0)
        reach = body + np.maximum(arm, 0.0) * arm_out + (lunged if stretched else 0.0)
        return np.where(usable, reach, _OUT_OF_REACH)

    return Extent(
        run=straight_run(player, since),
        control_forehand=flat(stretched=False, backhand=False),
        control_backhand=flat(stretched=False, backhand=True),
        stretch_forehand=flat(stretched=True, backhand=False),
        stretch_backhand=flat(stretched=True, backhand=True),
    )


def is_forehand(player: Player, track: Track, place: Place) -> np.ndarray:
    """Whether the ball is on the forehand side of where the player stood, level balls included."""
    side = 1.0 if player.handed == "right" else -1.0
    return np.asarray(side * (track.x - place.x) >= 0.0)


def distance_left(player: Player, track: Track, place: Place, run: Array) -> Array:
    """Ground distance from the feet to the ball after running for ``run`` straight-ahead feet.

    For a volley the feet stay behind the non-volley zone: where they would be over its line they
    stop on it, at the nearest point to the ball that they can get to.
    """
    to_x, to_y = track.x - place.x, track.y - place.y
    distance = np.sqrt(to_x * to_x + to_y * to_y)
    needed = np.maximum(run_needed(player, to_x, to_y), 1e-12)
    share = np.minimum(run / needed, 1.0)
    left = distance * (1.0 - share)
    over = track.volley & (place.y + share * to_y > -NON_VOLLEY_ZONE)
    row, shot = np.nonzero(over)
    if row.size:
        ahead = -NON_VOLLEY_ZONE - place.y[shot]
        aside = np.sqrt(np.maximum(run[row, shot] ** 2 - ahead * ahead, 0.0)) * player.sideways
        missing = np.maximum(np.abs(to_x[row, shot]) - aside, 0.0)
        left[row, shot] = np.hypot(missing, track.y[row, shot] + NON_VOLLEY_ZONE)
    return left


def margins(player: Player, track: Track, extent: Extent, place: Place) -> tuple[Array, Array]:
    """Reach minus distance in control and at full stretch, each (instants, shots)."""
    left = distance_left(player, track, place, extent.run)
    forehand = is_forehand(player, track, place)
    control = np.where(forehand, extent.control_forehand, extent.control_backhand)
    stretch = np.where(forehand, extent.stretch_forehand, extent.stretch_backhand)
    return control - left, stretch - left


def reached(
    player: Player,
    approach: Flight,
    rebound: Flight,
    track: Track,
    extent: Extent,
    place: Place,
    reaction: Array,
) -> tuple[np.ndarray, np.ndarray]:
    """Whether the player reaches each shot in control, and at full stretch (or in control)."""
    left = distance_left(player, track, place, extent.run)
    forehand = is_forehand(player, track, place)
    found = []
    for index, (fore, back) in enumerate(
        (
            (extent.control_forehand, extent.control_backhand),
            (extent.stretch_forehand, extent.stretch_backhand),
        )
    ):
        hit = (np.where(forehand, fore, back) - left).max(axis=0) >= 0.0
        missed = np.flatnonzero(~hit)
        if missed.size:
            reach = _reach_of_either(forehand[:, missed], fore[:, missed], back[:, missed])
            room = reach - left[:, missed]
            best = np.argmax(room, axis=0)
            near = room[best, np.arange(best.size)] > -_NEAR_MISS
            shots = missed[near]
            if shots.size:
                finer = finer_track(approach, rebound, track, shots, best[near])
                closer = extent_of(player, finer, reaction[shots])
                again = margins(player, finer, closer, place.take(shots))[index]
                hit[shots] = again.max(axis=0) >= 0.0
        found.append(hit)
    control, stretch = found
    return control, stretch | control


def _reach_of_either(forehand: np.ndarray, fore: Array, back: Array) -> Array:
    """Reach with the hand whose side it is, or with the longer one next to a change of sides."""
    reach = np.where(forehand, fore, back)
    row, shot = np.nonzero(forehand[1:] != forehand[:-1])
    for side in (row, row + 1):
        reach[side, shot] = np.maximum(fore[side, shot], back[side, shot])
    return reach


def finer_track(
    approach: Flight, rebound: Flight, track: Track, shots: np.ndarray, best: np.ndarray
) -> Track:
    """The ball between the instants around the best one, on the same side of its bounce."""
    late = int(np.count_nonzero(track.volley))
    volley = best < late
    first = np.where(volley, 0, late)
    last = np.where(volley, late, track.time.shape[0]) - 1
    low = track.time[np.maximum(best - 1, first), shots]
    high = track.time[np.minimum(best + 1, last), shots]
    share = (np.arange(1, _FINER) / _FINER)[:, None]
    time = low + share * (high - low)
    start = np.where(volley, track.time[0, shots], track.time[late, shots])
    x, y, z = np.empty((3, *time.shape))
    for flight, mine in ((approach, volley), (rebound, ~volley)):
        since = (time - start)[:, mine]
        x[:, mine], y[:, mine], z[:, mine] = flight.take(shots[mine]).position(since)
    return Track(time, x, y, z, np.broadcast_to(volley, time.shape), _is_live(y, z))


def time_needed(player: Player, track: Track, place: Place) -> Array:
    """Least time since the reaction (s) to have each instant's ball in control; infinite if never.

    Shape (instants, shots). Exact in the run; the time until the arm is out is found by bisection.
    """
    body = player.shoulder_offset_share * player.height
    forehand = is_forehand(player, track, place)
    arm = np.where(
        forehand,
        _flat_arm(player, track.z, stretched=False, backhand=False),
        _flat_arm(player, track.z, stretched=False, backhand=True),
    )
    out = track.live & (arm >= 0.0)
    arm = np.where(out, arm, 0.0)
    run = _run_for(player, track, place, body + arm)
    times = np.linspace(0.0, _LONGEST_RUN, 6001)
    needed = np.interp(run, straight_run(player, times), times, right=np.inf)
    hurried = needed < player.arm_time
    low, high = np.zeros(needed.shape), np.full(needed.shape, player.arm_time)
    if hurried.any():
        for _ in range(24):
            middle = 0.5 * (low + high)
            left = distance_left(player, track, place, straight_run(player, middle))
            enough = body + arm * middle / player.arm_time >= left
            low, high = np.where(enough, low, middle), np.where(enough, middle, high)
    return np.where(out, np.where(hurried, high, needed), np.inf)


def _run_for(player: Player, track: Track, place: Place, reach: Array) -> Array:
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
    aside = np.maximum(np.abs(to_x) - across, 0.0) / player.sideways
    from_line = np.where(inside <= reach, np.hypot(aside, ahead), np.inf)
    return np.where(held, from_line, straight)
