"""Air density, drag coefficients and the speed a ball loses, against published values."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from sim.ball import GRAVITY, Ball, air_density, make_ball
from sim.flight import Launch, fly, time_at_line
from sim.scenario import BallInPlay
from sim.units import KILOGRAMS_PER_OUNCE, METRES_PER_FOOT

MPH = 5280.0 / 3600.0


def ball_of_kind(kind: str) -> Ball:
    wanted = BallInPlay.model_validate({"kind": kind})
    return make_ball(
        mass=wanted.mass,
        diameter=wanted.diameter,
        drag_coefficient=wanted.drag,
        lift_slope=wanted.lift_slope,
        density=air_density(20.0, 0.0),
    )


# ISO 2533 standard atmosphere (memory): density 1.225 kg/m3 at 15 C at sea level; at geopotential
# altitudes of 1000, 2000 and 3000 m 1.1116, 1.0065 and 0.9091 kg/m3 at 8.5, 2.0 and -4.5 C. At 20 C
# and sea level 1.204 kg/m3 (computed).
@pytest.mark.parametrize(
    ("celsius", "metres", "density", "decimals"),
    [
        (15.0, 0.0, 1.225, 3),
        (20.0, 0.0, 1.204, 3),
        (8.5, 1000.0, 1.1116, 4),
        (2.0, 2000.0, 1.0065, 4),
        (-4.5, 3000.0, 0.9091, 4),
    ],
)
def test_air_density_of_the_standard_atmosphere(
    celsius: float, metres: float, density: float, decimals: int
) -> None:
    found = air_density(celsius, metres / METRES_PER_FOOT)
    assert found == pytest.approx(density, abs=0.5 * 10.0**-decimals)


def test_drag_and_terminal_speed_for_the_stated_constants() -> None:
    # Computed: rho 1.204, diameter 2.92 in, mass 0.8575 oz, Cd 0.33: K = 0.03531 /m; terminal speed
    # 16.669 m/s at g 9.81.
    ball = make_ball(
        mass=0.8575 * KILOGRAMS_PER_OUNCE,
        diameter=2.92 / 12.0,
        drag_coefficient=0.33,
        lift_slope=0.195,
        density=1.204,
    )
    per_metre = ball.drag / METRES_PER_FOOT
    assert per_metre == pytest.approx(0.03531, abs=5e-6)
    assert math.sqrt(9.81 / per_metre) == pytest.approx(16.669, abs=5e-4)


def test_standard_gravity() -> None:
    # 3rd General Conference on Weights and Measures, 1901: 9.80665 m/s2.
    metres = GRAVITY * METRES_PER_FOOT
    assert metres == pytest.approx(9.80665, rel=1e-12)


def test_default_ball_is_within_the_equipment_standard() -> None:
    # Equipment standard (quoted): 0.78-0.935 oz, 2.87-2.97 in.
    ball = BallInPlay()
    assert 0.78 <= ball.mass / KILOGRAMS_PER_OUNCE <= 0.935
    assert 2.87 <= ball.diameter * 12.0 <= 2.97


@pytest.mark.parametrize(("kind", "coefficient"), [("outdoor", 0.33), ("indoor", 0.45)])
def test_drag_coefficients(kind: str, coefficient: float) -> None:
    # Lindsey 2025, pickleball aerodynamics (quoted): 0.33 outdoor, 0.45 indoor.
    assert BallInPlay.model_validate({"kind": kind}).drag == coefficient


def test_lift_is_proportional_to_the_spin_parameter() -> None:
    # Steyn et al. 2025, arXiv:2501.00163 (quoted): lift coefficient 0.195 times the spin parameter
    # r w / v. Force over mass is rho A Cl v^2 / 2m = magnus * w * v in any units.
    ball, spin, speed = ball_of_kind("outdoor"), 120.0, 50.0
    radius, area = 1.46 * 0.0254, math.pi * (1.46 * 0.0254) ** 2
    metres = speed * METRES_PER_FOOT
    lift_coefficient = 0.195 * radius * spin / metres
    force = 0.5 * air_density(20.0, 0.0) * area * lift_coefficient * metres**2
    assert ball.magnus * spin * speed * METRES_PER_FOOT == pytest.approx(force / 0.0243, rel=1e-12)


def sixteen_feet_at_35_mph(kind: str) -> tuple[float, float]:
    """Speed on arrival (mph) and time (s) of a ball that arrives as high as it was struck."""
    zero, ball = np.zeros(1), ball_of_kind(kind)

    def arrival(elevation: float) -> tuple[float, float, float]:
        speed = 35.0 * MPH
        launch = Launch(
            zero, zero - speed * math.cos(elevation), zero + speed * math.sin(elevation), zero
        )
        flight = fly(zero, zero + 16.0, zero + 3.0, launch, ball, zero + 0.5, 8)
        time = time_at_line(flight, 0.0)
        pace = float(np.linalg.norm(flight.velocity(time)))
        return float(flight.position(time)[2][0]) - 3.0, pace / MPH, float(time[0])

    _, pace, time = arrival(brentq(lambda elevation: arrival(elevation)[0], 0.0, 0.5))
    return pace, time


def test_speed_loss_over_sixteen_feet() -> None:
    # 35 mph off the paddle, 28 mph on arrival 16 ft later, about 0.35 s: an exchange at the net
    # timed on video (technicalpickleball.net, read). The ball's kind is not said: the published
    # speed lies between the package's two kinds, and both meet the time to a twentieth of a second.
    outdoor, indoor = sixteen_feet_at_35_mph("outdoor"), sixteen_feet_at_35_mph("indoor")
    assert indoor[0] < 28.0 < outdoor[0]
    assert outdoor[1] == pytest.approx(0.35, abs=0.025)
    assert indoor[1] == pytest.approx(0.35, abs=0.025)
