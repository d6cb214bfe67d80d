"""Benchmark, run by hand: ``python tests/benchmarks/run.py``. Prints JSON.

Everything is timed in interleaved rounds of one run, so that a busy machine slows all parts alike;
figures are medians over the rounds, and ratios are of medians. The plain loop is what one would
write first: ``scipy.integrate.solve_ivp`` (default method, tolerances 1e-6) in three dimensions for
each shot, with its landing as an event.
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

import numpy as np
from scipy.integrate import solve_ivp

import sim
from sim.answers import answer_all
from sim.ball import GRAVITY
from sim.flight import Launch, falling_time, fly, time_falling_to
from sim.rallies import ball_of, play
from sim.tally import count

ROUNDS = 7
SHOTS = 8192
PLAIN_FLIGHTS = 40


def timed(work: Callable[[], object]) -> float:
    """Seconds that one call takes."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def main() -> None:
    """Time the parts in turn, print what came out."""
    scenario = sim.load("club-sixties")
    ball = ball_of(scenario)
    rallies = {direction: play(scenario, direction) for direction in ("line", "middle", "cross")}
    contact = rallies["line"].contact
    launch = rallies["line"].third_shot.launch

    def flights() -> None:
        longest = falling_time(contact.z, launch, ball)
        time_falling_to(fly(contact.x, contact.y, contact.z, launch, ball, longest, 8), 0.0)

    def plain_flights() -> None:
        for shot in range(PLAIN_FLIGHTS):
            _plain_flight(contact.z[shot], launch, shot, ball.drag, ball.magnus)

    def stages() -> None:
        for direction in rallies:
            play(scenario, direction)

    def answers() -> None:
        for rally in rallies.values():
            answer_all(scenario, rally, scenario.policies)

    def whole() -> None:
        for place, direction in enumerate(rallies):
            rally = play(scenario, direction)
            given = answer_all(scenario, rally, scenario.policies)
            count(scenario, rally, given, place, len(rallies))

    parts = {
        "flights": flights,
        "plain flights": plain_flights,
        "stages": stages,
        "answers": answers,
        "whole": whole,
    }
    seconds: dict[str, list[float]] = {name: [] for name in parts}
    for _ in range(ROUNDS):
        for name, work in parts.items():
            seconds[name].append(timed(work))
    median = {name: statistics.median(times) for name, times in seconds.items()}
    per_flight = median["flights"] / SHOTS
    per_plain_flight = median["plain flights"] / PLAIN_FLIGHTS
    evaluations = 3 * SHOTS * len(scenario.policies)
    commands = {
        "help": ["--help"],
        "compare, no figures": ["compare", "--no-figures", "--quiet"],
        "compare": ["compare", "--quiet"],
    }
    result = {
        "machine": f"{platform.machine()}, {os.cpu_count()} cores, Python "
        f"{platform.python_version()}, numpy {np.__version__}",
        "policies": len(scenario.policies),
        "shots for each of three return directions": SHOTS,
        "rounds": ROUNDS,
        "flights per second": round(1.0 / per_flight),
        "times faster per flight than a solve_ivp loop": round(per_plain_flight / per_flight),
        "shot-policy evaluations per second, everything included": round(
            evaluations / median["whole"]
        ),
        "part of the time up to the pair's answer": round(median["stages"] / median["whole"], 2),
        "part of the time for the answers": round(median["answers"] / median["whole"], 2),
        "spread of the whole over the rounds": round(
            max(seconds["whole"]) / min(seconds["whole"]), 2
        ),
        "seconds of the command": {name: _command(words) for name, words in commands.items()},
        "most memory of a command, MB": round(
            resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
        ),
    }
    print(json.dumps(result, indent=2))


def _plain_flight(height: float, launch: Launch, shot: int, drag: float, magnus: float) -> None:
    """One flight in three dimensions, as the equation of motion stands in a textbook."""
    velocity = np.array([launch.x[shot], launch.y[shot], launch.z[shot]])
    spin = float(launch.spin[shot])
    heading = velocity * [1.0, 1.0, 0.0]
    axis = np.cross([0.0, 0.0, 1.0], heading / np.linalg.norm(heading))
    weight = np.array([0.0, 0.0, -GRAVITY])

    def change(_: float, state: np.ndarray) -> np.ndarray:
        v = state[3:]
        force = weight - drag * np.linalg.norm(v) * v + magnus * spin * np.cross(axis, v)
        return np.concatenate((v, force))

    def ground(_: float, state: np.ndarray) -> float:
        return float(state[2])

    ground.terminal = True  # type: ignore[attr-defined]
    start = np.concatenate(([0.0, 0.0, height], velocity))
    solve_ivp(change, (0.0, 10.0), start, rtol=1e-6, atol=1e-6, events=ground)


def _command(words: list[str]) -> float:
    """Median wall time (s) of the command, start-up included, over three runs."""
    code = "from sim.cli import main; main(prog_name='reachshare')"
    times = []
    for _ in range(3):
        with tempfile.TemporaryDirectory() as folder:
            run = partial(
                subprocess.run,
                [sys.executable, "-c", code, *words],
                cwd=folder,
                stdout=subprocess.DEVNULL,
                check=True,
            )
            times.append(timed(run))
    return round(statistics.median(times), 2)


if __name__ == "__main__":
    main()
