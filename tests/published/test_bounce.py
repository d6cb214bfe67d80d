"""The bounce against the limits of the grip-slip model and the equipment standard's rebound.

Cross 2002, Am. J. Phys. 70:1093, doi 10.1119/1.1507792 (abstract read): balls that come in low
slide throughout, steeper ones grip. The limits below follow from the impulse equations of a thin
hollow sphere (inertia factor 2/3) and were computed (certainty: computed).
"""

from __future__ import annotations

import math
from functools import partial

import numpy as np
import pytest
from scipy.optimize import brentq

from sim.ball import GRAVITY, Ball, air_density, make_ball
from sim.bounce import bounce
from sim.flight import Launch, falling_time, fly, time_falling_to, time_of_top
from sim.scenario import BallInPlay
from tests.published.check import Check, Property, Range, Source
from tests.published.test_ball_and_air import EQUIPMENT_STANDARD, ROUNDED

RADIUS = 1.46 / 12.0


def ball_with(restitution: float, friction: float) -> Ball:
    return make_ball(
        mass=0.0243,
        diameter=2.0 * RADIUS,
        drag_coefficient=0.33,
        lift_slope=0.195,
        density=air_density(20.0, 0.0),
        restitution=restitution,
        friction=friction,
    )


def bounced(degrees: float, spin: float, ball: Ball, speed: float = 30.0) -> Launch:
    """Bounce one ball that comes in at an angle from the court, along -y."""
    level, down = speed * math.cos(math.radians(degrees)), speed * math.sin(math.radians(degrees))
    return bounce(np.zeros(1), np.array([-level]), np.array([-down]), np.array([spin]), ball)


def kept_by_a_spinless_ball_that_grips() -> list[float]:
    """What is left of the ground speed, as parts, after coming in at three angles."""
    ball = ball_with(0.64, 0.6)
    return [
        float(-bounced(degrees, 0.0, ball).y[0] / (30.0 * math.cos(math.radians(degrees))))
        for degrees in (25.0, 45.0, 70.0)
    ]


def test_spinless_ball_that_grips_rolls() -> None:
    ball = ball_with(0.64, 0.6)
    for degrees in (25.0, 45.0, 70.0):
        after = bounced(degrees, 0.0, ball)
        assert after.spin[0] * ball.radius == pytest.approx(-after.y[0])


def angle_between_sliding_and_gripping(friction: float) -> float:
    """Degrees from the court; below it a spinless ball slides, above it grips."""
    ball = ball_with(0.64, friction)

    def slips(angle: float) -> float:
        after = bounced(angle, 0.0, ball)
        return float(-after.y[0] - after.spin[0] * ball.radius) - 1e-9

    return float(brentq(slips, 5.0, 80.0))


def test_sliding_ball_loses_the_friction_impulse() -> None:
    # Coulomb friction over the whole bounce: the speed falls by mu (1 + e) times the speed down.
    ball = ball_with(0.66, 0.5)
    after = bounced(10.0, 0.0, ball)
    level, down = 30.0 * math.cos(math.radians(10.0)), 30.0 * math.sin(math.radians(10.0))
    assert -after.y[0] == pytest.approx(level - 0.5 * 1.66 * down)
    assert after.z[0] == pytest.approx(0.66 * down)


def test_angular_momentum_about_the_contact_is_kept() -> None:
    # Friction acts at the contact point, so that v + (2/3) r w does not change, sliding or
    # gripping.
    ball = ball_with(0.66, 0.5)
    for degrees in (8.0, 20.0, 35.0, 60.0):
        for spin in (-150.0, -20.0, 0.0, 80.0, 300.0):
            before = 30.0 * math.cos(math.radians(degrees)) + 2.0 / 3.0 * ball.radius * spin
            after = bounced(degrees, spin, ball)
            moment = -after.y[0] + 2.0 / 3.0 * ball.radius * after.spin[0]
            assert moment == pytest.approx(before), (degrees, spin)


