"""What the two cover against a typical drive: sensible regions, and the model's own drive."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import sim
from sim.court import BASELINE, HALF_WIDTH
from sim.coverage import Coverage, Fan, coverage, fan_of_drives, typical_drive
from sim.opponents import LANES
from sim.players import Player
from sim.rallies import ball_of
from sim.return_of_serve import Contact
from sim.scenario import Scenario
from sim.third_shot import strike

CONTACT = (7.3, 21.8, 2.3)
FEET = {"left": (-4.31, -12.9), "right": (4.17, -12.4)}


def scenario(**changes: Any) -> Scenario:
    return sim.load("club-sixties", changes)


@pytest.fixture(scope="module")
def usual() -> Scenario:
    return scenario()


@pytest.fixture(scope="module")
def fan(usual: Scenario) -> Fan:
    return fan_of_drives(usual, "line", CONTACT)


def with_left(scenario: Scenario, **changes: Any) -> Scenario:
    """The scenario with a changed left player; values as the program holds them."""
    left = scenario.pair.left.model_copy(update=changes)
    return scenario.model_copy(update={"pair": scenario.pair.model_copy(update={"left": left})})


def regions(covered: Coverage) -> list[np.ndarray]:
    return [
        margins[name] >= 0.0
        for margins in (covered.in_control, covered.at_full_stretch)
        for name in ("left", "right")
    ]


def test_the_typical_drive_is_the_one_that_the_model_strikes_without_spread() -> None:
    # Every spread replaced by its median and no execution error: the engine's own third shot.
    exact = scenario(
        opponents={
            "shots": {"drive": 1, "drop": 0, "lob": 0},
            "drive": {"speed": "36 mph", "net_clearance": "1.2 ft"},
            "inset": "1.8 ft",
            "middle": "0.5 ft",
            "errors": {"speed": "0 %", "elevation": "0 deg", "azimuth": "0 deg"},
        }
    )
    ball, count = ball_of(exact), 3
    contact = Contact(np.zeros(count), *(np.full(count, value) for value in CONTACT))
    uniform = {
        name: np.full(count, 0.5)
        for name in ("shot", "landing_side", "pace", "net_clearance", "error_speed",
                     "error_elevation", "error_azimuth")
    }  # fmt: skip
    uniform["lane"] = np.array([0.1, 0.5, 0.9])
    struck = strike(exact, ball, ("line",), contact, uniform)
    assert [LANES[lane] for lane in struck.lane] == ["line", "middle", "cross"]
    landing_x = np.array([HALF_WIDTH - 1.8, 0.5, -HALF_WIDTH + 1.8])
    ours = typical_drive(exact, ball, contact, landing_x)
    for axis in ("x", "y", "z", "spin"):
        # The same functions on the same numbers, apart from the way through speed and angles.
        np.testing.assert_allclose(getattr(ours, axis), getattr(struck.launch, axis), rtol=1e-9)


def test_the_fan_crosses_the_whole_court_in_steps_finer_than_a_degree(fan: Fan) -> None:
    volley = int(np.count_nonzero(fan.track.volley))
    landing_x = fan.track.x[volley]
    assert landing_x[0] == pytest.approx(-HALF_WIDTH, abs=0.1)
    assert landing_x[-1] == pytest.approx(HALF_WIDTH, abs=0.1)
    azimuth = np.arctan2(fan.track.x[-1] - CONTACT[0], CONTACT[1] - fan.track.y[-1])
    assert np.all(np.diff(azimuth) > 0.0)
    assert np.degrees(np.diff(azimuth).max()) < 1.0


def test_fast_drives_are_slowed_down_to_land_inside_the_baseline() -> None:
    fast = scenario(opponents={"drive": {"speed": "60 mph", "inside_baseline": "2 ft"}})
    fan = fan_of_drives(fast, "line", CONTACT)
    volley = int(np.count_nonzero(fan.track.volley))
    # Landing depths of aimed drives are met to within a tenth of an inch by the aiming tests.
    np.testing.assert_allclose(fan.track.y[volley], -(BASELINE - 2.0), atol=0.01)


def test_drives_that_cannot_land_in_leave_an_empty_fan() -> None:
    wild = scenario(opponents={"drive": {"speed": "80 mph", "inside_baseline": "none"}})
    fan = fan_of_drives(wild, "line", CONTACT)
    assert fan.drive.size == 0
    assert list(fan.neighbours()) == []
    assert coverage(wild, wild.baseline, fan, FEET).in_control["left"].shape[1] == 0


def test_neighbours_stop_where_a_drive_is_missing(fan: Fan) -> None:
    assert list(fan.neighbours()) == [slice(0, fan.drive.size)]
    broken = Fan(CONTACT, np.array([0, 1, 2, 5, 8, 9]), fan.track)
    # A drive alone between two missing ones makes no area.
    assert list(broken.neighbours()) == [slice(0, 3), slice(4, 6)]


@given(
    x=st.floats(-9.0, 9.0),
    depth=st.floats(8.0, 18.0),
    direction=st.sampled_from(["line", "middle", "cross"]),
)
def test_a_player_covers_what_comes_to_the_feet(x: float, depth: float, direction: str) -> None:
    usual = scenario()
    contact = {"line": 7.3, "middle": -1.0, "cross": -9.2}[direction], 21.8, 2.3
    fan = fan_of_drives(usual, direction, contact)
    feet = {"left": (x, -depth), "right": (x, -depth)}
    covered = coverage(usual, usual.baseline, fan, feet)
    near = np.hypot(fan.track.x - x, fan.track.y + depth) < 1.0
    # Within inches of its bounce a ball is lower than this pair bends for on the backhand.
    near &= fan.track.live & (fan.track.z > 0.5)
    for margins in covered.at_full_stretch.values():
        assert np.all(margins[near] >= 0.0)


@given(
    name=st.sampled_from(
        ["top_speed", "full_stretch", "arm_time", "lunge_time", "time_constant", "backhand"]
    ),
    x=st.floats(-9.0, 3.0),
    depth=st.floats(8.0, 22.0),
)
def test_more_reach_never_shrinks_a_region(name: str, x: float, depth: float) -> None:
    usual = scenario()
    fan = fan_of_drives(usual, "line", CONTACT)
    left: Player = usual.pair.left
    better = {
        "top_speed": left.top_speed * 1.2,
        "full_stretch": left.stretched_reach + 0.4,
        "arm_time": left.arm_time * 0.7,
        "lunge_time": left.lunge_time * 0.7,
        "time_constant": left.time_constant * 0.7,
        "backhand": 1.0,
    }[name]
    places = {"left": (x, -depth), "right": FEET["right"]}
    before = coverage(usual, usual.baseline, fan, places)
    improved = with_left(usual, **{name: better})
    after = coverage(improved, usual.baseline, fan, places)
    for small, large in zip(regions(before), regions(after), strict=True):
        assert not np.any(small & ~large)
    assert any(
        np.any(large & ~small) for small, large in zip(regions(before), regions(after), strict=True)
    ) or name in ("arm_time", "lunge_time", "backhand")


def test_full_stretch_covers_at_least_what_is_covered_in_control(usual: Scenario, fan: Fan) -> None:
    covered = coverage(usual, usual.baseline, fan, FEET)
    for name in FEET:
        control, stretch = covered.in_control[name] >= 0, covered.at_full_stretch[name] >= 0
        assert control.any()
        assert not np.any(control & ~stretch)
        assert np.any(stretch & ~control)


def test_who_does_not_split_step_reacts_later_and_covers_less(usual: Scenario, fan: Fan) -> None:
    settled = usual.baseline
    running = settled.model_copy(update={"split_step": False})
    with_step = regions(coverage(usual, settled, fan, FEET))
    without = regions(coverage(usual, running, fan, FEET))
    for small, large in zip(without, with_step, strict=True):
        assert not np.any(small & ~large)
        assert small.sum() < large.sum()


@given(
    contact_x=st.floats(-9.5, 9.5),
    left=st.tuples(st.floats(-9.0, 0.0), st.floats(-22.0, -8.0)),
    right=st.tuples(st.floats(0.0, 9.0), st.floats(-22.0, -8.0)),
)
def test_a_mirrored_scenario_has_mirrored_regions(
    contact_x: float, left: tuple[float, float], right: tuple[float, float]
) -> None:
    tall = scenario(pair={"left": {"height": "6 ft 1 in"}})
    other = {"right": "left", "left": "right"}
    left_player, right_player = tall.pair.left, tall.pair.right
    pair = tall.pair.model_copy(
        update={
            "left": right_player.model_copy(update={"handed": other[right_player.handed]}),
            "right": left_player.model_copy(update={"handed": other[left_player.handed]}),
        }
    )
    mirrored = tall.model_copy(update={"pair": pair})
    ours = coverage(
        tall,
        tall.baseline,
        fan_of_drives(tall, "line", (contact_x, 21.8, 2.3)),
        {"left": left, "right": right},
    )
    theirs = coverage(
        mirrored,
        tall.baseline,
        fan_of_drives(mirrored, "line", (-contact_x, 21.8, 2.3)),
        {"left": (-right[0], right[1]), "right": (-left[0], left[1])},
    )
    # Rounding only, but a ball exactly level with the feet is a forehand on either side.
    np.testing.assert_allclose(ours.fan.track.x, -theirs.fan.track.x[:, ::-1], atol=1e-9)
    for name in ("left", "right"):
        beside = np.abs(ours.fan.track.x - {"left": left, "right": right}[name][0]) > 1e-6
        for mine, yours in (
            (ours.in_control[name], theirs.in_control[other[name]]),
            (ours.at_full_stretch[name], theirs.at_full_stretch[other[name]]),
        ):
            same = (mine >= 1e-6) == (yours[:, ::-1] >= 1e-6)
            edge = np.abs(mine) < 1e-5
            assert np.all(same | edge | ~beside)
