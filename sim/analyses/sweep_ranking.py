"""Who is in front at each value of a scenario's number, and where one policy overtakes another."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from sim.analyses.sweep import Sweep
from sim.analyses.sweep_best import AgainstBest, against_best
from sim.statistics import adjusted, difference_of_shares


@dataclass(frozen=True)
class Overtaking:
    """One policy in front of another up to the value ``last``, and behind it from ``first`` on.

    Values of the sweep's only key, in the program's unit; between them the two cannot be told
    apart.
    """

    before: str
    after: str
    last: float
    first: float


def in_front(sweep: Sweep) -> list[AgainstBest]:
    """At every setting the policies, in the plan's order, against the best, after all returns.

    What is said of all the settings together holds at 95 %.
    """
    settings = len(sweep.plan.settings)
    found = []
    for place in range(settings):
        rows = [row[place].of(sweep.plan.measure) for row in sweep.counts]
        hits, balls = map(np.array, zip(*rows, strict=True))
        found.append(against_best(hits, balls, families=settings))
    return found


def overtakings(sweep: Sweep) -> list[Overtaking]:
    """Where one policy overtakes another, after all returns, in the order of the values.

    Told by paired intervals of all pairs of policies at all values, together at 95 %
    (Bonferroni). For sweeps of one key.
    """
    plan = sweep.plan
    values = [setting[0] for setting in plan.settings]
    pairs = list(combinations(range(len(plan.policies)), 2))
    level, found = adjusted(len(pairs) * len(values)), []
    for one, other in pairs:
        leader, last = None, values[0]
        for place, value in enumerate(values):
            mine, theirs = (sweep.counts[p][place].of(plan.measure) for p in (one, other))
            _, low, high = difference_of_shares(mine, theirs, level)
            if low <= 0.0 <= high:
                continue
            ahead = one if low > 0.0 else other
            if leader not in (None, ahead):
                before = other if ahead == one else one
                names = plan.policies[before].name, plan.policies[ahead].name
                found.append(Overtaking(*names, last, value))
            leader, last = ahead, value
    return sorted(found, key=lambda each: (each.first, each.last))