def test_topspin_that_outruns_the_ball_speeds_it_up() -> None:
    ball = ball_with(0.66, 0.5)
    fast_spin = 2.0 * 30.0 / ball.radius
    after = bounced(20.0, fast_spin, ball)
    assert -after.y[0] > 30.0 * math.cos(math.radians(20.0))
    assert after.spin[0] < fast_spin


def rebound_in_inches(restitution: float) -> float:
    """Height of the rebound after a drop of 78 in through air."""
    ball, zero = ball_with(restitution, 0.5), np.zeros(1)
    still, height = Launch(zero, zero, zero, zero), np.array([78.0 / 12.0])
    fall = fly(zero, zero, height, still, ball, falling_time(height, still, ball), 8)
    after = bounce(*fall.velocity(time_falling_to(fall, 0.0)), zero, ball)
    rise = fly(zero, zero, zero, after, ball, falling_time(zero, after, ball), 8)
    return float(rise.position(time_of_top(rise))[2][0]) * 12.0


def restitution_of_rebound(inches: float) -> float:
    return float(brentq(lambda e: rebound_in_inches(e) - inches, 0.5, 0.9))


def rebound_without_air(restitution: float) -> float:
    """Height of the rebound (in) after a drop of 78 in."""
    thin = Ball(drag=1e-9, magnus=0.0, radius=RADIUS, restitution=restitution, friction=0.5)
    down = math.sqrt(2.0 * GRAVITY * 78.0 / 12.0)
    after = bounce(np.zeros(1), np.zeros(1), np.array([-down]), np.zeros(1), thin)
    return float(after.z[0] ** 2 / (2.0 * GRAVITY)) * 12.0


CROSS = Source("Cross 2002", "read")
HOLLOW_SPHERE = Source("Impulse on a thin hollow sphere", "computed")
REBOUND = Source("Rebound with drag 0.33", "computed")
CHECKS = [
    Check(
        "ground speed kept by a spinless ball that grips",
        HOLLOW_SPHERE,
        0.6,
        lambda: max(kept_by_a_spinless_ball_that_grips(), key=lambda part: abs(part - 0.6)),
        allowed=6e-7,
        why="rounding of the arithmetic; the worst of three angles",
        decimals=3,
    ),
    # Slides where tan(angle from the court) < 0.4 / (mu (1 + e)).
    *(
        Check(
            f"angle between sliding and gripping, friction {friction}",
            HOLLOW_SPHERE,
            degrees,
            partial(angle_between_sliding_and_gripping, friction),
            allowed=0.5,
            why=ROUNDED,
            unit="°",
            decimals=1,
        )
        for friction, degrees in ((0.3, 39.0), (0.5, 26.0), (0.6, 22.0))
    ),
    *(
        Check(
            f"restitution that a rebound of {inches} in from 78 in asks for",
            REBOUND,
            restitution,
            partial(restitution_of_rebound, inches),
            allowed=5e-4,
            why=ROUNDED,
            decimals=3,
        )
        for inches, restitution in ((30, 0.651), (32, 0.673), (34, 0.694))
    ),
    Check(
        "rebound from 78 in at restitution 0.62 without air",
        Source("Square of the restitution", "computed"),
        30.0,
        lambda: rebound_without_air(0.62),
        allowed=0.05,
        why=ROUNDED,
        unit="in",
        decimals=1,
    ),
    Check(
        "rebound of the default ball from 78 in",
        EQUIPMENT_STANDARD,
        Range(30.0, 34.0),
        lambda: rebound_in_inches(BallInPlay().restitution),
        unit="in",
        decimals=1,
        origin="set to fit",
    ),
]
PROPERTIES = [
    Property(
        "A flat ball slides, and loses the impulse of friction over the whole bounce.",
        CROSS,
        test_sliding_ball_loses_the_friction_impulse,
    ),
    Property(
        "A spinless ball that grips leaves rolling.",
        HOLLOW_SPHERE,
        test_spinless_ball_that_grips_rolls,
    ),
    Property(
        "Angular momentum about the point of contact is kept.",
        HOLLOW_SPHERE,
        test_angular_momentum_about_the_contact_is_kept,
    ),
]
