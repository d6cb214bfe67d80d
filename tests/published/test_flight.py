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

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from sim import rallies
from sim.ball import GRAVITY, Ball, make_ball
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
from sim.units import KILOGRAMS_PER_OUNCE, METRES_PER_FOOT

BALL = make_ball(
    mass=0.8575 * KILOGRAMS_PER_OUNCE,
    diameter=2.92 / 12.0,
    drag_coefficient=0.33,
    lift_slope=0.195,
    density=1.204,
)
PER_METRE = BALL.drag / METRES_PER_FOOT
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


def test_drag_per_metre_and_terminal_speed() -> None:
    # Computed: K = 0.03531 /m, terminal speed 16.669 m/s at g 9.81.
    assert round(PER_METRE, 5) == 0.03531
    assert round(math.sqrt(ROUNDED_GRAVITY / PER_METRE), 3) == 16.669


def drop(height: float, gravity: float) -> tuple[float, float]:
    """Speed and time of a fall from rest."""
    terminal = math.sqrt(gravity / PER_METRE)
    rate = gravity * height / terminal**2
    speed = terminal * math.sqrt(1.0 - math.exp(-2.0 * rate))
    return speed, terminal / gravity * math.acosh(math.exp(rate))


def test_drop_of_78_inches() -> None:
    height = 78.0 * 0.0254
    # Computed at g 9.81: 6.023 m/s after 0.6430 s.
    speed, time = drop(height, ROUNDED_GRAVITY)
    assert (round(speed, 3), round(time, 4)) == (6.023, 0.6430)
    flight, landing = flight_in_metres(height, 0.0, 0.0)
    speed = -float(flight.velocity(one(landing))[2][0]) * METRES_PER_FOOT
    assert (speed, landing) == pytest.approx(drop(height, STANDARD_GRAVITY), rel=RELATIVE)


def straight_up(speed: float, gravity: float) -> tuple[float, float, float]:
    """Height, time up, and speed back at the start."""
    terminal = math.sqrt(gravity / PER_METRE)
    ratio = (speed / terminal) ** 2
    height = terminal**2 / (2.0 * gravity) * math.log1p(ratio)
    return height, terminal / gravity * math.atan(speed / terminal), speed / math.sqrt(1.0 + ratio)


def test_straight_up_at_ten_metres_a_second() -> None:
    # Computed at g 9.81: 4.3535 m high after 0.9182 s, back down at 8.575 m/s.
    height, time_up, speed_back = straight_up(10.0, ROUNDED_GRAVITY)
    assert (round(height, 4), round(time_up, 4), round(speed_back, 3)) == (4.3535, 0.9182, 8.575)

    flight, landing = flight_in_metres(0.0, 10.0, math.pi / 2.0)
    top = time_of_top(flight)
    found = (
        float(flight.position(top)[2][0]) * METRES_PER_FOOT,
        float(top[0]),
        -float(flight.velocity(one(landing))[2][0]) * METRES_PER_FOOT,
    )
    expected = straight_up(10.0, STANDARD_GRAVITY)
    assert found[0] == pytest.approx(expected[0], rel=RELATIVE)
    assert found[1] == pytest.approx(expected[1], rel=RELATIVE)
    assert found[2] == pytest.approx(expected[2], rel=RELATIVE)


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


@pytest.mark.parametrize(
    ("speed", "elevation"), [(16.0, 15.0), (8.0, 50.0), (22.0, 5.0), (12.0, 35.0), (10.0, 1.0)]
)
def test_flight_against_the_exact_hodograph(speed: float, elevation: float) -> None:
    exact = Hodograph(speed, math.radians(elevation), STANDARD_GRAVITY)
    flight, landing = flight_in_metres(0.0, speed, math.radians(elevation))
    _, y, _ = flight.position(one(landing))
    _, vy, vz = (float(part[0]) * METRES_PER_FOOT for part in flight.velocity(one(landing)))
    top = time_of_top(flight)
    found = {
        "range": -float(y[0]) * METRES_PER_FOOT,
        "time": landing,
        "apex": float(flight.position(top)[2][0]) * METRES_PER_FOOT,
        "landing speed": math.hypot(vy, vz),
        "landing direction": math.atan2(vz, -vy),
    }
    end = exact.landing_direction()
    expected = {
        "range": exact.distance(end),
        "time": exact.time(end),
        "apex": exact.height(0.0),
        "landing speed": exact.speed_at(end),
        "landing direction": end,
    }
    assert found == pytest.approx(expected, rel=RELATIVE)
    speed_at_top = -float(flight.velocity(one(exact.time(0.0)))[1][0]) * METRES_PER_FOOT
    assert speed_at_top == pytest.approx(exact.speed_at(0.0), rel=RELATIVE)


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
