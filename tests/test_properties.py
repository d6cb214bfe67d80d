"""Invariants: what must hold whatever the scenario, found by hypothesis in random corners."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.answers import Answer, answer_all
from sim.comparison import compare
from sim.draws import draw
from sim.interception import reached
from sim.opponents import LEVELS
from sim.players import AGE_GROUPS, Player
from sim.rallies import IN_PLAY, NET, OUT, PLAYERS, Rally, ball_of, follow_through, play
from sim.return_of_serve import fly_return
from sim.run_in import Place
from sim.scenario import RETURN_DIRECTIONS, RULES, Scenario
from sim.scenario_files import merge
from sim.third_shot import strike
from sim.track import delayed, track_of

Tables = dict[str, Any]


def feet(low: float, high: float) -> st.SearchStrategy[str]:
    return st.floats(low, high).map(lambda value: f"{value:.3f} ft")


def players() -> st.SearchStrategy[Tables]:
    return st.fixed_dictionaries(
        {
            "height": feet(4.8, 6.6),
            "handed": st.sampled_from(["right", "left"]),
            "age_group": st.sampled_from([*AGE_GROUPS]),
        }
    )


@st.composite
def policies(draw_value: st.DrawFn) -> Tables:
    rule = draw_value(st.sampled_from(sorted(RULES)))
    policy: Tables = {
        "name": "any",
        "rule": rule,
        "spacing": draw_value(feet(1.0, 18.0)),
        "shift": draw_value(st.floats(-0.5, 1.5)),
        "depth": draw_value(feet(7.0, 22.0)),
        "split_step": draw_value(st.booleans()),
    }
    if rule == "fixed":
        policy["centres"] = {name: draw_value(feet(-9.0, 9.0)) for name in RETURN_DIRECTIONS}
    if rule == "best":
        policy["places"] = {
            name: {
                side: {"from_centre": draw_value(across), "depth": draw_value(feet(7.0, 22.0))}
                for side, across in (("left", feet(-10.0, 0.0)), ("right", feet(0.1, 10.0)))
            }
            for name in RETURN_DIRECTIONS
        }
    return policy


@st.composite
def scenarios(draw_value: st.DrawFn) -> Tables:
    """A scenario's tables, with every choice that has a left and a right."""
    return {
        "name": "any",
        "pair": {"left": draw_value(players()), "right": draw_value(players())},
        "return_of_serve": {"side": draw_value(st.sampled_from(["even", "odd"]))},
        "run_in": {"partner_starts": draw_value(st.sampled_from(["baseline", "line"]))},
        "opponents": {
            "level": draw_value(st.sampled_from(sorted(LEVELS))),
            "middle": draw_value(feet(-3.0, 3.0)),
        },
        "air": {
            "wind_to_the_right": f"{draw_value(st.sampled_from([0.0, 0.0, -4.0, 6.0]))} mph",
            "wind_from_behind": f"{draw_value(st.sampled_from([0.0, 0.0, 5.0]))} mph",
        },
        "policies": [draw_value(policies())],
        "run": {"seed": draw_value(st.integers(0, 2**40)), "shots": 150},
    }


def negated(quantity: str) -> str:
    number, unit = quantity.split()
    return f"{-float(number)} {unit}"


def mirrored(tables: Tables) -> Tables:
    """The same scenario seen in a mirror: left for right."""
    other = copy.deepcopy(tables)
    pair = other["pair"]
    pair["left"], pair["right"] = pair["right"], pair["left"]
    for player in pair.values():
        player["handed"] = {"right": "left", "left": "right"}[player["handed"]]
    side = other["return_of_serve"]
    side["side"] = {"even": "odd", "odd": "even"}[side["side"]]
    other["opponents"]["middle"] = negated(other["opponents"]["middle"])
    other["air"]["wind_to_the_right"] = negated(other["air"]["wind_to_the_right"])
    for policy in other["policies"]:
        for direction, centre in policy.get("centres", {}).items():
            policy["centres"][direction] = negated(centre)
        for direction, spots in policy.get("places", {}).items():
            policy["places"][direction] = {
                OTHER[side]: spot | {"from_centre": negated(spot["from_centre"])}
                for side, spot in spots.items()
            }
    return other


