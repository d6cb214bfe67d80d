"""Where the two may go, and what is reached from there: the places that the best are chosen from.

After returns in one direction each player may go to any place on a grid over the pair's half. What
a player reaches does not depend on where the partner goes, so that a place of one player is a row
of yes and no over the shots.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from sim.answers import Stands, reached_from
from sim.blocks import OneAfterTheOther, Workers
from sim.court import BASELINE, HALF_WIDTH, NON_VOLLEY_ZONE, Array
from sim.draws import BLOCK
from sim.errors import GET_BALLS_IN_PLAY, Refused
from sim.players import Player
from sim.rallies import Rally, play
from sim.run_in import (
    PLAYERS,
    Place,
    lateness,
    places_at,
    run_in,
    run_needed,
    runs_until_settled,
    starts,
)
from sim.scenario import Policy, Scenario, Spot
from sim.wording import DIRECTIONS

# No comparison gets as far as this block: the numbers that the places are found with are never
# those that they are judged by.
SEARCH_BLOCK: Final = 1_000_000
# Targets that a worker looks at together: enough that playing the rally does not matter.
_CHUNK: Final = 256


@dataclass(frozen=True)
class Worth:
    """What a ball is worth; one that gets through is worth nothing."""

    in_control: float = 1.0
    at_full_stretch: float = 0.0


@dataclass(frozen=True)
class Wish:
    """What the best places are to be best in, and which places are looked at.

    A place counts if the player has arrived there before settling for at least ``in_time`` (a
    share) of the balls in play. ``grid`` is in ft, ``shots`` are for each return direction.
    """

    worth: Worth = field(default_factory=Worth)
    in_time: float = 0.5
    grid: float = 0.5
    shots: int = 4096


@dataclass(frozen=True)
class Candidates:
    """One player's places to go to after returns in one direction, and what is reached from each.

    ``x`` (ft to the right of the centre line), ``depth`` (ft from the net) and ``arrived`` (share
    of the balls in play for which the player gets there in time) have shape (targets,);
    ``control`` and ``stretch`` (at full stretch or better) have shape (targets, shots in play).
    """

    x: Array
    depth: Array
    arrived: Array
    control: np.ndarray
    stretch: np.ndarray

    def spot(self, target: int) -> Spot:
        """One of the targets, as a scenario holds it."""
        return Spot.model_construct(
            from_centre=float(self.x[target]), depth=float(self.depth[target])
        )


def every_target(grid: float) -> tuple[Array, Array]:
    """``x`` and depth (ft) of all places to go to: behind the non-volley line, within the lines.

    >>> every_target(0.5)[0].size
    1271
    """
    across = np.arange(-_steps(HALF_WIDTH, grid), _steps(HALF_WIDTH, grid) + 1) * grid
    back = NON_VOLLEY_ZONE + np.arange(_steps(BASELINE - NON_VOLLEY_ZONE, grid) + 1) * grid
    x, depth = np.meshgrid(across.round(6), back.round(6))
    return x.ravel(), depth.ravel()


def _steps(length: float, grid: float) -> int:
    return int(length / grid + 1e-9)


def candidates(
    scenario: Scenario,
    policy: Policy,
    wish: Wish,
    workers: Workers | None = None,
    progress: Callable[[int, int], None] = lambda done, planned: None,
) -> dict[str, dict[str, Candidates]]:
    """What both players reach from every place that counts, by return direction and player.

    ``policy`` says whether they stop for the shot; ``progress`` hears of tasks done of those
    planned. The result does not depend on the workers. Raises `Refused` where no ball is in play.
    """
    workers = workers or OneAfterTheOther()
    chosen = {
        direction: _that_count(scenario, policy, direction, wish)
        for direction in scenario.return_of_serve.directions
    }
    where = [
        (direction, name, targets)
        for direction, of_players in chosen.items()
        for name, (x, depth, _) in of_players.items()
        for targets in _chunks(x, depth)
    ]
    tasks = [(scenario, policy, direction, wish.shots, name, *at) for direction, name, at in where]
    parts: list[np.ndarray] = [np.zeros(0)] * len(tasks)
    for done, (number, part) in enumerate(workers.run(reached_from_targets, tasks), 1):
        parts[number] = part
        progress(done, len(tasks))

    def found(direction: str, name: str) -> np.ndarray:
        mine = [k for k, task in enumerate(where) if task[:2] == (direction, name)]
        return np.concatenate([parts[k] for k in mine], axis=1)

    return {
        direction: {
            name: Candidates(*of_players[name], *found(direction, name)) for name in PLAYERS
        }
        for direction, of_players in chosen.items()
    }


def _that_count(
    scenario: Scenario, policy: Policy, direction: str, wish: Wish
) -> dict[str, tuple[Array, Array, Array]]:
    """``x``, depth and share of arrivals of the targets that count, by player."""
    rally = _rally(scenario, direction, wish.shots)
    if not rally.in_play.size:
        raise Refused(
            f"no third shot after returns {DIRECTIONS[direction]} stays in play: there is "
            f"nothing to judge places by; {GET_BALLS_IN_PLAY}"
        )
    runs = runs_until_settled(scenario, policy, rally.contact.take(rally.in_play))
    x, depth = every_target(wish.grid)
    chosen = {}
    for name, start in starts(scenario, policy).items():
        player: Player = getattr(scenario.pair, name)
        needed = run_needed(player, x - start[0], -depth - start[1])
        late = np.searchsorted(np.sort(runs[name]), needed)
        arrived = 1.0 - late / runs[name].size
        kept = _often_enough(arrived, wish.in_time, direction, name)
        chosen[name] = x[kept], depth[kept], arrived[kept]
    return chosen


def in_time(both: dict[str, Candidates], share: float, direction: str) -> dict[str, Candidates]:
    """Those that the players reach in time for at least such a share of the balls in play.

    Raises `Refused` where there are none.
    """
    kept = {
        name: _often_enough(mine.arrived, share, direction, name) for name, mine in both.items()
    }
    return {
        name: Candidates(*(part[kept[name]] for part in vars(mine).values()))
        for name, mine in both.items()
    }


def _often_enough(arrived: Array, share: float, direction: str, name: str) -> np.ndarray:
    kept = arrived >= share
    if not kept.any():
        raise Refused(
            f"in time for {100 * share:g} % of the balls in play: after returns "
            f"{DIRECTIONS[direction]} the {name} player gets nowhere that often; the place "
            f"reached most often is reached for {100 * arrived.max():.0f} %"
        )
    return kept


def _chunks(x: Array, depth: Array) -> list[tuple[Array, Array]]:
    starts_at = range(0, x.size, _CHUNK)
    return [(x[k : k + _CHUNK], depth[k : k + _CHUNK]) for k in starts_at]


def _rally(scenario: Scenario, direction: str, shots: int) -> Rally:
    return play(scenario, direction, SEARCH_BLOCK, min(shots, BLOCK))


def reached_from_targets(
    scenario: Scenario,
    policy: Policy,
    direction: str,
    shots: int,
    name: str,
    x: Array,
    depth: Array,
) -> np.ndarray:
    """Which balls in play one player has in control, and at full stretch or better, from targets.

    Shape (2, targets, shots in play). The shot finds the player at the target or on the way to it,
    as it does with any policy.
    """
    rally = _rally(scenario, direction, shots)
    runs = runs_until_settled(scenario, policy, rally.contact.take(rally.in_play))
    goals = dict.fromkeys(PLAYERS, Place(x[:, None], -depth[:, None]))
    place = places_at(scenario, policy, goals, runs)[name]
    stands = Stands(place, [lateness(scenario, policy)] * x.size)
    return reached_from(scenario, rally, {name: stands})[name]


def found_on_average(
    scenario: Scenario, policies: list[Policy], direction: str, shots: int
) -> list[dict[str, tuple[float, float]]]:
    """Mean ``x`` and depth (ft) at which the search's shots find both players, by policy."""
    rally = _rally(scenario, direction, shots)
    contact = rally.contact.take(rally.in_play)
    found = [run_in(scenario, policy, direction, contact) for policy in policies]
    return [
        {name: (float(place.x.mean()), -float(place.y.mean())) for name, place in places.items()}
        for places in found
    ]
