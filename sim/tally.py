"""Counts of a run by replicate: whatever the tables are made of, adding up over blocks."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np

from sim.answers import LEAKS, Answer, after_each, passing
from sim.court import HALF_WIDTH
from sim.draws import REPLICATES, replicate_of
from sim.opponents import LANES, SHOTS
from sim.rallies import FATES, Rally
from sim.run_in import PLAYERS, Place, distance, places_at, runs_until, targets
from sim.scenario import Scenario

THROUGH, AT_FULL_STRETCH, IN_CONTROL = range(3)
MEASURES: Final = ("reached", "in_control")
# Lateral position is where the ball passes this depth (ft): a step behind the line.
PASSING_DEPTH: Final = 8.0
LATERAL_EDGES: Final = np.arange(-HALF_WIDTH, HALF_WIDTH + 0.5, 1.0)
ON_THE_WAY: Final = (
    "left_arrived",
    "right_arrived",
    "left_depth",
    "right_depth",
    "spacing",
    "narrowest",
    "widest",
    "contact_time",
)
# Replicates of long runs share this many groups: scatter needs no more.
GROUPS: Final = 16 * REPLICATES
# Parts of the time until the contact; later ones could fall into the split step.
_INSTANTS_ON_THE_WAY: Final = np.array([0.0, 0.25, 0.5, 0.75])
# A player has arrived within this distance (ft) of the target.
ARRIVED_WITHIN: Final = 0.05


@dataclass
class Tally:
    """Counts of a run; tallies of different blocks add up.

    First axes: group of replicates, policy (where there is one), return direction, kind of shot,
    lane. ``pairs`` counts each measure's two-by-two table against the baseline in the order both,
    only the policy, only the baseline, neither. ``on_the_way`` holds sums over the balls in play.
    """

    fates: np.ndarray
    outcomes: np.ndarray
    by_player: np.ndarray
    pairs: np.ndarray
    leaks: np.ndarray
    lateral: np.ndarray
    on_the_way: np.ndarray

    @classmethod
    def empty(cls, policies: int, directions: int, groups: int = GROUPS) -> Tally:
        size = policies, directions, len(SHOTS), len(LANES)
        shapes = {
            "fates": (*size[1:], len(FATES)),
            "outcomes": (*size, 3),
            "by_player": (*size, 3),
            "pairs": (policies, directions, len(SHOTS), len(MEASURES), 4),
            "leaks": (policies, directions, len(SHOTS), len(LEAKS)),
            "lateral": (policies, directions, LATERAL_EDGES.size - 1, 3),
        }
        counts = {name: np.zeros((groups, *shape), np.int64) for name, shape in shapes.items()}
        on_the_way = np.zeros((groups, policies, directions, len(ON_THE_WAY)))
        return cls(**counts, on_the_way=on_the_way)

    @classmethod
    def of_directions(cls, tallies: list[Tally]) -> Tally:
        """One tally from those of different return directions, in their order."""
        axis = {"fates": 1}
        return cls(
            **{
                name: np.concatenate([getattr(t, name) for t in tallies], axis=axis.get(name, 2))
                for name in vars(tallies[0])
            }
        )

    def add(self, other: Tally, block: int) -> None:
        """Add the tally of one block, whose replicates go to groups in turn."""
        first = block * REPLICATES % GROUPS
        for name in vars(self):
            getattr(self, name)[first : first + REPLICATES] += getattr(other, name)

    def used(self) -> Tally:
        """The same counts without the groups that hold no shots."""
        filled = self.fates.reshape(self.fates.shape[0], -1).any(axis=1)
        return Tally(**{name: value[filled] for name, value in vars(self).items()})


def count(scenario: Scenario, rally: Rally, answers: list[Answer]) -> Tally:
    """Count one block of a rally's return directions."""
    directions = len(rally.directions)
    tally = Tally.empty(len(answers), directions, REPLICATES)
    # Replicate and direction.
    part = np.add.outer(np.arange(directions), directions * replicate_of(rally.shots)).ravel()
    stroke = part * len(SHOTS) + rally.third_shot.shot
    cell = stroke * len(LANES) + rally.third_shot.lane
    _count(tally.fates, cell, rally.fate)

    live = rally.in_play
    cell, stroke, part = cell[live], stroke[live], part[live]
    x, _, _ = passing(rally, np.arange(live.size), np.full(live.size, -PASSING_DEPTH))
    across = np.searchsorted(LATERAL_EDGES, x, side="right") - 1
    column = part * (LATERAL_EDGES.size - 1) + np.clip(across, 0, LATERAL_EDGES.size - 2)
    baseline = answers[scenario.policies.index(scenario.baseline)]
    for index, answer in enumerate(answers):
        # Control implies reach, so that the sum is the outcome.
        outcome = answer.reached.astype(np.intp) + answer.in_control
        _count(tally.outcomes[:, index], cell, outcome)
        _count(tally.lateral[:, index], column, outcome)
        both = answer.control["left"] & answer.control["right"]
        for k, hit in enumerate((answer.stretch["left"], answer.stretch["right"], both)):
            _count(tally.by_player[:, index, ..., k : k + 1], cell[hit])
        pairs = zip(
            (answer.reached, answer.in_control),
            (baseline.reached, baseline.in_control),
            strict=True,
        )
        for k, (mine, theirs) in enumerate(pairs):
            _count(tally.pairs[:, index, :, :, k], stroke, 2 * ~mine + ~theirs)
        missed = answer.leak >= 0
        _count(tally.leaks[:, index], stroke[missed], answer.leak[missed])
    _add_on_the_way(scenario, rally, answers, part, tally.on_the_way)
    return tally


def _count(counts: np.ndarray, cell: np.ndarray, kind: np.ndarray | int = 0) -> None:
    """Count into ``counts``, whose last axis is the kind and whose others make up the cell."""
    kinds = counts.shape[-1]
    counts[...] = np.bincount(cell * kinds + kind, minlength=counts.size).reshape(counts.shape)


def _add_on_the_way(
    scenario: Scenario,
    rally: Rally,
    answers: list[Answer],
    part: np.ndarray,
    sums: np.ndarray,
) -> None:
    """Sums over the balls in play of what `ON_THE_WAY` names, into the tally's ``sums``.

    ``part`` numbers replicate and direction of each ball, shape (balls in play,).
    """
    time = rally.contact.time[rally.in_play]
    runs = runs_until(scenario, _INSTANTS_ON_THE_WAY[:, None] * time)
    groups, _, directions, _ = sums.shape
    for index, (policy, answer) in enumerate(zip(scenario.policies, answers, strict=True)):
        goals = after_each(rally, partial(targets, scenario, policy))
        before, last = _spacing(places_at(scenario, policy, goals, runs)), _spacing(answer.places)
        left, right = answer.places["left"], answer.places["right"]
        means = (
            *(arrived(answer.places[name], goals[name]) for name in PLAYERS),
            -left.y,
            -right.y,
            last,
            np.minimum(before.min(axis=0), last),
            np.maximum(before.max(axis=0), last),
            time,
        )
        for k, mean in enumerate(means):
            found = np.bincount(part, mean, minlength=groups * directions)
            sums[:, index, :, k] = found.reshape(groups, directions)


def arrived(place: Place, goal: Place) -> np.ndarray:
    """Whether a player is at the target, shot by shot."""
    return distance(place, goal) < ARRIVED_WITHIN


def _spacing(places: dict[str, Place]) -> np.ndarray:
    return distance(places["left"], places["right"])
