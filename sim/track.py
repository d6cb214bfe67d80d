"""The ball's track on the pair's side, instant by instant.

Arrays of instants have shape (instants, shots) and those of shots (shots,); ft and s throughout.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from sim.court import AT_NET, Array
from sim.flight import Flight

# Nothing farther back than this is reached (ft from the net).
LAST_DEPTH: Final = 30.0
_PER_STEP: Final = 5
_FINER: Final = 12
# A flight ends on the ground to within its numerical error (ft).
_GROUND: Final = 1e-3


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
        time, x, y, z = (single_precision(part) for part in (self.time, self.x, self.y, self.z))
        return Track(time, x, y, z, self.volley, self.live)


def single_precision(values: Array) -> Array:
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
    return (y <= AT_NET) & (y > -LAST_DEPTH) & (z >= -_GROUND)


def finer_track(
    approach: Flight,
    rebound: Flight,
    track: Track,
    shots: np.ndarray,
    best: np.ndarray,
    parts: int = _FINER,
) -> Track:
    """The ball between the instants around the best one, on the same side of its bounce."""
    late = int(np.count_nonzero(track.volley))
    volley = best < late
    first = np.where(volley, 0, late)
    last = np.where(volley, late, track.time.shape[0]) - 1
    low = track.time[np.maximum(best - 1, first), shots]
    high = track.time[np.minimum(best + 1, last), shots]
    share = (np.arange(1, parts) / parts)[:, None]
    time = low + share * (high - low)
    start = np.where(volley, track.time[0, shots], track.time[late, shots])
    x, y, z = np.empty((3, *time.shape))
    for flight, mine in ((approach, volley), (rebound, ~volley)):
        since = (time - start)[:, mine]
        x[:, mine], y[:, mine], z[:, mine] = flight.take(shots[mine]).position(since)
    return Track(time, x, y, z, np.broadcast_to(volley, time.shape), _is_live(y, z))
