"""Who takes the middle: balls that come between the two, and who plays them.

A ball comes between them if, let be, it would pass them at their mean depth between the left and
the right player, neither bounced twice before nor too high for both. Where nobody reaches it, that
is the leak called middle.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np

from sim.answers import THROUGH_MIDDLE, answer_all, details, ways_past
from sim.blocks import OneAfterTheOther, Workers
from sim.comparison import Progress
from sim.draws import REPLICATES, replicate_of
from sim.rallies import play
from sim.run_in import PLAYERS
from sim.scenario import Scenario
from sim.tables import ALL, Row, share_with_interval

# Shots after each return direction at most: who takes a ball on which hand costs a hundred times
# as much as whether it is reached.
SHOTS: Final = 2048


class Share(NamedTuple):
    """So many balls of so many, and their share with its interval; NaN where there were none."""

    balls: int
    of: int
    share: float
    low: float
    high: float


@dataclass(frozen=True)
class Middle:
    """Balls that come between the two, of one policy after returns in one direction, or in all.

    ``between`` is of the balls in play; all others but the last three are of those between. In
    control the player with more time to spare takes it: ``by_left`` and ``by_right`` add up to all
    with ``at_full_stretch`` and ``through``. ``both_could`` have it in control. ``forehand`` is of
    the balls taken, ``left_forehand`` and ``right_forehand`` of those that this player takes, in
    control or at full stretch.
    """

    policy: str
    direction: str
    in_play: int
    between: Share
    by_left: Share
    by_right: Share
    at_full_stretch: Share
    through: Share
    both_could: Share
    forehand: Share
    left_forehand: Share
    right_forehand: Share

    def row(self) -> Row:
        """As a row of a table."""
        row: Row = {"policy": self.policy, "return_direction": self.direction}
        row["in_play"] = self.in_play
        for name in _SHARES:
            found: Share = getattr(self, name)
            row |= {name: found.balls, f"{name}_of": found.of, f"{name}_share": found.share}
            row |= {f"{name}_low": found.low, f"{name}_high": found.high}
        return row


# Every share of `Middle`: what is counted, and of what.
_SHARES: Final = {
    "between": "in_play",
    "by_left": "between",
    "by_right": "between",
    "at_full_stretch": "between",
    "through": "between",
    "both_could": "between",
    "forehand": "taken",
    "left_forehand": "left_taken",
    "right_forehand": "right_taken",
}
_KINDS: Final = tuple(dict.fromkeys((*_SHARES.values(), *_SHARES)))


def middle(
    scenario: Scenario,
    workers: Workers | None = None,
    progress: Callable[[Progress], None] = lambda progress: None,
    shots: int = SHOTS,
) -> tuple[Middle, ...]:
    """Who takes the middle: for every policy, all returns together and then each direction.

    The first block is played, of so many ``shots`` at most after returns in each direction.
    Policies of the rule best must have their places. The result does not depend on the workers.
    """
    workers = workers or OneAfterTheOther()
    directions = scenario.return_of_serve.directions
    shots = min(shots, scenario.run.shots)
    tasks = [
        (scenario, policy, direction, shots)
        for policy in range(len(scenario.policies))
        for direction in directions
    ]
    counts: list[np.ndarray] = [np.zeros(0)] * len(tasks)
    for done, (number, found) in enumerate(workers.run(count_between, tasks), 1):
        counts[number] = found
        progress(Progress(done, len(tasks)))
    by_policy = np.array(counts).reshape(len(scenario.policies), len(directions), len(_KINDS), -1)
    return tuple(
        _middle(scenario, policy.name, direction, count)
        for policy, of_directions in zip(scenario.policies, by_policy, strict=True)
        for direction, count in zip(
            (ALL, *directions), (of_directions.sum(axis=0), *of_directions), strict=True
        )
    )


def count_between(scenario: Scenario, policy: int, direction: str, shots: int) -> np.ndarray:
    """Balls of each kind that the shares are made of, by replicate; shape (kinds, replicates)."""
    rally = play(scenario, direction, 0, shots)
    chosen = scenario.policies[policy]
    (answer,) = answer_all(scenario, rally, [chosen])
    replicate = replicate_of(shots)[rally.in_play]
    in_play = np.arange(replicate.size)
    between = np.flatnonzero(ways_past(scenario, rally, in_play, answer.places) == THROUGH_MIDDLE)

    theirs = answer.only(between)
    detail = details(scenario, rally.only(between), chosen, theirs)
    by = {name: detail.player == number for number, name in enumerate(PLAYERS)}
    masks = {
        "between": np.ones(between.size, bool),
        "taken": theirs.reached,
        "left_taken": by["left"],
        "right_taken": by["right"],
        "by_left": by["left"] & theirs.in_control,
        "by_right": by["right"] & theirs.in_control,
        "at_full_stretch": theirs.reached & ~theirs.in_control,
        "through": ~theirs.reached,
        "both_could": theirs.control["left"] & theirs.control["right"],
        "forehand": detail.forehand,
        "left_forehand": by["left"] & detail.forehand,
        "right_forehand": by["right"] & detail.forehand,
    }
    numbers = {name: replicate[between[mask]] for name, mask in masks.items()}
    numbers["in_play"] = replicate
    return np.stack([np.bincount(numbers[kind], minlength=REPLICATES) for kind in _KINDS])


def _middle(scenario: Scenario, policy: str, direction: str, count: np.ndarray) -> Middle:
    """Shares from counts of shape (kinds, replicates)."""
    of_kind = dict(zip(_KINDS, count, strict=True))
    shares = {}
    for name, whole in _SHARES.items():
        hits, trials = of_kind[name], of_kind[whole]
        interval = share_with_interval(hits, trials, scenario.run.sampling)
        shares[name] = Share(int(hits.sum()), int(trials.sum()), *interval)
    return Middle(policy, direction, int(of_kind["in_play"].sum()), **shares)


def middle_rows(found: Sequence[Middle]) -> list[Row]:
    """A row for every policy and return direction, all of them together included."""
    return [each.row() for each in found]
