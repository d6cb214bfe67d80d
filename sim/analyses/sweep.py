"""Sweeps: one or two numbers vary over a grid, everything else and all random numbers stay."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any, Final

import numpy as np

from sim.analyses.sweep_axes import Axis, policy_with, read_axes, scenario_with
from sim.analyses.sweep_best import AgainstBest, against_best
from sim.blocks import Workers
from sim.comparison import Progress
from sim.errors import Refused, refuse_unknown
from sim.numeric_settings import changer
from sim.plain_text import quoted
from sim.scenario import Policy, Scenario
from sim.scenario_files import ScenarioFile
from sim.statistics import LEVEL, difference_of_shares
from sim.study import counts, tallies, with_policies
from sim.tables import ALL
from sim.tally import MEASURES, Tally

MEASURE_WORDS: Final = {"in_control": "in control", "reached": "reached"}
# Variants of policies that meet one rally together. More rallies than needed are played where there
# are more variants, so that several workers have something to do; results do not depend on it.
_TOGETHER: Final = 32
# Tallies kept at a time, each with many zeros.
_AT_A_TIME: Final = 64

Part = tuple[float, ...]


@dataclass(frozen=True)
class Plan:
    """A sweep to be played, checked: nothing in it will be refused.

    ``settings`` are the values of the axes, the last axis running fastest; ``scenarios`` holds the
    scenario for every combination of values of those axes that are numbers of the scenario.
    ``policies`` are those shown, as they stand.
    """

    scenario: Scenario
    axes: tuple[Axis, ...]
    policies: tuple[Policy, ...]
    measure: str
    settings: tuple[Part, ...]
    scenarios: dict[Part, Scenario]

    @property
    def of_scenario(self) -> bool:
        """Whether a number of the scenario is varied, not only numbers of policies."""
        return any(axis.field is None for axis in self.axes)

    @property
    def chosen(self) -> int | None:
        """Of two axes, one of the scenario and one of policies, the place of the latter.

        A pair chooses how to move, and has to do so for what it meets.
        """
        fields = [axis.field for axis in self.axes]
        mixed = len(fields) == 2 and fields.count(None) == 1
        return 1 - fields.index(None) if mixed else None

    @property
    def directions(self) -> list[str]:
        """Return directions, all of them together first."""
        return [ALL, *self.scenario.return_of_serve.directions]

    def at(self, policy: Policy, setting: Part) -> tuple[Part, Policy]:
        """What is to be played for a policy in a setting: the part of the setting that makes the
        scenario, and the policy with its own numbers as the setting has them."""
        numbers = list(zip(self.axes, setting, strict=True))
        part = tuple(value for axis, value in numbers if axis.field is None)
        return part, policy_with(policy, numbers)

    def is_now(self, policy: Policy, setting: Part) -> bool:
        """Whether a setting is the scenario as it stands, for that policy."""
        return all(
            math.isclose(now, value, rel_tol=1e-9, abs_tol=1e-12)
            for axis, value in zip(self.axes, setting, strict=True)
            for now in axis.now(self.scenario, policy)
        )


def plan(
    file: ScenarioFile,
    changes: dict[str, Any],
    scenario: Scenario,
    vary: Sequence[str],
    names: Sequence[str] = (),
    measure: str = "in_control",
) -> Plan:
    """Read what is to be varied, and check every value of it.

    ``scenario`` is the file's under ``changes``, with its run; ``vary`` as in `read_axes`;
    ``names`` are the policies to show, all that the axes change when left out.

    Raises `Refused`.
    """
    axes = read_axes(vary, scenario)
    policies = _chosen(scenario, axes, names)
    settings = tuple(product(*(axis.values for axis in axes)))
    ours = [axis for axis in axes if axis.field is None]
    with_numbers = changer(file, changes)
    scenarios = {
        part: scenario_with(with_numbers, scenario, list(zip(ours, part, strict=True)))
        for part in product(*(axis.values for axis in ours))
    }
    found = Plan(scenario, axes, policies, measure, settings, scenarios)
    for policy, setting in product(policies, settings):
        found.at(policy, setting)
    return found


def _chosen(scenario: Scenario, axes: tuple[Axis, ...], names: Sequence[str]) -> tuple[Policy, ...]:
    """The policies to show: those named, or all; for a map the baseline, if the axes change it."""
    known = {policy.name: policy for policy in scenario.policies}
    refuse_unknown("--policy", "a policy", names, known)
    chosen = [known[name] for name in dict.fromkeys(names)] or list(scenario.policies)
    for axis in axes:
        varied = [policy for policy in chosen if axis.field is None or axis.varies(policy)]
        if not varied:
            able = [policy.name for policy in scenario.policies if axis.varies(policy)]
            raise Refused(
                f"--vary {axis.key}: changes nothing for the policies chosen; it does for "
                f"{_quoted_all(able)}"
            )
        chosen = varied
    if len(axes) == 2 and not names:
        chosen = [scenario.baseline] if scenario.baseline in chosen else chosen[:1]
    return tuple(chosen)


def _quoted_all(names: Iterable[str]) -> str:
    return ", ".join(map(quoted, names))


@dataclass(frozen=True)
class Counts:
    """What one policy did in one setting, by replicate.

    ``hits`` has the shape (measures, directions, replicates), ``balls`` in play (directions,
    replicates), ``pairs`` against the scenario's baseline policy (measures, directions, replicates,
    4); measures as in `tally.MEASURES`, and all directions together first.
    """

    hits: np.ndarray
    balls: np.ndarray
    pairs: np.ndarray

    def of(self, measure: str, direction: int = 0) -> tuple[np.ndarray, np.ndarray]:
        """Hits and balls in play, by replicate."""
        return self.hits[MEASURES.index(measure), direction], self.balls[direction]


@dataclass(frozen=True)
class Fresh:
    """A policy's best setting (its place) and the scenario as it stands, on fresh shots."""

    setting: int
    then: Counts
    now: Counts

    def gain(self, measure: str, level: float = LEVEL) -> tuple[float, float, float]:
        """Share in the best setting minus share as things stand, with its interval."""
        return difference_of_shares(self.then.of(measure), self.now.of(measure), level)


