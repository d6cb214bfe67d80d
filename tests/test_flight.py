"""Flights one by one: the steps, what lies between them, and when a ball gets somewhere.

Most flights here are made by hand: nodes of polynomials, which quintic interpolation has to give
back exactly. The outside world is in `tests/published/test_flight.py`.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.polynomial import Polynomial
from scipy.optimize import brentq

from sim import flight
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

BALL = Ball(drag=0.0108, magnus=0.0026, radius=0.12, restitution=0.66, friction=0.5)
WINDY = replace(BALL, wind_x=7.0, wind_y=-11.0)


def array(*values: float) -> Array:
    return np.array(values, float)


# --- steps -------------------------------------------------------------------------------------


def rates(state: Array, ball: Ball, spin: float) -> Array:
    """Of distance, height and both speeds, as the module's docstring has it."""
    _, _, along, up = state
    through_air = math.hypot(along, up)
    return array(
        along,
        up,
        -ball.drag * through_air * along + ball.magnus * spin * up,
        -GRAVITY - ball.drag * through_air * up - ball.magnus * spin * along,
    )


def test_steps_are_those_of_the_classical_runge_kutta_method() -> None:
    # Kutta 1901: slopes at the start, twice in the middle and at the end, weighted 1, 2, 2, 1.
    launch = Launch(array(10.0, -3.0), array(-50.0, -20.0), array(9.0, 30.0), array(90.0, -120.0))
    duration = array(0.9, 1.7)
    flown = fly(array(1.0, 2.0), array(22.0, 21.0), array(2.5, 1.5), launch, WINDY, duration, 5)
    for shot in range(2):
        wind_frame = launch.x[shot] - 7.0, launch.y[shot] + 11.0
        spin, step = launch.spin[shot], duration[shot] / 5.0
        state = array(0.0, (2.5, 1.5)[shot], math.hypot(*wind_frame), launch.z[shot])
        for node in range(6):
            found = (flown.along, flown.height, flown.speed_along, flown.speed_up)
            assert [row[node, shot] for row in found] == pytest.approx(state, rel=1e-12)
            slope = rates(state, WINDY, spin)
            changes = flown.change_along[node, shot], flown.change_up[node, shot]
            assert changes == pytest.approx(slope[2:], rel=1e-12)
            second = rates(state + 0.5 * step * slope, WINDY, spin)
            third = rates(state + 0.5 * step * second, WINDY, spin)
            fourth = rates(state + step * third, WINDY, spin)
            state = state + step / 6.0 * (slope + 2.0 * second + 2.0 * third + fourth)
        heading = flown.heading_x[shot], flown.heading_y[shot]
        assert heading == pytest.approx(np.array(wind_frame) / math.hypot(*wind_frame))
        assert (flown.step[shot], flown.spin[shot]) == (pytest.approx(step), spin)
    assert flown.duration == pytest.approx(duration)
    assert (flown.origin_x.tolist(), flown.origin_y.tolist()) == ([1.0, 2.0], [22.0, 21.0])


def steps_of(speed: float, up: float, duration: float, drag: float, ball: Ball = BALL) -> int:
    """How many steps a ball gets that asks for four; a slow one flies with it."""
    launch = Launch(array(0.0, 1.0), array(speed, 1.0), array(up, 1.0), array(0.0, 0.0))
    zero = array(0.0, 0.0)
    ball = replace(ball, drag=drag)
    return fly(zero, zero, zero, launch, ball, array(duration, 0.1), 4).steps


def test_a_ball_that_drag_would_stop_within_two_steps_gets_more() -> None:
    # Twice the drag times the way at its first speed, here 0.01 / ft x 50 ft/s x duration.
    assert steps_of(30.0, 40.0, 3.9, 0.01) == 4
    assert steps_of(30.0, 40.0, 4.0, 0.01) == 4
    assert steps_of(30.0, 40.0, 4.1, 0.01) == 5
    assert steps_of(30.0, 40.0, 8.9, 0.01) == 9
    assert steps_of(30.0, 40.0, 210.0, 0.01) == 200
    # Through the air, not over the ground: 41 ft/s against a wind of 11 ft/s are 52.
    assert steps_of(41.0, 0.0, 4.1, 0.01, WINDY) == 5


