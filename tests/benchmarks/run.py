"""Benchmark, run by hand: ``python -m tests.benchmarks.run``. Prints JSON.

Everything is timed in interleaved rounds of one run on one core, so that a busy machine slows all
parts alike; figures are medians over the rounds, and ratios are of medians. Beside the package run
a plain scalar C translation of the same work (``scalar.c``, ``gcc -O3 -march=native``) and a loop
over single shots with ``solve_ivp`` (``plain_loop.py``), which is asked for the same answers.
"""

from __future__ import annotations

import json
import os
import platform
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

import sim
from sim.answers import answer_all
from sim.blocks import Block, play_block
from sim.draws import BLOCK, draw
from sim.rallies import ball_of, follow_through, play
from sim.return_of_serve import fly_return
from sim.scenario import RETURN_DIRECTIONS, Scenario
from sim.tables import difference_rows, summary_rows
from sim.tally import Tally, count
from sim.third_shot import strike
from sim.worked_reports import STUDIES
from tests.benchmarks import plain_loop, scalar
from tests.interval_coverage import SAMPLINGS, Coverage, study
from tests.second_opinion.shots import Block as PlayedBlock
from tests.second_opinion.shots import Shot

ROUNDS = 9
PLAIN_SHOTS = 8
RUNS_FOR_VARIANCE = 400
Seconds = dict[str, list[float]]


def timed(work: Callable[[], object]) -> float:
    """Seconds that one call takes."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def main() -> None:
    """Time everything in turn, print what came out."""
    scenario = sim.load("club-sixties")
    shots = len(RETURN_DIRECTIONS) * BLOCK
    evaluations = shots * len(scenario.policies)
    work = {"whole": partial(whole, scenario), **parts(scenario)}
    library = scalar.build()
    if library is not None:
        for number, name in enumerate(scalar.PARTS, 1):
            work[f"C to {name}"] = partial(scalar.run, library, scenario, BLOCK, number)
    loop, loop_shots = plain(scenario)
    work["solve_ivp loop"] = loop
    seconds: Seconds = {name: [] for name in work}
    for _ in range(ROUNDS):
        for name, part in work.items():
            seconds[name].append(timed(part))
    median = {name: statistics.median(times) for name, times in seconds.items()}
    per_shot = {
        name: value / (loop_shots if name == "solve_ivp loop" else shots)
        for name, value in median.items()
    }
    result = {
        "machine": f"{platform.machine()}, {os.cpu_count()} cores, Python "
        f"{platform.python_version()}, numpy {np.__version__}",
        "rounds": ROUNDS,
        "shots": shots,
        "policies": len(scenario.policies),
        "microseconds per shot": {k: float(f"{1e6 * v:.3g}") for k, v in per_shot.items()},
        "shot-policy evaluations per second": round(evaluations / median["whole"]),
        "times as fast as the solve_ivp loop": round(
            per_shot["solve_ivp loop"] / per_shot["whole"]
        ),
        "spread of the whole over the rounds": round(
            max(seconds["whole"]) / min(seconds["whole"]), 2
        ),
    }
    if library is not None:
        c = median[f"C to {scalar.PARTS[-1]}"]
        result["scalar C evaluations per second"] = round(evaluations / c)
        result["speed as part of scalar C's"] = round(c / median["whole"], 2)
        result["the same without the summary tables"] = round(
            c / (median["whole"] - median["tables"]), 2
        )
    result |= {"variance of plain over that of quasi-random sampling": variance_ratios()}
    result |= {"seconds of the command": commands()}
    result["most memory of a command, MB"] = round(
        resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    )
    print(json.dumps(result, indent=2))


def whole(scenario: Scenario) -> None:
    """The default comparison: draws to summary."""
    tally = Tally.empty(len(scenario.policies), len(RETURN_DIRECTIONS))
    tally.add(play_block(scenario, Block(0, BLOCK)), 0)
    tables(scenario, tally)


def tables(scenario: Scenario, tally: Tally) -> None:
    """Shares and differences with their intervals, which the C does not make."""
    list(summary_rows(scenario, tally.used()))
    list(difference_rows(scenario, tally.used()))


def parts(scenario: Scenario) -> dict[str, Callable[[], object]]:
    """The stages of `whole`, one by one, for all return directions."""
    ball, seed = ball_of(scenario), scenario.run.seed
    given = {}
    tally = Tally.empty(len(scenario.policies), len(RETURN_DIRECTIONS))
    tally.add(play_block(scenario, Block(0, BLOCK)), 0)
    for stream, direction in enumerate(RETURN_DIRECTIONS):
        uniform = draw(scenario.run.sampling, seed, stream, 0, BLOCK)
        rally = play(scenario, direction)
        given[direction] = stream, uniform, rally, answer_all(scenario, rally, scenario.policies)

    def for_all(work: Callable[..., object]) -> Callable[[], None]:
        def call() -> None:
            for direction, (stream, uniform, rally, answers) in given.items():
                work(direction, stream, uniform, rally, answers)

        return call

    return {
        "draws": for_all(lambda d, s, u, r, a: draw(scenario.run.sampling, seed, s, 0, BLOCK)),
        "return of serve": for_all(lambda d, s, u, r, a: fly_return(scenario, ball, (d,), u)),
        "aim and error": for_all(lambda d, s, u, r, a: strike(scenario, ball, (d,), r.contact, u)),
        "flight and bounce": for_all(
            lambda d, s, u, r, a: follow_through(
                r.directions,
                r.contact,
                r.third_shot,
                dict.fromkeys(("left", "right"), r.contact.time),
                ball,
            )
        ),
        "answers": for_all(lambda d, s, u, r, a: answer_all(scenario, r, scenario.policies)),
        "counts": for_all(lambda d, s, u, r, a: count(scenario, r, a)),
        "tables": lambda: tables(scenario, tally),
    }


def plain(scenario: Scenario) -> tuple[Callable[[], object], int]:
    """The loop over single shots, checked against the package's answers for the same ones."""
    blocks = [PlayedBlock(scenario, direction, BLOCK) for direction in RETURN_DIRECTIONS]
    shots = [Shot(block, number) for number in range(PLAIN_SHOTS) for block in blocks]

    def loop() -> list[Any]:
        with plain_loop.everyday_tolerances():
            return [plain_loop.play_shot(shot) for shot in shots]

    differing = 0
    for shot, answers in zip(shots, loop(), strict=True):
        live = np.flatnonzero(shot.block.rally.in_play == shot.index)
        expected = [
            (bool(a.in_control[i]), bool(a.reached[i])) for a in shot.block.answers for i in live
        ]
        differing += answers != expected
    if differing:
        raise SystemExit(f"the plain loop answers {differing} of {len(shots)} shots otherwise")
    return loop, len(shots)


