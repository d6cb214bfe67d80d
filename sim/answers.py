"""The pair's answers: every policy faces the same rally, and who reaches what is found."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np

from sim.court import Array
from sim.flight import Flight, time_at_line
from sim.interception import reached
from sim.players import Player
from sim.rallies import Rally
from sim.reach import extent_of, highest_reach, is_forehand, margins, time_needed
from sim.return_of_serve import Contact
from sim.run_in import PLAYERS, Place, joined, lateness, run_in
from sim.scenario import Policy, Scenario
from sim.track import Track, delayed, finer_track, track_of

LEAKS: Final = ("short", "over", "line", "middle", "cross")
SHORT, OVER, THROUGH_LINE, THROUGH_MIDDLE, THROUGH_CROSS = range(5)
REACHED: Final = -1

# At most so many shots go through reach together: their instants are to stay in the cache.
_BATCH: Final = 2048
_DETAILED_PER_STEP: Final = 12
_DETAILED_BETWEEN: Final = 48


@dataclass(frozen=True)
class Answer:
    """What one policy does with a rally's shots in play, shape (shots in play,).

    ``control`` and ``stretch`` say for each player whether the ball is reached in control, and at
    full stretch or better; ``leak`` indexes `LEAKS`, or is `REACHED`.
    """

    places: dict[str, Place]
    control: dict[str, np.ndarray]
    stretch: dict[str, np.ndarray]
    leak: np.ndarray

    @property
    def in_control(self) -> np.ndarray:
        """Reached in control by either player."""
        return self.control["left"] | self.control["right"]

    @property
    def reached(self) -> np.ndarray:
        """Reached in control or at full stretch by either player."""
        return self.stretch["left"] | self.stretch["right"]

    def only(self, chosen: np.ndarray) -> Answer:
        """The answer to the chosen ones of the shots in play (indices) alone."""
        return Answer(
            places={name: place.take(chosen) for name, place in self.places.items()},
            control={name: hit[chosen] for name, hit in self.control.items()},
            stretch={name: hit[chosen] for name, hit in self.stretch.items()},
            leak=self.leak[chosen],
        )


@dataclass(frozen=True)
class Detail:
    """Who takes each shot in play, and how; shape (shots in play,).

    ``player`` indexes `PLAYERS`, -1 for nobody; ``time`` (s after contact), ``x, y, z`` (ft),
    ``forehand`` and ``volley`` are of the contact, NaN or False for nobody. ``spare`` (s) holds,
    for each player, how much later the reaction could have come and the ball still be in control;
    negative when it could not, minus infinity when no reaction would have been early enough.
    """

    player: np.ndarray
    time: Array
    x: Array
    y: Array
    z: Array
    forehand: np.ndarray
    volley: np.ndarray
    spare: dict[str, Array]


@dataclass(frozen=True)
class Stands:
    """Where one player may be found; ``place`` holds arrays of shape (stands, shots in play).

    ``late`` is by how much (s) the player reacts later at each.
    """

    place: Place
    late: list[float]


def answer_all(scenario: Scenario, rally: Rally, policies: list[Policy]) -> list[Answer]:
    """Let every policy face the same rally; what does not depend on the policy is done once."""
    places = [after_each(rally, partial(run_in, scenario, policy)) for policy in policies]
    late = [lateness(scenario, policy) for policy in policies]
    stands, of_policy = {}, {}
    for name in PLAYERS:
        stands[name], of_policy[name] = _stands([place[name] for place in places], late)
    found = reached_from(scenario, rally, stands)
    control, stretch = (
        {name: found[name][kind, of_policy[name]] for name in PLAYERS} for kind in (0, 1)
    )
    leak = _leaks(scenario, rally, places, stretch)
    return [
        Answer(
            places=place,
            control={name: control[name][i] for name in PLAYERS},
            stretch={name: stretch[name][i] for name in PLAYERS},
            leak=leak[i],
        )
        for i, place in enumerate(places)
    ]


def after_each(rally: Rally, find: Callable[[str, Contact], dict[str, Place]]) -> dict[str, Place]:
    """Players' places for all shots in play, which ``find`` gives for one return direction."""
    contact = rally.contact.take(rally.in_play)
    parts = [find(direction, contact.take(mine)) for direction, mine in rally.live]
    return parts[0] if len(parts) == 1 else joined(parts)


