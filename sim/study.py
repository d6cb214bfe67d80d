"""Many settings of one scenario, played alike: the same random numbers, a tally for each."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from sim.blocks import OneAfterTheOther, RunningTotal, Workers, blocks_of, play_block
from sim.comparison import Progress
from sim.draws import REPLICATES
from sim.rallies import IN_PLAY
from sim.scenario import Policy, Scenario
from sim.tally import AT_FULL_STRETCH, GROUPS, IN_CONTROL, Tally


def tallies(
    scenarios: Sequence[Scenario],
    workers: Workers | None = None,
    progress: Callable[[Progress], None] = lambda progress: None,
) -> list[Tally]:
    """Play every scenario's own number of shots and count, in the order given.

    Scenarios with the same seed face the same random numbers, replicate by replicate, so that
    differences between them are known better than each by itself
    (`statistics.difference_of_shares`). The result does not depend on the workers.
    """
    workers = workers or OneAfterTheOther()
    tasks = [
        (number, scenario, block)
        for number, scenario in enumerate(scenarios)
        for block in blocks_of(scenario.run.shots)
    ]
    totals = [RunningTotal(_empty(scenario)) for scenario in scenarios]
    work = [(scenario, block) for _, scenario, block in tasks]
    for done, (task, tally) in enumerate(workers.run(play_block, work), 1):
        number, _, block = tasks[task]
        totals[number].add(block, tally)
        progress(Progress(done, len(tasks)))
    return [total.tally.used() for total in totals]


def with_policies(scenario: Scenario, policies: Sequence[Policy]) -> Scenario:
    """The scenario with these policies under names of their own, the first as the baseline."""
    named = [
        policy.model_copy(update={"name": f"variant {number}"})
        for number, policy in enumerate(policies)
    ]
    run = scenario.run.model_copy(update={"baseline": named[0].name})
    return scenario.model_copy(update={"policies": named, "run": run})


def between(scenario: Scenario, policy: str, baseline: str) -> Scenario:
    """The scenario with only two of its policies, by name, the second as the baseline."""
    kept = [known for known in scenario.policies if known.name in (policy, baseline)]
    run = scenario.run.model_copy(update={"baseline": baseline})
    return scenario.model_copy(update={"policies": kept, "run": run})


def _empty(scenario: Scenario) -> Tally:
    """A tally with no more groups than the scenario's blocks fill."""
    groups = min(len(blocks_of(scenario.run.shots)) * REPLICATES, GROUPS)
    return Tally.empty(len(scenario.policies), len(scenario.return_of_serve.directions), groups)


def counts(
    tally: Tally, policy: int, measure: str, direction: int | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """Balls a policy reached (or had ``in_control``) and balls in play, shape (replicates,).

    ``policy`` and ``direction`` are places in the scenario's lists; without a direction, all.
    """
    chosen = slice(None) if direction is None else slice(direction, direction + 1)
    outcomes = tally.outcomes[:, policy, chosen].sum(axis=(1, 2, 3))
    hits = outcomes[:, IN_CONTROL]
    if measure == "reached":
        hits = hits + outcomes[:, AT_FULL_STRETCH]
    return hits, tally.fates[:, chosen, ..., IN_PLAY].sum(axis=(1, 2, 3))
