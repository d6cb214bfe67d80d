"""The best places for the two, found by trying them all: what the rule best stands for.

After returns in one direction each player may go to any place on a grid over the pair's half. What
a player reaches does not depend on where the partner goes, so that a place of one player is a row
of yes and no over the shots, and a pair of places reaches what either row has: rows added, less
what both have. The latter is one matrix product for all pairs of places. Nothing is left out, and
nothing climbs: the best is the best of all.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np

from sim.answers import Stands, reached_from
from sim.blocks import OneAfterTheOther, Workers
from sim.court import BASELINE, HALF_WIDTH, NON_VOLLEY_ZONE, Array
from sim.draws import BLOCK
from sim.errors import Refused
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
from sim.scenario import Places, Policy, Scenario, Spot, Spots
from sim.statistics import adjusted, normal_quantile
from sim.wording import DIRECTIONS

# Shoulders are a foot and a half wide: at two feet from middle to middle two players just fit side
# by side. The model lets both swing at every ball and would not keep them apart. Our assumption.
LEAST_APART: Final = 2.0
# No comparison gets as far as this block: the numbers that the places are found with are never
# those that they are judged by.
SEARCH_BLOCK: Final = 1_000_000
# Targets that a worker looks at together: enough that playing the rally does not matter.
_CHUNK: Final = 256
# Sums of worth that differ by less than this are the same but for rounding.
_SAME: Final = 1e-3


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


# What a policy without places is searched with. It does not depend on the run's own shots: blocks
# of a run that is gone on with must have the same places.
USUAL: Final = Wish()


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


@dataclass(frozen=True)
class Landscape:
    """What every pair of places is worth after returns in one direction.

    ``worth`` is the mean over the balls in play, shape (targets of the left player, targets of the
    right one), minus infinity for pairs that stand too close or the wrong way round; ``best``
    indexes it. ``shots`` are those in play.
    """

    candidates: dict[str, Candidates]
    worth: Array
    best: tuple[int, int]
    shots: int

    @property
    def spots(self) -> Spots:
        """The best places, as a scenario holds them."""
        left, right = (
            self.candidates[name].spot(k) for name, k in zip(PLAYERS, self.best, strict=True)
        )
        return Spots(left=left, right=right)

    @property
    def pairs(self) -> int:
        """Pairs of places that were compared."""
        return int(np.isfinite(self.worth).sum())


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
            "nothing to judge places by"
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


def landscape(of_players: dict[str, Candidates], worth: Worth) -> Landscape:
    """What all pairs of places are worth, and the best of them.

    Of pairs that are worth exactly the same, the one nearest to the middle of them all is taken.
    Raises `Refused` where no two places are far enough apart.
    """
    left, right = (of_players[name] for name in PLAYERS)
    shots = left.control.shape[1]
    total = _worth_of_pairs(left, right, worth, np.ones(shots, bool))
    apart = right.x[None, :] - left.x[:, None]
    total[apart < LEAST_APART - 1e-9] = -np.inf
    most = total.max()
    if not np.isfinite(most):
        raise Refused(
            f"no two places that both players reach in time are {LEAST_APART:g} ft apart; ask for "
            "a smaller share in time"
        )
    best = _middle_one(left, right, np.argwhere(total >= most - _SAME))
    return Landscape(of_players, total / shots, best, shots)


def _worth_of_pairs(left: Candidates, right: Candidates, worth: Worth, shots: np.ndarray) -> Array:
    """Sum of worth over the chosen shots (a mask), for every pair of targets.

    Worth is that of a ball at full stretch for all that are reached, and the rest of a ball in
    control for those in control. Sums of ones are exact in single precision below 2^24.
    """
    total = np.zeros((left.x.size, right.x.size))
    for kind, value in (
        ("control", worth.in_control - worth.at_full_stretch),
        ("stretch", worth.at_full_stretch),
    ):
        if value != 0.0:
            here, there = (
                getattr(side, kind)[:, shots].astype(np.float32) for side in (left, right)
            )
            either = here.sum(axis=1)[:, None] + there.sum(axis=1)[None, :] - here @ there.T
            total += value * either
    return total


def _middle_one(left: Candidates, right: Candidates, tied: np.ndarray) -> tuple[int, int]:
    """Of the tied pairs the one nearest to their middle."""
    i, j = tied.T
    corners = np.stack([left.x[i], left.depth[i], right.x[j], right.depth[j]])
    away = corners - corners.mean(axis=1, keepdims=True)
    # Rounded, so that which of two equally near comes first does not hang on the last digit.
    chosen = int(np.argmin((away * away).sum(axis=0).round(6)))
    return int(i[chosen]), int(j[chosen])


def as_good(found: Landscape, worth: Worth) -> np.ndarray:
    """Which pairs of places cannot be told from the best, shape as ``found.worth``.

    A pair is told from the best where the interval of their difference, ball by ball, leaves zero
    out at a level that allows for all pairs (`statistics.adjusted`): with 95 % certainty the pair
    that is truly best is among those left. Balls are taken as independent, of which quasi-random
    ones scatter a little less, so that rather too many pairs are left than too few.

    Source: J. C. Hsu, Simultaneous confidence intervals for all distances from the "best", Annals
    of Statistics 9 (1981) 1026 (memory).
    """
    left, right = (found.candidates[name] for name in PLAYERS)
    i, j = found.best
    control = left.control[i] | right.control[j]
    stretch = left.stretch[i] | right.stretch[j]
    every = np.ones(found.shots, bool)
    squared = Worth(worth.in_control**2, worth.at_full_stretch**2)
    own = _worth_of_pairs(left, right, squared, every) / found.shots
    # Mean product with the worth of the best, which has one value on each of these balls.
    shared = worth.in_control * _worth_of_pairs(left, right, worth, control) / found.shots
    if worth.at_full_stretch != 0.0:
        stretched = _worth_of_pairs(left, right, worth, stretch & ~control)
        shared += worth.at_full_stretch * stretched / found.shots
    allowed = np.isfinite(found.worth)
    behind = np.where(allowed, found.worth[i, j] - np.where(allowed, found.worth, 0.0), np.inf)
    square = np.maximum(own[i, j] + own - 2.0 * shared, 0.0)
    variance = np.maximum(square - np.where(allowed, behind, 0.0) ** 2, 0.0) / found.shots
    half = normal_quantile(adjusted(found.pairs - 1)) * np.sqrt(variance)
    return allowed & (behind <= half + _SAME / found.shots)


def with_places_found(
    scenario: Scenario,
    workers: Workers | None = None,
    progress: Callable[[int, int], None] = lambda done, planned: None,
) -> Scenario:
    """The scenario with places for its policies of the rule best that have none.

    They are best in control among those reached in time for half of the balls in play (`USUAL`),
    found with numbers that no comparison plays. ``progress`` and the workers are as those of
    `candidates`. Raises `Refused` where no place counts or no ball is in play.
    """
    if all(policy.rule != "best" or policy.places for policy in scenario.policies):
        return scenario
    policies = []
    for policy in scenario.policies:
        if policy.rule == "best" and policy.places is None:
            reached = candidates(scenario, policy, USUAL, workers, progress)
            found = {name: landscape(sides, USUAL.worth) for name, sides in reached.items()}
            policy = with_spots(policy, {name: land.spots for name, land in found.items()})
        policies.append(policy)
    return scenario.model_copy(update={"policies": policies})


def with_places_of(scenario: Scenario, found: Scenario) -> Scenario:
    """The scenario with the places that policies of the same name have in another one."""
    places = {policy.name: policy.places for policy in found.policies}
    policies = [
        policy.model_copy(update={"places": places.get(policy.name)})
        if policy.rule == "best" and policy.places is None
        else policy
        for policy in scenario.policies
    ]
    return scenario.model_copy(update={"policies": policies})


def places_in_feet(scenario: Scenario) -> dict[str, Any]:
    """All places that a scenario's policies of the rule best have, as the manifest keeps them."""
    return {
        policy.name: policy.places.model_dump(exclude_none=True)
        for policy in scenario.policies
        if policy.places is not None
    }


def with_spots(policy: Policy, spots: dict[str, Spots]) -> Policy:
    """The policy with the places found."""
    return policy.model_copy(update={"places": Places.model_validate(spots)})
