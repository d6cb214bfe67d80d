"""One shot of a run by its number: the very shot of the comparison, and all that led to it."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

import sim
from sim.analyses.one_shot import OneShot, one_shot, pick
from sim.analyses.shot_feet import Errand, after_run
from sim.answers import answer_all
from sim.comparison import shot_rows
from sim.court import NON_VOLLEY_ZONE
from sim.draws import BLOCK
from sim.errors import Refused
from sim.rallies import play
from sim.reach import distance_left
from sim.run_in import PLAYERS, Place, places_at, runs_until, straight_run, targets
from sim.scenario import Scenario
from sim.third_shot import DRIVE
from sim.track import Track

SHOTS = 64
CLUB = sim.load("club-sixties", {"run": {"shots": SHOTS}})
RUNS_ON = {"name": "run on", "rule": "halves", "split_step": False}
# A block is played as one; a shot alone goes through matrix products of one column, whose sums are
# taken in another order. Times of a few seconds and places of tens of feet then differ by units of
# their last digits.
ROUNDING = 1e-12
# In still air the engine lands a return by its aim, unflown, and the aim is that exact.
AIMED = 0.01


def windy(**run: Any) -> Scenario:
    wind = {"wind_from_behind": "8 mph", "wind_to_the_right": "-6 mph"}
    return sim.load("club-sixties", {"run": {"shots": SHOTS} | run, "air": wind})


WINDY = windy(shots=16)
_PLAYED: dict[str, list[OneShot]] = {}


def shots_of(scenario: Scenario) -> list[OneShot]:
    """All shots after returns cross-court; played once for all tests."""
    if scenario.digest() not in _PLAYED:
        numbers = range(1, scenario.run.shots + 1)
        _PLAYED[scenario.digest()] = [one_shot(scenario, "cross", number) for number in numbers]
    return _PLAYED[scenario.digest()]


def running_on() -> Scenario:
    return sim.load("club-sixties", {"run": {"shots": SHOTS}, "policies": [RUNS_ON]})


@pytest.mark.parametrize(
    "scenario", [CLUB, WINDY, windy(shots=16, sampling="pseudo-random", seed=0)]
)
def test_it_is_the_shot_of_the_comparison(scenario: Scenario) -> None:
    """Every column of shots.csv, for every policy and direction."""
    rows = {
        (row["return_direction"], row["shot_number"], row["policy"]): row
        for block in shot_rows(scenario)
        for row in block
    }
    compared = 0
    for direction in scenario.return_of_serve.directions:
        for number in range(1, scenario.run.shots + 1, 3):
            shot = one_shot(scenario, direction, number)
            for row in shot.rows:
                expected = rows[direction, number, row["policy"]]
                assert row == pytest.approx(expected, abs=ROUNDING, nan_ok=True)
                compared += 1
    assert compared == 3 * math.ceil(scenario.run.shots / 3) * len(scenario.policies)


def test_fates_shots_and_ways_of_taking_all_occur() -> None:
    """What the tests of this file look at is not all of one kind."""
    shots = shots_of(CLUB)
    assert {shot.fate for shot in shots} == {"in play", "net", "out"}
    assert {shot.shot for shot in shots} == {"drive", "drop", "lob"}
    answers = [answer for shot in shots for answer in shot.answers.values()]
    assert {answer.taken for answer in answers} == {"volley", "after the bounce", ""}
    assert {"in control", "at full stretch", ""} <= {answer.outcome for answer in answers}


def test_the_last_block_of_a_run_may_hold_fewer_shots() -> None:
    """Sobol points depend on how many there are: the block is played as the run plays it."""
    scenario = sim.load("club-sixties", {"run": {"shots": BLOCK + 40}})
    rally = play(scenario, "line", 1, 40)
    shot = one_shot(scenario, "line", BLOCK + 7)
    assert shot.contact[1:] == (rally.contact.x[6], rally.contact.y[6], rally.contact.z[6])
    assert shot.contact_time == rally.contact.time[6]
    assert shot.rows[0]["shot_number"] == BLOCK + 7


@pytest.mark.parametrize("scenario", [CLUB, WINDY])
def test_the_return_ends_at_the_contact(scenario: Scenario) -> None:
    wanted = scenario.return_of_serve
    for shot in shots_of(scenario):
        path = shot.return_path
        assert (path.times[0], path.z[0]) == (0.0, wanted.struck_height)
        assert path.times[-1] == shot.contact_time
        assert (path.x[-1], path.y[-1], path.z[-1]) == pytest.approx(shot.contact[1:], abs=AIMED)
        assert path.bounce is not None
        assert path.at(np.array([path.bounce]))[2][0] == pytest.approx(0.0, abs=1e-3)
        assert (np.diff(path.times) > 0.0).all()


@pytest.mark.parametrize("scenario", [CLUB, WINDY])
def test_the_third_shot_goes_from_the_contact_to_its_end(scenario: Scenario) -> None:
    for shot in shots_of(scenario):
        path = shot.shot_path
        assert (path.times[0], path.x[0], path.y[0], path.z[0]) == pytest.approx(shot.contact)
        assert (path.times[-1], path.x[-1], path.y[-1], path.z[-1]) == pytest.approx(
            shot.end, abs=1e-9
        )
        assert (np.diff(path.times) > 0.0).all()
        # Points 0.01 s apart: nothing flies farther than 2 ft between them.
        assert np.abs(np.diff(path.y)).max() < 2.0
        if shot.fate == "in play":
            assert shot.landing is not None
            assert path.bounce == shot.landing[0] < shot.end[0]
            assert shot.end[3] == pytest.approx(0.0, abs=1e-3)
        elif shot.fate == "out":
            assert shot.landing == shot.end
        elif shot.landing is None:
            assert shot.end[2] == pytest.approx(0.0, abs=1e-6)
            assert shot.net_clearance < 0.0


def test_launches_are_those_of_the_struck_ball() -> None:
    rally = play(CLUB, "cross", 0, SHOTS)
    for shot in shots_of(CLUB):
        struck, launch = shot.launch, rally.third_shot.launch.take(np.array([shot.number - 1]))
        level = struck.speed * math.cos(struck.elevation)
        assert level * math.sin(struck.azimuth) == pytest.approx(launch.x[0])
        assert -level * math.cos(struck.azimuth) == pytest.approx(launch.y[0])
        assert struck.speed * math.sin(struck.elevation) == pytest.approx(launch.z[0])


@pytest.mark.parametrize("scenario", [CLUB, running_on()])
def test_feet_run_in_as_in_the_engine_and_are_found_where_it_finds_them(
    scenario: Scenario,
) -> None:
    shot = one_shot(scenario, "line", 5)
    rally = play(scenario, "line", 0, SHOTS).alone(4)
    times = np.linspace(0.0, shot.contact_time, 30)
    for policy in scenario.policies:
        answer = shot.answers[policy.name]
        goals = targets(scenario, policy, "line", rally.contact)
        lead = scenario.run_in.split_step_lead if policy.split_step else 0.0
        stops = np.minimum(times, shot.contact_time - lead)
        places = places_at(scenario, policy, goals, runs_until(scenario, stops))
        for name in PLAYERS:
            x, y = answer.feet(name, times)
            assert x == pytest.approx(places[name].x)
            assert y == pytest.approx(places[name].y)
            assert (x[0], y[0]) == answer.start[name]
            assert (x[-1], y[-1]) == pytest.approx(answer.found[name])
            settled = answer.settled_at[name]
            assert settled is None if lead == 0.0 else settled == shot.contact_time - lead
            # Still until the reaction is over.
            late = answer.feet(name, np.array([shot.contact_time, answer.reacts_at[name]]))
            assert np.ptp(late[0]) == np.ptp(late[1]) == 0.0


def test_who_takes_the_ball_stands_within_reach_of_it_at_the_hit() -> None:
    taken = 0
    for shot in shots_of(CLUB):
        for answer in shot.answers.values():
            if answer.hit is None:
                continue
            time, x, y, z = answer.hit
            seen = answer.instants[answer.player]
            (here,) = np.flatnonzero(seen.time == time)
            ball = seen.x[here], seen.y[here], seen.z[here]
            assert ball == pytest.approx((x, y, z), abs=ROUNDING)
            in_control = answer.outcome == "in control"
            reach = (seen.control if in_control else seen.stretch)[here]
            feet_x, feet_y = (part[0] for part in answer.feet(answer.player, np.array([time])))
            away = math.hypot(x - feet_x, y - feet_y)
            # Within reach, and no nearer than need be: they stop there.
            assert away <= reach + 1e-6
            assert away >= min(reach, math.dist(answer.found[answer.player], (x, y))) - 1e-6
            if answer.taken == "volley":
                assert feet_y <= -NON_VOLLEY_ZONE + 1e-12
            taken += 1
    assert taken > 200


def test_nobody_moves_once_the_ball_is_hit() -> None:
    for shot in shots_of(CLUB):
        for answer in shot.answers.values():
            if answer.hit is not None:
                for name in PLAYERS:
                    after = answer.feet(name, answer.hit[0] + np.array([0.0, 0.1, 2.0]))
                    assert np.ptp(after[0]) == np.ptp(after[1]) == 0.0


def test_feet_are_as_far_from_the_ball_as_the_engine_has_them() -> None:
    """The same geometry in a second form: also behind the non-volley line, and along it."""
    random = np.random.default_rng(5)
    player = CLUB.pair.left
    for _ in range(400):
        place = Place(random.uniform(-9.0, 9.0, 1), random.uniform(-24.0, -7.0, 1))
        x, y, time = random.uniform(-10.0, 10.0), random.uniform(-28.0, 0.0), random.uniform(0.0, 2)
        volley = bool(random.integers(2))
        run = straight_run(player, np.array([time]))
        ball = (np.array([[part]]) for part in (time, x, y, 2.0))
        track = Track(*ball, np.array([[volley]]), np.array([[True]]))
        left = distance_left(player, track, place, run[None, :])
        feet_x, feet_y = after_run(player, place, Errand(x, y, volley, math.inf), run)
        assert math.hypot(x - feet_x[0], y - feet_y[0]) == pytest.approx(left[0, 0], abs=1e-9)


def test_instants_agree_with_the_answer() -> None:
    """A player reaches the ball just where the distance is within the reach at some instant.

    The engine looks more finely where it is close: within a hundredth of a foot anything goes.
    """
    for shot in shots_of(CLUB):
        for answer in shot.answers.values():
            for name, seen in answer.instants.items():
                control = float((seen.control - seen.left).max())
                stretch = float((seen.stretch - seen.left).max())
                if abs(control) > 0.01:
                    assert (answer.gets[name] == "in control") == (control >= 0.0)
                if abs(stretch) > 0.01:
                    assert (answer.gets[name] != "") == (stretch >= 0.0)
                assert (seen.playable | np.isneginf(seen.stretch)).all()
                assert seen.time[0] == shot.contact_time
                assert (np.diff(seen.time) > 0.0).all()


def test_a_shot_that_fails_is_not_answered() -> None:
    failed = [shot for shot in shots_of(CLUB) if shot.fate != "in play"]
    assert failed
    for shot in failed:
        for answer in shot.answers.values():
            assert (answer.outcome, answer.player, answer.hit) == ("", "", None)
            assert answer.instants == answer.spare == {}
            for name in PLAYERS:
                still = answer.feet(name, np.array([shot.contact_time, shot.contact_time + 3.0]))
                assert np.ptp(still[0]) == 0.0
                assert answer.reacts_at[name] > shot.contact_time


def test_the_shot_picked_is_the_first_drive_of_its_kind_and_its_like_are_counted() -> None:
    rally = play(CLUB, "cross", 0, SHOTS)
    known = {policy.name: policy for policy in CLUB.policies}
    having, lacking = answer_all(CLUB, rally, [known["halves"], known["follow"]])
    differ = [
        int(shot) + 1
        for index, shot in enumerate(rally.in_play)
        if having.in_control[index] and not lacking.in_control[index]
    ]
    picked = pick(CLUB, "cross", "halves", "follow")
    assert picked is not None
    drives = [number for number in differ if rally.third_shot.shot[number - 1] == DRIVE]
    assert picked.number == drives[0]
    assert (picked.alike, picked.in_play) == (len(differ), rally.in_play.size)
    assert picked.share == len(differ) / rally.in_play.size
    shot = one_shot(CLUB, "cross", picked.number)
    assert shot.answers["halves"].outcome == "in control" != shot.answers["follow"].outcome
    assert pick(CLUB, "cross", "halves", "halves") is None


def test_any_shot_is_picked_where_no_drive_differs() -> None:
    no_drives = {"opponents": {"shots": {"drive": 0, "drop": 1, "lob": 1}}}
    scenario = sim.load("club-sixties", {"run": {"shots": 512}, **no_drives})
    picked = pick(scenario, "cross", "halves", "follow")
    assert picked is not None
    assert one_shot(scenario, "cross", picked.number).shot != "drive"


@pytest.mark.parametrize("number", [0, -1, SHOTS + 1])
def test_numbers_that_the_run_does_not_have_are_refused(number: int) -> None:
    with pytest.raises(Refused, match=rf"--number: {number} .* shots 1 to {SHOTS} after"):
        one_shot(CLUB, "line", number)


def test_unknown_directions_and_policies_are_refused() -> None:
    scenario = sim.load("club-sixties", {"return_of_serve": {"directions": ["line"]}})
    with pytest.raises(Refused, match=r'--direction: "cross" .* it has "line"'):
        one_shot(scenario, "cross", 1)
    with pytest.raises(Refused, match='did you mean "follow"'):
        pick(CLUB, "line", "folow", "halves")
