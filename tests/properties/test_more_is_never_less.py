"""More reach or more time never reaches less, shot by shot, whatever the scenario.

It is provable where the two stand in the same place for every shot: each instant's reach grows, or
the feet are nearer to the ball, and no instant is lost. It does not hold for

- height and the height of the shoulder: a low ball is then farther below the hand,
- arm and paddle of a player whose full stretch is given and whose lunge is out sooner than the
  arm: what the arm gains, the lunge loses,
- legs, where places are not held: the shot then finds the player elsewhere, which may be worse.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.answers import Stands, answer_all, reached_from
from sim.players import Player
from sim.rallies import PLAYERS, Rally, play
from sim.run_in import Place
from sim.scenario import RETURN_DIRECTIONS, Scenario
from tests.properties.corners import corners
from tests.properties.scenarios import Tables, scenarios

SHOTS: Final = 100
# What a better player may have at most or at least (ft, ft/s, s, shares), within the limits.
MORE_REACH: Final = {
    "full_stretch": 10.0,
    "bend": 3.0,
    "backhand": 1.1,
    "arm_time": 0.01,
    "lunge_time": 0.01,
}
MORE_LEGS: Final = {"top_speed": 36.0, "time_constant": 0.2, "sideways": 1.2, "backwards": 1.2}


def with_player(scenario: Scenario, name: str, changes: Mapping[str, float]) -> Scenario:
    player = getattr(scenario.pair, name).model_copy(update=dict(changes))
    return scenario.model_copy(update={"pair": scenario.pair.model_copy(update={name: player})})


def towards(player: Player, field: str, best: float, share: float) -> float:
    """A share of the way from what the player has to the best there is."""
    now = player.stretched_reach if field == "full_stretch" else getattr(player, field)
    return now + share * (best - now)


def assert_never_less(before: np.ndarray, after: np.ndarray) -> None:
    assert not np.any(before & ~after)


def assert_answers_never_less(before: Scenario, after: Scenario, rally: Rally, now: Rally) -> None:
    for one, other in zip(
        answer_all(before, rally, before.policies),
        answer_all(after, now, after.policies),
        strict=True,
    ):
        for name in PLAYERS:
            assert_never_less(one.control[name], other.control[name])
            assert_never_less(one.stretch[name], other.stretch[name])
        assert other.in_control.mean() >= one.in_control.mean() if one.leak.size else True


ANY: Final = {
    "tables": scenarios(),
    "direction": st.sampled_from(RETURN_DIRECTIONS),
    "name": st.sampled_from(PLAYERS),
    "share": st.floats(0.0, 1.0),
}


@pytest.mark.parametrize("field", MORE_REACH)
@given(**ANY)
@corners(6)
def test_more_reach_never_reaches_less(
    field: str, tables: Tables, direction: str, name: str, share: float
) -> None:
    before = Scenario.model_validate(tables)
    better = towards(getattr(before.pair, name), field, MORE_REACH[field], share)
    after = with_player(before, name, {field: better})
    rally = play(before, direction, shots=SHOTS)
    assert_answers_never_less(before, after, rally, rally)


@given(**ANY)
@corners(6)
def test_a_longer_paddle_never_reaches_less(
    tables: Tables, direction: str, name: str, share: float
) -> None:
    # The full stretch is measured with the paddle in hand, so that it grows with it.
    before = Scenario.model_validate(tables)
    player: Player = getattr(before.pair, name)
    longer = {
        "paddle_sweet_spot": player.paddle_sweet_spot + share,
        "paddle_tip": player.paddle_tip + share,
        "full_stretch": player.stretched_reach + share,
    }
    rally = play(before, direction, shots=SHOTS)
    assert_answers_never_less(before, with_player(before, name, longer), rally, rally)


@given(**ANY)
@corners(6)
def test_a_quicker_reaction_never_reaches_less(
    tables: Tables, direction: str, name: str, share: float
) -> None:
    scenario = Scenario.model_validate(tables)
    rally = play(scenario, direction, shots=SHOTS)
    sooner = rally.reaction | {name: share * rally.reaction[name]}
    assert_answers_never_less(scenario, scenario, rally, replace(rally, reaction=sooner))


@pytest.mark.parametrize("field", MORE_LEGS)
@given(**ANY, x=st.floats(-12.0, 12.0), depth=st.floats(7.0, 28.0))
@corners(6)
def test_better_legs_never_reach_less_from_the_same_place(
    field: str, tables: Tables, direction: str, name: str, share: float, x: float, depth: float
) -> None:
    before = Scenario.model_validate(tables)
    better = towards(getattr(before.pair, name), field, MORE_LEGS[field], share)
    rally = play(before, direction, shots=SHOTS)
    size = rally.in_play.size
    stands = {name: Stands(Place(np.full((1, size), x), np.full((1, size), -depth)), [0.0])}
    after = with_player(before, name, {field: better})
    assert_never_less(
        reached_from(before, rally, stands)[name], reached_from(after, rally, stands)[name]
    )


RALLY: Final = play(Scenario(name="any"), "middle", shots=600)


def reached_by(changes: Mapping[str, float], x: float = -4.0, depth: float = 8.0) -> np.ndarray:
    """In control and at full stretch, the left player in the same place for every shot."""
    scenario = with_player(Scenario(name="any"), "left", changes)
    size = RALLY.in_play.size
    place = Place(np.full((1, size), x), np.full((1, size), -depth))
    return reached_from(scenario, RALLY, {"left": Stands(place, [0.0])})["left"][:, 0]


@pytest.mark.parametrize(
    ("worse", "better"),
    [
        ({"top_speed": 8.0}, {"top_speed": 20.0}),
        ({"time_constant": 2.0}, {"time_constant": 0.3}),
        ({"bend": 0.0}, {"bend": 2.0}),
        ({"full_stretch": 5.5}, {"full_stretch": 8.0}),
        ({"backhand": 0.5}, {"backhand": 1.1}),
    ],
)
def test_more_is_really_more_somewhere(
    worse: Mapping[str, float], better: Mapping[str, float]
) -> None:
    # The properties above would hold for an engine that never answers anything else.
    before, after = reached_by(worse), reached_by(better)
    assert 0 < np.count_nonzero(before) < np.count_nonzero(after) < after.size


def test_a_taller_player_may_miss_a_low_ball() -> None:
    short, tall = (reached_by({"height": height, "bend": 0.0}) for height in (5.0, 7.0))
    assert np.any(short & ~tall)
    assert np.any(tall & ~short)


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
@corners(10)
def test_wider_errors_never_help(narrow: float, wider: float) -> None:
    # Opponents who aim alike and err more: the spread of the elevation only takes balls out of play
    # in the mean over many shots; one standard error is allowed for shots that err back in.
    def in_play(sd: float) -> float:
        errors = {
            "speed": "0 %",
            "elevation": {"kind": "normal", "mean": "0 deg", "sd": f"{sd} deg"},
            "azimuth": "0 deg",
        }
        tables = {"name": "any", "opponents": {"errors": errors}}
        rally = play(Scenario.model_validate(tables), "line", shots=1024)
        return rally.in_play.size / 1024

    first = in_play(0.5 + narrow)
    assert in_play(0.5 + narrow + wider) <= first + 0.5 / np.sqrt(1024)
