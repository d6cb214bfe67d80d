"""Flight against the closed forms of quadratic drag.

Sources: the closed forms are textbook results of the equation ``dv/dt = -g - K |v| v``. The figures
beside them were computed from those forms for rho 1.204 kg/m3, diameter 2.92 in, mass 0.8575 oz,
Cd 0.33 and g 9.81 m/s2 (certainty: computed), which gives K = 0.03531 /m and a terminal speed of
16.669 m/s. The package's own gravity is the standard 9.80665 m/s2, so each formula is first held
against its figures at 9.81 and then against the package at 9.80665.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache, partial

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from sim import rallies
from sim.ball import GRAVITY, Ball
from sim.court import Array
from sim.flight import (
    Flight,
    Launch,
    falling_time,
    fly,
    time_at_line,
    time_falling_to,
    time_of_top,
)
from sim.units import METRES_PER_FOOT
from tests.published.check import Check, Property, Source
from tests.published.test_ball_and_air import ball_of_the_examples, drag_per_metre

BALL = ball_of_the_examples()
PER_METRE = drag_per_metre()
STANDARD_GRAVITY = 9.80665
ROUNDED_GRAVITY = 9.81
# What a flight in the engine's number of steps may be off.
RELATIVE = 1e-4


def one(value: float) -> Array:
    return np.array([float(value)])


def flight_in_metres(
    height: float, speed: float, elevation: float, ball: Ball = BALL
) -> tuple[Flight, float]:
    """Fly one ball towards -y with the engine's number of steps; also its landing time (s)."""
    feet = speed / METRES_PER_FOOT
    launch = Launch(
        one(0.0), one(-feet * math.cos(elevation)), one(feet * math.sin(elevation)), one(0.0)
    )
    z = one(height / METRES_PER_FOOT)
    flight = fly(
        one(0.0),
        one(0.0),
        z,
        launch,
        ball,
        falling_time(z, launch, ball),
        rallies._STEPS_TO_GROUND,
    )
    return flight, float(time_falling_to(flight, 0.0)[0])


def drop(height: float, gravity: float) -> tuple[float, float]:
    """Speed and time of a fall from rest."""
    terminal = math.sqrt(gravity / PER_METRE)
    rate = gravity * height / terminal**2
    speed = terminal * math.sqrt(1.0 - math.exp(-2.0 * rate))
    return speed, terminal / gravity * math.acosh(math.exp(rate))


DROP_HEIGHT = 78.0 * 0.0254  # m, as the equipment standard has it


def test_formula_of_the_drop_gives_the_noted_figures() -> None:
    # Computed at g 9.81: 6.023 m/s after 0.6430 s.
    speed, time = drop(DROP_HEIGHT, ROUNDED_GRAVITY)
    assert (round(speed, 3), round(time, 4)) == (6.023, 0.6430)


@cache
def dropped() -> tuple[float, float]:
    """Speed (m/s) and time (s) of the package's fall from rest."""
    flight, landing = flight_in_metres(DROP_HEIGHT, 0.0, 0.0)
    return -float(flight.velocity(one(landing))[2][0]) * METRES_PER_FOOT, landing


def straight_up(speed: float, gravity: float) -> tuple[float, float, float]:
    """Height, time up, and speed back at the start."""
    terminal = math.sqrt(gravity / PER_METRE)
    ratio = (speed / terminal) ** 2
    height = terminal**2 / (2.0 * gravity) * math.log1p(ratio)
    return height, terminal / gravity * math.atan(speed / terminal), speed / math.sqrt(1.0 + ratio)


UPWARDS = 10.0  # m/s


def test_formula_of_the_rise_gives_the_noted_figures() -> None:
    # Computed at g 9.81: 4.3535 m high after 0.9182 s, back down at 8.575 m/s.
    height, time_up, speed_back = straight_up(UPWARDS, ROUNDED_GRAVITY)
    assert (round(height, 4), round(time_up, 4), round(speed_back, 3)) == (4.3535, 0.9182, 8.575)


