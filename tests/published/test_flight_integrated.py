"""Flight with spin and wind against `scipy.integrate.solve_ivp` in three dimensions.

The reference is general-purpose: the equation of motion in SI units, DOP853 at a relative tolerance
of 1e-10 (`flight_by_adaptive_steps`). The package flies with the engine's own number of steps.

Landing within 0.01 ft, a twelfth of the ball's radius, is asked of the shots opponents strike: flat
ones at any speed, and steep ones at the speeds that keep them below some 25 ft. Fast and steep
together, a ball that goes 30 to 45 ft up, the engine's steps are too long for that: the last test
says by how much.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pytest

from sim import rallies
from sim.ball import Ball, make_ball
from sim.court import BASELINE, Array
from sim.flight import Flight, Launch, falling_time, fly, time_at_line, time_falling_to
from tests.published.flight_by_adaptive_steps import (
    METRES_PER_FOOT,
    Air,
    ReferenceFlight,
    fly_by_adaptive_steps,
)

MPH = 5280.0 / 3600.0
RPM = 2.0 * math.pi / 60.0
LANDING = 0.01  # ft, see above
BETWEEN_NODES = 0.01  # ft anywhere on the way, too


def one(value: float) -> Array:
    return np.array([float(value)])


@dataclass(frozen=True)
class Case:
    """A launch (ft, ft/s, rad/s) and a wind (ft/s over the ground)."""

    start: tuple[float, float, float]
    velocity: tuple[float, float, float]
    spin: float
    wind: tuple[float, float]

    def ball(self) -> Ball:
        return make_ball(
            mass=0.0243,
            diameter=2.92 / 12.0,
            drag_coefficient=0.33,
            lift_slope=0.195,
            density=1.204,
            wind_x=self.wind[0],
            wind_y=self.wind[1],
        )

    def flown(self) -> Flight:
        x, y, z = map(one, self.start)
        launch = Launch(*map(one, self.velocity), one(self.spin))
        duration = falling_time(z, launch, self.ball())
        return fly(x, y, z, launch, self.ball(), duration, rallies._STEPS_TO_GROUND)

    def reference(self) -> ReferenceFlight:
        wind = (self.wind[0] * METRES_PER_FOOT, self.wind[1] * METRES_PER_FOOT, 0.0)
        return fly_by_adaptive_steps(self.start, self.velocity, self.spin, Air(wind=wind))


def random_cases(
    seed: int, count: int, mph: tuple[float, float], degrees: tuple[float, float]
) -> Iterator[Case]:
    """Launches from all over the opponents' end, with any spin and wind."""
    random = np.random.default_rng(seed)
    for _ in range(count):
        speed = random.uniform(*mph) * MPH
        elevation = math.radians(random.uniform(*degrees))
        azimuth = math.radians(random.uniform(-35.0, 35.0))
        wind, wind_from = random.uniform(0.0, 15.0) * MPH, random.uniform(0.0, 2.0 * math.pi)
        yield Case(
            start=(random.uniform(-9.0, 9.0), random.uniform(14.0, 28.0), random.uniform(1.2, 3.5)),
            velocity=(
                speed * math.cos(elevation) * math.sin(azimuth),
                -speed * math.cos(elevation) * math.cos(azimuth),
                speed * math.sin(elevation),
            ),
            spin=random.uniform(-1500.0, 1500.0) * RPM,
            wind=(wind * math.cos(wind_from), wind * math.sin(wind_from)),
        )


def landing_miss(case: Case, flight: Flight, reference: ReferenceFlight) -> float:
    x, y, _ = flight.position(time_falling_to(flight, 0.0))
    true = reference.position(reference.landing_time)
    return math.hypot(x[0] - true[0], y[0] - true[1])


SHOTS = {
    "drive": ((25.0, 55.0), (-3.0, 15.0)),
    "drop": ((15.0, 30.0), (5.0, 45.0)),
    "lob": ((20.0, 38.0), (35.0, 60.0)),
}


