"""Opponents who adapt: a game between where the pair goes and what the opponents strike.

After each return of serve, whose direction both sides see, the pair chooses where to go and the
opponents choose a shot, neither knowing the other's choice but both knowing the other's habits.
The payoffs come from the simulation, execution errors included.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Final, NamedTuple

import numpy as np

from sim.analyses.counter_game import Game, Solved, Standing
from sim.analyses.counter_options import Option, grid_of_places, options_of
from sim.analyses.jackknife import Estimate
from sim.answers import answer_all
from sim.blocks import Block, OneAfterTheOther, Workers, blocks_of
from sim.comparison import Progress
from sim.court import Array
from sim.draws import REPLICATES, replicate_of
from sim.errors import Refused
from sim.rallies import IN_PLAY, play
from sim.scenario import Policy, Scenario
from sim.tables import ALL, Row

OUTCOMES: Final = ("through", "at_full_stretch", "in_control", "missed")
MEASURES: Final = ("against_usual", "against_best_reply", "taken", "exploitability")
_MISSED: Final = OUTCOMES.index("missed")
# A smaller part of a mix is rounding.
_LEAST_SHARE: Final = 1e-6


class Worth(NamedTuple):
    """What a third shot is worth to the pair, from 0 to 1, by how it ends; through is worth 0."""

    in_control: float = 1.0
    at_full_stretch: float = 0.5
    missed: float = 1.0

    def checked(self) -> Worth:
        """The same; raises `Refused` where it makes no sense."""
        if not all(0.0 <= value <= 1.0 for value in self):
            raise Refused("--worth: all three must lie between 0 and 1, such as --worth 1 0.5 1")
        if self.at_full_stretch > self.in_control:
            raise Refused(
                f"--worth: a ball met at full stretch ({self.at_full_stretch:g}) cannot be worth "
                f"more than one met in control ({self.in_control:g}); the order is in control, "
                "at full stretch, missed by the opponents"
            )
        if self.in_control == 0.0:
            raise Refused("--worth: a ball met in control must be worth more than 0")
        return self

    def by_outcome(self) -> Array:
        """In the order of `OUTCOMES`."""
        return np.array([getattr(self, name, 0.0) for name in OUTCOMES])


@dataclass(frozen=True)
class Contest:
    """A finished study: the games after each return direction, and what they are made of.

    ``policies`` are the scenario's own, then the grid's. ``counts`` say how third shots ended,
    shape (directions, replicates, policies, options, outcomes).
    """

    scenario: Scenario
    policies: list[Policy]
    options: list[Option]
    worth: Worth
    counts: np.ndarray

    @property
    def has_grid(self) -> bool:
        """Whether the pair has more to choose from than the scenario's policies."""
        return len(self.policies) > len(self.scenario.policies)

    @cached_property
    def games(self) -> dict[str, Game]:
        """The game after each return direction."""
        sums = self.counts @ self.worth.by_outcome()
        struck = self.counts[:, :, 0, 0].sum(axis=-1)
        return {
            direction: Game(
                sums[number],
                struck[number],
                np.array([o.usual_share(self.scenario, direction) for o in self.options]),
                len(self.scenario.policies),
            )
            for number, direction in enumerate(self.scenario.return_of_serve.directions)
        }

    @cached_property
    def standings(self) -> dict[str, Standing]:
        """How the named policies do after each return direction, and after ``all`` of them.

        All directions count alike, and opponents may reply to each in another way.
        """
        single = {direction: game.standing for direction, game in self.games.items()}
        if len(single) == 1:
            return single
        parts = zip(*(vars(standing).values() for standing in single.values()), strict=True)
        return {ALL: Standing(*map(Estimate.mean, parts))} | single

    def payoff_rows(self) -> Iterator[Row]:
        """Every payoff with its interval, and the counts that it is made of."""
        for number, (direction, game) in enumerate(self.games.items()):
            counts = self.counts[number].sum(axis=0)
            for p, policy in enumerate(self.policies):
                best = game.payoffs[p].argmin()
                for o, option in enumerate(self.options):
                    payoff, low, high = game.payoff(p, o)
                    yield {
                        "return_direction": direction,
                        "policy": policy.name,
                        "from_grid": p >= game.named,
                        "option": option.name,
                        "shot": option.shot,
                        "lane": option.lane,
                        "pace": option.pace or "",
                        "usual_share": float(game.usual[o]),
                        "struck": int(counts[p, o].sum()),
                        **dict(zip(OUTCOMES, map(int, counts[p, o]), strict=True)),
                        "payoff": payoff,
                        "payoff_low": low,
                        "payoff_high": high,
                        "best_reply": bool(o == best),
                    }

    def policy_rows(self) -> Iterator[Row]:
        """Named policies against the usual mix and the best reply, by return direction."""
        for direction, standing in self.standings.items():
            games = [self.games[direction]] if direction in self.games else [*self.games.values()]
            for p, policy in enumerate(self.scenario.policies):
                row: Row = {"policy": policy.name, "return_direction": direction}
                for name in MEASURES:
                    estimate: Estimate = getattr(standing, name)
                    row |= _with_interval(name, estimate.at(p))
                fresh = [game.against_fresh_best_reply[p] for game in games]
                row["against_best_reply_on_fresh_shots"] = float(np.mean(fresh))
                best, *others = [""]
                if len(games) == 1:
                    best, *others = (self.options[o].name for o in games[0].best_replies(p))
                yield row | {"best_reply": best, "as_good": "; ".join(others)}

    def equilibrium_rows(self) -> Iterator[Row]:
        """The mixes of both sides and the value of each game, with its interval and bracket."""
        for direction, game in self.games.items():
            solved = {"policies": game.own}
            if self.has_grid:
                solved["policies and grid"] = game.whole
            for choices, found in solved.items():
                first: Row = {"return_direction": direction, "pair_chooses_from": choices}
                for row in self._mix_rows(found):
                    yield first | row

    def _mix_rows(self, found: Solved) -> Iterator[Row]:
        bracket = {f"fresh_{name}": bound for name, bound in found.bracket._asdict().items()}
        for side, choices, mix in (
            ("pair", self.policies, found.mixes.rows),
            ("opponents", self.options, found.mixes.columns),
        ):
            for place in np.argsort(-mix, kind="stable"):
                if mix[place] >= _LEAST_SHARE:
                    row: Row = {"side": side, "choice": choices[place].name}
                    row["share"] = float(mix[place])
                    yield row | _with_interval("value", found.value.at(0)) | bracket