def mirrored_numbers(uniform: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """The same random inputs in a mirror: reactions change sides, azimuth errors their sign."""
    other = dict(uniform)
    other["reaction_left"], other["reaction_right"] = (
        uniform["reaction_right"],
        uniform["reaction_left"],
    )
    other["error_azimuth"] = 1.0 - uniform["error_azimuth"]
    return other


def rally_from(scenario: Scenario, direction: str, uniform: dict[str, np.ndarray]) -> Rally:
    ball = ball_of(scenario)
    contact = fly_return(scenario, ball, (direction,), uniform)
    shots = strike(scenario, ball, (direction,), contact, uniform)
    reaction = {
        name: getattr(scenario.pair, name).reaction.quantile(uniform[f"reaction_{name}"])
        for name in PLAYERS
    }
    return follow_through((direction,), contact, shots, reaction, ball)


OTHER = {"left": "right", "right": "left"}


@given(scenarios(), st.sampled_from(RETURN_DIRECTIONS))
@settings(max_examples=16)
def test_left_and_right_are_alike(tables: Tables, direction: str) -> None:
    here = Scenario.model_validate(tables)
    there = Scenario.model_validate(mirrored(tables))
    numbers = draw(here.run.sampling, here.run.seed, 0, 0, 200)
    rally = rally_from(here, direction, numbers)
    image = rally_from(there, direction, mirrored_numbers(numbers))

    np.testing.assert_allclose(rally.contact.x, -image.contact.x, atol=1e-9)
    np.testing.assert_allclose(rally.contact.y, image.contact.y, atol=1e-9)
    assert rally.third_shot.lane.tolist() == image.third_shot.lane.tolist()
    assert rally.fate.tolist() == image.fate.tolist()
    (answer,) = answer_all(here, rally, here.policies)
    (reflected,) = answer_all(there, image, there.policies)
    for name in PLAYERS:
        place, seen = answer.places[name], reflected.places[OTHER[name]]
        np.testing.assert_allclose(place.x, -seen.x, atol=1e-9)
        np.testing.assert_allclose(place.y, seen.y, atol=1e-9)
        assert answer.control[name].tolist() == reflected.control[OTHER[name]].tolist()
        assert answer.stretch[name].tolist() == reflected.stretch[OTHER[name]].tolist()
    assert answer.leak.tolist() == reflected.leak.tolist()


# --- more is never less ------------------------------------------------------------------------

RALLY = play(Scenario(name="any", run={"seed": 3}), "middle", shots=600)
TRACK = track_of(RALLY.approach, RALLY.rebound)


def reached_from(
    player: Player, x: float, depth: float, reaction: float
) -> tuple[np.ndarray, np.ndarray]:
    """In control and at full stretch, from the same place for every shot."""
    size = RALLY.in_play.size
    late = np.full(size, reaction) - RALLY.net_time
    track = track_of(RALLY.approach, RALLY.rebound)
    start = np.where(track.volley, 0.0, RALLY.landing_time - RALLY.net_time)
    place = Place(np.full((1, size), x), np.full((1, size), -depth))
    control, stretch = reached(
        player, RALLY.approach, RALLY.rebound, delayed(track, start), place, late, [0.0]
    )
    return control[0], stretch[0]


def assert_never_less(
    before: tuple[np.ndarray, np.ndarray], after: tuple[np.ndarray, np.ndarray]
) -> None:
    for less, more in zip(before, after, strict=True):
        assert not np.any(less & ~more)


PLACES = {"x": st.floats(-9.0, 9.0), "depth": st.floats(7.0, 23.0), "reaction": st.floats(0.1, 0.7)}


@given(**PLACES, longer=st.floats(0.0, 2.0))
def test_a_longer_stretch_never_reaches_less(
    x: float, depth: float, reaction: float, longer: float
) -> None:
    short = Player.model_validate({"full_stretch": "6 ft"})
    tall = Player.model_validate({"full_stretch": f"{6.0 + longer} ft"})
    assert_never_less(
        reached_from(short, x, depth, reaction), reached_from(tall, x, depth, reaction)
    )


@given(**PLACES, longer=st.floats(0.0, 0.35))
def test_a_longer_paddle_never_reaches_less(
    x: float, depth: float, reaction: float, longer: float
) -> None:
    # The full stretch is measured with the paddle in hand, so that it grows with it.
    def with_paddle(more: float) -> Player:
        return Player.model_validate(
            {
                "paddle_sweet_spot": f"{0.7 + more} ft",
                "paddle_tip": f"{1.1 + more} ft",
                "full_stretch": f"{6.0 + more} ft",
            }
        )

    before = reached_from(with_paddle(0.0), x, depth, reaction)
    assert_never_less(before, reached_from(with_paddle(longer), x, depth, reaction))


@given(**PLACES, earlier=st.floats(0.0, 0.3))
def test_a_quicker_reaction_never_reaches_less(
    x: float, depth: float, reaction: float, earlier: float
) -> None:
    player = Player()
    before = reached_from(player, x, depth, reaction + 0.3)
    assert_never_less(before, reached_from(player, x, depth, reaction + 0.3 - earlier))


@given(**PLACES, faster=st.floats(0.0, 20.0))
def test_faster_legs_never_reach_less(
    x: float, depth: float, reaction: float, faster: float
) -> None:
    slow = Player.model_validate({"top_speed": "10 ft/s"})
    fast = Player.model_validate({"top_speed": f"{10.0 + faster} ft/s"})
    assert_never_less(
        reached_from(slow, x, depth, reaction), reached_from(fast, x, depth, reaction)
    )


@given(**PLACES, deeper=st.floats(0.0, 1.5))
def test_a_deeper_bend_never_reaches_less(
    x: float, depth: float, reaction: float, deeper: float
) -> None:
    stiff = Player.model_validate({"bend": "0.5 ft"})
    supple = Player.model_validate({"bend": f"{0.5 + deeper} ft"})
    assert_never_less(
        reached_from(stiff, x, depth, reaction), reached_from(supple, x, depth, reaction)
    )


def test_more_is_really_more_somewhere() -> None:
    # The properties above would hold for a function that never answers anything else.
    slow, fast = (Player.model_validate({"top_speed": f"{v} ft/s"}) for v in (8.0, 20.0))
    before, after = (reached_from(player, 0.0, 8.0, 0.3) for player in (slow, fast))
    for less, more in zip(before, after, strict=True):
        assert 0 < np.count_nonzero(less) < np.count_nonzero(more) < more.size


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
@settings(max_examples=15)
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
        return float(np.mean(rally.fate == IN_PLAY))

    first = in_play(0.5 + narrow)
    assert in_play(0.5 + narrow + wider) <= first + 0.5 / np.sqrt(1024)


# --- counts ------------------------------------------------------------------------------------


@given(scenarios())
@settings(max_examples=8)
def test_shares_add_up(tables: Tables) -> None:
    tables["policies"].append({"name": "other", "rule": "halves"})
    comparison = compare(Scenario.model_validate(tables))
    for row in comparison.summary_rows:
        assert row["net"] + row["out"] + row["in_play"] == row["shots"]
        assert row["in_control"] + row["at_full_stretch"] + row["through"] == row["in_play"]
        assert row["in_control"] + row["at_full_stretch"] == row["reached"]
        assert row["reached"] <= row["reached_by_left"] + row["reached_by_right"]
        assert row["in_control_by_both"] <= row["in_control"]
        if row["in_play"]:
            assert row["reached_low"] <= row["reached_share"] <= row["reached_high"]
    through = {
        (row["policy"], row["return_direction"], row["shot"]): row["through"]
        for row in comparison.summary_rows
        if row["lane"] == "all"
    }
    for key, balls in through.items():
        leaks = [
            row["balls"]
            for row in comparison.leak_rows
            if (row["policy"], row["return_direction"], row["shot"]) == key
        ]
        assert sum(leaks) == balls
    for (policy, direction, shot), balls in through.items():
        if direction == shot == "all":
            parts = [
                through[policy, name, "all"]
                for name in comparison.scenario.return_of_serve.directions
            ]
            assert sum(parts) == balls


def test_every_shot_has_one_fate() -> None:
    rally = play(Scenario(name="any"), "cross", shots=1000)
    assert set(np.unique(rally.fate)) == {NET, OUT, IN_PLAY}
    assert rally.in_play.tolist() == np.flatnonzero(rally.fate == IN_PLAY).tolist()


# --- random numbers ----------------------------------------------------------------------------


def with_seed(seed: int, shots: int = 200) -> Scenario:
    return Scenario.model_validate({"name": "any", "run": {"seed": seed, "shots": shots}})


@pytest.mark.parametrize("seed", [0, 1, 12345678901234567])
def test_the_same_seed_gives_the_same_run(seed: int) -> None:
    first, second = compare(with_seed(seed)), compare(with_seed(seed))
    assert first.summary_rows == second.summary_rows
    assert first.difference_rows == second.difference_rows
    assert first.run_in_rows == second.run_in_rows


def test_different_seeds_give_different_runs() -> None:
    rows = [compare(with_seed(seed)).summary_rows for seed in (0, 1, 2)]
    assert rows[0] != rows[1] != rows[2] != rows[0]


def test_a_policy_does_not_change_what_the_others_face() -> None:
    # Common random numbers: adding a policy leaves the rows of the first untouched.
    tables = {"name": "any", "run": {"shots": 300}, "policies": [{"name": "a", "rule": "halves"}]}
    alone = compare(Scenario.model_validate(tables)).summary_rows
    more = {**tables, "policies": [*tables["policies"], {"name": "b", "rule": "follow"}]}
    together = compare(Scenario.model_validate(more)).summary_rows
    assert [row for row in together if row["policy"] == "a"] == alone


def test_answers_do_not_depend_on_the_order_of_the_shots() -> None:
    scenario = Scenario(name="any")
    numbers = draw("quasi-random", 1, 0, 0, 500)
    back = {column: value[::-1].copy() for column, value in numbers.items()}
    forward, reverse = (rally_from(scenario, "line", u) for u in (numbers, back))
    one, two = (
        answer_all(scenario, rally, scenario.policies[:1])[0] for rally in (forward, reverse)
    )
    assert one.reached.tolist() == two.reached[::-1].tolist()
    assert one.in_control.tolist() == two.in_control[::-1].tolist()
    assert isinstance(one, Answer)


# --- merging tables ----------------------------------------------------------------------------

LEAVES = st.one_of(st.integers(), st.text(max_size=3), st.lists(st.integers(), max_size=2))
KEYS = st.sampled_from(["a", "b", "kind", "ball", "c"])
TABLES = st.recursive(
    st.dictionaries(KEYS, LEAVES, max_size=3),
    lambda inner: st.dictionaries(KEYS, st.one_of(LEAVES, inner), max_size=3),
    max_leaves=8,
)


@given(TABLES, TABLES)
def test_merging_changes_neither_table(under: Tables, over: Tables) -> None:
    kept = copy.deepcopy(under), copy.deepcopy(over)
    merged = merge(under, over)
    assert (under, over) == kept
    assert merged.keys() == under.keys() | over.keys()
    for key, value in over.items():
        if not isinstance(value, dict):
            assert merged[key] == value


@given(TABLES)
def test_merging_with_nothing_changes_nothing(tables: Tables) -> None:
    assert merge(tables, {}) == tables
    assert merge({}, tables) == tables
    assert merge(tables, tables) == tables


def test_a_distribution_is_replaced_as_a_whole() -> None:
    normal = {"kind": "normal", "mean": "36 mph", "sd": "4 mph"}
    under = {"opponents": {"drive": {"speed": normal, "topspin": "500 rpm"}}}
    over = {
        "opponents": {"drive": {"speed": {"kind": "uniform", "low": "30 mph", "high": "40 mph"}}}
    }
    merged = merge(under, over)["opponents"]["drive"]
    assert merged == {**over["opponents"]["drive"], "topspin": "500 rpm"}
    # A table without a kind changes single values of the distribution below it.
    wider = {"opponents": {"drive": {"speed": {"sd": "6 mph"}}}}
    assert merge(under, wider)["opponents"]["drive"]["speed"] == {**normal, "sd": "6 mph"}
    # The ball's kind is a setting, not a distribution.
    assert merge({"ball": {"mass": "25 g"}}, {"ball": {"kind": "indoor"}})["ball"] == {
        "mass": "25 g",
        "kind": "indoor",
    }