@dataclass(frozen=True)
class Sweep:
    """A finished sweep: counts by policy (in the plan's order) and setting, and fresh shots.

    ``fresh`` holds None for a policy that never had a ball in play.
    """

    plan: Plan
    counts: tuple[tuple[Counts, ...], ...]
    fresh: tuple[Fresh | None, ...]

    def best(self, policy: int, measure: str = "", direction: int = 0) -> AgainstBest:
        """All settings of one policy against the best; of the sweep's measure unless given."""
        return _against_best(self.counts[policy], measure or self.plan.measure, direction)

    def best_along(self, policy: int, axis: int, place: int) -> AgainstBest:
        """With two axes: one's values against the best, at a place on the other one.

        Holds for all places on the other one together.
        """
        lengths = [len(each.values) for each in self.plan.axes]
        numbers = np.arange(lengths[0] * lengths[1]).reshape(lengths)
        along = numbers[:, place] if axis == 0 else numbers[place]
        row = [self.counts[policy][k] for k in along]
        return _against_best(row, self.plan.measure, families=lengths[1 - axis])


def sweep(
    plan: Plan,
    workers: Workers | None = None,
    progress: Callable[[Progress], None] = lambda progress: None,
) -> Sweep:
    """Play all settings on the same shots, and each policy's best one once more on fresh shots.

    The best of many looks better than it is on the shots that made it the best: it is judged,
    against the scenario as it stands, on others. The result does not depend on the workers.
    """
    everything = [plan.at(policy, setting) for policy in plan.policies for setting in plan.settings]
    played = iter(_played(plan, everything, workers, progress))
    found = tuple(tuple(next(played) for _ in plan.settings) for _ in plan.policies)

    places = [_against_best(row, plan.measure).best for row in found]
    judged = [
        wanted
        for policy, place in zip(plan.policies, places, strict=True)
        if place is not None
        for wanted in (plan.at(policy, plan.settings[place]), (None, policy))
    ]
    again = iter(_played(plan, judged, workers, progress, fresh=True))
    fresh = tuple(
        None if place is None else Fresh(place, next(again), next(again)) for place in places
    )
    return Sweep(plan, found, fresh)


def _against_best(
    row: Sequence[Counts], measure: str, direction: int = 0, families: int = 1
) -> AgainstBest:
    hits, balls = zip(*(each.of(measure, direction) for each in row), strict=True)
    return against_best(np.array(hits), np.array(balls), families)


def _played(
    plan: Plan,
    wanted: Sequence[tuple[Part | None, Policy]],
    workers: Workers | None,
    progress: Callable[[Progress], None],
    *,
    fresh: bool = False,
) -> list[Counts]:
    """What each policy does in the scenario of that part of a setting; None as things stand."""
    tasks = _tasks([part for part, _ in wanted])
    scenarios = []
    for task in tasks:
        part = wanted[task[0]][0]
        scenario = plan.scenario if part is None else plan.scenarios[part]
        policies = [scenario.baseline, *(wanted[number][1] for number in task)]
        scenario = with_policies(scenario, policies)
        scenarios.append(_with_fresh_shots(scenario) if fresh else scenario)
    found: dict[int, Counts] = {}
    for first in range(0, len(tasks), _AT_A_TIME):
        some = scenarios[first : first + _AT_A_TIME]

        def so_far(within: Progress, before: int = first, some: list[Scenario] = some) -> None:
            blocks = within.planned // len(some)
            progress(Progress(before * blocks + within.done, len(tasks) * blocks))

        for task, tally in zip(tasks[first:], tallies(some, workers, so_far), strict=False):
            found |= {number: _counts(tally, k) for k, number in enumerate(task, 1)}
    return [found[number] for number in range(len(wanted))]


def _tasks(parts: Sequence[Part | None]) -> list[list[int]]:
    """Numbers of what is to be played, in groups that meet the same rallies."""
    alike: dict[Part | None, list[int]] = {}
    for number, part in enumerate(parts):
        alike.setdefault(part, []).append(number)
    return [
        numbers[first : first + _TOGETHER]
        for numbers in alike.values()
        for first in range(0, len(numbers), _TOGETHER)
    ]


def _with_fresh_shots(scenario: Scenario) -> Scenario:
    """The same scenario with a seed derived from its own: shots that nothing was chosen by."""
    words = np.random.SeedSequence([scenario.run.seed, 1]).generate_state(1, np.uint64)
    run = scenario.run.model_copy(update={"seed": int(words[0] >> np.uint64(1))})
    return scenario.model_copy(update={"run": run})


def _counts(tally: Tally, policy: int) -> Counts:
    places = [None, *range(tally.fates.shape[1])]
    both = [[counts(tally, policy, measure, place) for place in places] for measure in MEASURES]
    pairs = tally.pairs[:, policy].sum(axis=2)
    pairs = np.concatenate((pairs.sum(axis=1, keepdims=True), pairs), axis=1)
    return Counts(
        hits=np.array([[hits for hits, _ in row] for row in both]),
        balls=np.array([balls for _, balls in both[0]]),
        pairs=pairs.transpose(2, 1, 0, 3),
    )
