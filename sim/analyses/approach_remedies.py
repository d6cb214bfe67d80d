"""What would let the pair arrive in time after its own returns: legs, starts, or a nearer goal.

The pair's movement does not change when the opponents strike. Whether both arrive is therefore
looked up on the contacts of the way in, and only what is found is played, on fresh shots.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from sim.analyses.approach_returns import Return, Tried, difference_row, fresh_blocks, play_alike
from sim.analyses.approach_way import Way, both_arrived
from sim.blocks import Workers
from sim.run_in import PLAYERS, run_in, targets
from sim.scenario import Scenario
from sim.tables import Row

FASTER, SOONER, SHORTER = "faster", "sooner", "shorter"
_UNITS: Final = {FASTER: "ft/s", SOONER: "s", SHORTER: "ft"}
# What a scenario may hold at most: ft/s and ft.
_TOP_SPEED, _DEEPEST = 36.0, 26.0


@dataclass(frozen=True)
class Remedy:
    """The least change of one kind that lets both arrive often enough, played on fresh shots.

    ``value`` is the top speed (ft/s) that both have at least, by how much (s) both start sooner, or
    how far from the net (ft) both stop at least; None where even ``limit`` would not do, and then
    ``played`` is with that. ``as_now`` is the pair as it is, on the same shots.
    """

    kind: str
    value: float | None
    limit: float
    played: Tried
    as_now: Tried

    def row(self) -> Row:
        """What it takes, and what it brings in control; the verdict holds for all kinds."""
        shown = self.played.row()
        kept = ("in_play", "arrived_share", "arrived_low", "arrived_high", "in_control_share")
        return {
            "remedy": self.kind,
            "enough": self.value is not None,
            "value": self.limit if self.value is None else self.value,
            "unit": _UNITS[self.kind],
            **{name: shown[name] for name in kept},
            **difference_row(self.played, self.as_now, "in_control", len(_UNITS)),
        }


@dataclass(frozen=True)
class _Kind:
    """A kind of change: the scenario with a value of it, from none to the most, in steps."""

    name: str
    changed: Callable[[Scenario, float], Scenario]
    none: float
    most: float
    step: float


def remedies(
    scenario: Scenario, each: Sequence[Way], arrive: float, workers: Workers
) -> list[Remedy]:
    """What would let the scenario's first policy arrive for a share ``arrive`` of the balls.

    ``each`` are its ways in by direction. Empty where the pair arrives often enough as it is, or
    no ball stays in play, be it of the first shots or of the fresh ones.
    """
    scenario = scenario.model_copy(update={"policies": scenario.policies[:1]})
    if not any(way.balls for way in each) or arriving(scenario, each) >= arrive:
        return []
    kinds = _kinds(scenario)
    found = [_least(scenario, kind, each, arrive) for kind in kinds]
    values = [
        kind.most if value is None else value for kind, value in zip(kinds, found, strict=True)
    ]
    settings = [
        scenario,
        *(kind.changed(scenario, value) for kind, value in zip(kinds, values, strict=True)),
    ]
    played = play_alike(settings, fresh_blocks(scenario), workers)
    as_now, *others = (Tried(Return(), sums.sum(axis=1)) for sums in played)
    if not as_now.balls:
        return []
    return [
        Remedy(kind.name, value, kind.most, other, as_now)
        for kind, value, other in zip(kinds, found, others, strict=True)
    ]


def arriving(scenario: Scenario, each: Sequence[Way]) -> float:
    """Share of the ways' balls for which both arrive, were the pair as ``scenario`` says."""
    policy = scenario.policies[0]
    there = []
    for way in each:
        found = run_in(scenario, policy, way.direction, way.contact)
        there.append(both_arrived(found, targets(scenario, policy, way.direction, way.contact)))
    return float(np.concatenate(there).mean())


def faster(scenario: Scenario, top_speed: float) -> Scenario:
    """Nobody of the pair slower than ``top_speed`` (ft/s)."""
    players = {name: getattr(scenario.pair, name) for name in PLAYERS}
    pair = scenario.pair.model_copy(
        update={
            name: player.model_copy(update={"top_speed": max(player.top_speed, top_speed)})
            for name, player in players.items()
        }
    )
    return scenario.model_copy(update={"pair": pair})


def sooner(scenario: Scenario, gain: float) -> Scenario:
    """Both under way ``gain`` (s) sooner, at the earliest with the return's strike."""
    run_in = scenario.run_in
    delays = {
        name: max(getattr(run_in, name) - gain, 0.0) for name in ("returner_delay", "partner_delay")
    }
    return scenario.model_copy(update={"run_in": run_in.model_copy(update=delays)})


def shorter(scenario: Scenario, depth: float) -> Scenario:
    """Both stop ``depth`` (ft) from the net, or where they would have stopped if that is deeper."""
    policy = scenario.policies[0]
    owns = {
        name: policy.depth if own is None else own
        for name, own in (
            ("returner_depth", policy.returner_depth),
            ("partner_depth", policy.partner_depth),
        )
    }
    depths = {name: max(own, depth) for name, own in owns.items()}
    return scenario.model_copy(update={"policies": [policy.model_copy(update=depths)]})


def _kinds(scenario: Scenario) -> list[_Kind]:
    """All kinds of change that the scenario leaves room for."""
    policy, run_in = scenario.policies[0], scenario.run_in
    slowest = min(getattr(scenario.pair, name).top_speed for name in PLAYERS)
    longest = max(run_in.returner_delay, run_in.partner_delay)
    start = min(scenario.return_of_serve.struck_depth, _DEEPEST)
    nearest = min(
        policy.depth if own is None else own
        for own in (policy.returner_depth, policy.partner_depth)
    )
    kinds = [
        _Kind(FASTER, faster, slowest, _TOP_SPEED, 0.1),
        _Kind(SOONER, sooner, 0.0, longest, 0.01),
    ]
    if policy.rule != "best":
        # Places that a search has found have no depth to change.
        kinds.append(_Kind(SHORTER, shorter, nearest, start, 0.1))
    return [kind for kind in kinds if kind.most > kind.none]


def _least(scenario: Scenario, kind: _Kind, each: Sequence[Way], arrive: float) -> float | None:
    """The least value, a whole number of steps, with which both arrive often enough, or None.

    More of a kind never makes the pair later, so that bisection finds it.
    """

    def does(value: float) -> bool:
        return arriving(kind.changed(scenario, value), each) >= arrive

    if not does(kind.most):
        return None
    low, high = math.floor(kind.none / kind.step), math.ceil(kind.most / kind.step)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if does(middle * kind.step) else (middle, high)
    return min(high * kind.step, kind.most)