def variance_ratios() -> dict[str, dict[str, float]]:
    """How many times as many plain shots are needed for the same scatter, number by number.

    Differences of plain sampling are given twice: from the same shots, and from runs of their own.
    """
    quasi, plain = (study(sampling, 2048, RUNS_FOR_VARIANCE) for sampling in SAMPLINGS)
    ratios = (plain.scatter / quasi.scatter) ** 2
    shares = dict(zip(quasi.numbers, ratios, strict=True))
    independent = {
        name: independent_variance(plain, name) / quasi.scatter[index] ** 2
        for index, name in enumerate(quasi.numbers)
        if name.startswith("difference")
    }
    return {
        "from the same shots": {name: round(float(value), 2) for name, value in shares.items()},
        "against runs of their own": {
            name: round(float(value), 2) for name, value in independent.items()
        },
    }


def independent_variance(plain: Coverage, difference: str) -> float:
    """Variance of a difference between two policies that face different shots."""
    measure, pair = difference.removeprefix("difference ").split(", ")
    scatter = dict(zip(plain.numbers, plain.scatter, strict=True))
    return float(sum(scatter[f"share {measure}, {name}"] ** 2 for name in pair.split(" - ")))


def commands() -> dict[str, float]:
    """Median wall time (s) of the command, start-up included, over three runs."""
    quiet = ["--no-figures", "--quiet"]
    wanted = {
        "--help": ["--help"],
        "compare --no-figures": ["compare", *quiet],
        "compare": ["compare", "--quiet"],
        "a difference to 0.1 points": [
            *("compare", "--between", "follow", "halves", "--precision", "0.1"),
            *quiet,
        ],
        "the same on one core": [
            *("compare", "--between", "follow", "halves", "--precision", "0.1"),
            *("--workers", "1"),
            *quiet,
        ],
        **{words[0]: [*words, "--quiet"] for words in STUDIES.values()},
    }
    return {name: command(words) for name, words in wanted.items()}


def command(words: list[str]) -> float:
    code = "from sim.cli import main; main(prog_name='reachshare')"
    times = []
    for _ in range(3):
        with tempfile.TemporaryDirectory() as folder:
            run = partial(
                subprocess.run,
                [sys.executable, "-c", code, *words],
                cwd=folder,
                env=os.environ | {"PYTHONPATH": os.getcwd()},
                stdout=subprocess.DEVNULL,
                check=True,
            )
            times.append(timed(run))
    return round(statistics.median(times), 2)


if __name__ == "__main__":
    main()