def test_launches_gone_astray_and_no_launches_ask_for_no_more_steps() -> None:
    assert steps_of(math.nan, 0.0, 4.1, 0.01) == 4
    none = array()
    assert fly(none, none, none, Launch(none, none, none, none), BALL, none, 4).height.shape == (
        5,
        0,
    )


def test_a_ball_dropped_has_no_heading() -> None:
    zero = array(0.0)
    flown = fly(zero, zero, array(6.0), Launch(zero, zero, zero, zero), BALL, array(0.5), 4)
    assert (flown.heading_x[0], flown.heading_y[0]) == (0.0, 0.0)
    # However slow, a ball that moves has one.
    slow = Launch(array(3e-3), array(4e-3), zero, zero)
    flown = fly(zero, zero, array(6.0), slow, BALL, array(0.5), 4)
    assert (flown.heading_x[0], flown.heading_y[0]) == pytest.approx((0.6, 0.8))


# --- between the nodes -------------------------------------------------------------------------

ALONG = (Polynomial([0.0, 41.0, -7.0, 3.0, -2.0, 0.7]), Polynomial([0.0, 12.0, 5.0, -1.0, 2.0, -3]))
HEIGHT = (Polynomial([2.0, 9.0, -15.0, 1.0, 2.0, -0.5]), Polynomial([1.0, -2.0, 3.0, 4.0, -1, 0.9]))
STEP = array(0.25, 0.4)
HEADING = ((0.6, -0.8), (-0.28, 0.96))


def flight_of(
    along: tuple[Polynomial, ...],
    height: tuple[Polynomial, ...],
    ball: Ball = BALL,
    step: Array = STEP,
    heading: tuple[tuple[float, float], ...] = HEADING,
    steps: int = 3,
) -> Flight:
    """A flight along polynomials in the time, from (1, 20) and (-2, -5)."""
    time = np.arange(steps + 1)[:, None] * step

    def nodes(curves: tuple[Polynomial, ...], order: int) -> Array:
        columns = zip(curves, time.T, strict=True)
        return np.stack([curve.deriv(order)(times) for curve, times in columns], axis=1)

    return Flight(
        origin_x=array(1.0, -2.0)[: step.size],
        origin_y=array(20.0, -5.0)[: step.size],
        heading_x=np.array(heading)[:, 0],
        heading_y=np.array(heading)[:, 1],
        step=step,
        spin=array(100.0, -50.0)[: step.size],
        along=nodes(along, 0),
        height=nodes(height, 0),
        speed_along=nodes(along, 1),
        speed_up=nodes(height, 1),
        change_along=nodes(along, 2),
        change_up=nodes(height, 2),
        ball=ball,
    )


def true_position(shot: int, time: float, ball: Ball) -> list[float]:
    along, (ahead_x, ahead_y) = ALONG[shot](time), HEADING[shot]
    return [
        (1.0, -2.0)[shot] + along * ahead_x + ball.wind_x * time,
        (20.0, -5.0)[shot] + along * ahead_y + ball.wind_y * time,
        HEIGHT[shot](time),
    ]


WINDS = [BALL, WINDY, replace(BALL, wind_x=7.0), replace(BALL, wind_y=-11.0)]


@pytest.mark.parametrize("ball", WINDS)
def test_positions_and_velocities_between_the_nodes(ball: Ball) -> None:
    flown = flight_of(ALONG, HEIGHT, ball)
    # Within each step, on nodes, at the very end, and a little before and beyond the flight.
    share = np.array([0.0, 0.1, 1.0, 1.7, 2.0, 2.95, 3.0, 3.2, -0.1])[:, None]
    times = share * STEP
    positions = np.stack(flown.position(times), axis=-1)
    velocities = np.stack(flown.velocity(times), axis=-1)
    for shot in range(2):
        fast, rise = ALONG[shot].deriv(), HEIGHT[shot].deriv()
        for row, time in enumerate(times[:, shot]):
            assert positions[row, shot] == pytest.approx(true_position(shot, time, ball), abs=1e-11)
            ahead_x, ahead_y = HEADING[shot]
            assert velocities[row, shot] == pytest.approx(
                [
                    fast(time) * ahead_x + ball.wind_x,
                    fast(time) * ahead_y + ball.wind_y,
                    rise(time),
                ],
                abs=1e-10,
            )