def reached_from(
    scenario: Scenario, rally: Rally, stands: Mapping[str, Stands]
) -> dict[str, np.ndarray]:
    """Whether players reach each shot in play from their stands, in control and at full stretch.

    For each player in ``stands`` an array of shape (2, stands, shots in play): in control, and at
    full stretch or better.
    """
    size = rally.in_play.size
    found = {name: np.zeros((2, len(stand.late), size), bool) for name, stand in stands.items()}
    for batch in _batches(size):
        approach, rebound = rally.approach.take(batch), rally.rebound.take(batch)
        track = _track(rally, batch, approach, rebound)
        for name, stand in stands.items():
            found[name][..., batch] = reached(
                getattr(scenario.pair, name),
                approach,
                rebound,
                track,
                Place(stand.place.x[:, batch], stand.place.y[:, batch]),
                rally.reaction[name][batch],
                stand.late,
            )
    return found


def _stands(places: list[Place], late: list[float]) -> tuple[Stands, list[int]]:
    """One player's different places, given every policy's place and lateness.

    With them the number of each policy's stand: policies that differ in what the other player does
    share theirs.
    """
    first_alike = [
        next(j for j in range(i + 1) if late[i] == late[j] and _same(places[i], places[j]))
        for i in range(len(places))
    ]
    different = sorted(set(first_alike))
    x, y = _stacked([places[i] for i in different])
    stands = Stands(Place(x, y), [late[i] for i in different])
    return stands, [different.index(i) for i in first_alike]


def _stacked(places: list[Place]) -> tuple[Array, Array]:
    """``x`` and ``y`` of all places, each of shape (places, shots)."""
    return np.stack([place.x for place in places]), np.stack([place.y for place in places])


def _same(one: Place, other: Place) -> bool:
    return np.array_equal(one.x, other.x) and np.array_equal(one.y, other.y)


def details(scenario: Scenario, rally: Rally, policy: Policy, answer: Answer) -> Detail:
    """Who takes each ball, when and where, and with how much time to spare.

    Of the two, the player with more time to spare takes it, at the instant that leaves the most;
    a ball nobody has in control goes to whoever comes nearest at full stretch.
    """
    parts = [
        _detail_batch(scenario, rally, policy, answer, batch)
        for batch in _batches(rally.in_play.size)
    ]
    if not parts:
        nothing = np.zeros(0)
        no = nothing.astype(bool)
        return Detail(
            no.astype(int),
            nothing,
            nothing,
            nothing,
            nothing,
            no,
            no,
            dict.fromkeys(PLAYERS, nothing),
        )
    joined = {
        name: np.concatenate([getattr(part, name) for part in parts])
        for name in ("player", "time", "x", "y", "z", "forehand", "volley")
    }
    spare = {name: np.concatenate([part.spare[name] for part in parts]) for name in PLAYERS}
    return Detail(**joined, spare=spare)


def _detail_batch(
    scenario: Scenario, rally: Rally, policy: Policy, answer: Answer, batch: np.ndarray
) -> Detail:
    approach, rebound = rally.approach.take(batch), rally.rebound.take(batch)
    track = _track(rally, batch, approach, rebound, _DETAILED_PER_STEP)
    shots = np.arange(batch.size)
    spare, taken_at, value = {}, {}, {}
    for name in PLAYERS:
        player, place = getattr(scenario.pair, name), answer.places[name].take(batch)
        reaction = _reaction(scenario, rally, policy, name)[batch]
        left_over = _left_over(player, track, place, reaction)
        easiest = np.argmax(left_over, axis=0)
        in_control, most = _instant(track, easiest), left_over[easiest, shots]
        turning = _last_change(is_forehand(player, track.x, place))
        for around in (easiest, _last_change(left_over > -np.inf), turning):
            finer = finer_track(approach, rebound, track, shots, around, _DETAILED_BETWEEN)
            left_over = _left_over(player, finer, place, reaction)
            finest = np.argmax(left_over, axis=0)
            more = left_over[finest, shots]
            in_control = np.where(more > most, _instant(finer, finest), in_control)
            most = np.maximum(most, more)
        _, stretch = margins(player, track, extent_of(player, track, reaction), place)
        nearest = np.argmax(stretch, axis=0)
        control = answer.control[name][batch]
        taken_at[name] = np.where(control, in_control, _instant(track, nearest))
        # Between two instants the true spare time is a little larger; its sign is known.
        spare[name] = np.where(control, np.maximum(most, 0.0), np.minimum(most, 0.0))
        # Control outranks stretch; the larger of the two margins decides among equals.
        reach = np.where(answer.stretch[name][batch], stretch[nearest, shots] - 1e3, -np.inf)
        value[name] = np.where(control, spare[name], reach)
    right = value["right"] > value["left"]
    taken = np.maximum(value["left"], value["right"]) > -np.inf
    time, x, y, z, volley = np.where(right, taken_at["right"], taken_at["left"])
    forehand = np.zeros(batch.size, bool)
    for name, mine in (("left", ~right), ("right", right)):
        place = answer.places[name].take(batch)
        forehand |= mine & is_forehand(getattr(scenario.pair, name), x, place)
    return Detail(
        player=np.where(taken, right.astype(int), -1),
        time=np.where(taken, time, np.nan),
        x=np.where(taken, x, np.nan),
        y=np.where(taken, y, np.nan),
        z=np.where(taken, z, np.nan),
        forehand=forehand & taken,
        volley=(volley > 0.0) & taken,
        spare=spare,
    )


