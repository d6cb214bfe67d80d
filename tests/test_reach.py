"""How far a player gets, by hand: arms, lunge, feet and the line of the non-volley zone.

The player of these tests has round numbers: the shoulder stands 5 ft up and 1 ft aside, the arm
with paddle is 3 ft long in control and 4 ft at full stretch, half of that on the backhand; a bend
of 1 ft, an arm out after 0.2 s, a lunge of 2 ft after 0.4 s. The feet make 0.8 of a foot aside and
half a foot backwards in the time of one ahead.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from sim.court import NON_VOLLEY_ZONE, Array
from sim.players import Player
from sim.reach import (
    arm_length,
    body_to_shoulder,
    distance_left,
    extent_of,
    hands,
    highest_reach,
    is_forehand,
    margins,
    readiness,
    run_for,
    time_needed,
)
from sim.run_in import Place, straight_run
from sim.track import Track

PLAYER = Player.model_validate(
    {
        "height": "6.25 ft",
        "shoulder_share": 0.8,
        "stance_share": 1.0,
        "shoulder_offset_share": 0.16,
        "arm_share": 0.4,
        "paddle_sweet_spot": "0.5 ft",
        "paddle_tip": "1.5 ft",
        "full_stretch": "7 ft",
        "backhand": 0.5,
        "bend": "1 ft",
        "arm_time": "0.2 s",
        "lunge_time": "0.4 s",
        "sideways": 0.8,
        "backwards": 0.5,
        "top_speed": "10 ft/s",
        "time_constant": "1 s",
    }
)
LEFT_HANDED = PLAYER.model_copy(update={"handed": "left"})
SHOULDER = 5.0


def balls(
    *at: tuple[float, float, float], time: float = 1.0, volley: bool = False, live: bool = True
) -> Track:
    """One instant of several shots."""
    x, y, z = (np.array([values]) for values in zip(*at, strict=True))
    return Track(np.full(x.shape, time), x, y, z, np.full(x.shape, volley), np.full(x.shape, live))


def standing(x: float, y: float, shots: int = 1) -> Place:
    return Place(np.full(shots, x), np.full(shots, y))


def feet(*values: float) -> Array:
    return np.array([values])


# --- arms --------------------------------------------------------------------------------------


def test_the_body_in_round_numbers() -> None:
    assert arm_length(PLAYER, stretched=False) == pytest.approx(3.0)
    assert arm_length(PLAYER, stretched=True) == pytest.approx(4.0)
    assert hands(PLAYER, stretched=False) == pytest.approx((3.0, 1.5))
    assert hands(PLAYER, stretched=True) == pytest.approx((4.0, 2.0))
    assert body_to_shoulder(PLAYER) == pytest.approx(1.0)
    assert highest_reach(PLAYER) == pytest.approx(9.0)
    crouching = PLAYER.model_copy(update={"stance_share": 0.9})
    assert highest_reach(crouching) == pytest.approx(8.5)


@pytest.mark.parametrize("turned", [1.0, -1.0])
def test_reach_at_every_height(turned: float) -> None:
    # As far above the shoulder, or below it after bending by 1 ft: of 3 ft of arm 1.8 ft leave
    # 2.4, of 1.5 ft 0.9 leave 1.2, of 4 ft 2.4 leave 3.2. A body of 1 ft and 2 ft of lunge go on
    # top. What is farther off than the arm is long is out of reach.
    away = np.array([0.0, 1.8, 0.9, 2.4, 4.1])
    at = SHOULDER + away if turned > 0.0 else SHOULDER - 1.0 - away
    extent = extent_of(PLAYER, balls(*((0.0, -9.0, z) for z in at)), np.zeros(5))
    none = -np.inf
    assert extent.control_forehand[0] == pytest.approx([4.0, 3.4, 1 + 8.19**0.5, 2.8, none])
    assert extent.control_backhand[0] == pytest.approx([2.5, none, 2.2, none, none])
    assert extent.stretch_forehand[0] == pytest.approx(
        [7.0, 3 + 12.76**0.5, 3 + 15.19**0.5, 6.2, none]
    )
    assert extent.stretch_backhand[0] == pytest.approx(
        [5.0, 3 + 0.76**0.5, 3 + 3.19**0.5, none, none]
    )


def test_a_bend_makes_up_for_what_it_can() -> None:
    # Anywhere within 1 ft below the shoulder.
    track = balls(*((0.0, -9.0, SHOULDER - below) for below in (0.3, 0.7, 1.0)))
    assert extent_of(PLAYER, track, np.zeros(3)).control_forehand[0] == pytest.approx([4.0] * 3)


def test_arm_and_lunge_come_out_from_the_reaction_on() -> None:
    # Reactions after 0.4 s, of balls seen 0.1 s before to 0.5 s after.
    since = [-0.1, 0.0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5]
    track = balls(*[(0.0, -9.0, SHOULDER)] * 8)
    extent = extent_of(PLAYER, track, 1.0 - np.array(since))
    arm = np.array([0.0, 0.0, 0.25, 0.5, 1.0, 1.0, 1.0, 1.0])
    lunge = np.array([0.0, 0.0, 0.25, 0.5, 1.0, 1.5, 2.0, 2.0])
    run = [0.0 if late < 0.0 else 10.0 * (late - 1.0 + math.exp(-late)) for late in since]
    assert extent.run[0] == pytest.approx(run, abs=1e-12)
    control, stretch = extent.control_forehand[0], extent.stretch_backhand[0]
    assert control[0] == stretch[0] == -np.inf
    assert control[1:] == pytest.approx((1.0 + 3.0 * arm)[1:])
    assert stretch[1:] == pytest.approx((1.0 + 2.0 * arm + lunge)[1:])


def test_before_the_reaction_nothing_moves() -> None:
    ready = readiness(PLAYER, balls((0.0, -9.0, SHOULDER), time=0.5), np.array([0.6]))
    assert (ready.run[0, 0], ready.arm_out[0, 0], ready.lunged[0, 0]) == (0.0, 0.0, 0.0)
    assert ready.away_squared[0, 0] == np.inf


def test_at_the_very_instant_of_the_reaction_the_body_is_there() -> None:
    track = balls((0.0, -9.0, SHOULDER), time=0.5)
    for reaction, reach in ((0.5, 1.0), (np.nextafter(0.5, 1.0), -np.inf)):
        extent = extent_of(PLAYER, track, np.array([reaction]))
        assert extent.control_forehand[0, 0] == reach


def test_dead_balls_are_out_of_reach() -> None:
    extent = extent_of(PLAYER, balls((0.0, -9.0, SHOULDER), live=False), np.zeros(1))
    assert {reach[0, 0] for name, reach in vars(extent).items() if name != "run"} == {-np.inf}


def test_who_reaches_no_farther_than_a_straight_arm_does_not_lunge() -> None:
    # A full stretch of 5 ft is what the straight arm reaches; less does not pull it back.
    for stretch in (5.0, 4.0):
        short = PLAYER.model_copy(update={"full_stretch": stretch})
        ready = readiness(short, balls((0.0, -9.0, SHOULDER)), np.zeros(1))
        assert ready.lunged[0, 0] == 0.0


def test_sides_of_the_hands() -> None:
    place = standing(2.0, -9.0, 3)
    x = feet(1.9, 2.0, 2.1)
    assert is_forehand(PLAYER, x, place).tolist() == [[False, True, True]]
    assert is_forehand(LEFT_HANDED, x, place).tolist() == [[True, True, False]]


@pytest.mark.parametrize("player", [PLAYER, LEFT_HANDED])
def test_margins_are_reach_less_distance_on_the_side_of_the_ball(player: Player) -> None:
    # Two feet aside, no time to run: 0.05 s after the reaction a quarter of each arm and 0.25 ft of
    # lunge are out: 1.75, 1.375, 2.25 and 1.75 ft.
    track = balls((2.0, -9.0, SHOULDER), (-2.0, -9.0, SHOULDER))
    extent = extent_of(player, track, np.full(2, 0.95))
    control, stretch = margins(player, track, extent, standing(0.0, -9.0, 2))
    run = float(straight_run(player, np.array(0.05))) * 0.8
    forehand = 0 if player.handed == "right" else 1
    assert control[0, forehand] == pytest.approx(1.75 - 2.0 + run)
    assert control[0, 1 - forehand] == pytest.approx(1.375 - 2.0 + run)
    assert stretch[0, forehand] == pytest.approx(2.25 - 2.0 + run)
    assert stretch[0, 1 - forehand] == pytest.approx(1.75 - 2.0 + run)


# --- feet --------------------------------------------------------------------------------------


def test_the_feet_run_straight_to_the_ball() -> None:
    # From (1, -15) with 2 ft of straight-ahead running: 2 ahead, 1.6 aside, 1 backwards; towards
    # (4, -11) sqrt(3.75^2 + 4^2) = 5.483 ft are needed for 5 ft.
    at = [(1.0, -11.0), (6.0, -15.0), (-4.0, -15.0), (1.0, -20.0), (4.0, -11.0)]
    run = feet(2.0, 2.0, 2.0, 2.0, 2.0)
    left = distance_left(PLAYER, balls(*((x, y, 3.0) for x, y in at)), standing(1.0, -15.0, 5), run)
    slanting = 5.0 * (1.0 - 2.0 / math.hypot(3.75, 4.0))
    assert left[0] == pytest.approx([2.0, 3.4, 3.4, 4.0, slanting])
    assert run.tolist() == [[2.0] * 5]


def test_the_feet_stop_at_the_ball() -> None:
    at = [(1.0, -11.0), (1.0, -15.0), (1.0, -11.0)]
    left = distance_left(
        PLAYER,
        balls(*((x, y, 3.0) for x, y in at)),
        standing(1.0, -15.0, 3),
        feet(4.0, 0.0, 100.0),
    )
    assert left[0] == pytest.approx([0.0, 0.0, 0.0], abs=1e-12)


@pytest.mark.parametrize("volley", [True, False])
def test_only_a_volley_stops_the_feet_at_the_line(volley: bool) -> None:
    # From (4, -10) to (0, -4) with 5 ft of running: 3 of them to the line, then 0.8 x 4 = 3.2 ft
    # aside; 0.8 ft and 3 ft are missing. After the bounce sqrt(5^2 + 6^2) are needed to get there.
    track = balls((0.0, -4.0, 3.0), (8.0, -4.0, 3.0), volley=volley)
    left = distance_left(PLAYER, track, standing(4.0, -10.0, 2), feet(5.0, 5.0))
    free = math.hypot(4.0, 6.0) * (1.0 - 5.0 / math.hypot(5.0, 6.0))
    assert left[0] == pytest.approx([math.hypot(0.8, 3.0) if volley else free] * 2)


def test_feet_on_the_line_or_behind_it_are_free() -> None:
    # Straight ahead to the line, and a little less; a volley level with the line is in nobody's
    # way.
    track = balls((4.0, -4.0, 3.0), (4.0, -4.0, 3.0), (0.0, -7.0, 3.0), volley=True)
    left = distance_left(PLAYER, track, standing(4.0, -10.0, 3), feet(3.0, 2.0, 2.5))
    aside = 5.0 * (1.0 - 2.5 / math.hypot(5.0, 3.0))
    assert left[0] == pytest.approx([3.0, 4.0, aside])


def test_who_runs_along_the_line_far_enough_is_in_front_of_the_ball() -> None:
    # 10 ft of running, 3 of them ahead: 0.8 x sqrt(91) = 7.6 ft aside are more than needed.
    track = balls((0.0, -4.0, 3.0), volley=True)
    left = distance_left(PLAYER, track, standing(4.0, -10.0), feet(10.0))
    assert left[0] == pytest.approx([3.0])


def test_who_stands_in_the_zone_steps_back_to_its_line_for_a_volley() -> None:
    # From (4, -6) a ball at (4, -3): the feet have to be on the line 1 ft behind, whatever they
    # ran; with 0.5 ft of running less than that way nothing is left to go aside.
    track = balls((4.0, -3.0, 3.0), (0.0, -3.0, 3.0), volley=True)
    left = distance_left(PLAYER, track, standing(4.0, -6.0, 2), feet(0.5, 0.5))
    assert left[0] == pytest.approx([4.0, math.hypot(4.0, 4.0)])


def test_each_instant_and_shot_keeps_its_own_line() -> None:
    # Two instants of three shots; only the second instant of the third shot is held: 4 ft to the
    # line leave 3 of 5, 2.4 ft aside of 4, and 3 ft beyond the line.
    at = [[(4.0, -9.0), (2.0, -12.0), (1.0, -11.0)], [(4.0, -9.0), (2.0, -12.0), (-3.0, -4.0)]]
    x, y = np.moveaxis(np.array(at), -1, 0)
    track = Track(np.ones((2, 3)), x, y, np.full((2, 3), 3.0), x < 9.0, x < 9.0)
    place = Place(np.array([4.0, 2.0, 1.0]), np.array([-10.0, -14.0, -11.0]))
    run = np.array([[0.5, 1.5, 0.0], [1.0, 2.0, 5.0]])
    left = distance_left(PLAYER, track, place, run)
    expected = [[0.5, 0.5, 0.0], [0.0, 0.0, math.hypot(1.6, 3.0)]]
    np.testing.assert_allclose(left, expected, atol=1e-12)
    # The same asked of the instants one by one, in arrays of one dimension.
    singly = Track(*(part.ravel() for part in vars(track).values()))
    places = Place(np.tile(place.x, 2), np.tile(place.y, 2))
    np.testing.assert_array_equal(distance_left(PLAYER, singly, places, run.ravel()), left.ravel())


# --- time and run needed -----------------------------------------------------------------------


def test_run_until_the_ball_is_within_reach() -> None:
    # A reach of 4 ft, from (1, -15): 6 ft ahead leave 2, 9 ft aside 5 / 0.8, 6 ft back 2 / 0.5;
    # what is within reach already needs none, the ball at one's feet neither.
    at = [(1.0, -9.0), (10.0, -15.0), (-8.0, -15.0), (1.0, -21.0), (1.0, -12.0), (1.0, -15.0)]
    track = balls(*((x, y, 3.0) for x, y in at))
    run = run_for(PLAYER, track, standing(1.0, -15.0, 6), np.full((1, 6), 4.0))
    assert run[0] == pytest.approx([2.0, 6.25, 6.25, 4.0, 0.0, 0.0])
    # A slanting way of 10 ft, (6, 8), needs sqrt(7.5^2 + 8^2) ft; a reach of 4 spares 0.4 of them.
    slanting = run_for(PLAYER, balls((7.0, -7.0, 3.0)), standing(1.0, -15.0), np.full((1, 1), 4.0))
    assert slanting[0, 0] == pytest.approx(0.6 * math.hypot(7.5, 8.0))


def test_run_for_a_volley_from_the_line() -> None:
    # A ball 3 ft beyond the line is reached with 5 ft from up to 4 ft beside it: of 10 ft aside 6
    # are left, 7.5 ft of running, with 3 ft ahead. With 3 ft it is reached from right behind only,
    # with less never.
    track = balls(*[(10.0, -4.0, 3.0)] * 4, volley=True)
    reach = feet(5.0, 3.0, 2.9, 13.0)
    run = run_for(PLAYER, track, standing(0.0, -10.0, 4), reach)
    assert run[0, :3] == pytest.approx([math.hypot(7.5, 3.0), math.hypot(12.5, 3.0), np.inf])
    assert run[0, 3] == 0.0
    # After the bounce the feet go on beyond the line.
    bounced = run_for(PLAYER, balls((10.0, -4.0, 3.0)), standing(0.0, -10.0), feet(3.0))
    way = math.hypot(10.0, 6.0)
    assert bounced[0, 0] == pytest.approx((way - 3.0) / way * math.hypot(12.5, 6.0))


def test_run_for_a_volley_that_is_reached_before_the_line() -> None:
    # Straight ahead: 6 ft away and 3 beyond the line. A reach of 3 ft ends on the line itself, of 4
    # before it.
    track = balls((0.0, -4.0, 3.0), (0.0, -4.0, 3.0), volley=True)
    run = run_for(PLAYER, track, standing(0.0, -10.0, 2), feet(3.0, 4.0))
    assert run[0] == pytest.approx([3.0, 2.0])
    # A ball on the line or behind it holds nobody back.
    level = balls((10.0, -7.0, 3.0), (10.0, -8.0, 3.0), volley=True)
    run = run_for(PLAYER, level, standing(0.0, -10.0, 2), feet(1.0, 1.0))
    for found, (aside, ahead) in zip(run[0], ((10.0, 3.0), (10.0, 2.0)), strict=True):
        way = math.hypot(aside, ahead)
        assert found == pytest.approx((way - 1.0) / way * math.hypot(aside / 0.8, ahead))


def test_who_stands_on_the_line_runs_freely_to_a_volley_behind_it() -> None:
    # 5 ft back with a reach of 4: 1 ft at half the speed; half a foot back with a reach of a
    # quarter; 8 ft aside on the line: 4 at 0.8.
    track = balls((0.0, -12.0, 3.0), (0.0, -7.5, 3.0), (8.0, -7.0, 3.0), volley=True)
    run = run_for(PLAYER, track, standing(0.0, -7.0, 3), feet(4.0, 0.25, 4.0))
    assert run[0] == pytest.approx([2.0, 0.5, 5.0])


def test_run_for_a_volley_a_little_beyond_the_line() -> None:
    # Half a foot beyond it with 0.6 ft of reach: from sqrt(0.11) ft beside it.
    far = run_for(PLAYER, balls((10.0, -6.5, 3.0), volley=True), standing(0.0, -10.0), feet(0.6))
    assert far[0, 0] == pytest.approx(math.hypot((10.0 - math.sqrt(0.11)) / 0.8, 3.0))
    # From half a foot behind the line to 0.2 ft beyond it: 0.71 of the way is free, and with 2.4 ft
    # of reach 0.60 of it is enough.
    near = run_for(PLAYER, balls((6.0, -6.8, 3.0), volley=True), standing(0.0, -7.5), feet(2.4))
    way = math.hypot(6.0, 0.7)
    assert near[0, 0] == pytest.approx((way - 2.4) / way * math.hypot(7.5, 0.7))


def test_run_for_a_ball_at_half_an_arm_s_length() -> None:
    run = run_for(PLAYER, balls((0.0, -9.5, 3.0)), standing(0.0, -10.0), feet(0.2))
    assert run[0, 0] == pytest.approx(0.3)


def run_time(run: float) -> float:
    """By the inverse of the run's formula, 10 (t - 1 + exp(-t)), with Newton's method."""
    time = 1.0
    for _ in range(60):
        time -= (10.0 * (time - 1.0 + math.exp(-time)) - run) / (10.0 * (1.0 - math.exp(-time)))
    return time


@pytest.mark.parametrize("player", [PLAYER, LEFT_HANDED])
def test_time_needed_for_a_long_run(player: Player) -> None:
    # 12 ft aside at shoulder height: 4 ft of reach leave 8, on the backhand 2.5 ft leave 9.5.
    track = balls((12.0, -9.0, SHOULDER), (-12.0, -9.0, SHOULDER))
    needed = time_needed(player, track, standing(0.0, -9.0, 2))[0]
    runs = [8.0 / 0.8, 9.5 / 0.8]
    expected = [run_time(run) for run in (runs if player.handed == "right" else runs[::-1])]
    # The run is tabled every 2 ms.
    assert needed == pytest.approx(expected, abs=1e-5)


def test_time_needed_while_the_arm_is_coming_out() -> None:
    # 2.5 ft ahead: 1 ft of body and half of the arm's 3 ft after 0.1 s, less 0.05 ft of running.
    # Beside it one that takes a long run: 12 ft ahead, 4 of them the arm's.
    track = balls((0.0, -6.5, SHOULDER), (0.0, 3.0, SHOULDER))
    soon, late = time_needed(PLAYER, track, standing(0.0, -9.0, 2))[0]
    assert 1.0 + 15.0 * soon + 10.0 * (soon - 1.0 + math.exp(-soon)) == pytest.approx(2.5)
    assert soon < 0.1
    assert late == pytest.approx(run_time(8.0), abs=1e-5)


def test_time_needed_for_what_is_there_already_or_never_will_be() -> None:
    track = balls((0.5, -9.0, SHOULDER), (0.0, -9.0, SHOULDER + 3.1), (0.0, -9.0, SHOULDER + 2.9))
    needed = time_needed(PLAYER, track, standing(0.0, -9.0, 3))[0]
    assert needed[0] == pytest.approx(0.0, abs=1e-7)
    assert needed[1] == np.inf
    assert needed[2] == pytest.approx(0.0, abs=1e-7)
    dead = balls((0.0, -9.0, SHOULDER), live=False)
    assert time_needed(PLAYER, dead, standing(0.0, -9.0))[0, 0] == np.inf


def test_nobody_runs_longer_than_twelve_seconds() -> None:
    # A foot a second short: 10 (12 - 1 + exp(-12)) = 110 ft of running are the most.
    for away, reached in ((109.0, True), (112.0, False)):
        track = balls((0.0, -200.0 + away + 4.0, SHOULDER))
        needed = time_needed(PLAYER, track, standing(0.0, -200.0))[0, 0]
        assert math.isfinite(needed) == reached


def test_a_volley_beyond_the_arm_from_the_line_is_never_in_control() -> None:
    track = balls((0.0, -2.5, SHOULDER), (0.0, -3.5, SHOULDER), volley=True)
    needed = time_needed(PLAYER, track, standing(0.0, -8.0, 2))[0]
    assert needed[0] == np.inf
    # A ball 3.5 ft beyond it with 4 ft of reach: the straight way of 4.5 ft less 4.
    assert needed[1] < np.inf
    assert NON_VOLLEY_ZONE == 7.0
