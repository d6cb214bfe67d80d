"""Every figure the program makes, on small runs: with usual names, and with long and odd ones.

A new figure is added to `MAKERS` with a function that gives its figures with their file stems.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.figure import Figure

import sim
from sim.analyses.approach import approach
from sim.analyses.counter import contest
from sim.analyses.fit_reach import fit_reach
from sim.analyses.fit_runs import fit_runs
from sim.analyses.fit_shots import fit_shots
from sim.analyses.inputs import inputs_of, usual_inputs
from sim.analyses.positions import find
from sim.analyses.sensitivity import sensitivity
from sim.analyses.sweep import plan, sweep
from sim.analyses.uncertainty import uncertainty
from sim.candidate_places import Wish
from sim.chart_forms import THIRD_SHOTS
from sim.charts import read_chart
from sim.commands.one_comparison import only_between
from sim.comparison import Comparison
from sim.figures import all_figures
from sim.figures.approach import approach_figures
from sim.figures.counter import counter_figures
from sim.figures.fit import reach_figure, runs_figure, shots_figure
from sim.figures.positions import place_figures
from sim.figures.sensitivity import tornado_figure
from sim.figures.style import Units
from sim.figures.sweep import differences_figure, sweep_figure
from sim.figures.sweep_map import map_figure
from sim.numeric_settings import changer
from sim.scenario import Scenario
from sim.scenario_files import build, read
from tests.validation.figures import calculated, estimated

FILE = read("club-sixties")
CHARTS = Path(__file__).parent / "charts"
ODD_NAMES = [
    "cost $5_x^2$ \\frac{a}{b}",
    'one <up> & "one" back',
    "Länge 日本語 🏓 no glyph",
    "WWWWWWWWWW WWWWWWWWWW WWWWWWWWWW WWWWWWW",
    "a" * 40,
    "just narrow enough",
]
RULES = ["halves", "follow", "centre", "bisect", "tethered", "follow"]
ODD: dict[str, Any] = {
    "name": "Scenario $x_1$ & <WWWWWWWWWWWWWWWWWWWWW>",
    "policies": [{"name": n, "rule": r} for n, r in zip(ODD_NAMES, RULES, strict=True)],
}
Figures = Iterable[tuple[str, Figure]]


def changes(odd: bool, shots: int, **more: Any) -> dict[str, Any]:
    run = {"shots": shots} | ({"baseline": ODD_NAMES[0]} if odd else {})
    return (ODD if odd else {}) | {"run": run} | more


def scenario_of(odd: bool, shots: int, **more: Any) -> Scenario:
    return sim.load("club-sixties", changes(odd, shots, **more))


def two_of(odd: bool) -> tuple[str, str]:
    return (ODD_NAMES[3], ODD_NAMES[0]) if odd else ("follow", "halves")


@lru_cache
def compared(odd: bool) -> Comparison:
    return sim.compare(scenario_of(odd, 1024))


@lru_cache
def doubted(odd: bool) -> Any:
    speeds = np.random.default_rng(7).normal(36.0, 4.0, 12)
    settings = [
        scenario_of(odd, 32, opponents={"drive": {"speed": f"{speed:.2f} mph"}}) for speed in speeds
    ]
    sources = [("drives.csv", ("opponents.drive.speed.mean",))]
    return uncertainty(scenario_of(odd, 512), settings, sources)


def comparison_figures(odd: bool, units: Units) -> Figures:
    return all_figures(compared(odd), units, doubted(odd))


@lru_cache
def approached(odd: bool) -> Any:
    # One return direction has a layout of its own.
    directions = ["cross"] if odd else ["line", "cross"]
    return approach(scenario_of(odd, 48, return_of_serve={"directions": directions}))


@lru_cache
def contested(odd: bool) -> Any:
    return contest(scenario_of(odd, 64), grid=False)


@lru_cache
def placed(odd: bool) -> Any:
    return find(scenario_of(odd, 160), Wish(in_time=0.0, grid=3.0, shots=160))


@lru_cache
def doubtful(odd: bool) -> Any:
    pair = two_of(odd)
    scenario = only_between(build(FILE, changes(odd, 48)), *pair)
    make = changer(FILE, changes(odd, 48))
    keys = ["opponents.drive.speed.mean", "pair.both.top_speed", "pair.both.full_stretch"]
    inputs = inputs_of(usual_inputs(scenario, make), [], [], keys)
    return sensitivity(
        scenario, inputs, lambda values: only_between(make(values), *pair), "in_control", 16
    )


@lru_cache
def swept(odd: bool, *vary: str) -> Any:
    changed = changes(odd, 64)
    return sweep(plan(FILE, changed, build(FILE, changed), vary, ()))


SPACING = "spacing=4:12:1 ft"
LEGS = "pair.both.top_speed=9:15:1 ft/s"
SPEED = "opponents.drive.speed.mean=30:50:4 mph"


def sweep_figures(odd: bool, units: Units) -> Figures:
    yield "curve", sweep_figure(swept(odd, SPACING))
    yield "curve-of-the-world", sweep_figure(swept(odd, LEGS))
    yield "differences", differences_figure(swept(odd, LEGS))
    yield "map", map_figure(swept(odd, SPACING, "shift=0:1:0.25"))
    yield "map-of-choices", map_figure(swept(odd, SPACING, SPEED))
    yield "map-of-the-world", map_figure(swept(odd, LEGS, SPEED))


@lru_cache
def fitted() -> tuple[Any, Any, Any]:
    chart = read_chart(CHARTS / "tuesday.csv", THIRD_SHOTS).rows
    shots = fit_shots(FILE, {"run": {"shots": 128}}, chart)
    dashes = [
        {"player": player, "distance": feet, "seconds": time, "direction": way, "reaction": None}
        for player in ("left", "right")
        for feet, time, way in (
            (5.0, 1.0, "forward"),
            (10.0, 1.5, "forward"),
            (15.0, 2.1, "forward"),
            (8.0, 1.6, "sideways"),
            (8.0, 2.0, "backwards"),
        )
    ]
    reach = fit_reach(FILE, {}, "right", 67.0 / 12.0, np.array([69.0, 70.0, 71.0]) / 12.0)
    return shots, fit_runs(FILE, {}, dashes), reach


def fit_figures(odd: bool, units: Units) -> Figures:
    shots, runs, reach = fitted()
    if odd:
        shots = replace(shots, like=shots.like.model_copy(update={"name": ODD["name"]}))
    yield "fit-shots", shots_figure(shots, units)
    yield "fit-runs", runs_figure(runs, units)
    yield "fit-reach", reach_figure(reach, units)


# By name, what makes figures: whether names are odd, and units, to figures with their file stems.
MAKERS: dict[str, Callable[[bool, Units], Figures]] = {
    "comparison": comparison_figures,
    "approach": lambda odd, units: approach_figures(approached(odd), units),
    "counter": lambda odd, units: counter_figures(contested(odd)),
    "positions": lambda odd, units: place_figures(placed(odd), units),
    "sensitivity": lambda odd, units: [("tornado", tornado_figure(doubtful(odd), units))],
    "sweep": sweep_figures,
    "fit": fit_figures,
    "validation": lambda odd, units: estimated(),
    "validation, calculated": lambda odd, units: calculated(),
}
# Makers whose figures have courts from above; and those that show no estimates.
WITH_COURTS = {"comparison", "approach", "positions"}
WITHOUT_ESTIMATES = {"validation, calculated"}
