"""How often the intervals hold the truth: ``python -m tests.interval_coverage`` prints tables.

Many short runs of the default scenario, every one with its own random numbers. Their intervals are
held against the shares of all runs together, whose own error is small beside them. The
scatter of such runs compares the samplers. The printed tables stand in ``sim/docs/sampling.md``;
slow tests make them again.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

import sim
from sim.blocks import Block, play_block
from sim.comparison import compare
from sim.draws import BLOCK, Sampling
from sim.precision import Precision
from sim.scenario import Scenario
from sim.tables import difference_rows, summary_rows
from sim.tally import Tally

POLICIES = ("halves", "centre", "follow")
SAMPLINGS: tuple[Sampling, ...] = ("quasi-random", "pseudo-random")
SIZES = (512, 2048)
RUNS = 1000
FEW = 10
# Points, and runs that stop when they are reached.
PRECISION = 0.25
RUNS_TO_PRECISION = 400
Ends = tuple[float, float, float]


@dataclass(frozen=True)
class Coverage:
    """What came of many runs, number by number: how often covered, how wide, how scattered.

    ``events`` is how many balls decide a number in one run on average: the hits or the misses of a
    share, whichever are fewer, or the balls that only one of two policies gets.
    """

    sampling: Sampling
    shots: int
    numbers: list[str]
    covered: np.ndarray
    half_width: np.ndarray
    scatter: np.ndarray
    events: np.ndarray

    def of(self, kind: str) -> float:
        """Part of the intervals of one kind (``share`` or ``difference``) that hold the truth.

        Of numbers that more than a few balls decide; the others' intervals are meant to be wide.
        """
        chosen = [
            name.startswith(kind) and events >= FEW
            for name, events in zip(self.numbers, self.events, strict=True)
        ]
        return float(self.covered[chosen].mean())


def study(sampling: Sampling, shots: int, runs: int = RUNS) -> Coverage:
    """Many runs of so many shots for each return direction."""
    scenario = scenario_for(sampling)
    total = Tally.empty(len(POLICIES), len(scenario.return_of_serve.directions))
    found = []
    for number in range(runs):
        tally = play_block(scenario, Block(number, shots))
        total.add(tally, number)
        found.append([ends for _, ends, _ in intervals(scenario, tally)])
    table = np.array(found)
    names, whole, events = zip(*intervals(scenario, total), strict=True)
    truth = np.array(whole)[:, 0]
    return Coverage(
        sampling,
        shots,
        list(names),
        np.mean((table[:, :, 1] <= truth) & (truth <= table[:, :, 2]), axis=0),
        np.mean(table[:, :, 2] - table[:, :, 1], axis=0) / 2.0,
        np.std(table[:, :, 0], axis=0, ddof=1),
        np.array(events) / runs,
    )


def scenario_for(sampling: Sampling) -> Scenario:
    scenario = sim.load("club-sixties", {"run": {"sampling": sampling, "seed": 20}})
    kept = [policy for policy in scenario.policies if policy.name in POLICIES]
    return scenario.model_copy(update={"policies": kept})


def intervals(scenario: Scenario, tally: Tally) -> Iterator[tuple[str, Ends, int]]:
    """The headline numbers: name, value with its interval in points, and balls that decide it."""
    for row in summary_rows(scenario, tally, overall=True):
        for measure in ("in_control", "reached"):
            ends = tuple(100.0 * row[f"{measure}_{end}"] for end in ("share", "low", "high"))
            events = min(row[measure], row["in_play"] - row[measure])
            yield f"share {_words(measure)}, {row['policy']}", ends, events
    for row in difference_rows(scenario, tally, overall=True):
        name = f"difference {_words(row['measure'])}, {row['policy']} - {row['baseline']}"
        ends = row["points"], row["points_low"], row["points_high"]
        yield name, ends, row["only_policy"] + row["only_baseline"]


def _words(measure: str) -> str:
    return measure.replace("_", " ")


def study_of_precision(points: float, runs: int) -> tuple[float, float]:
    """Runs that play until a difference in control is known to so many points.

    Returns the part of their intervals that hold the truth, and the blocks played on average.
    """
    usual = scenario_for("quasi-random")
    kept = [policy for policy in usual.policies if policy.name in ("halves", "follow")]
    found = []
    for seed in range(1000, 1000 + runs):
        run = usual.run.model_copy(update={"seed": seed, "baseline": "halves"})
        scenario = usual.model_copy(update={"policies": kept, "run": run})
        comparison = compare(scenario, Precision(points))
        (row,) = (
            row
            for row in difference_rows(scenario, comparison.tally, overall=True)
            if row["measure"] == "in_control"
        )
        found.append((row, comparison.shots_played / BLOCK))
    balls = sum(row["in_play"] for row, _ in found)
    gain = sum(row["only_policy"] - row["only_baseline"] for row, _ in found)
    truth = 100.0 * gain / balls
    covered = [row["points_low"] <= truth <= row["points_high"] for row, _ in found]
    return float(np.mean(covered)), float(np.mean([blocks for _, blocks in found]))


def as_table(studies: list[Coverage]) -> str:
    """A Markdown table, a row a number, a pair of columns a study."""
    heads = [f"{s.sampling}, {s.shots}" for s in studies]
    lines = ["| 95 % interval of | " + " | ".join(heads) + " |", "| --- |" + " ---: |" * len(heads)]
    for index, number in enumerate(studies[0].numbers):
        cells = [_cell(s, index) for s in studies]
        lines.append(f"| {number} | " + " | ".join(cells) + " |")
    for kind in ("share", "difference"):
        cells = [f"**{100 * s.of(kind):.1f} %**" for s in studies]
        lines.append(f"| **all {kind}s but those marked** | " + " | ".join(cells) + " |")
    return "\n".join(lines)


def gains_table(quasi: Coverage, plain: Coverage) -> str:
    """How many times as many plain shots scatter as little, as a Markdown table.

    In the last column each policy has plain shots of its own: the variances of its share and of
    the baseline's add up.
    """
    variance = dict(zip(plain.numbers, plain.scatter**2, strict=True))
    lines = [
        "| number | plain shots instead of quasi-random | plain shots of its own for each policy |",
        "| --- | ---: | ---: |",
    ]
    for number, scatter in zip(quasi.numbers, quasi.scatter, strict=True):
        kind, rest = number.split(" ", 1)
        own = ""
        if kind == "difference":
            measure, pair = rest.split(", ")
            shares = [f"share {measure}, {policy}" for policy in pair.split(" - ")]
            own = f"{sum(variance[share] for share in shares) / scatter**2:.1f} "
        lines.append(f"| {number} | {variance[number] / scatter**2:.1f} | {own}|")
    return "\n".join(lines)


def _cell(study: Coverage, index: int) -> str:
    mark = "" if study.events[index] >= FEW else " *"
    return f"{100 * study.covered[index]:.1f} % (±{study.half_width[index]:.2f}){mark}"


if __name__ == "__main__":
    studies = {(s, shots): study(s, shots) for s in SAMPLINGS for shots in SIZES}
    print(as_table(list(studies.values())))
    print(gains_table(*(studies[sampling, SIZES[-1]] for sampling in SAMPLINGS)))
    print(study_of_precision(PRECISION, RUNS_TO_PRECISION))
