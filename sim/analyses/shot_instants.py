"""One player and the ball, instant by instant: how far between them, and how far in reach.

Times count from the pair's strike of the return, in s; places are in ft.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from sim.analyses.shot_feet import Errand
from sim.ball import Ball
from sim.court import Array
from sim.players import Player
from sim.rallies import Rally, fly_third_shot
from sim.reach import distance_left, extent_of, is_forehand, run_for
from sim.run_in import Place, straight_run
from sim.track import Track, delayed, track_of

# Instants to each of the four steps of flight before the bounce and the four after it, and before
# the net: a few thousandths of a second apart.
_PER_STEP: Final = 24
_BEFORE_NET: Final = 48
_SAME_INSTANT: Final = 1e-9


@dataclass(frozen=True)
class Instants:
    """A player and the ball from the opponents' contact to its second bounce, shape (n,) each.

    The ball is at ``x, y, z`` at ``time`` and has not bounced yet if it is a ``volley``. ``left``
    (ft) is between it and the feet, had they run for this very place since the reaction; it is
    reached where that is within ``control`` or ``stretch``, the reaches at its height (ft), which
    are minus infinity where it cannot be played: ``live`` says that it may be, on the pair's side
    and not too far back, and ``reacts`` when the player can first play it.
    """

    time: Array
    x: Array
    y: Array
    z: Array
    volley: np.ndarray
    left: Array
    control: Array
    stretch: Array
    live: np.ndarray
    reacts: float

    @property
    def playable(self) -> np.ndarray:
        """Whether the ball may be played and the player has reacted."""
        return self.live & (self.time >= self.reacts)

    def track(self) -> Track:
        """The ball at all instants, shape (n, 1)."""
        parts = self.time, self.x, self.y, self.z, self.volley, self.live
        return Track(*(part[:, None] for part in parts))

    def at(self, instant: int) -> Track:
        """The ball at one instant, shape (1,)."""
        here = slice(instant, instant + 1)
        ball = self.time[here], self.x[here], self.y[here], self.z[here]
        return Track(*ball, self.volley[here], self.live[here])


def whole_track(ball: Ball, rally: Rally) -> Track:
    """The ball of a rally of one shot in play from its contact on, timed from the return.

    From the net on these are instants of the engine's, only more of them.
    """
    after = track_of(rally.approach, rally.rebound, _PER_STEP)
    after = delayed(after, np.where(after.volley, rally.net_time, rally.landing_time))
    times = (np.arange(_BEFORE_NET) / _BEFORE_NET)[:, None] * rally.net_time
    flight = fly_third_shot(rally.contact, rally.third_shot, ball)
    volley = np.ones(times.shape, bool)
    before = Track(times, *flight.position(times), volley, ~volley)
    whole = (np.concatenate(parts) for parts in zip(_parts(before), _parts(after), strict=True))
    return delayed(Track(*whole), rally.contact.time)


def with_hit(track: Track, hit: tuple[float, float, float, float], *, volley: bool) -> Track:
    """The track of one shot with the instant of the hit ``(t, x, y, z)`` among the others."""
    # Never twice, should it be one of them but for rounding.
    others = [part[np.abs(track.time[:, 0] - hit[0]) > _SAME_INSTANT] for part in _parts(track)]
    here = int(np.searchsorted(others[0][:, 0], hit[0]))
    values = (*hit, volley, True)
    return Track(
        *(np.insert(part, here, value, 0) for part, value in zip(others, values, strict=True))
    )


def _parts(track: Track) -> tuple[np.ndarray, ...]:
    return track.time, track.x, track.y, track.z, track.volley, track.live


def instants_of(player: Player, track: Track, place: Place, reacts: float) -> Instants:
    """The player at ``place``, who reacts at the time ``reacts``, at every instant of one shot."""
    extent = extent_of(player, track, np.array([reacts]))
    forehand = is_forehand(player, track.x, place)
    control = np.where(forehand, extent.control_forehand, extent.control_backhand)
    stretch = np.where(forehand, extent.stretch_forehand, extent.stretch_backhand)
    left = distance_left(player, track, place, extent.run)
    time, x, y, z = (part[:, 0] for part in (track.time, track.x, track.y, track.z))
    room = left[:, 0], control[:, 0], stretch[:, 0]
    return Instants(time, x, y, z, track.volley[:, 0], *room, track.live[:, 0], reacts)


def errand_of(
    player: Player,
    place: Place,
    instants: Instants,
    hit: float | None,
) -> Errand | None:
    """What the player runs for: the ball at the ``hit``, or where it is missed least.

    That is where least reach is lacking at full stretch. The run stops once the ball is within
    reach in control, else as near as the time allows: nobody lunges who could run. Nothing for a
    ball that no arm gets to at any instant.
    """
    room = instants.stretch - instants.left
    target = int(np.argmax(room if hit is None else instants.time == hit))
    if room[target] == -np.inf:
        return None
    ball = instants.at(target)
    comfortable = np.maximum(instants.control[target : target + 1], 0.0)
    enough = run_for(player, ball, place, comfortable)
    most = np.minimum(enough, straight_run(player, ball.time[0] - instants.reacts))
    return Errand(float(ball.x[0]), float(ball.y[0]), bool(ball.volley[0]), float(most[0]))