def contest(
    scenario: Scenario,
    worth: Worth | None = None,
    *,
    grid: bool = True,
    workers: Workers | None = None,
    progress: Callable[[Progress], None] = lambda progress: None,
) -> Contest:
    """Play every option of the opponents against all policies, and with ``grid`` many places more.

    All options face the same random numbers. The result does not depend on the ``workers``. Raises
    `Refused` where the worth or the scenario does not suit.
    """
    worth = (worth or Worth()).checked()
    options = options_of(scenario)
    policies = [*scenario.policies, *(grid_of_places() if grid else [])]
    widened = scenario.model_copy(update={"policies": policies})
    directions = scenario.return_of_serve.directions
    places, tasks = [], []
    for o, option in enumerate(options):
        played = option.played(widened)
        for d, direction in enumerate(directions):
            for block in blocks_of(scenario.run.shots):
                places.append((d, o))
                tasks.append((played, direction, block))
    shape = len(directions), REPLICATES, len(policies), len(options), len(OUTCOMES)
    counts = np.zeros(shape, np.int64)
    found = (workers or OneAfterTheOther()).run(outcomes_of, tasks)
    for done, (number, outcomes) in enumerate(found, 1):
        d, o = places[number]
        counts[d, :, :, o] += outcomes
        progress(Progress(done, len(tasks)))
    filled = counts[0, :, 0, 0].any(axis=-1)
    return Contest(scenario, policies, options, worth, counts[:, filled])


def outcomes_of(scenario: Scenario, direction: str, block: Block) -> np.ndarray:
    """How one block of third shots ends for every policy, shape (replicates, policies, outcomes).

    Outcomes are in the order of `OUTCOMES`.
    """
    rally = play(scenario, direction, block.number, block.shots)
    replicate = replicate_of(rally.fate.size)
    counts = np.empty((REPLICATES, len(scenario.policies), len(OUTCOMES)), np.int64)
    missed = np.bincount(replicate[rally.fate != IN_PLAY], minlength=REPLICATES)
    counts[..., _MISSED] = missed[:, None]
    replicate = replicate[rally.in_play]
    for place, answer in enumerate(answer_all(scenario, rally, scenario.policies)):
        # Control implies reach, so that the sum is the outcome.
        outcome = answer.reached.astype(np.intp) + answer.in_control
        cells = np.bincount(_MISSED * replicate + outcome, minlength=_MISSED * REPLICATES)
        counts[:, place, :_MISSED] = cells.reshape(REPLICATES, _MISSED)
    return counts


def _with_interval(name: str, estimate: Estimate) -> Row:
    """Columns of a number of 100, which lies between 0 and 100."""
    value, low, high = estimate.interval(least=0.0, most=100.0)
    return {name: value, f"{name}_low": low, f"{name}_high": high}
