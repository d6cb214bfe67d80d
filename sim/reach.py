"""Who reaches the ball: reaction, feet, arm, paddle and lunge against every instant of its flight.

Available time is counted from a player's reaction. The feet go straight towards the ball, the arm
comes out while they do, and the ball is reached when what is left between them is within the reach
at its height. Proportions of the body: Drillis and Contini 1966, in Winter (quoted). Arrays of
instants have shape (instants, shots) and those of shots (shots,); ft and s throughout.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from sim.court import NON_VOLLEY_ZONE, Array
from sim.flight import Flight
from sim.players import Player
from sim.run_in import Place, run_needed, straight_run

# Nothing farther back than this is reached (ft from the net).
LAST_DEPTH: Final = 30.0
_PER_STEP: Final = 5
_FINER: Final = 12
# A miss by less than this (ft) between two instants may hide a reach: it is looked at more finely.
_NEAR_MISS: Final = 0.25
# Far more (ft) than any place, run or reach is wrong by in single precision.
_ROUGHLY: Final = 0.01
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

    def at(self, instant: np.ndarray, shot: np.ndarray) -> Track:
        """Single instants of single shots, where an instant is a volley for all shots or none."""
        number = instant * self.time.shape[1] + shot
        time, x, y, z = (part.take(number) for part in (self.time, self.x, self.y, self.z))
        return Track(time, x, y, z, self.volley[instant, 0], self.live.take(number))

    def in_single_precision(self) -> Track:
        """The same track in numbers of half the length, with which all takes half the time."""
        time, x, y, z = (_single(part) for part in (self.time, self.x, self.y, self.z))
        return Track(time, x, y, z, self.volley, self.live)


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
class _Bounds:
    """Distances (ft) up to which a ball is surely reached, and up to which that is possible.

    They hold whichever hand plays it, and in single precision; a near miss is possible, too.
    Otherwise like `Extent`.
    """

    run: Array
    control_sure: Array
    control_possible: Array
    stretch_sure: Array
    stretch_possible: Array


@dataclass(frozen=True)
class _Readiness:
    """How far a player has got at each instant, shape (instants, shots).

    ``run`` (ft) is straight ahead, ``arm_out`` a share of the arm, ``lunged`` (ft) goes on top;
    ``away_squared`` is what `_away_squared` gives, infinite where the ball cannot be played.
    """

    run: Array
    arm_out: Array
    lunged: Array
    away_squared: Array


def _single(values: Array) -> Array:
    """The same values in single precision."""
    return np.asarray(values, np.float32)


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


def _body(player: Player) -> float:
    """From the middle of the body to the shoulder (ft)."""
    return player.shoulder_offset_share * player.height


def _shoulder(player: Player) -> float:
    return player.shoulder_share * player.stance_share * player.height


def _hands(player: Player, *, stretched: bool) -> tuple[float, float]:
    """Length of arm and paddle (ft), forehand and backhand."""
    length = arm_length(player, stretched=stretched)
    return length, length * player.backhand


def _away_squared(player: Player, z: Array) -> Array:
    """Square (ft^2) of how far the ball is above the shoulder, or below it after bending."""
    above = z - _shoulder(player)
    away = np.maximum(above, -np.minimum(above + player.bend, 0.0))
    return away * away


def _flat_arm(length: float, away_squared: Array) -> Array:
    """How far (ft) an arm with paddle of that length reaches out; not a number if not so far."""
    with np.errstate(invalid="ignore"):
        return np.sqrt(length * length - away_squared)


def _readiness(player: Player, track: Track, reaction: Array) -> _Readiness:
    """Reaction, legs, arm and lunge of a player who reacts after ``reaction`` (s) to each shot."""
    since = track.time - reaction
    playable = track.live & (since >= 0.0)
    since = np.maximum(since, 0.0)
    straight_arm = _body(player) + arm_length(player, stretched=True)
    lunge = max(player.stretched_reach - straight_arm, 0.0)
    return _Readiness(
        run=straight_run(player, since),
        arm_out=np.minimum(since / player.arm_time, 1.0),
        lunged=lunge * np.minimum(since / player.lunge_time, 1.0),
        away_squared=np.where(playable, _away_squared(player, track.z), np.inf),
    )


def _flat_reach(body: float, length: float, ready: _Readiness, lunged: Array | float) -> Array:
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
    ready, body = _readiness(player, track, reaction), _body(player)
    reaches = []
    for stretched, lunged in ((False, 0.0), (True, ready.lunged)):
        for length in _hands(player, stretched=stretched):
            reach = _flat_reach(body, length, ready, lunged)
            reach[np.isnan(reach)] = _OUT_OF_REACH
            reaches.append(reach)
    return Extent(ready.run, *reaches)


def _bounds(player: Player, rough: Track, reaction: Array) -> _Bounds:
    """Bounds on a track in single precision, with the shorter and with the longer arm.

    The arms themselves, too, are made shorter and longer: near the greatest height that an arm
    gets to, a hair's breadth more makes a large difference.
    """
    ready, body = _readiness(player, rough, _single(reaction)), _body(player)
    reaches = []
    for stretched, lunged in ((False, 0.0), (True, ready.lunged)):
        short, long = sorted(_hands(player, stretched=stretched))
        least, most = body - _ROUGHLY, body + _ROUGHLY + _NEAR_MISS
        reaches.append(_flat_reach(least, short - _ROUGHLY, ready, lunged))
        reaches.append(_flat_reach(most, long + _ROUGHLY, ready, lunged))
    return _Bounds(ready.run, *reaches)


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


@dataclass(frozen=True)
class _Questions:
    """Instants of shots that need a closer look, each from one place; shape (questions,).

    ``answer`` is the number of the place and shot among all of them, ``reaction`` in s.
    """

    answer: np.ndarray
    instant: np.ndarray
    shot: np.ndarray
    place: Place
    reaction: Array

    def take(self, chosen: np.ndarray) -> _Questions:
        """The chosen questions only."""
        return _Questions(
            self.answer[chosen],
            self.instant[chosen],
            self.shot[chosen],
            self.place.take(chosen),
            self.reaction[chosen],
        )


def reached(
    player: Player,
    approach: Flight,
    rebound: Flight,
    track: Track,
    places: Place,
    reaction: Array,
    late: Sequence[float],
) -> tuple[np.ndarray, np.ndarray]:
    """Whether the player reaches each shot in control, and at full stretch (or in control).

    From several ``places``, arrays of shape (places, shots) like both results; at each the
    ``reaction`` (s, shape (shots,)) comes ``late`` by so much. A rough look at all instants, in
    single precision and for either hand, settles nine in ten; an exact look at the instants that
    matter for the others leaves near misses, and those are looked at between the instants.
    """
    control, stretch, questions = _rough_look(player, track, places, reaction, late)
    near = _exact_look(player, track, questions, control, stretch)
    asked = questions.take(np.concatenate(near))
    finer = finer_track(approach, rebound, track, asked.shot, asked.instant)
    both = margins(player, finer, extent_of(player, finer, asked.reaction), asked.place)
    kinds = np.split(np.arange(asked.shot.size), [near[0].size])
    for found, room, mine in zip((control, stretch), both, kinds, strict=True):
        found.put(asked.answer[mine], (room[:, mine] >= 0.0).any(axis=0))
    return control, stretch | control


def _rough_look(
    player: Player, track: Track, places: Place, reaction: Array, late: Sequence[float]
) -> tuple[np.ndarray, np.ndarray, _Questions]:
    """Shots surely reached in control, at full stretch or in control, and what is left open."""
    rough = track.in_single_precision()
    bounds_after = {value: _bounds(player, rough, reaction + value) for value in set(late)}
    control, stretch = np.zeros((2, *places.x.shape), bool)
    left_open = []
    for i, value in enumerate(late):
        bounds = bounds_after[value]
        place = Place(_single(places.x[i]), _single(places.y[i]))
        left = distance_left(player, rough, place, bounds.run)
        control[i] = (left <= bounds.control_sure).any(axis=0)
        stretch[i] = (left <= bounds.stretch_sure).any(axis=0) | control[i]
        doubtful = (left <= bounds.control_possible) & ~control[i]
        doubtful |= (left <= bounds.stretch_possible) & ~stretch[i]
        left_open.append(np.flatnonzero(doubtful))
    stand = np.repeat(np.arange(len(late)), [part.size for part in left_open])
    instant, shot = np.divmod(np.concatenate(left_open), reaction.size)
    answer = stand * reaction.size + shot
    place = Place(places.x.take(answer), places.y.take(answer))
    reaction = reaction.take(shot) + np.take(late, stand)
    return control, stretch, _Questions(answer, instant, shot, place, reaction)


def _exact_look(
    player: Player, track: Track, asked: _Questions, control: np.ndarray, stretch: np.ndarray
) -> list[np.ndarray]:
    """Add what is reached at the instants asked for to ``control`` and ``stretch``.

    Returned are the numbers of the questions at the near misses, for control and for stretch.
    """
    here = track.at(asked.instant, asked.shot)
    extent = extent_of(player, here, asked.reaction)
    left = distance_left(player, here, asked.place, extent.run)
    forehand, turning = _sides(player, track, asked)
    near = []
    for found, fore, back in (
        (control, extent.control_forehand, extent.control_backhand),
        (stretch, extent.stretch_forehand, extent.stretch_backhand),
    ):
        hand = np.where(forehand, fore, back)
        found.put(asked.answer[hand >= left], True)
        # Next to a change of sides the longer hand may play the ball between two instants.
        room = np.where(turning, np.maximum(fore, back), hand) - left
        missed = np.flatnonzero((room > -_NEAR_MISS) & ~found.take(asked.answer))
        near.append(missed[_most_of_each(room[missed], asked.answer[missed])])
    return near


def _sides(player: Player, track: Track, asked: _Questions) -> tuple[np.ndarray, np.ndarray]:
    """Whether the ball is on the forehand side, and whether it changes sides before or after."""
    last = track.time.shape[0] - 1
    instants = (np.clip(asked.instant + step, 0, last) for step in (-1, 0, 1))
    numbers = (instant * track.x.shape[1] + asked.shot for instant in instants)
    before, here, after = (
        is_forehand(player, track.x.take(number), asked.place) for number in numbers
    )
    return here, (before != here) | (after != here)


def _most_of_each(room: Array, answer: np.ndarray) -> np.ndarray:
    """Where the greatest ``room`` of each ``answer`` stands in the two arrays."""
    order = np.lexsort((room, answer))
    return order[np.diff(answer[order], append=-1) != 0]


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
    body, away_squared = _body(player), _away_squared(player, track.z)
    forehand = is_forehand(player, track.x, place)
    arms = (_flat_arm(length, away_squared) for length in _hands(player, stretched=False))
    arm = np.where(forehand, *arms)
    out = track.live & ~np.isnan(arm)
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