def test_a_flight_goes_on_from_where_it_is() -> None:
    flown, time = flight_of(ALONG, HEIGHT, WINDY), array(0.3, 1.1)
    position, launch = flown.place_and_launch(time)
    np.testing.assert_array_equal(position, flown.position(time))
    np.testing.assert_array_equal((launch.x, launch.y, launch.z), flown.velocity(time))
    assert launch.spin.tolist() == [100.0, -50.0]


@pytest.mark.parametrize("ball", WINDS)
@pytest.mark.parametrize("end", [False, True])
def test_samples_at_equal_parts_of_every_step(ball: Ball, end: bool) -> None:
    times, x, y, z = flight_of(ALONG, HEIGHT, ball).samples(4, end=end)
    expected = np.arange(13 if end else 12)[:, None] / 4.0 * STEP
    np.testing.assert_allclose(times, expected, atol=1e-14)
    for shot in range(2):
        for row, time in enumerate(expected[:, shot]):
            found = [x[row, shot], y[row, shot], z[row, shot]]
            assert found == pytest.approx(true_position(shot, time, ball), abs=1e-11)


def test_samples_leave_the_end_out_unless_asked() -> None:
    assert flight_of(ALONG, HEIGHT).samples(4)[0].shape == (12, 2)


@pytest.mark.parametrize("chosen", [np.array([False, True]), np.array([1])])
def test_chosen_shots_fly_as_before(chosen: np.ndarray) -> None:
    flown = flight_of(ALONG, HEIGHT, WINDY)
    alone = flown.take(chosen)
    assert (alone.ball, alone.steps, alone.spin.tolist()) == (WINDY, 3, [-50.0])
    both, one = flown.position(array(0.3, 0.9)), alone.position(array(0.9))
    np.testing.assert_array_equal([part[1:] for part in both], one)
    launch = Launch(*np.arange(8.0).reshape(4, 2)).take(chosen)
    assert [part.tolist() for part in vars(launch).values()] == [[1.0], [3.0], [5.0], [7.0]]


# --- when a ball gets somewhere ----------------------------------------------------------------


def lone(height: Polynomial, steps: int = 3, step: float = 0.25) -> Flight:
    return flight_of((ALONG[0],), (height,), BALL, array(step), HEADING[:1], steps)


# 4 ft up at first, 5 ft at 0.25 s, 4 ft again at 0.5 s, 1 ft at 0.75 s.
THROWN = Polynomial([4.0, 8.0, -16.0])


@pytest.mark.parametrize(
    ("height", "time"),
    [
        (4.5, 0.25 + math.sqrt(0.5) / 4.0),
        (4.0, 0.5),
        (3.0, 0.25 + math.sqrt(2.0) / 4.0),
        (1.0, 0.75),
        (0.5, 0.75),  # Never as low: the end.
        (5.5, 0.25),  # Never as high: the top.
        (math.inf, 0.25),
    ],
)
def test_time_of_falling_through_a_height(height: float, time: float) -> None:
    assert time_falling_to(lone(THROWN), height)[0] == pytest.approx(time, abs=1e-12)
    # Nor do the lengths of the steps matter to a parabola.
    assert time_falling_to(lone(THROWN, 5, 0.15), height)[0] == pytest.approx(time, abs=1e-12)


def test_each_ball_has_its_own_height_and_time() -> None:
    flown = flight_of(ALONG, (THROWN, Polynomial([9.0, 0.0, -16.0])))
    found = time_falling_to(flown, array(4.0, 5.0))
    assert found == pytest.approx((0.5, 0.5), abs=1e-12)