def _left_over(player: Player, track: Track, place: Place, reaction: Array) -> Array:
    """Time to spare (s) of a player who takes the ball in control, at every instant."""
    return track.time - reaction - time_needed(player, track, place)


def _last_change(state: np.ndarray) -> np.ndarray:
    """The last instant before a change of state: the time to spare may peak just beside it."""
    changes = state[1:] != state[:-1]
    return np.asarray(changes.shape[0] - 1 - np.argmax(changes[::-1], axis=0))


def _instant(track: Track, instant: np.ndarray) -> Array:
    """Time, x, y, z and whether a volley (1 or 0) at one instant of each shot, shape (5, shots)."""
    volley = np.broadcast_to(track.volley, track.time.shape)
    shots = np.arange(instant.size)
    return np.stack([v[instant, shots] for v in (track.time, track.x, track.y, track.z, volley)])


def _batches(size: int) -> list[np.ndarray]:
    """The numbers of so many shots, in batches of one size, give or take one."""
    return np.array_split(np.arange(size), math.ceil(size / _BATCH)) if size else []


def _track(
    rally: Rally, batch: np.ndarray, approach: Flight, rebound: Flight, per_step: int | None = None
) -> Track:
    """Instants of a batch's flights, with time counted from the opponents' contact."""
    track = (
        track_of(approach, rebound) if per_step is None else track_of(approach, rebound, per_step)
    )
    start = np.where(track.volley, rally.net_time[batch], rally.landing_time[batch])
    return delayed(track, start)


def _reaction(scenario: Scenario, rally: Rally, policy: Policy, name: str) -> Array:
    return rally.reaction[name] + lateness(scenario, policy)


def _leaks(
    scenario: Scenario,
    rally: Rally,
    places: list[dict[str, Place]],
    stretch: dict[str, np.ndarray],
) -> np.ndarray:
    """Where the balls that nobody reached got through.

    ``stretch`` holds arrays of shape (policies, shots), like the result.
    """
    leak = np.full(stretch["left"].shape, REACHED)
    policy, missed = np.nonzero(~(stretch["left"] | stretch["right"]))
    here = {
        name: Place(*(part[policy, missed] for part in _stacked([place[name] for place in places])))
        for name in PLAYERS
    }
    leak[policy, missed] = ways_past(scenario, rally, missed, here)
    return leak


def ways_past(
    scenario: Scenario, rally: Rally, shots: np.ndarray, places: dict[str, Place]
) -> np.ndarray:
    """Which way the chosen shots in play go if nobody plays them, as numbers of `LEAKS`.

    Judged at the pair's mean depth; ``places`` are the players' at each of these shots.
    """
    left, right = places["left"], places["right"]
    x, z, arrived = passing(rally, shots, 0.5 * (left.y + right.y))
    tallest = max(highest_reach(scenario.pair.left), highest_reach(scenario.pair.right))
    near = np.where(rally.contact.x[rally.in_play[shots]] >= 0.0, 1.0, -1.0)
    outside = np.where(x > right.x, 1.0, np.where(x < left.x, -1.0, 0.0))
    return np.select(
        [~arrived, z > tallest, outside == 0.0, outside == near],
        [SHORT, OVER, THROUGH_MIDDLE, THROUGH_LINE],
        THROUGH_CROSS,
    )


def passing(rally: Rally, shots: np.ndarray, depth: Array) -> tuple[Array, Array, np.ndarray]:
    """``x`` and ``z`` (ft) as the chosen shots in play pass the line at ``depth`` (a ``y``, ft).

    The third array says whether they get there before their second bounce; where they do not, ``x``
    and ``z`` are those of that bounce.
    """
    early = rally.rebound.origin_y[shots] <= depth
    x, y, z = np.empty((3, shots.size))
    for flight, mine in ((rally.approach, early), (rally.rebound, ~early)):
        here = flight.take(shots[mine])
        x[mine], y[mine], z[mine] = here.position(time_at_line(here, depth[mine]))
    return x, z, early | (y <= depth + 1e-6)
