"""Counts of a run: whatever the tables are made of, adding up over blocks of shots."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from sim.answers import LEAKS, Answer, passing
from sim.court import HALF_WIDTH
from sim.opponents import LANES, SHOTS
from sim.rallies import FATES, Rally
from sim.run_in import PLAYERS, Place, places_at, targets
from sim.scenario import Policy, Scenario

THROUGH, AT_FULL_STRETCH, IN_CONTROL = range(3)
MEASURES: Final = ("reached", "in_control")
# Lateral position is where the ball passes this depth (ft): a step behind the line.
PASSING_DEPTH: Final = 8.0
LATERAL_EDGES: Final = np.arange(-HALF_WIDTH, HALF_WIDTH + 0.5, 1.0)
_INSTANTS_ON_THE_WAY: Final = np.linspace(0.0, 1.0, 9)
_ARRIVED_WITHIN: Final = 0.05


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


@dataclass
class Tally:
    """Counts of a run; tallies of different blocks add up.

    First axes: policy (where there is one), return direction, kind of shot, lane. ``pairs`` counts
    each measure's two-by-two table against the baseline in the order both, only the policy, only
    the baseline, neither.
    """

    fates: np.ndarray
    outcomes: np.ndarray
    by_player: np.ndarray
    pairs: np.ndarray
    leaks: np.ndarray
    lateral: np.ndarray
    on_the_way: np.ndarray

    @classmethod
    def empty(cls, policies: int, directions: int) -> Tally:
        size = policies, directions, len(SHOTS), len(LANES)
        return cls(
            fates=np.zeros((*size[1:], len(FATES)), np.int64),
            outcomes=np.zeros((*size, 3), np.int64),
            by_player=np.zeros((*size, 3), np.int64),
            pairs=np.zeros((policies, directions, len(SHOTS), len(MEASURES), 4), np.int64),
            leaks=np.zeros((policies, directions, len(SHOTS), len(LEAKS)), np.int64),
            lateral=np.zeros((policies, directions, LATERAL_EDGES.size - 1, 3), np.int64),
            on_the_way=np.zeros((policies, directions, len(ON_THE_WAY))),
        )

    def add(self, other: Tally) -> None:
        """Add another tally of the same shape to this one."""
        for name in vars(self):
            getattr(self, name)[...] += getattr(other, name)


def count(
    scenario: Scenario, rally: Rally, answers: list[Answer], place: int, directions: int
) -> Tally:
    """Count one block of one return direction (the ``place``-th of ``directions``)."""
    tally = Tally.empty(len(answers), directions)
    shot, lane = rally.third_shot.shot, rally.third_shot.lane
    np.add.at(tally.fates[place], (shot, lane, rally.fate), 1)
    shot, lane = shot[rally.in_play], lane[rally.in_play]
    x, _, _ = passing(rally, np.arange(shot.size), np.full(shot.size, -PASSING_DEPTH))
    lateral = np.clip(
        np.searchsorted(LATERAL_EDGES, x, side="right") - 1, 0, LATERAL_EDGES.size - 2
    )
    baseline = answers[scenario.policies.index(scenario.baseline)]
    for index, (policy, answer) in enumerate(zip(scenario.policies, answers, strict=True)):
        outcome = np.select([answer.in_control, answer.reached], [IN_CONTROL, AT_FULL_STRETCH])
        np.add.at(tally.outcomes[index, place], (shot, lane, outcome), 1)
        np.add.at(tally.lateral[index, place], (lateral, outcome), 1)
        both = answer.control["left"] & answer.control["right"]
        for k, hit in enumerate((answer.stretch["left"], answer.stretch["right"], both)):
            np.add.at(tally.by_player[index, place], (shot[hit], lane[hit], k), 1)
        for k, (mine, theirs) in enumerate(
            ((answer.reached, baseline.reached), (answer.in_control, baseline.in_control))
        ):
            np.add.at(tally.pairs[index, place], (shot, k, 2 * ~mine + ~theirs), 1)
        missed = answer.leak >= 0
        np.add.at(tally.leaks[index, place], (shot[missed], answer.leak[missed]), 1)
        tally.on_the_way[index, place] = _on_the_way(scenario, rally, policy, answer.places)
    return tally


def _on_the_way(
    scenario: Scenario, rally: Rally, policy: Policy, places: dict[str, Place]
) -> np.ndarray:
    """Sums over the shots in play of what `ON_THE_WAY` names."""
    contact = rally.contact.take(rally.in_play)
    goals = targets(scenario, policy, rally.direction, contact)
    spacings = []
    for share in _INSTANTS_ON_THE_WAY[:-1]:
        there = places_at(scenario, policy, goals, share * contact.time)
        spacings.append(_spacing(there))
    spacings.append(_spacing(places))
    left, right = places["left"], places["right"]
    return np.array(
        [
            *(
                np.sum(
                    np.hypot(places[name].x - goals[name].x, places[name].y - goals[name].y)
                    < _ARRIVED_WITHIN
                )
                for name in PLAYERS
            ),
            -np.sum(left.y),
            -np.sum(right.y),
            np.sum(spacings[-1]),
            np.sum(np.min(spacings, axis=0)),
            np.sum(np.max(spacings, axis=0)),
            np.sum(contact.time),
        ]
    )


def _spacing(places: dict[str, Place]) -> np.ndarray:
    left, right = places["left"], places["right"]
    return np.hypot(right.x - left.x, right.y - left.y)
