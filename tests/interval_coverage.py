"""How often the intervals hold the truth: ``python -m tests.interval_coverage`` prints a table.

Many short runs of the default scenario, every one with its own random numbers. Their intervals are
held against the shares of all runs together, whose own error is small beside them. The printed
table stands in ``sim/docs/sampling.md``; a slow test makes it again.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

import sim
from sim.blocks import Block, play_block
from sim.draws import Sampling
from sim.scenario import Scenario
from sim.tables import Row, difference_rows, summary_rows
from sim.tally import Tally

POLICIES = ("halves", "centre", "follow")
SAMPLINGS: tuple[Sampling, ...] = ("quasi-random", "pseudo-random")
SIZES = (512, 2048)
RUNS = 1000


@dataclass(frozen=True)
class Coverage:
    """What came of many runs, number by number: how often covered, how wide, how scattered."""

    sampling: Sampling
    shots: int
    numbers: list[str]
    covered: np.ndarray
    half_width: np.ndarray
    scatter: np.ndarray

    def of(self, kind: str) -> float:
        """Part of the intervals of one kind (``share`` or ``difference``) that hold the truth."""
        chosen = [name.startswith(kind) for name in self.numbers]
        return float(self.covered[chosen].mean())


def study(sampling: Sampling, shots: int, runs: int = RUNS) -> Coverage:
    """Many runs of so many shots for each return direction."""
    scenario = scenario_for(sampling)
    total = Tally.empty(len(POLICIES), len(scenario.return_of_serve.directions))
    found = []
    for number in range(runs):
        tally = play_block(scenario, Block(number, shots))
        total.add(tally, number)
        found.append([ends for _, ends in intervals(scenario, tally)])
    table = np.array(found)
    truth = np.array([ends[0] for _, ends in intervals(scenario, total)])
    return Coverage(
        sampling,
        shots,
        [name for name, _ in intervals(scenario, total)],
        np.mean((table[:, :, 1] <= truth) & (truth <= table[:, :, 2]), axis=0),
        np.mean(table[:, :, 2] - table[:, :, 1], axis=0) / 2.0,
        np.std(table[:, :, 0], axis=0, ddof=1),
    )


def scenario_for(sampling: Sampling) -> Scenario:
    scenario = sim.load("club-sixties", {"run": {"sampling": sampling, "seed": 20}})
    kept = [policy for policy in scenario.policies if policy.name in POLICIES]
    return scenario.model_copy(update={"policies": kept})


def intervals(scenario: Scenario, tally: Tally) -> Iterator[tuple[str, tuple[float, float, float]]]:
    """The headline numbers by name, each with its interval, all in points."""

    def ends(row: Row, name: str) -> tuple[float, float, float]:
        return 100.0 * row[f"{name}_share"], 100.0 * row[f"{name}_low"], 100.0 * row[f"{name}_high"]

    for row in summary_rows(scenario, tally, overall=True):
        yield f"share in control, {row['policy']}", ends(row, "in_control")
        yield f"share reached, {row['policy']}", ends(row, "reached")
    for row in difference_rows(scenario, tally, overall=True):
        measure = row["measure"].replace("_", " ")
        name = f"difference {measure}, {row['policy']} - {row['baseline']}"
        yield name, (row["points"], row["points_low"], row["points_high"])


def as_table(studies: list[Coverage]) -> str:
    """A Markdown table, a row a number, a pair of columns a study."""
    heads = [f"{s.sampling}, {s.shots}" for s in studies]
    lines = ["| 95 % interval of | " + " | ".join(heads) + " |", "| --- |" + " ---: |" * len(heads)]
    for index, number in enumerate(studies[0].numbers):
        cells = [f"{100 * s.covered[index]:.1f} % (±{s.half_width[index]:.2f})" for s in studies]
        lines.append(f"| {number} | " + " | ".join(cells) + " |")
    for kind in ("share", "difference"):
        cells = [f"**{100 * s.of(kind):.1f} %**" for s in studies]
        lines.append(f"| **all: {kind}s** | " + " | ".join(cells) + " |")
    return "\n".join(lines)


if __name__ == "__main__":
    print(as_table([study(sampling, shots) for sampling in SAMPLINGS for shots in SIZES]))
