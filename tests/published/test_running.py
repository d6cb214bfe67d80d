"""Running and reacting against published values.

Model: ``v = V (1 - exp(-t / tau))``, Furusawa, Hill and Parkinson 1927; Samozino et al. 2016;
``tau`` is about 1 s across levels (Clark and Ryan 2022; quoted).
"""

from __future__ import annotations

from functools import cache, partial

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq, curve_fit

from sim.court import Array
from sim.players import AGE_GROUPS, Player
from sim.run_in import straight_run
from sim.scenario import RunIn
from sim.units import METRES_PER_FOOT, parse_quantity
from tests.published.check import Check, Property, Range, Source
from tests.published.test_ball_and_air import ROUNDED


def runner(top_speed: float, time_constant: float) -> Player:
    """A player with legs in m/s and s, beyond the limits of scenarios if need be."""
    legs = {"top_speed": top_speed / METRES_PER_FOOT, "time_constant": time_constant}
    return Player().model_copy(update=legs)


def metres_run(top_speed: float, time_constant: float, time: Array) -> Array:
    return straight_run(runner(top_speed, time_constant), time) * METRES_PER_FOOT


def time_to_run(top_speed: float, time_constant: float, metres: float) -> float:
    """Seconds from a standing start, without reaction."""

    def missing(time: float) -> float:
        return float(metres_run(top_speed, time_constant, np.array([time]))[0]) - metres

    return float(brentq(missing, 0.1, 15.0))


# Computed from the run equation: m/s, s, m and the time it takes.
SHORT_SPRINTS = [
    (6.0, 1.0, 4.57, 1.549),
    (6.0, 1.0, 5.0, 1.639),
    (4.0, 0.8, 4.57, 1.865),
    (4.0, 0.8, 5.0, 1.983),
]


def test_distance_is_the_integral_of_the_speed() -> None:
    for time in (0.05, 0.4, 1.0, 3.0):
        expected = quad(lambda t: 5.0 * (1.0 - np.exp(-t / 0.9)), 0.0, time)[0]
        assert metres_run(5.0, 0.9, np.array([time]))[0] == pytest.approx(expected, rel=1e-9)
    assert metres_run(5.0, 0.9, np.array([-1.0, 0.0])).tolist() == [0.0, 0.0]


# 100 m final, Berlin 2009: the winner's times (s) at these marks (m), reaction included. He ran the
# fastest 20 m, from 60 to 80 m, in 1.61 s: 12.4 m/s on average, and less before and after.
SPLIT_MARKS = np.array([20.0, 40.0, 60.0, 80.0, 100.0])
SPLITS = np.array([2.89, 4.64, 6.31, 7.92, 9.58])
SPRINTER_REACTION = 0.146


@cache
def sprinter() -> tuple[float, float]:
    """Top speed (m/s) and time constant (s) by least squares from the splits."""

    def model(time: Array, top_speed: float, time_constant: float) -> Array:
        return metres_run(top_speed, time_constant, time - SPRINTER_REACTION)

    (top_speed, time_constant), _ = curve_fit(model, SPLITS, SPLIT_MARKS, p0=(11.0, 1.0))
    return float(top_speed), float(time_constant)


def worst_split() -> float:
    """The farthest (s) that the fitted run is from one of the splits."""
    times = [time_to_run(*sprinter(), metres) for metres in SPLIT_MARKS]
    return float(np.abs(np.array(times) + SPRINTER_REACTION - SPLITS).max())


def reactions() -> dict[str, float]:
    return {
        group: parse_quantity(values["reaction"], "time") for group, values in AGE_GROUPS.items()
    }


def fastest_default() -> float:
    """Top speed (m/s) of the fastest age group."""
    fastest = max(parse_quantity(values["top_speed"], "speed") for values in AGE_GROUPS.values())
    return float(fastest) * METRES_PER_FOOT


RUN_EQUATION = Source("Run equation of Furusawa, Hill and Parkinson 1927", "computed")
BERLIN = Source("100 m final, Berlin 2009, splits", "from memory")
CLARK_AND_RYAN = Source("Clark and Ryan 2022", "quoted")
UZU = Source("Uzu, Shinya and Oda 2009", "read")
WOODS = Source("Woods et al. 2015", "read")
KORHONEN = Source("Korhonen et al. 2003", "read")
CHECKS = [
    *(
        Check(
            f"{metres:g} m with {top_speed:g} m/s and {time_constant:g} s",
            RUN_EQUATION,
            seconds,
            partial(time_to_run, top_speed, time_constant, metres),
            allowed=5e-4,
            why=ROUNDED,
            unit="s",
            decimals=3,
        )
        for top_speed, time_constant, metres, seconds in SHORT_SPRINTS
    ),
    Check(
        "an elite sprint: farthest that the fitted run is from a split",
        BERLIN,
        0.0,
        worst_split,
        allowed=0.03,
        why="the equation knows no slowing down at the end",
        unit="s",
        decimals=3,
    ),
    Check(
        "an elite sprint: time constant",
        CLARK_AND_RYAN,
        Range(0.8, 1.5),
        lambda: sprinter()[1],
        why="“about 1 s across levels”; the range is ours",
        unit="s",
    ),
    Check(
        "an elite sprint: top speed",
        BERLIN,
        Range(11.5, 13.0),
        lambda: sprinter()[0],
        why="20 m at 12.4 m/s on average; the range is ours",
        unit="m/s",
    ),
    Check(
        "gain of a split step",
        UZU,
        0.868 - 0.764,
        lambda: RunIn().late_without_split_step,
        allowed=1e-7,
        why="rounding of the arithmetic",
        unit="s",
        decimals=3,
        origin="taken over",
    ),
    # Simple reactions lengthen by the lower rate, choices of two by the higher.
    Check(
        "reaction: slower for each year from the thirties to the sixties",
        WOODS,
        Range(0.55, 2.80),
        lambda: 1000.0 * (reactions()["sixties"] - reactions()["thirties"]) / 30.0,
        why="simple reactions and choices of two",
        unit="ms",
        origin="set to fit",
    ),
    Check(
        "shortest reaction of an age group",
        WOODS,
        Range(low=0.213),
        lambda: min(reactions().values()),
        why="a simple reaction is quicker than a choice",
        unit="s",
        decimals=3,
        origin="set to fit",
    ),
    Check(
        "top speed of the fastest age group",
        KORHONEN,
        Range(high=12.2 * 0.95**3),
        fastest_default,
        why="the 12.2 m/s of an elite sprint, 5 % less for each of three decades",
        unit="m/s",
        decimals=1,
        origin="set to fit",
    ),
]
PROPERTIES = [
    Property(
        "Distance is the integral of the speed.",
        RUN_EQUATION,
        test_distance_is_the_integral_of_the_speed,
    ),
]