@cache
def struck_straight_up() -> tuple[float, float, float]:
    """Height (m), time up (s) and speed back at the start (m/s) of the package's flight."""
    flight, landing = flight_in_metres(0.0, UPWARDS, math.pi / 2.0)
    top = time_of_top(flight)
    return (
        float(flight.position(top)[2][0]) * METRES_PER_FOOT,
        float(top[0]),
        -float(flight.velocity(one(landing))[2][0]) * METRES_PER_FOOT,
    )


@dataclass(frozen=True)
class Hodograph:
    """The exact flight under quadratic drag, with the direction of flight as the variable.

    ``V(th) = V0 cos th0 / (cos th sqrt(1 + k V0^2 cos^2 th0 (f(th0) - f(th))))`` with ``k = K/g``
    and ``f(th) = sin th / cos^2 th + ln tan(th/2 + pi/4)``; distance, height and time are integrals
    of ``V^2``, ``V^2 tan`` and ``V / cos`` over the direction.
    """

    speed: float
    elevation: float
    gravity: float

    def speed_at(self, direction: float) -> float:
        def f(angle: float) -> float:
            return math.sin(angle) / math.cos(angle) ** 2 + math.log(
                math.tan(angle / 2.0 + math.pi / 4.0)
            )

        level = self.speed * math.cos(self.elevation)
        growth = PER_METRE / self.gravity * level**2 * (f(self.elevation) - f(direction))
        return level / (math.cos(direction) * math.sqrt(1.0 + growth))

    def _sum(self, rate: object, direction: float) -> float:
        return quad(rate, direction, self.elevation, epsabs=1e-12, epsrel=1e-12)[0] / self.gravity

    def distance(self, direction: float) -> float:
        return self._sum(lambda th: self.speed_at(th) ** 2, direction)

    def height(self, direction: float) -> float:
        return self._sum(lambda th: self.speed_at(th) ** 2 * math.tan(th), direction)

    def time(self, direction: float) -> float:
        return self._sum(lambda th: self.speed_at(th) / math.cos(th), direction)

    def landing_direction(self) -> float:
        return brentq(self.height, -1.55, -1e-6, xtol=1e-13)


def test_hodograph_gives_the_published_figures() -> None:
    # Computed at g 9.81 for 16 m/s at 15 deg, landing at launch height.
    exact = Hodograph(16.0, math.radians(15.0), ROUNDED_GRAVITY)
    landing = exact.landing_direction()
    assert round(exact.distance(landing), 4) == 10.0981
    assert round(exact.time(landing), 5) == 0.78703
    assert round(exact.height(0.0), 5) == 0.76218
    assert round(exact.speed_at(0.0), 4) == 12.7637
    assert round(exact.speed_at(landing), 3) == 11.368
    # `solve_ivp` at a tolerance of 1e-12 gives -18.792 deg too.
    assert round(math.degrees(landing), 2) == -18.79


MEASURES = {
    "distance to the landing": "m",
    "time to the landing": "s",
    "greatest height": "m",
    "speed at the top": "m/s",
    "speed at the landing": "m/s",
    "direction at the landing": "°",
}


@cache
def exact_measures(speed: float, elevation: float) -> dict[str, float]:
    """`MEASURES` of a flight by the hodograph, from m/s and degrees."""
    exact = Hodograph(speed, math.radians(elevation), STANDARD_GRAVITY)
    end = exact.landing_direction()
    values = (
        exact.distance(end),
        exact.time(end),
        exact.height(0.0),
        exact.speed_at(0.0),
        exact.speed_at(end),
        math.degrees(end),
    )
    return dict(zip(MEASURES, values, strict=True))


@cache
def flown_measures(speed: float, elevation: float) -> dict[str, float]:
    """The same of the package's flight; the speed at the top is that at the hodograph's time."""
    exact = Hodograph(speed, math.radians(elevation), STANDARD_GRAVITY)
    flight, landing = flight_in_metres(0.0, speed, math.radians(elevation))
    _, y, _ = flight.position(one(landing))
    _, vy, vz = (float(part[0]) * METRES_PER_FOOT for part in flight.velocity(one(landing)))
    values = (
        -float(y[0]) * METRES_PER_FOOT,
        landing,
        float(flight.position(time_of_top(flight))[2][0]) * METRES_PER_FOOT,
        -float(flight.velocity(one(exact.time(0.0)))[1][0]) * METRES_PER_FOOT,
        math.hypot(vy, vz),
        math.degrees(math.atan2(vz, -vy)),
    )
    return dict(zip(MEASURES, values, strict=True))


