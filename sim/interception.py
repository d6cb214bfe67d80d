"""Who gets to the ball: every instant of its track against a player's reach, with short cuts.

No short cut changes an answer: a rough look settles what is clear, an exact one the rest, and near
misses are looked at between the instants. Arrays of instants have shape (instants, shots).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from sim.court import Array
from sim.flight import Flight
from sim.players import Player
from sim.reach import (
    body_to_shoulder,
    distance_left,
    extent_of,
    flat_reach,
    hands,
    is_forehand,
    margins,
    readiness,
)
from sim.run_in import Place
from sim.track import Track, finer_track, single_precision

# A miss by less than this (ft) between two instants may hide a reach: it is looked at more finely.
_NEAR_MISS: Final = 0.25
# Far more (ft) than any place, run or reach is wrong by in single precision.
_ROUGHLY: Final = 0.01


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
        place = Place(single_precision(places.x[i]), single_precision(places.y[i]))
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


def _bounds(player: Player, rough: Track, reaction: Array) -> _Bounds:
    """Bounds on a track in single precision, with the shorter and with the longer arm.

    The arms themselves, too, are made shorter and longer: near the greatest height that an arm
    gets to, a hair's breadth more makes a large difference.
    """
    ready, body = readiness(player, rough, single_precision(reaction)), body_to_shoulder(player)
    reaches = []
    for stretched, lunged in ((False, 0.0), (True, ready.lunged)):
        short, long = sorted(hands(player, stretched=stretched))
        least, most = body - _ROUGHLY, body + _ROUGHLY + _NEAR_MISS
        reaches.append(flat_reach(least, short - _ROUGHLY, ready, lunged))
        reaches.append(flat_reach(most, long + _ROUGHLY, ready, lunged))
    return _Bounds(ready.run, *reaches)