@pytest.mark.parametrize("shot", SHOTS)
def test_third_shots_land_where_the_adaptive_integration_says(shot: str) -> None:
    mph, degrees = SHOTS[shot]
    for case in random_cases(11, 120, mph, degrees):
        flight, reference = case.flown(), case.reference()
        assert flight.duration[0] >= reference.landing_time, case
        assert landing_miss(case, flight, reference) < LANDING, case
        if math.isfinite(reference.net_time):
            # When the package says that the ball passes the net it truly does.
            passing = float(time_at_line(flight, 0.0)[0])
            assert abs(reference.position(passing)[1]) < LANDING, case


def test_interpolation_between_the_nodes() -> None:
    for case in random_cases(12, 40, (20.0, 34.0), (-3.0, 50.0)):
        flight, reference = case.flown(), case.reference()
        times = np.linspace(0.0, reference.landing_time, 41)
        for time in times:
            position = np.array(flight.position(one(time)))[:, 0]
            velocity = np.array(flight.velocity(one(time)))[:, 0]
            assert np.abs(position - reference.position(time)).max() < BETWEEN_NODES, case
            # 0.15 ft/s is half of one per cent of the slowest launch here.
            assert np.abs(velocity - reference.velocity(time)).max() < 0.15, case


def test_samples_are_the_interpolated_flight() -> None:
    case = next(random_cases(13, 1, (30.0, 30.0), (10.0, 10.0)))
    flight = case.flown()
    time, *position = flight.samples(6)
    assert time.shape == (6 * rallies._STEPS_TO_GROUND, 1)
    np.testing.assert_allclose(position, flight.position(time), atol=1e-12)


def test_spin_axis_is_square_to_the_flight_through_the_air() -> None:
    # A cross wind turns the direction through the air away from the direction over the ground. With
    # the axis square to the latter the ball would land elsewhere, by a distance this test can see.
    case = Case((0.0, 22.0, 2.5), (0.0, -50.0, 12.0), 1500.0 * RPM, (15.0 * MPH, 0.0))
    flight, reference = case.flown(), case.reference()
    assert landing_miss(case, flight, reference) < LANDING
    still = Case(case.start, (-15.0 * MPH, -50.0, 12.0), case.spin, (0.0, 0.0))
    drifted = np.array(still.flown().position(one(0.5)))[:, 0] + [15.0 * MPH * 0.5, 0.0, 0.0]
    np.testing.assert_allclose(np.array(flight.position(one(0.5)))[:, 0], drifted, atol=1e-3)


def test_topspin_brings_the_ball_down_and_backspin_holds_it_up() -> None:
    # Magnus force, direction as in Steyn et al. 2025, arXiv:2501.00163 (quoted).
    ranges = []
    for spin in (-1000.0, 0.0, 1000.0):
        case = Case((0.0, 22.0, 2.5), (0.0, -50.0, 10.0), spin * RPM, (0.0, 0.0))
        flight = case.flown()
        ranges.append(22.0 - float(flight.position(time_falling_to(flight, 0.0))[1][0]))
    assert ranges[0] > ranges[1] + 1.0 > ranges[2] + 2.0


def test_fast_and_steep_flights_are_known_to_be_less_exact() -> None:
    """The whole box of 15 to 55 mph and -3 to 60 deg, with winds of up to 15 mph.

    Of the balls that come down on the court 98 in 100 were within 0.01 ft when this was written,
    and the worst, a ball with backspin that goes 36 ft up against the wind, within 0.11 ft.
    Nineteen in twenty and a quarter of a foot are asked for. The call, in or out, agrees for 99 in
    100.
    """
    misses, agreed = [], []
    for case in random_cases(14, 200, (15.0, 55.0), (-3.0, 60.0)):
        flight, reference = case.flown(), case.reference()
        assert flight.duration[0] >= reference.landing_time, case
        miss = landing_miss(case, flight, reference)
        deep = bool(reference.position(reference.landing_time)[1] < -BASELINE)
        agreed.append(deep == (flight.position(time_falling_to(flight, 0.0))[1][0] < -BASELINE))
        if not deep:
            misses.append(miss)
    assert len(misses) > 80
    assert np.mean(agreed) >= 0.99
    assert np.mean(np.array(misses) < LANDING) >= 0.95
    assert max(misses) < 0.25