@pytest.mark.parametrize(
    ("speed", "elevation"), [(8.0, 50.0), (22.0, 5.0), (12.0, 35.0), (10.0, 1.0)]
)
def test_other_flights_against_the_exact_hodograph(speed: float, elevation: float) -> None:
    expected = exact_measures(speed, elevation)
    assert flown_measures(speed, elevation) == pytest.approx(expected, rel=RELATIVE)


def test_without_drag_spin_or_wind_the_flight_is_a_parabola() -> None:
    # Galilei's parabola; with next to no drag four steps are as exact as more.
    empty = Ball(drag=1e-12, magnus=0.0, radius=0.12, restitution=0.66, friction=0.5)
    launch = Launch(one(8.0), one(-40.0), one(12.0), one(300.0))
    z = one(2.5)
    flight = fly(one(1.0), one(24.0), z, launch, empty, falling_time(z, launch, empty), 4)
    landing = time_falling_to(flight, 0.0)
    fall = (12.0 + math.sqrt(12.0**2 + 2.0 * GRAVITY * 2.5)) / GRAVITY
    assert landing[0] == pytest.approx(fall, rel=1e-9)
    x, y, _ = flight.position(landing)
    assert (x[0], y[0]) == pytest.approx((1.0 + 8.0 * fall, 24.0 - 40.0 * fall), rel=1e-9)
    assert time_at_line(flight, 0.0)[0] == pytest.approx(24.0 / 40.0, rel=1e-9)
    top = time_of_top(flight)
    assert top[0] == pytest.approx(12.0 / GRAVITY, rel=1e-9)
    assert flight.position(top)[2][0] == pytest.approx(2.5 + 12.0**2 / (2.0 * GRAVITY), rel=1e-9)


FALL = Source("Closed form of the fall with quadratic drag", "computed")
RISE = Source("Closed form of the rise with quadratic drag", "computed")
HODOGRAPH = Source("Exact hodograph of quadratic drag", "computed")
PARABOLA = Source("Galilei's parabola", "computed")
CHECKS = [
    Check(
        quantity,
        source,
        partial(lambda closed_form, place: closed_form()[place], closed_form, place),
        partial(lambda flown, place: flown()[place], flown, place),
        allowed=RELATIVE,
        relative=True,
        why="its few large steps",
        unit=unit,
        decimals=4,
    )
    for source, closed_form, flown, quantities in (
        (
            FALL,
            lambda: drop(DROP_HEIGHT, STANDARD_GRAVITY),
            dropped,
            (("speed after a drop of 78 in", "m/s"), ("time of a drop of 78 in", "s")),
        ),
        (
            RISE,
            lambda: straight_up(UPWARDS, STANDARD_GRAVITY),
            struck_straight_up,
            (
                ("height of a ball struck straight up at 10 m/s", "m"),
                ("time to the top of a ball struck straight up at 10 m/s", "s"),
                ("speed back at the start of a ball struck straight up at 10 m/s", "m/s"),
            ),
        ),
        (
            HODOGRAPH,
            lambda: tuple(exact_measures(16.0, 15.0).values()),
            lambda: tuple(flown_measures(16.0, 15.0).values()),
            tuple((f"16 m/s at 15°: {name}", unit) for name, unit in MEASURES.items()),
        ),
    )
    for place, (quantity, unit) in enumerate(quantities)
]
PROPERTIES = [
    Property(
        "Four more flights, slow and fast, flat and steep, are the hodograph's to 0.01 %.",
        HODOGRAPH,
        test_other_flights_against_the_exact_hodograph,
    ),
    Property(
        "Without drag, spin and wind the flight is a parabola.",
        PARABOLA,
        test_without_drag_spin_or_wind_the_flight_is_a_parabola,
    ),
]