def test_time_of_the_top() -> None:
    # The last only falls, the one before rises to the end.
    for height, time in (
        (THROWN, 0.25),
        (Polynomial([1.0, 9.6, -16.0]), 0.3),
        (Polynomial([1.0, 40.0, -16.0]), 0.75),
        (Polynomial([9.0, -8.0, -16.0]), 0.0),
        (Polynomial([9.0, -8.0]), 0.0),
    ):
        assert time_of_top(lone(height))[0] == pytest.approx(time, abs=1e-12)


def test_a_bent_fall_is_found_where_it_is() -> None:
    # One step from 6 ft to the ground with a jerk, a snap and a crackle like no ball's: three
    # parabolas come within 3e-6 s, a ten thousandth of an inch at 30 ft/s.
    height = Polynomial([6.0, 2.0, -5.0, -2.0, -1.0, -0.5])
    for level in (0.0, 1.0, 2.5, 4.0, 5.5):
        true = brentq(lambda time, level=level: height(time) - level, 0.3, 1.2, xtol=1e-15)
        assert time_falling_to(lone(height, 1, 1.2), level)[0] == pytest.approx(true, abs=3e-6)


def test_the_parabolas_that_find_a_fall_touch_the_flight() -> None:
    curve = Polynomial([2.0, 9.0, -15.0, 1.0, 2.0, -0.5])
    for place in (0.0, 0.3, 1.0):
        assert flight._curve(curve.coef, place) == pytest.approx(curve.deriv(2)(place))


def over(
    along: Polynomial, heading_y: float, ball: Ball = BALL, steps: int = 3, step: float = 0.25
) -> Flight:
    """One ball from y = 20 ft."""
    heading = ((math.sqrt(1.0 - heading_y**2), heading_y),)
    return flight_of((along,), (THROWN,), ball, array(step), heading, steps)


STEADY = Polynomial([0.0, 40.0])


@pytest.mark.parametrize(
    ("heading", "line", "time"),
    [
        (-0.8, 10.0, 0.3125),
        (-0.8, 12.0, 0.25),  # On the line with the end of a step.
        (-0.8, 4.0, 0.5),
        (-0.8, -4.0, 0.75),
        (-0.8, -4.5, 0.75),  # Never gets there: the end.
        (-0.8, 25.0, 0.75),  # Behind it.
        (0.6, 20.0, 0.0),  # It starts on the line.
        (0.6, 26.0, 0.25),
        (0.6, 37.4, 0.725),
        (0.6, 40.0, 0.75),
        (0.6, 15.0, 0.75),
        (0.0, 15.0, 0.75),  # Along the line, on either side of it or on it.
        (0.0, 25.0, 0.75),
        (0.0, 20.0, 0.75),
    ],
)
def test_time_at_a_line(heading: float, line: float, time: float) -> None:
    assert time_at_line(over(STEADY, heading), line)[0] == pytest.approx(time, abs=1e-12)


@pytest.mark.parametrize("line", [17.0, 10.0, 20.5, 35.0])
@pytest.mark.parametrize("heading", [-0.8, 0.0, 0.6])
@pytest.mark.parametrize("wind", [11.0, -11.0])
def test_time_at_a_line_in_wind(wind: float, heading: float, line: float) -> None:
    # A wind along y carries the ball with it, one across does nothing.
    windy = time_at_line(over(STEADY, heading, replace(BALL, wind_y=wind)), line)[0]
    arrival = (line - 20.0) / (40.0 * heading + wind)
    assert windy == pytest.approx(arrival if 0.0 <= arrival <= 0.75 else 0.75, abs=1e-12)
    across = time_at_line(over(STEADY, heading, replace(BALL, wind_x=wind)), line)[0]
    assert across == time_at_line(over(STEADY, heading), line)[0]


