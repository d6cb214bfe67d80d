"""One shot of a run by its number: the very shot of the comparison, and all that led to it."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

import sim
from sim.analyses import one_shot as module
from sim.analyses.one_shot import OneShot, one_shot
from sim.analyses.shot_feet import Errand, after_run
from sim.comparison import shot_rows
from sim.court import NON_VOLLEY_ZONE, POST
from sim.draws import BLOCK
from sim.errors import Refused
from sim.rallies import play
from sim.reach import distance_left
from sim.run_in import PLAYERS, Place, places_at, runs_until, straight_run, targets
from sim.scenario import Scenario
from sim.tables import SHOT_COLUMNS
from sim.track import Track
from tests.played_blocks import played_once

SHOTS = 64
# With and without a split step, near and far from the net.
POLICIES = [
    {"name": "halves", "rule": "halves"},
    {"name": "run on", "rule": "follow", "split_step": False},
    {"name": "stay back", "rule": "centre", "depth": "22 ft"},
]
CLUB = sim.load("club-sixties", {"run": {"shots": SHOTS}, "policies": POLICIES})
# A block is played as one; a shot alone goes through matrix products of one column, whose sums are
# taken in another order. Times of a few seconds and places of tens of feet then differ by units of
# their last digits.
ROUNDING = 1e-12
# In still air the engine lands a return by its aim, unflown, and the aim is that exact.
AIMED = 0.01


def windy(**run: Any) -> Scenario:
    wind = {"wind_from_behind": "8 mph", "wind_to_the_right": "-6 mph"}
    return sim.load("club-sixties", {"run": {"shots": 16} | run, "air": wind, "policies": POLICIES})


WINDY = windy()
_PLAYED: dict[str, list[OneShot]] = {}


@pytest.fixture(autouse=True)
def _every_block_is_played_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "play", played_once)


def shots_of(scenario: Scenario) -> list[OneShot]:
    """All shots after returns cross-court; played once for all tests."""
    if scenario.digest() not in _PLAYED:
        numbers = range(1, scenario.run.shots + 1)
        _PLAYED[scenario.digest()] = [one_shot(scenario, "cross", number) for number in numbers]
    return _PLAYED[scenario.digest()]


@pytest.mark.parametrize("scenario", [CLUB, WINDY, windy(sampling="pseudo-random", seed=0)])
def test_it_is_the_shot_of_the_comparison(scenario: Scenario) -> None:
    """Every column of shots.csv, for every policy and direction."""
    rows = {
        (row["return_direction"], row["shot_number"], row["policy"]): row
        for block in shot_rows(scenario)
        for row in block
    }
    shots = [
        one_shot(scenario, direction, number)
        for direction in ("line", "middle")
        for number in range(1, scenario.run.shots + 1, 5)
    ]
    for shot in [*shots, *shots_of(scenario)]:
        assert [row["policy"] for row in shot.rows] == [policy["name"] for policy in POLICIES]
        for row in shot.rows:
            expected = rows[shot.direction, shot.number, row["policy"]]
            assert list(row) == SHOT_COLUMNS
            filled = {name: value for name, value in row.items() if name in expected}
            assert filled == pytest.approx(expected, abs=ROUNDING, nan_ok=True)
            assert {row[name] for name in row.keys() - expected.keys()} <= {""}


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


def test_feet_run_in_as_in_the_engine_and_are_found_where_it_finds_them() -> None:
    scenario = CLUB
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
            feet_x, feet_y = (part[0] for part in answer.feet(answer.player, np.array([time])))
            away = math.hypot(x - feet_x, y - feet_y)
            if in_control:
                # Within reach, and no nearer than need be: they stop there.
                reach = seen.control[here]
                assert away <= reach + 1e-6
                assert away >= min(reach, math.dist(answer.found[answer.player], (x, y))) - 1e-6
            else:
                # As near as they get, and farther than would do for control.
                assert away == pytest.approx(seen.left[here], abs=1e-6)
                assert seen.control[here] < away <= seen.stretch[here]
            if answer.taken == "volley":
                assert feet_y <= -NON_VOLLEY_ZONE + 1e-12
            taken += 1
    assert taken > 100


def test_only_one_runs_for_the_ball() -> None:
    """Who takes it; if nobody does, who misses it least. The other stands where it finds them."""
    missed = 0
    for shot in shots_of(CLUB):
        for answer in shot.answers.values():
            if not answer.in_play:
                continue
            lacking = {n: float((i.left - i.stretch).min()) for n, i in answer.instants.items()}
            runner = answer.player or min(lacking, key=lacking.__getitem__)
            missed += not answer.player
            for name in PLAYERS:
                x, y = answer.feet(name, np.linspace(shot.contact_time, shot.end[0], 40))
                if name != runner:
                    assert np.ptp(x) == np.ptp(y) == 0.0
                    assert (x[0], y[0]) == pytest.approx(answer.found[name])
                elif not answer.player:
                    assert np.hypot(np.ptp(x), np.ptp(y)) > 0.1
    assert missed > 2


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


@pytest.mark.parametrize(
    ("number", "said"),
    [
        (0, f"count from 1: --number 1 to {SHOTS}"),
        (-1, f"count from 1: --number 1 to {SHOTS}"),
        (SHOTS + 1, f"shots 1 to {SHOTS} after"),
    ],
)
def test_numbers_that_the_run_does_not_have_are_refused(number: int, said: str) -> None:
    with pytest.raises(Refused, match=rf"--number: {number} .*{said}"):
        one_shot(CLUB, "line", number)


def test_directions_that_the_scenario_lacks_are_refused() -> None:
    scenario = sim.load("club-sixties", {"return_of_serve": {"directions": ["line"]}})
    with pytest.raises(Refused, match=r'--direction: "cross" .* it has "line"'):
        one_shot(scenario, "cross", 1)


def test_around_the_post_there_is_no_net_to_clear() -> None:
    """Struck from beside the court, down the line: of many drives some pass outside the post."""
    scenario = sim.load("fast-hitters", {"policies": POLICIES})
    rally = play(scenario, "cross", 0, scenario.run.shots)
    crossing = rally.approach.origin_x[np.abs(rally.approach.origin_x) > POST]
    around = rally.in_play[np.abs(rally.approach.origin_x) > POST]
    assert around.size
    shot = one_shot(scenario, "cross", int(around[0]) + 1)
    assert shot.around_post
    assert shot.over_net is not None
    assert shot.over_net[1] == pytest.approx(crossing[0], abs=1e-6)
    assert not any(other.around_post for other in shots_of(CLUB) if other.fate == "in play")
