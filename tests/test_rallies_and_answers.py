"""The stages between return of serve and answer: rules of place, fates, reach and details."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from sim import answers, rallies
from sim.answers import answer_all, details
from sim.court import BASELINE, HALF_WIDTH, NON_VOLLEY_ZONE
from sim.flight import Launch
from sim.players import Player
from sim.rallies import Rally, play
from sim.reach import (
    arm_length,
    distance_left,
    extent_of,
    highest_reach,
    is_forehand,
    margins,
    time_needed,
)
from sim.return_of_serve import Contact
from sim.run_in import (
    PLAYERS,
    Place,
    lateness,
    places_at,
    run_in,
    runs_until,
    starts,
    straight_run,
    targets,
)
from sim.scenario import RETURN_DIRECTIONS, Policy, Scenario
from sim.third_shot import CROSS, DRIVE, LINE, MIDDLE
from sim.track import Track, delayed, finer_track, track_of

NO_ERRORS = {"speed": "0 %", "elevation": "0 deg", "azimuth": "0 deg"}


def scenario_of(**tables: Any) -> Scenario:
    return Scenario.model_validate({"name": "engine", **tables})


def contact_at(x: float, y: float = 22.0, time: float = 2.0) -> Contact:
    return Contact(np.array([time]), np.array([x]), np.array([y]), np.array([2.0]))


def policy_of(**table: Any) -> Policy:
    return Policy.model_validate({"name": "p", **table})


# --- where policies send the pair --------------------------------------------------------------

CENTRES = {"line": "1 ft", "middle": "-2 ft", "cross": "-3 ft"}


@pytest.mark.parametrize(
    ("policy", "side", "expected"),
    [
        ({"rule": "follow"}, "even", 0.4 * 6.0),
        ({"rule": "follow", "shift": -0.5}, "even", -3.0),
        ({"rule": "tethered"}, "even", 5.0 - 3.5),
        ({"rule": "tethered"}, "odd", -5.0 + 3.5),
        ({"rule": "tethered", "spacing": "4 ft"}, "odd", -3.0),
        ({"rule": "halves"}, "even", 0.0),
        ({"rule": "centre"}, "odd", 0.0),
        ({"rule": "fixed", "centres": CENTRES}, "even", -3.0),
        # Clipped, so that the outer player stands on the sideline.
        ({"rule": "follow", "shift": 2.0, "spacing": "8 ft"}, "even", 6.0),
        ({"rule": "follow", "shift": 1.0, "spacing": "20 ft"}, "even", 0.0),
    ],
)
def test_centre_of_the_pair(policy: dict[str, Any], side: str, expected: float) -> None:
    scenario = scenario_of(return_of_serve={"side": side})
    goals = targets(scenario, policy_of(**policy), "cross", contact_at(6.0))
    left, right = goals["left"].x[0], goals["right"].x[0]
    assert 0.5 * (left + right) == pytest.approx(expected)
    assert -HALF_WIDTH - 1e-12 <= left < right <= HALF_WIDTH + 1e-12


def test_usual_spacings_and_depths() -> None:
    scenario = scenario_of()
    for rule, gap in (("halves", 10.0), ("centre", 7.0)):
        goals = targets(scenario, policy_of(rule=rule), "line", contact_at(0.0))
        assert goals["right"].x[0] - goals["left"].x[0] == pytest.approx(gap)
        assert goals["left"].y[0] == goals["right"].y[0] == -8.0


@pytest.mark.parametrize(("side", "returner"), [("even", "right"), ("odd", "left")])
def test_returner_and_partner_have_depths_of_their_own(side: str, returner: str) -> None:
    policy = policy_of(rule="centre", returner_depth="20 ft", partner_depth="7 ft")
    goals = targets(scenario_of(return_of_serve={"side": side}), policy, "line", contact_at(0.0))
    assert {name: goals[name].y[0] for name in PLAYERS} == {
        name: -20.0 if name == returner else -7.0 for name in PLAYERS
    }


# --- the run-in --------------------------------------------------------------------------------


def test_starts_of_both_players() -> None:
    policy = policy_of(rule="centre", depth="9 ft")
    back = starts(scenario_of(), policy)
    assert back == {"right": (5.0, -22.5), "left": (-5.0, -22.5)}
    up = scenario_of(run_in={"partner_starts": "line"}, return_of_serve={"side": "odd"})
    assert starts(up, policy) == {"left": (-5.0, -22.5), "right": (5.0, -9.0)}


def test_place_on_the_way_by_hand() -> None:
    # 10 ft/s and 1 s: after 1.3 s less a delay of 0.3 s, 10 (1 - (1 - exp(-1))) = 3.679 ft straight
    # ahead. The goal is straight ahead of the returner, 14.5 ft away.
    legs = {"top_speed": "10 ft/s", "time_constant": "1 s"}
    scenario = scenario_of(pair={"left": legs, "right": legs})
    policy = policy_of(rule="halves")
    goals = targets(scenario, policy, "line", contact_at(0.0))
    places = places_at(scenario, policy, goals, runs_until(scenario, np.array([1.3])))
    assert (places["right"].x[0], places["right"].y[0]) == pytest.approx(
        (5.0, -22.5 + 10.0 * math.exp(-1.0))
    )
    # The partner leaves 0.05 s earlier.
    early = 1.05 + math.expm1(-1.05)
    assert places["left"].y[0] == pytest.approx(-22.5 + 10.0 * early)
    # Before the delay nobody has moved; in the end both stand on their goals.
    still = places_at(scenario, policy, goals, runs_until(scenario, np.array([0.2])))
    assert still["right"].y[0] == still["left"].y[0] == -22.5
    settled = places_at(scenario, policy, goals, runs_until(scenario, np.array([60.0])))
    for name in PLAYERS:
        assert settled[name].y[0] == pytest.approx(-8.0, abs=1e-9)
        assert settled[name].x[0] == pytest.approx(goals[name].x[0], abs=1e-9)


def test_running_sideways_and_backwards_takes_longer() -> None:
    # 4 ft sideways cost as much as 4 / 0.85 ft ahead, 4 ft back as much as 4 / 0.65 ft.
    player = Player()
    run = straight_run(player, np.array([0.8]))[0]
    scenario = scenario_of()
    policy = policy_of(rule="centre")
    for dx, dy, factor in ((9.0, 0.0, 0.85), (0.0, 9.0, 1.0), (0.0, -9.0, 0.65)):
        x, y = starts(scenario, policy)["left"]
        goal = Place(np.array([x + dx]), np.array([y + dy]))
        there = places_at(
            scenario,
            policy,
            {"left": goal, "right": goal},
            runs_until(scenario, np.array([0.8 + 0.25])),
        )["left"]
        moved = math.hypot(there.x[0] - x, there.y[0] - y)
        assert moved == pytest.approx(factor * run)


def test_split_step_stops_early_and_running_on_does_not() -> None:
    scenario = scenario_of()
    stop, run = policy_of(rule="centre"), policy_of(rule="centre", split_step=False)
    at_strike = {
        policy.split_step: run_in(scenario, policy, "line", contact_at(0.0, time=1.2))["right"].y[0]
        for policy in (stop, run)
    }
    goals = targets(scenario, stop, "line", contact_at(0.0))
    settled = places_at(scenario, stop, goals, runs_until(scenario, np.array([1.2 - 0.15])))[
        "right"
    ].y[0]
    assert at_strike[True] == pytest.approx(settled)
    assert at_strike[False] > at_strike[True] + 0.5


def test_running_on_reacts_later() -> None:
    # With both at their goals long before the strike only the later reaction is left: 0.104 s.
    legs = {"top_speed": "36 ft/s", "time_constant": "0.2 s"}
    tables = {
        "pair": {"left": legs, "right": legs},
        "run_in": {"returner_delay": "0 s", "partner_delay": "0 s"},
        "policies": [
            {"name": "stop", "rule": "centre", "depth": "20 ft"},
            {"name": "run", "rule": "centre", "depth": "20 ft", "split_step": False},
        ],
    }
    scenario = scenario_of(**tables)
    rally = play(scenario, "line", shots=400)
    stop, run = answer_all(scenario, rally, scenario.policies)
    for name in PLAYERS:
        np.testing.assert_allclose(stop.places[name].x, run.places[name].x, atol=1e-9)
        assert not np.any(run.control[name] & ~stop.control[name])
    spare = [
        details(scenario, rally, policy, answer).spare["left"]
        for policy, answer in zip(scenario.policies, (stop, run), strict=True)
    ]
    np.testing.assert_allclose(spare[0] - spare[1], 0.104, atol=1e-9)


# --- the third shot ----------------------------------------------------------------------------


def only(shot: str, **opponents: Any) -> dict[str, Any]:
    weights = {name: 1 if name == shot else 0 for name in ("drive", "drop", "lob")}
    return {"shots": weights, "errors": NO_ERRORS, **opponents}


def landings(rally: Rally) -> tuple[np.ndarray, np.ndarray]:
    return rally.rebound.origin_x, rally.rebound.origin_y


@pytest.mark.parametrize("direction", RETURN_DIRECTIONS)
@pytest.mark.parametrize("shot", ["drive", "drop", "lob"])
def test_lanes_are_counted_from_the_contact(shot: str, direction: str) -> None:
    scenario = scenario_of(opponents=only(shot, inset="2 ft", middle="0 ft"))
    rally = play(scenario, direction, shots=400)
    lane = rally.third_shot.lane[rally.in_play]
    near = np.where(rally.contact.x[rally.in_play] >= 0.0, 1.0, -1.0)
    x, _ = landings(rally)
    # To a hundredth of a foot, as `tests/published/test_aim.py` asks.
    np.testing.assert_allclose(x[lane == LINE], 8.0 * near[lane == LINE], atol=0.02)
    np.testing.assert_allclose(x[lane == CROSS], -8.0 * near[lane == CROSS], atol=0.02)
    np.testing.assert_allclose(x[lane == MIDDLE], 0.0, atol=0.02)
    assert {LINE, MIDDLE, CROSS} == set(np.unique(lane))


def test_lane_weights_by_return_direction() -> None:
    lanes = {"line": {"line": 0, "middle": 0, "cross": 1}}
    scenario = scenario_of(opponents={"lanes_by_return": lanes})
    assert set(play(scenario, "line", shots=200).third_shot.lane) == {CROSS}
    assert set(play(scenario, "middle", shots=200).third_shot.lane) == {LINE, MIDDLE, CROSS}


def test_drives_slow_down_for_the_baseline() -> None:
    fast = only("drive", drive={"speed": "60 mph", "net_clearance": "2 ft"})
    rally = play(scenario_of(opponents=fast), "middle", shots=300)
    _, y = landings(rally)
    assert rally.in_play.size == 300
    np.testing.assert_allclose(y, -20.0, atol=0.02)
    launch = rally.third_shot.launch
    speed = np.sqrt(launch.x**2 + launch.y**2 + launch.z**2)
    assert speed.max() < 60.0 * 5280.0 / 3600.0
    fast["drive"]["inside_baseline"] = "none"
    unchecked = play(scenario_of(opponents=fast), "middle", shots=300)
    assert np.count_nonzero(unchecked.fate == rallies.OUT) > 290


def test_azimuth_given_directly() -> None:
    # Positive towards the opponents' own cross-court side: away from their near sideline.
    for degrees in (-5.0, 12.0):
        wish = only("drive", drive={"azimuth": f"{degrees} deg"})
        rally = play(scenario_of(opponents=wish), "cross", shots=200)
        launch = rally.third_shot.launch
        near = np.where(rally.contact.x >= 0.0, 1.0, -1.0)
        found = np.degrees(np.arctan2(launch.x, -launch.y))
        np.testing.assert_allclose(found, -near * degrees, atol=1e-9)


def test_execution_errors_change_speed_and_direction() -> None:
    wrong = {"speed": "10 %", "elevation": "2 deg", "azimuth": "-3 deg"}
    shot = {"shots": {"drive": 1, "drop": 0, "lob": 0}}
    pure = play(scenario_of(opponents={**shot, "errors": NO_ERRORS}), "line", shots=200)
    off = play(scenario_of(opponents={**shot, "errors": wrong}), "line", shots=200)

    def polar(launch: Launch) -> tuple[np.ndarray, ...]:
        ground = np.hypot(launch.x, launch.y)
        return (
            np.hypot(ground, launch.z),
            np.degrees(np.arctan2(launch.z, ground)),
            np.degrees(np.arctan2(launch.x, -launch.y)),
        )

    before, after = polar(pure.third_shot.launch), polar(off.third_shot.launch)
    np.testing.assert_allclose(after[0], 1.1 * before[0], rtol=1e-12)
    np.testing.assert_allclose(after[1], before[1] + 2.0, atol=1e-9)
    np.testing.assert_allclose(after[2], before[2] - 3.0, atol=1e-9)
    assert np.all(pure.third_shot.shot == DRIVE)


def test_contacts_follow_the_rules() -> None:
    wanted = scenario_of(opponents={"farthest_contact": "25 ft"})
    for direction in RETURN_DIRECTIONS:
        contact = play(wanted, direction, shots=1000).contact
        assert contact.y.max() <= 25.0 + 1e-6
        assert np.all((contact.z > 0.0) & (contact.z <= 6.0))
        inside = contact.y < 25.0 - 1e-6
        # In front of the last depth they strike at 3.5 ft at most: the ball has come down to that.
        assert np.all(contact.z[inside] <= 3.5 + 1e-6)
        assert np.count_nonzero(inside) > 100
        assert np.all(contact.time > 0.5)


# --- the answer --------------------------------------------------------------------------------


def usual_answers(direction: str = "line", shots: int = 700) -> tuple[Scenario, Rally, list]:
    scenario = scenario_of(
        pair={"left": {"handed": "left", "height": "5 ft"}, "right": {"age_group": "thirties"}}
    )
    rally = play(scenario, direction, shots=shots)
    return scenario, rally, answer_all(scenario, rally, scenario.policies)


@pytest.mark.parametrize("direction", RETURN_DIRECTIONS)
def test_details_agree_with_the_answer(direction: str) -> None:
    scenario, rally, answers = usual_answers(direction)
    for policy, answer in zip(scenario.policies, answers, strict=True):
        detail = details(scenario, rally, policy, answer)
        assert (detail.player >= 0).tolist() == answer.reached.tolist()
        taken = detail.player >= 0
        for values in (detail.time, detail.x, detail.y, detail.z):
            assert np.isfinite(values).tolist() == taken.tolist()
        assert not np.any((detail.forehand | detail.volley) & ~taken)
        for index, name in enumerate(PLAYERS):
            spare, control = detail.spare[name], answer.control[name]
            assert np.all(control[spare >= 0.0])
            # Both look at the ball's flight on grids of their own, which may differ by less than a
            # millisecond about the ball that is just reached.
            assert np.all(spare[control] > -1e-3)
            mine = detail.player == index
            assert np.all(answer.stretch[name][mine])
            # Nobody at full stretch takes a ball that somebody has in control.
            assert np.all(control[mine & answer.in_control])
            assert not np.any(answer.control[name] & ~answer.stretch[name])


@pytest.mark.parametrize("wind", ["0 mph", "12 mph"])
def test_every_ball_may_be_played_from_the_net_on(wind: str) -> None:
    # Its place there comes out of a search: within rounding of the net, on either side of it.
    air = {"wind_from_behind": wind, "wind_to_the_right": wind}
    scenario = Scenario.model_validate({"name": "t", "air": air})
    rally = play(scenario, "line", shots=2048)
    assert track_of(rally.approach, rally.rebound).live[0].all()


def looked_at_everywhere(
    player: Player, rally: Rally, place: Place, reaction: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """In control and at full stretch without any shortcut: every instant of every shot, exactly."""
    track = track_of(rally.approach, rally.rebound)
    track = delayed(track, np.where(track.volley, rally.net_time, rally.landing_time))
    extent = extent_of(player, track, reaction)
    left = distance_left(player, track, place, extent.run)
    forehand = is_forehand(player, track.x, place)
    turning = np.zeros(forehand.shape, bool)
    turning[1:] |= forehand[1:] != forehand[:-1]
    turning[:-1] |= forehand[1:] != forehand[:-1]
    found = []
    for kind, (fore, back) in enumerate(
        (
            (extent.control_forehand, extent.control_backhand),
            (extent.stretch_forehand, extent.stretch_backhand),
        )
    ):
        hand = np.where(forehand, fore, back)
        hit = (hand >= left).any(axis=0)
        room = np.where(turning, np.maximum(fore, back), hand) - left
        near = np.flatnonzero(~hit & (room.max(axis=0) > -0.25))
        finer = finer_track(
            rally.approach, rally.rebound, track, near, room[:, near].argmax(axis=0)
        )
        closer = extent_of(player, finer, reaction[near])
        hit[near] = (margins(player, finer, closer, place.take(near))[kind] >= 0.0).any(axis=0)
        found.append(hit)
    return found[0], found[0] | found[1]


ODD_PAIR = {
    "pair": {
        "left": {"handed": "left", "height": "4 ft 2 in", "backhand": 1.1},
        "right": {"height": "6 ft 8 in", "sideways": 1.2, "backwards": 1.1, "top_speed": "30 ft/s"},
    },
    "air": {"wind_to_the_right": "12 mph", "wind_from_behind": "-8 mph"},
    "opponents": {"shots": {"drive": 1, "drop": 1, "lob": 1}},
    "policies": [
        {"name": "stop", "rule": "halves"},
        {"name": "run on", "rule": "halves", "split_step": False},
        {"name": "tethered", "rule": "tethered"},
        {"name": "back", "rule": "bisect", "depth": "20 ft", "split_step": False},
    ],
}


@pytest.mark.parametrize("tables", [{}, ODD_PAIR])
@pytest.mark.parametrize("direction", RETURN_DIRECTIONS)
def test_no_shortcut_changes_an_answer(tables: dict[str, Any], direction: str) -> None:
    scenario = scenario_of(**tables)
    rally = play(scenario, direction, shots=3000)
    given = answer_all(scenario, rally, scenario.policies)
    for policy, answer in zip(scenario.policies, given, strict=True):
        for name in PLAYERS:
            control, stretch = looked_at_everywhere(
                getattr(scenario.pair, name),
                rally,
                answer.places[name],
                rally.reaction[name] + lateness(scenario, policy),
            )
            assert answer.control[name].tolist() == control.tolist()
            assert answer.stretch[name].tolist() == stretch.tolist()
            assert 0 < np.count_nonzero(control) < np.count_nonzero(stretch) < stretch.size


def test_taken_balls_are_within_reason() -> None:
    scenario, rally, answers = usual_answers("cross")
    end = rally.landing_time + rally.rebound.duration
    for policy, answer in zip(scenario.policies, answers, strict=True):
        detail = details(scenario, rally, policy, answer)
        for index, name in enumerate(PLAYERS):
            mine = detail.player == index
            player: Player = getattr(scenario.pair, name)
            time, x, y, z = (getattr(detail, key)[mine] for key in ("time", "x", "y", "z"))
            place = answer.places[name]
            away = np.hypot(x - place.x[mine], y - place.y[mine])
            since = time - rally.reaction[name][mine]
            stretch = player.stretched_reach + arm_length(player, stretched=True)
            assert np.all(since >= 0.0)
            assert np.all(away <= straight_run(player, since) + stretch)
            assert np.all((z >= -1e-6) & (z <= highest_reach(player)))
            assert np.all((y <= 1e-9) & (y > -30.0))
            assert np.all(time <= end[mine])
            volley, landing = detail.volley[mine], rally.landing_time[mine]
            assert np.all(time[volley] <= landing[volley] + 1e-9)
            assert np.all(time[~volley] >= landing[~volley] - 1e-9)
            side = 1.0 if player.handed == "right" else -1.0
            assert (side * (x - place.x[mine]) >= 0.0).tolist() == detail.forehand[mine].tolist()


def test_volleys_are_taken_from_behind_the_line() -> None:
    # However fast the legs, a volley over the non-volley zone is taken from its line or from
    # behind.
    rocket = Player().model_copy(update={"top_speed": 1e4, "time_constant": 1e-3})
    over = np.array([[-1.0, -3.0, -6.5]])
    track = Track(
        np.ones((1, 3)),
        np.zeros((1, 3)),
        over,
        np.full((1, 3), 3.0),
        np.ones((1, 1), bool),
        np.ones((1, 3), bool),
    )
    place = Place(np.full(3, 4.0), np.full(3, -8.0))
    run = np.full((1, 3), 100.0)
    left = distance_left(rocket, track, place, run)
    assert left[0] == pytest.approx(over[0] + NON_VOLLEY_ZONE)
    bounced = Track(track.time, track.x, track.y, track.z, ~track.volley, track.live)
    assert distance_left(rocket, bounced, place, run)[0] == pytest.approx(np.zeros(3))


def test_volley_along_the_line_by_hand() -> None:
    # From (4, -8), 1 ft behind the line, a run of 2 ft straight ahead: 1 ft to the line leaves
    # sqrt(2^2 - 1^2) * 0.85 = 1.472 ft along it. The ball at (0, -4) is then 4 - 1.472 ft aside and
    # 3 ft beyond the line.
    one = np.ones((1, 1))
    track = Track(one, 0.0 * one, -4.0 * one, 3.0 * one, one > 0.0, one > 0.0)
    left = distance_left(Player(), track, Place(np.array([4.0]), np.array([-8.0])), 2.0 * one)
    aside = 4.0 - 0.85 * math.sqrt(3.0)
    assert left[0, 0] == pytest.approx(math.hypot(aside, 3.0))


def test_time_needed_is_what_the_margins_say() -> None:
    # A ball 10 ft to the forehand, level with the feet, at shoulder height: the legs have to close
    # 10 ft less the flat reach, sideways.
    player = Player()
    one = np.ones((1, 1))
    shoulder = player.shoulder_share * player.stance_share * player.height
    track = Track(one, 10.0 * one, -9.0 * one, shoulder * one, one > 2.0, one > 0.0)
    needed = time_needed(player, track, Place(np.array([0.0]), np.array([-9.0])))[0, 0]
    reach = player.shoulder_offset_share * player.height + arm_length(player, stretched=False)
    run = straight_run(player, np.array([needed]))[0] * player.sideways
    assert run == pytest.approx(10.0 - reach, abs=1e-4)


def test_leaks_by_the_definition() -> None:
    slow = {"top_speed": "3 ft/s", "reaction": "0.7 s"}
    scenario = scenario_of(
        pair={"left": slow, "right": slow},
        run_in={"partner_starts": "line"},
        opponents={"shots": {"drive": 1, "drop": 1, "lob": 4}},
        policies=[
            {"name": "apart", "rule": "centre", "spacing": "19 ft", "depth": "20 ft"},
            {"name": "together", "rule": "centre", "spacing": "3 ft", "depth": "12 ft"},
        ],
    )
    rally = play(scenario, "line", shots=1500)
    given = answer_all(scenario, rally, scenario.policies)
    contact_x = rally.contact.x[rally.in_play]
    seen = set()
    for answer in given:
        assert (answer.leak == answers.REACHED).tolist() == answer.reached.tolist()
        left, right = answer.places["left"], answer.places["right"]
        depth = 0.5 * (left.y + right.y)
        shots = np.arange(rally.in_play.size)
        x, z, arrived = answers.passing(rally, shots, depth)
        tallest = max(highest_reach(scenario.pair.left), highest_reach(scenario.pair.right))
        for k in np.flatnonzero(answer.leak != answers.REACHED):
            outside = 1 if x[k] > right.x[k] else -1 if x[k] < left.x[k] else 0
            near = 1 if contact_x[k] >= 0.0 else -1
            if not arrived[k]:
                expected = "short"
            elif z[k] > tallest:
                expected = "over"
            elif outside == 0:
                expected = "middle"
            else:
                expected = "line" if outside == near else "cross"
            assert answers.LEAKS[answer.leak[k]] == expected
            seen.add(expected)
    assert seen == set(answers.LEAKS)


def test_passing_at_the_players_depth() -> None:
    rally = play(scenario_of(), "middle", shots=500)
    shots = np.arange(rally.in_play.size)
    depth = np.full(shots.size, -8.0)
    x, z, arrived = answers.passing(rally, shots, depth)
    before = rally.rebound.origin_y <= -8.0
    assert np.all(arrived[before])
    # A straight line over the ground, in calm air: from the net by way of the landing point.
    net_x, net_y = rally.approach.origin_x, rally.approach.origin_y
    slope = (rally.rebound.origin_x - net_x) / (rally.rebound.origin_y - net_y)
    expected = net_x + slope * (depth - net_y)
    np.testing.assert_allclose(x[arrived], expected[arrived], atol=1e-3)
    assert np.all(z >= -1e-6)


def test_batches_do_not_show(monkeypatch: pytest.MonkeyPatch) -> None:
    scenario = scenario_of()
    rally = play(scenario, "line", shots=700)
    whole = answer_all(scenario, rally, scenario.policies)
    whole_detail = details(scenario, rally, scenario.policies[0], whole[0])
    monkeypatch.setattr(answers, "_BATCH", 97)
    parts = answer_all(scenario, rally, scenario.policies)
    for one, other in zip(whole, parts, strict=True):
        assert one.reached.tolist() == other.reached.tolist()
        assert one.in_control.tolist() == other.in_control.tolist()
    detail = details(scenario, rally, scenario.policies[0], parts[0])
    np.testing.assert_array_equal(detail.player, whole_detail.player)
    np.testing.assert_allclose(detail.spare["left"], whole_detail.spare["left"], atol=1e-9)


def test_reactions_have_a_shortest_one() -> None:
    quick = {"reaction": "0.05 s"}
    scenario = scenario_of(pair={"left": quick, "right": quick})
    rally = play(scenario, "line", shots=50)
    for name in PLAYERS:
        assert set(rally.reaction[name]) == {0.12}


def test_opponents_who_hit_everything_into_the_net() -> None:
    wild = {
        "drive": {"net_clearance": "0 ft"},
        "drop": {"net_clearance": "0 ft"},
        "shots": {"drive": 1, "drop": 1, "lob": 0},
        "errors": {"speed": "0 %", "elevation": "-25 deg", "azimuth": "0 deg"},
    }
    scenario = scenario_of(opponents=wild)
    rally = play(scenario, "line", shots=200)
    assert set(rally.fate) == {rallies.NET}
    assert rally.in_play.size == 0
    for policy, answer in zip(
        scenario.policies, answer_all(scenario, rally, scenario.policies), strict=True
    ):
        assert answer.reached.size == answer.leak.size == 0
        detail = details(scenario, rally, policy, answer)
        assert detail.player.size == detail.time.size == detail.spare["left"].size == 0


CORNERS = {
    "high drag": {"ball": {"drag_coefficient": 0.8}},
    "light and large ball": {"ball": {"mass": "18 g", "diameter": "3.5 in", "kind": "indoor"}},
    "spin and lift": {
        "ball": {"lift_slope": 0.4},
        "opponents": {"drive": {"topspin": "2000 rpm"}, "drop": {"topspin": "-2000 rpm"}},
    },
    "high drops with topspin": {
        "opponents": {"drop": {"net_clearance": "8 ft", "topspin": "2000 rpm"}}
    },
    "slow drives": {"opponents": {"drive": {"speed": "10 mph"}}},
    "drives to the side": {"opponents": {"drive": {"azimuth": "60 deg"}}},
    "gale": {"air": {"wind_from_behind": "15 mph", "wind_to_the_right": "-15 mph"}},
    "gale from in front": {"air": {"wind_from_behind": "-15 mph"}},
}


TALL_RETURNS_IN_A_GALE = {
    "ball": {"kind": "indoor"},
    "return_of_serve": {"top": "30 ft"},
    "air": {"wind_from_behind": "-15 mph", "wind_to_the_right": "15 mph"},
}


def test_tall_returns_in_a_gale() -> None:
    scenario = scenario_of(**TALL_RETURNS_IN_A_GALE)
    for direction in RETURN_DIRECTIONS:
        assert np.all(np.isfinite(play(scenario, direction, shots=300).net_clearance))


@pytest.mark.parametrize("name", CORNERS)
def test_corners_of_what_a_scenario_may_say(name: str) -> None:
    # All at the limits of their fields or near them. Warnings are errors here: nothing may
    # overflow, because a launch that is not a number would be counted as a ball in the net.
    scenario = scenario_of(**CORNERS[name])
    for direction in RETURN_DIRECTIONS:
        rally = play(scenario, direction, shots=800)
        assert np.all(np.isfinite(rally.net_clearance))


def test_one_shot() -> None:
    scenario = scenario_of()
    rally = play(scenario, "middle", shots=1)
    assert rally.fate.shape == (1,)
    (answer, *_) = answer_all(scenario, rally, scenario.policies)
    assert answer.reached.shape == rally.in_play.shape


def test_blocks_differ() -> None:
    scenario = scenario_of()
    first, other = (play(scenario, "line", block, shots=60) for block in (0, 1))
    assert not np.allclose(first.contact.x, other.contact.x, atol=0.1)


def test_flights_join_where_they_should() -> None:
    rally = play(scenario_of(), "cross", shots=300)
    approach, rebound = rally.approach, rally.rebound
    x, y, z = approach.position(approach.duration)
    np.testing.assert_allclose(x, rebound.origin_x, atol=0.01)
    np.testing.assert_allclose(y, rebound.origin_y, atol=0.01)
    np.testing.assert_allclose(z, 0.0, atol=0.01)
    np.testing.assert_allclose(approach.origin_y, 0.0, atol=1e-6)
    assert np.all(rebound.origin_y >= -BASELINE)
    assert np.all(rally.net_time < rally.landing_time)
