"""Where the two should stand when the opponents strike, and what other ways of standing give away.

The best pair of places is searched with shots of its own (`sim.candidate_places`) and then judged,
with the scenario's policies, on fresh ones: the best of many looks better than it is on the shots
that it was chosen by.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from sim.best_places import with_places_found, with_spots
from sim.blocks import Workers
from sim.candidate_places import Candidates, Wish, Worth, candidates, found_on_average, in_time
from sim.comparison import Progress
from sim.pairs_of_places import Landscape, as_good, landscape
from sim.run_in import PLAYERS
from sim.scenario import Policy, Scenario, Spot, Spots
from sim.statistics import (
    LEVEL,
    difference_of_replicates,
    mean_of_replicates,
    share_of_replicates,
    told_apart,
)
from sim.study import counts, tallies
from sim.tables import ALL, Row
from sim.tally import MEASURES, Tally

# The best is judged on so many times as many shots as it was found with: they cost little.
FRESH: Final = 4

Estimate = tuple[float, float, float]
Found = dict[str, tuple[float, float]]


@dataclass(frozen=True)
class AfterReturns:
    """The best places after returns in one direction.

    ``land`` holds what all pairs of places are worth, ``as_good`` which of them cannot be told from
    the best (same shape), ``found`` where the shots find the two who go to the best places (mean
    ``x`` and depth, ft), and ``named`` where they find them under the scenario's policies.
    """

    land: Landscape
    as_good: np.ndarray
    found: Found
    named: dict[str, Found]

    @property
    def spots(self) -> Spots:
        """The best places."""
        return self.land.spots

    def given_partner(self, name: str) -> tuple[Candidates, np.ndarray, np.ndarray]:
        """One player's places if the partner stands at the best: worth, and which are as good."""
        i, j = self.land.best
        at = np.s_[:, j] if name == "left" else np.s_[i, :]
        return self.land.candidates[name], self.land.worth[at], self.as_good[at]

    def extent(self, name: str) -> tuple[Spot, Spot]:
        """Corners of the region that is as good for one player if the partner stands at the best.

        The smallest and the largest ``from_centre`` and depth; not all between need be as good.
        """
        mine, _, good = self.given_partner(name)
        ends = [
            Spot.model_construct(
                from_centre=float(end(mine.x[good])), depth=float(end(mine.depth[good]))
            )
            for end in (np.min, np.max)
        ]
        return ends[0], ends[1]

    def together(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Pairs that are as good: least and most apart across the court, and their middles (ft)."""
        left, right = (self.land.candidates[name].x for name in PLAYERS)
        apart = (right[None, :] - left[:, None])[self.as_good]
        middle = 0.5 * (right[None, :] + left[:, None])[self.as_good]
        return (float(apart.min()), float(apart.max())), (float(middle.min()), float(middle.max()))


@dataclass(frozen=True)
class Lifted:
    """The best places wherever the players get to in time: as a policy, and by return direction.

    ``found`` says where the shots find the two.
    """

    policy: Policy
    spots: dict[str, Spots]
    found: dict[str, Found]


@dataclass(frozen=True)
class Regret:
    """A policy on fresh shots: its worth, and how much more the best is worth (both of 1).

    With 95 % intervals, the second of the paired difference; ``told`` says whether the difference
    can be told from none, allowing for all policies.
    """

    policy: str
    direction: str
    worth: Estimate
    given_away: Estimate
    told: bool


@dataclass(frozen=True)
class Positions:
    """The study's result; ``scenario`` is the one judged: the named policies, and the best."""

    scenario: Scenario
    wish: Wish
    best: Policy
    after: dict[str, AfterReturns]
    lifted: Lifted | None
    tally: Tally

    @property
    def directions(self) -> list[str]:
        """Return directions, all together first where there are several."""
        given = list(self.after)
        return given if len(given) == 1 else [ALL, *given]

    @property
    def named(self) -> list[str]:
        """The scenario's own policies."""
        found = (self.best.name, self.lifted.policy.name if self.lifted else "")
        return [policy.name for policy in self.scenario.policies if policy.name not in found]

    def searched(self, direction: str) -> float:
        """What the best is worth on the shots that it was found with, of 1."""
        chosen = [a.land for name, a in self.after.items() if direction in (ALL, name)]
        total = sum(float(land.worth[land.best]) * land.shots for land in chosen)
        return total / sum(land.shots for land in chosen)

    def worth(self, policy: str, direction: str) -> Estimate:
        """What a policy is worth on fresh shots, of 1, with its interval."""
        return _worth(self.tally, self._place(policy), self._number(direction), self.wish.worth)

    def given_away(self, policy: str, direction: str, level: float = LEVEL) -> Estimate:
        """How much more the best is worth than a policy on fresh shots, of 1."""
        if policy == self.best.name:
            return 0.0, 0.0, 0.0
        table = self.tally.pairs[:, self._place(policy)]
        number = self._number(direction)
        table = (table if number is None else table[:, [number]]).sum(axis=(1, 2))
        more, low, high = _difference(table, self.wish.worth, level)
        return -more, -high, -low

    def regrets(self, direction: str) -> list[Regret]:
        """What the named policies give away; negative where one does better."""
        told = told_apart([self._interval(name, direction) for name in self.named])
        return [
            Regret(
                name,
                direction,
                self.worth(name, direction),
                self.given_away(name, direction),
                apart,
            )
            for name, apart in zip(self.named, told, strict=True)
        ]

    def _interval(self, name: str, direction: str) -> Callable[[float], Estimate]:
        return lambda level: self.given_away(name, direction, level)

    def _place(self, policy: str) -> int:
        return [entry.name for entry in self.scenario.policies].index(policy)

    def _number(self, direction: str) -> int | None:
        return None if direction == ALL else list(self.after).index(direction)


def find(
    scenario: Scenario,
    wish: Wish,
    workers: Workers | None = None,
    progress: Callable[[Progress], None] = lambda progress: None,
) -> Positions:
    """Search the best places and judge them, with the scenario's policies, on fresh shots.

    Raises `Refused` where no place counts or no ball is in play.
    """
    policy = _sought(scenario)
    others = [known for known in scenario.policies if known is not policy]
    scenario = with_places_found(scenario.model_copy(update={"policies": others}), workers)

    def searching(done: int, planned: int) -> None:
        progress(Progress(done, planned))

    # From every place, so that it can be told what lifting the rule of arrival would change.
    reached = candidates(scenario, policy, replace(wish, in_time=0.0), workers, searching)
    after = {name: _after(scenario, policy, wish, name, both) for name, both in reached.items()}
    best = with_spots(policy, {name: here.spots for name, here in after.items()})
    lifted = _lifted(scenario, best, wish, reached) if wish.in_time > 0.0 else None
    judged = _judged(scenario, [best, *([lifted.policy] if lifted else [])], wish.shots)
    (tally,) = tallies([judged], workers)
    return Positions(judged, wish, best, after, lifted, tally)


def _sought(scenario: Scenario) -> Policy:
    """The policy whose places are sought: the scenario's own one without places, or a plain one."""
    for policy in scenario.policies:
        if policy.rule == "best" and policy.places is None:
            return policy
    taken = {policy.slug for policy in scenario.policies}
    policy, number = Policy(name="best", rule="best"), 1
    while policy.slug in taken:
        number += 1
        policy = policy.model_copy(update={"name": f"best {number}"})
    return policy


def _after(
    scenario: Scenario, policy: Policy, wish: Wish, direction: str, both: dict[str, Candidates]
) -> AfterReturns:
    land = landscape(in_time(both, wish.in_time, direction), wish.worth)
    best = with_spots(policy, {direction: land.spots})
    known = scenario.policies
    found, *of_named = found_on_average(scenario, [best, *known], direction, wish.shots)
    named = {policy.name: at for policy, at in zip(known, of_named, strict=True)}
    return AfterReturns(land, as_good(land, wish.worth), found, named)


def _lifted(
    scenario: Scenario, best: Policy, wish: Wish, reached: dict[str, dict[str, Candidates]]
) -> Lifted:
    """What is best if every place counts."""
    spots = {name: landscape(both, wish.worth).spots for name, both in reached.items()}
    named = best.model_copy(update={"name": f"{best.name}, wherever they get to"})
    policy = with_spots(named, spots)
    found = {name: found_on_average(scenario, [policy], name, wish.shots)[0] for name in spots}
    return Lifted(policy, spots, found)


def _judged(scenario: Scenario, found: list[Policy], shots: int) -> Scenario:
    """The scenario with the policies found, the first of them as the baseline."""
    run = scenario.run.model_copy(update={"baseline": found[0].name, "shots": FRESH * shots})
    return scenario.model_copy(update={"policies": [*scenario.policies, *found], "run": run})


def _parts(worth: Worth) -> list[tuple[str, float]]:
    """What a ball counts by the measures of a tally: reached, and more if in control."""
    more = worth.in_control - worth.at_full_stretch
    parts = [("in_control", more), ("reached", worth.at_full_stretch)]
    return [(measure, value) for measure, value in parts if value != 0.0]


def _worth(tally: Tally, policy: int, direction: int | None, worth: Worth) -> Estimate:
    """The sum over both measures, bounds and all: rather too wide, but never beyond what can be."""
    total = np.zeros(3)
    for measure, value in _parts(worth):
        hits, balls = counts(tally, policy, measure, direction)
        total += value * np.array([hits.sum() / balls.sum(), *share_of_replicates(hits, balls)])
    share, low, high = total.tolist()
    return share, low, high


def _difference(table: np.ndarray, worth: Worth, level: float) -> Estimate:
    """Worth of a policy less that of the best, from both measures' tables of pairs by replicate."""
    tables = [(table[:, MEASURES.index(measure)], value) for measure, value in _parts(worth)]
    if len(tables) == 1:
        ((pairs, value),) = tables
        more, low, high = difference_of_replicates(pairs, level)
        return value * more, value * low, value * high
    gains = sum(value * (pairs[:, 1] - pairs[:, 2]) for pairs, value in tables)
    return mean_of_replicates(np.asarray(gains), table[:, 0].sum(axis=1), level)


# ---- tidy rows -------------------------------------------------------------------------------


def best_rows(result: Positions) -> Iterator[Row]:
    """The best places of both players, where the shots find them, and how flat the best is."""
    for direction, here in result.after.items():
        fresh = result.worth(result.best.name, direction)
        for name, spot in (("left", here.spots.left), ("right", here.spots.right)):
            low, high = here.extent(name)
            mine, x_and_depth = here.land.candidates[name], here.found[name]
            k = here.land.best[PLAYERS.index(name)]
            yield {
                "return_direction": direction,
                "player": name,
                "from_centre_ft": spot.from_centre,
                "depth_ft": spot.depth,
                "arrived_share": float(mine.arrived[k]),
                "found_from_centre_ft": x_and_depth[0],
                "found_depth_ft": x_and_depth[1],
                "as_good_from_centre_low_ft": low.from_centre,
                "as_good_from_centre_high_ft": high.from_centre,
                "as_good_depth_low_ft": low.depth,
                "as_good_depth_high_ft": high.depth,
                "pairs_as_good": int(here.as_good.sum()),
                "pairs_compared": here.land.pairs,
                "worth_on_searched_shots": result.searched(direction),
                **_estimate("worth_on_fresh_shots", fresh),
            }


def regret_rows(result: Positions) -> Iterator[Row]:
    """What every policy gives away against the best, on fresh shots, in points.

    Whether it can be told from the best is asked of the scenario's own policies only.
    """
    for direction in result.directions:
        told = {regret.policy: regret.told for regret in result.regrets(direction)}
        for policy in result.scenario.policies:
            away = result.given_away(policy.name, direction)
            yield {
                "policy": policy.name,
                "return_direction": direction,
                **_estimate("worth", result.worth(policy.name, direction)),
                **_estimate("gives_away_points", in_points(away)),
                "told_apart": told.get(policy.name),
            }


def region_rows(result: Positions) -> Iterator[Row]:
    """Every place of each player with the partner at the best: what the pair is worth there."""
    for direction, here in result.after.items():
        most = float(here.land.worth[here.land.best])
        for name in PLAYERS:
            mine, worth, good = here.given_partner(name)
            for k in np.flatnonzero(np.isfinite(worth)):
                yield {
                    "return_direction": direction,
                    "player": name,
                    "from_centre_ft": float(mine.x[k]),
                    "depth_ft": float(mine.depth[k]),
                    "arrived_share": float(mine.arrived[k]),
                    "worth": float(worth[k]),
                    "points_below_best": 100.0 * (most - float(worth[k])),
                    "as_good": bool(good[k]),
                }


def in_points(estimate: Estimate) -> Estimate:
    """An estimate of 1 in percentage points."""
    value, low, high = (100.0 * bound for bound in estimate)
    return value, low, high


def _estimate(name: str, estimate: Estimate) -> Row:
    return dict(zip((name, f"{name}_low", f"{name}_high"), estimate, strict=True))