@pytest.mark.parametrize("wind", [0.0, 11.0])
@pytest.mark.parametrize("heading", [-0.8, 0.6])
def test_time_at_a_line_of_a_ball_that_slows_down(heading: float, wind: float) -> None:
    along = Polynomial([0.0, 60.0, -25.0, 12.0, -5.0, 1.5])
    found = over(along, heading, replace(BALL, wind_y=wind))
    for true in (0.1, 0.25, 0.4, 0.7):
        line = 20.0 + along(true) * heading + wind * true
        assert time_at_line(found, line)[0] == pytest.approx(true, abs=1e-10)


def test_a_ball_that_comes_back_passes_a_line_the_first_time() -> None:
    # 40 t - 60 t^2 ft along: 4.5 ft at 0.143 s, beyond that at the next two nodes, back at the end.
    # So strong a brake leaves Newton's three steps a few billionths of a second.
    found = time_at_line(over(Polynomial([0.0, 40.0, -60.0]), -0.8), 20.0 - 0.8 * 4.5)
    assert found[0] == pytest.approx((40.0 - math.sqrt(520.0)) / 120.0, abs=1e-8)


def test_each_ball_has_its_own_line() -> None:
    two = flight_of((STEADY, STEADY), (THROWN, THROWN), heading=((0.6, -0.8), (0.28, 0.96)))
    assert time_at_line(two, array(10.0, 20.0)) == pytest.approx((0.3125, 25.0 / 38.4), abs=1e-12)
    assert time_at_line(two, 10.0) == pytest.approx((0.3125, 15.0 / 38.4), abs=1e-12)


# --- by when it is down ------------------------------------------------------------------------


def bound(z: float, up: float, speed: float, spin: float, ball: Ball) -> float:
    """The docstring's bound, the fall by a root finder."""
    height = max(z, 0.0)
    fastest = math.sqrt(speed * speed + up * up + 2.0 * GRAVITY * height)
    lift = ball.magnus * max(-spin, 0.0) * fastest
    weight = max(GRAVITY - lift, 0.25 * GRAVITY)
    rise = max(up, 0.0) / weight
    top, rate = height + 0.5 * weight * rise**2, ball.drag * fastest

    def left(time: float) -> float:
        return top - weight / rate * (time + math.expm1(-rate * time) / rate)

    return rise + brentq(left, 0.0, 100.0, xtol=1e-14)


@pytest.mark.parametrize("spin", [0.0, 150.0, -50.0, -157.0])
@pytest.mark.parametrize(
    ("z", "x", "y", "up"),
    [
        (2.5, 0.0, -50.0, 8.0),
        (2.5, 12.0, -20.0, 25.0),
        (6.5, 0.0, 0.0, 0.0),
        (3.0, 30.0, 40.0, -6.0),
        (0.0, 3.0, 4.0, 10.0),
        (-0.1, 3.0, 4.0, 10.0),
    ],
)
def test_by_when_a_ball_is_down(z: float, x: float, y: float, up: float, spin: float) -> None:
    launch = Launch(array(x), array(y), array(up), array(spin))
    for ball in (BALL, WINDY):
        speed = math.hypot(x - ball.wind_x, y - ball.wind_y)
        found = falling_time(array(z), launch, ball)
        assert found[0] == pytest.approx(bound(z, up, speed, spin, ball), rel=1e-10)
        flown = fly(array(0.0), array(0.0), array(z), launch, ball, found, 24)
        assert flown.height[-1, 0] <= 1e-6


def test_backspin_never_takes_more_than_three_quarters_of_the_weight() -> None:
    # At 80 ft/s and 1500 rpm the lift would be more than the weight.
    launch = Launch(array(0.0), array(-80.0), array(0.0), array(-157.0))
    slow = bound(3.0, 0.0, 80.0, -157.0, BALL)
    assert slow == pytest.approx(bound(3.0, 0.0, 80.0, -1e6, BALL))
    assert falling_time(array(3.0), launch, BALL)[0] == pytest.approx(slow, rel=1e-10)


def test_a_ball_on_the_ground_that_does_not_rise_is_down() -> None:
    launch = Launch(array(0.0), array(-40.0), array(-5.0), array(0.0))
    assert falling_time(array(0.0), launch, BALL)[0] == 0.0
