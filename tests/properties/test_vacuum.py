"""Without drag, spin and wind a ball flies Galilei's parabola, however it is struck."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from sim.ball import GRAVITY, Ball
from sim.flight import Launch, fly, time_at_line, time_falling_to, time_of_top
from sim.intention import Striker, calm_over_net, calm_to_top, height_to_clear
from tests.properties.corners import corners

EMPTY: Final = Ball(drag=0.0, magnus=0.0, radius=0.12, restitution=0.66, friction=0.5)
# In ft and s. The flight is exact but for rounding; times come from Newton's method, which ends
# within 1e-9 of a flight of seconds.
EXACT: Final[dict[str, Any]] = {"rtol": 1e-9, "atol": 1e-9}

# Aiming keeps slopes that no striker needs (12 to 1) out: nearer to the net it falls short of them.
X, Y, Z = st.floats(-12.0, 12.0), st.floats(15.0, 40.0), st.floats(0.3, 4.0)
LANDING: Final = {"landing_x": st.floats(-10.0, 10.0), "landing_y": st.floats(-22.0, -2.0)}


def one(value: float) -> np.ndarray:
    return np.array([value])


@given(
    place=st.tuples(X, Y, Z),
    speed=st.floats(10.0, 160.0),
    elevation=st.floats(-0.2, 1.4),
    azimuth=st.floats(-1.0, 1.0),
    spin=st.floats(-200.0, 200.0),
    steps=st.integers(1, 12),
)
@corners(40)
def test_a_flight_is_a_parabola(
    place: tuple[float, float, float],
    speed: float,
    elevation: float,
    azimuth: float,
    spin: float,
    steps: int,
) -> None:
    x, y, z = (one(value) for value in place)
    level, up = speed * np.cos(elevation), speed * np.sin(elevation)
    launch = Launch(one(level * np.sin(azimuth)), one(-level * np.cos(azimuth)), one(up), one(spin))
    fall = (up + np.sqrt(up * up + 2.0 * GRAVITY * z)) / GRAVITY
    # Not for `falling_time`: that bound divides by the drag.
    flight = fly(x, y, z, launch, EMPTY, 1.1 * fall, steps)
    landing = time_falling_to(flight, 0.0)
    np.testing.assert_allclose(landing, fall, **EXACT)
    for time in (0.0 * fall, 0.3 * fall, fall):
        expected = (
            x + launch.x * time,
            y + launch.y * time,
            z + up * time - 0.5 * GRAVITY * time * time,
        )
        np.testing.assert_allclose(flight.position(time), expected, **EXACT)
        faster = (launch.x, launch.y, up - GRAVITY * time)
        np.testing.assert_allclose(flight.velocity(time), faster, **EXACT)
    np.testing.assert_allclose(time_of_top(flight), max(up, 0.0) / GRAVITY, **EXACT)
    if -level * np.cos(azimuth) * fall[0] < -place[1]:
        np.testing.assert_allclose(time_at_line(flight, 0.0), -y / launch.y, **EXACT)


def flown_to(launch: Launch, place: tuple[float, float, float], landing_y: float) -> Any:
    """The parabola's place as it passes ``landing_y``, and its highest point."""
    x, y, z = place
    time = (landing_y - y) / launch.y
    top = z + launch.z**2 / (2.0 * GRAVITY)
    return x + launch.x * time, z + launch.z * time - 0.5 * GRAVITY * time**2, top


@given(place=st.tuples(X, Y, Z), higher=st.floats(0.5, 25.0), **LANDING)
@corners(40)
def test_a_ball_aimed_to_a_top_is_the_parabola_with_that_top(
    place: tuple[float, float, float], higher: float, landing_x: float, landing_y: float
) -> None:
    striker = Striker(*(one(value) for value in place), one(0.0), EMPTY, None)
    top = place[2] + higher
    launch = calm_to_top(striker, one(landing_x), one(landing_y), one(top)).launch()
    x, z, highest = flown_to(launch, place, landing_y)
    np.testing.assert_allclose((x[0], z[0], highest[0]), (landing_x, 0.0, top), **EXACT)


@given(place=st.tuples(X, Y, Z), clearance=st.floats(0.2, 4.0), **LANDING)
@corners(40)
def test_a_ball_aimed_over_the_net_is_the_parabola_that_clears_it(
    place: tuple[float, float, float], clearance: float, landing_x: float, landing_y: float
) -> None:
    striker = Striker(*(one(value) for value in place), one(0.0), EMPTY, None)
    launch = calm_over_net(striker, one(landing_x), one(landing_y), one(clearance))
    x, z, _ = flown_to(launch, place, landing_y)
    np.testing.assert_allclose((x[0], z[0]), (landing_x, 0.0), **EXACT)
    net_x, net_z, _ = flown_to(launch, place, 0.0)
    np.testing.assert_allclose(net_z, height_to_clear(net_x) + EMPTY.radius + clearance, **EXACT)
