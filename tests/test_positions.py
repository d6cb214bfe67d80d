"""The best places: against brute force, mirrored, restricted, resolved in a comparison, told."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from matplotlib.lines import Line2D

import sim
from sim import best_places, candidate_places
from sim.analyses.positions import FRESH, Positions, best_rows, find, region_rows, regret_rows
from sim.best_places import with_places_found, with_spots
from sim.blocks import blocks_of
from sim.candidate_places import (
    SEARCH_BLOCK,
    Candidates,
    Wish,
    Worth,
    candidates,
    every_target,
    in_time,
)
from sim.cli import main
from sim.draws import draw
from sim.errors import Refused
from sim.figures import style
from sim.figures.positions import place_figures
from sim.figures.style import to_png
from sim.numeric_settings import numeric_setting
from sim.pairs_of_places import LEAST_APART, Landscape, as_good, landscape
from sim.processes import Processes
from sim.rallies import IN_PLAY, play
from sim.run_in import PLAYERS, run_in, targets
from sim.scenario import Places, Policy, Scenario, Spot, Spots
from sim.statistics import adjusted, normal_quantile
from sim.study import counts
from sim.tally import IN_CONTROL, THROUGH
from sim.texts.positions import terminal_text
from sim.toml_text import toml_text
from tests import legibility
from tests.properties.mirror import mirrored, mirrored_numbers, rally_from

SHOTS = 160
COARSE = Wish(in_time=0.0, grid=3.0, shots=SHOTS)
BEST = Policy(name="best", rule="best")


def scenario_of(**changes: Any) -> Scenario:
    return sim.load("club-sixties", {"run": {"shots": SHOTS}, **changes})


def spots_of(land: Landscape, i: int, j: int) -> Spots:
    left, right = (land.candidates[name] for name in PLAYERS)
    return Spots(left=left.spot(i), right=right.spot(j))


# --- the search --------------------------------------------------------------------------------


@pytest.mark.parametrize("split_step", [True, False])
def test_every_pair_is_worth_what_a_comparison_of_all_pairs_says(
    monkeypatch: pytest.MonkeyPatch, split_step: bool
) -> None:
    # On the very shots of a comparison, so that the counts have to be the same, ball by ball.
    monkeypatch.setattr(candidate_places, "SEARCH_BLOCK", 0)
    scenario = scenario_of(return_of_serve={"directions": ["cross"]})
    policy = BEST.model_copy(update={"split_step": split_step})
    reached = candidates(scenario, policy, COARSE)["cross"]
    control, either = (landscape(reached, Worth(1.0, s)) for s in (0.0, 1.0))
    pairs = np.argwhere(np.isfinite(control.worth))
    assert len(pairs) == 21 * 36  # of 7 places across any two, of 6 depths each any
    policies = [
        with_spots(policy, {"cross": spots_of(control, i, j)}).model_copy(
            update={"name": f"{i} {j}"}
        )
        for i, j in pairs
    ]
    # A comparison looks for policies that have a player in the same place, pair by pair.
    for some in _batches(len(pairs)):
        run = scenario.run.model_copy(update={"baseline": None})
        chosen = {"policies": [policies[k] for k in some], "run": run}
        tally = sim.compare(scenario.model_copy(update=chosen)).tally
        for place, k in enumerate(some):
            i, j = pairs[k]
            for land, measure in ((control, "in_control"), (either, "reached")):
                hits, balls = counts(tally, place, measure)
                assert land.shots == balls.sum()
                assert land.worth[i, j] * land.shots == pytest.approx(hits.sum(), abs=1e-6)


def _batches(size: int) -> list[range]:
    return [range(k, min(k + 126, size)) for k in range(0, size, 126)]


@pytest.fixture(scope="module")
def reached() -> dict[str, dict[str, Candidates]]:
    return candidates(scenario_of(), BEST, COARSE)


def test_the_best_is_the_best_of_all(reached: dict[str, dict[str, Candidates]]) -> None:
    for both in reached.values():
        for worth in (Worth(), Worth(1.0, 1.0), Worth(0.8, 0.3)):
            found = landscape(both, worth)
            assert found.worth[found.best] == pytest.approx(found.worth.max(), abs=1e-6)
            assert found.spots.right.from_centre - found.spots.left.from_centre >= LEAST_APART


def test_worth_of_pairs_ball_by_ball(reached: dict[str, dict[str, Candidates]]) -> None:
    found = landscape(reached["line"], Worth(0.9, 0.4))
    left, right = (found.candidates[name] for name in PLAYERS)
    for i, j in np.argwhere(np.isfinite(found.worth))[::97]:
        ball = _ball_by_ball(left, right, i, j, Worth(0.9, 0.4))
        assert found.worth[i, j] == pytest.approx(ball.mean(), abs=1e-6)


def _ball_by_ball(left: Candidates, right: Candidates, i: int, j: int, worth: Worth) -> np.ndarray:
    control = left.control[i] | right.control[j]
    stretch = left.stretch[i] | right.stretch[j]
    return np.where(control, worth.in_control, np.where(stretch, worth.at_full_stretch, 0.0))


@pytest.mark.parametrize("worth", [Worth(), Worth(1.0, 1.0), Worth(1.0, 0.5)])
def test_as_good_is_the_paired_interval_of_every_pair(
    reached: dict[str, dict[str, Candidates]], worth: Worth
) -> None:
    found = landscape(reached["line"], worth)
    good = as_good(found, worth)
    left, right = (found.candidates[name] for name in PLAYERS)
    best = _ball_by_ball(left, right, *found.best, worth)
    quantile = normal_quantile(adjusted(found.pairs - 1))
    assert good[found.best]
    assert 1 < good.sum() < found.pairs
    for i, j in np.argwhere(np.isfinite(found.worth)):
        behind = best - _ball_by_ball(left, right, i, j, worth)
        half = quantile * behind.std() / np.sqrt(found.shots)
        assert good[i, j] == (behind.mean() <= half + 1e-6)
    assert not good[~np.isfinite(found.worth)].any()


def test_of_pairs_that_are_worth_the_same_the_middle_one() -> None:
    x = np.array([-9.0, -5.0, -1.0])
    all_reached = np.ones((3, 4), bool)
    both = {
        "left": Candidates(x, np.full(3, 10.0), np.ones(3), all_reached, all_reached),
        "right": Candidates(-x, np.full(3, 12.0), np.ones(3), all_reached, all_reached),
    }
    assert landscape(both, Worth()).best == (1, 1)


def test_the_grid() -> None:
    x, depth = every_target(0.5)
    assert (x.size, x.min(), x.max(), depth.min(), depth.max()) == (1271, -10.0, 10.0, 7.0, 22.0)
    x, depth = every_target(3.0)
    assert np.unique(x).tolist() == [-9.0, -6.0, -3.0, 0.0, 3.0, 6.0, 9.0]
    assert np.unique(depth).tolist() == [7.0, 10.0, 13.0, 16.0, 19.0, 22.0]


def test_only_places_reached_in_time_count() -> None:
    scenario = scenario_of()
    every = candidates(scenario, BEST, COARSE)
    some = candidates(scenario, BEST, Wish(in_time=0.5, grid=3.0, shots=SHOTS))
    for direction, both in every.items():
        rally = play(scenario, direction, SEARCH_BLOCK, SHOTS)
        contact = rally.contact.take(rally.in_play)
        for name in PLAYERS:
            kept, chosen = in_time(both, 0.5, direction)[name], some[direction][name]
            assert 0 < chosen.x.size < both[name].x.size
            for part in vars(kept):
                assert np.array_equal(getattr(kept, part), getattr(chosen, part))
        # The share of arrivals is that of the engine's own run-in.
        for k in (0, 8, 20, 41):
            spots = Spots.model_construct(left=both["left"].spot(k), right=both["right"].spot(k))
            places = Places.model_construct(**{direction: spots})
            policy = BEST.model_copy(update={"places": places})
            goals = targets(scenario, policy, direction, contact)
            places = run_in(scenario, policy, direction, contact)
            for name in PLAYERS:
                away = np.hypot(places[name].x - goals[name].x, places[name].y - goals[name].y)
                assert both[name].arrived[k] == pytest.approx(np.mean(away < 1e-9))


def test_nothing_counts_where_nobody_gets() -> None:
    scenario = scenario_of(pair={"left": {"top_speed": "2 ft/s"}})
    with pytest.raises(Refused, match="left player gets nowhere"):
        candidates(scenario, BEST, Wish(in_time=1.0, grid=3.0, shots=SHOTS))


def test_no_two_places_far_enough_apart() -> None:
    one = Candidates(*np.ones((3, 1)), *np.ones((2, 1, 4), bool))
    with pytest.raises(Refused, match="2 ft apart"):
        landscape({"left": one, "right": one}, Worth())


# --- mirror symmetry ---------------------------------------------------------------------------

TABLES: dict[str, Any] = {
    "name": "any",
    "pair": {
        "left": {"height": "5 ft 2 in", "handed": "left"},
        "right": {"height": "6 ft", "handed": "right", "age_group": "thirties"},
    },
    "return_of_serve": {"side": "even"},
    "opponents": {"middle": "1.5 ft"},
    "air": {"wind_to_the_right": "3 mph"},
    "policies": [{"name": "centre", "rule": "centre"}],
}


def test_the_mirrored_pair_stands_mirrored(monkeypatch: pytest.MonkeyPatch) -> None:
    numbers = draw("quasi-random", 1, 0, 0, SHOTS)
    lands = []
    image = mirrored_numbers(Scenario.model_validate(TABLES), "line", numbers)
    for tables, uniform in ((TABLES, numbers), (mirrored(TABLES), image)):
        scenario = Scenario.model_validate(tables)
        rally = rally_from(scenario, "line", uniform)
        monkeypatch.setattr(candidate_places, "_rally", lambda *_, rally=rally: rally)
        lands.append(landscape(candidates(scenario, BEST, COARSE)["line"], Worth()))
    here, there = lands
    left, right = (here.candidates[name] for name in PLAYERS)
    # Every target's image: the same depth on the other side.
    image = np.lexsort((-left.x, left.depth))
    assert np.array_equal(left.x[image], -right.x)
    np.testing.assert_allclose(there.worth, here.worth[np.ix_(image, image)].T, atol=1e-9)
    assert there.worth[there.best] == pytest.approx(here.worth[here.best])


def test_a_symmetric_pair_is_as_well_off_mirrored() -> None:
    """Symmetric players, returns and opponents: other random numbers apart, nothing has a side."""
    scenario = scenario_of(
        pair={"left": {"height": "5 ft 8 in", "handed": "left"}, "right": {"height": "5 ft 8 in"}},
        return_of_serve={"directions": ["middle"], "struck_from_centre": "0 ft"},
        run_in={"partner_delay": "0.3 s"},
    )
    wish = Wish(grid=2.0, shots=2048)
    land = landscape(candidates(scenario, BEST, wish)["middle"], wish.worth)
    left, right = (land.candidates[name] for name in PLAYERS)
    i, j = land.best
    (mirror_i,) = np.flatnonzero((left.x == -right.x[j]) & (left.depth == right.depth[j]))
    (mirror_j,) = np.flatnonzero((right.x == -left.x[i]) & (right.depth == left.depth[i]))
    assert as_good(land, wish.worth)[mirror_i, mirror_j]


# --- the rule in scenarios and comparisons -----------------------------------------------------

SPOTS = {
    "left": {"from_centre": "-4 ft", "depth": "9 ft"},
    "right": {"from_centre": "1.5 m", "depth": "12 ft"},
}
ALL_PLACES = dict.fromkeys(("line", "middle", "cross"), SPOTS)


def with_policy(**policy: Any) -> Scenario:
    return scenario_of(policies=[{"name": "halves", "rule": "halves"}, {"name": "b", **policy}])


def test_given_places_are_where_they_go() -> None:
    scenario = with_policy(rule="best", places=ALL_PLACES)
    contact = play(scenario, "line", 0, 16).contact
    goals = targets(scenario, scenario.policies[1], "line", contact)
    assert set(goals["left"].x) == {-4.0}
    assert set(goals["left"].y) == {-9.0}
    assert goals["right"].x[0] == pytest.approx(1.5 / 0.3048)
    assert goals["right"].y.shape == contact.x.shape
    assert numeric_setting(scenario, "policies.b.places.line.left.depth").value == 9.0


@pytest.mark.parametrize(
    ("policy", "message"),
    [
        ({"rule": "halves", "places": ALL_PLACES}, 'belongs to rule = "best"'),
        ({"rule": "best", "places": {"line": SPOTS}}, "leave out returns to the middle"),
        ({"rule": "best", "places": ALL_PLACES | {"far": SPOTS}}, "far: unknown key"),
        (
            {"rule": "best", "places": ALL_PLACES | {"line": SPOTS | {"left": SPOTS["right"]}}},
            "must stand to the left",
        ),
        (
            {
                "rule": "best",
                "places": ALL_PLACES
                | {"line": SPOTS | {"left": {"from_centre": "-4 ft", "depth": "5 ft"}}},
            },
            "depth = .5 ft.: must lie between 7 ft and 26 ft",
        ),
        (
            {"rule": "best", "places": ALL_PLACES | {"line": {"left": SPOTS["left"]}}},
            "right: must be given",
        ),
    ],
)
def test_refused_places(policy: dict[str, Any], message: str) -> None:
    with pytest.raises(sim.ScenarioError, match=message):
        with_policy(**policy)


def test_places_are_needed_only_for_the_scenarios_own_returns() -> None:
    one = {"rule": "best", "places": {"cross": SPOTS}}
    scenario = scenario_of(
        return_of_serve={"directions": ["cross"]}, policies=[{"name": "b", **one}]
    )
    assert sim.compare(scenario).tally.outcomes.sum() > 0


def test_the_engine_alone_does_not_find_places() -> None:
    scenario = with_policy(rule="best")
    contact = play(scenario, "line", 0, 16).contact
    with pytest.raises(Refused, match="reachshare positions finds them"):
        targets(scenario, scenario.policies[1], "line", contact)


@pytest.fixture
def quick_search(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(best_places, "USUAL", Wish(grid=1.5, shots=SHOTS))


@pytest.mark.usefixtures("quick_search")
@pytest.mark.parametrize("seed", [0, 1])
def test_a_comparison_finds_places_whoever_does_the_work(seed: int) -> None:
    scenario = with_policy(rule="best")
    scenario = scenario.model_copy(
        update={"run": scenario.run.model_copy(update={"seed": seed, "baseline": "b"})}
    )
    alone = sim.compare(scenario)
    with Processes(2) as workers:
        shared = sim.compare(scenario, workers=workers)
    assert alone.scenario == shared.scenario
    for name, value in vars(alone.tally).items():
        assert np.array_equal(value, vars(shared.tally)[name])
    # The same as if the places had been given.
    assert alone.scenario.policies[1].places is not None
    again = sim.compare(alone.scenario)
    assert np.array_equal(again.tally.outcomes, alone.tally.outcomes)
    assert alone.played()["places_ft"]["b"]["line"]["left"]["depth"] >= 7.0
    # Neither the scenario asked for nor its fingerprint is touched.
    assert scenario.policies[1].places is None
    assert alone.scenario.digest() != scenario.digest()


@pytest.mark.usefixtures("quick_search")
def test_the_places_do_not_depend_on_the_runs_length() -> None:
    scenario = with_policy(rule="best")
    longer = scenario.model_copy(update={"run": scenario.run.model_copy(update={"shots": 999})})
    places = [with_places_found(run).policies[1].places for run in (scenario, longer)]
    assert places[0] == places[1]
    other = scenario.model_copy(update={"run": scenario.run.model_copy(update={"seed": 7})})
    assert with_places_found(other).policies[1].places != places[0]


def test_no_comparison_plays_the_shots_of_the_search() -> None:
    most = 100_000_000  # --max-shots goes no further
    assert blocks_of(most)[-1].number < SEARCH_BLOCK


@pytest.mark.usefixtures("quick_search")
def test_the_comparisons_text_says_where_they_stand(tmp_path: Path) -> None:
    file = tmp_path / "pair.toml"
    file.write_text('[[policies]]\nname = "sought"\nrule = "best"\n', encoding="utf-8")
    words = ["compare", str(file), "--shots", "64", "--out", str(tmp_path / "out"), "--no-figures"]
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 0, result.output
    assert "Where sought has them stand" in result.stdout
    # The manifest is of the scenario as asked: the same run may be written there again.
    assert CliRunner().invoke(main, words).exit_code == 0


# --- the study ---------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def study() -> Positions:
    return find(scenario_of(), Wish(grid=1.5, shots=SHOTS))


def test_the_best_gives_nothing_away_against_itself(study: Positions) -> None:
    for direction in study.directions:
        assert study.given_away("best", direction) == (0.0, 0.0, 0.0)


def test_regrets_are_differences_of_shares_on_fresh_shots(study: Positions) -> None:
    assert study.scenario.run.shots == FRESH * SHOTS
    played = sim.compare(study.scenario)
    for direction in study.directions:
        rows = {
            row["policy"]: row
            for row in played.difference_rows
            if (row["return_direction"], row["shot"], row["measure"])
            == (direction, "all", "in_control")
        }
        for regret in study.regrets(direction):
            row = rows[regret.policy]
            away = [100.0 * bound for bound in regret.given_away]
            assert away == pytest.approx([-row["points"], -row["points_high"], -row["points_low"]])
            best = study.worth("best", direction)[0]
            assert regret.given_away[0] == pytest.approx(best - regret.worth[0])


def test_worth_is_linear_in_control_and_reach(study: Positions) -> None:
    both = Positions(**(vars(study) | {"wish": Wish(Worth(1.0, 0.25), grid=1.5, shots=SHOTS)}))
    for policy in study.named:
        hits, balls = counts(study.tally, study.named.index(policy), "in_control")
        reach, _ = counts(study.tally, study.named.index(policy), "reached")
        expected = (0.75 * hits.sum() + 0.25 * reach.sum()) / balls.sum()
        value, low, high = both.worth(policy, "all")
        assert value == pytest.approx(expected)
        assert low < value < high
        away = both.given_away(policy, "all")
        assert away[0] == pytest.approx(both.worth("best", "all")[0] - value)
        assert away[1] < away[0] < away[2]


def test_a_policy_called_best_keeps_its_name() -> None:
    named = scenario_of(policies=[{"name": "Best", "rule": "halves"}])
    found = find(named, Wish(grid=3.0, shots=SHOTS))
    assert (found.best.name, found.named) == ("best 2", ["Best"])
    sought = scenario_of(
        policies=[
            {"name": "mine", "rule": "best", "split_step": False},
            {"name": "a", "rule": "centre"},
        ]
    )
    found = find(sought, Wish(grid=3.0, shots=SHOTS))
    assert (found.best.name, found.best.split_step, found.named) == ("mine", False, ["a"])


@pytest.mark.usefixtures("quick_search")
def test_a_second_policy_without_places_is_judged_by_its_own() -> None:
    sought = scenario_of(
        policies=[
            {"name": "mine", "rule": "best"},
            {"name": "runs on", "rule": "best", "split_step": False},
        ]
    )
    found = find(sought, Wish(grid=3.0, shots=SHOTS))
    assert (found.best.name, found.named) == ("mine", ["runs on"])
    own = with_places_found(sought).policies[1].places
    assert found.scenario.policies[0].places == own is not None


@pytest.mark.parametrize(
    ("in_control", "through", "share"), [(100, 0, (1.0, 1.0)), (0, 100, (0.0, 0.0))]
)
def test_worth_stays_within_what_can_be(
    study: Positions, in_control: int, through: int, share: tuple[float, float]
) -> None:
    tally = study.tally
    outcomes = np.zeros_like(tally.outcomes)
    fates = np.zeros_like(tally.fates)
    outcomes[..., 0, 0, IN_CONTROL] = in_control
    outcomes[..., 0, 0, THROUGH] = through
    fates[:, :, 0, 0, IN_PLAY] = in_control + through
    wish = Wish(Worth(0.9, 0.4), grid=1.5, shots=SHOTS)
    parts = {"wish": wish, "tally": replace(tally, outcomes=outcomes, fates=fates)}
    value, low, high = replace(study, **parts).worth("best", "all")
    assert value == pytest.approx(0.9 * share[0])
    assert 0.0 <= low <= value + 1e-12
    assert value <= high + 1e-12
    assert high <= 0.9 + 1e-12
    # Without a single exception among so many balls nobody knows that there is none.
    assert high - low > 1e-4


def test_rows_are_tidy(study: Positions) -> None:
    best, regret, region = (list(rows(study)) for rows in (best_rows, regret_rows, region_rows))
    assert [(row["return_direction"], row["player"]) for row in best[:2]] == [
        ("line", "left"),
        ("line", "right"),
    ]
    assert len(regret) == 4 * len(study.scenario.policies)
    for row in best:
        mine = [
            other
            for other in region
            if (other["return_direction"], other["player"])
            == (row["return_direction"], row["player"])
        ]
        (here,) = (
            other
            for other in mine
            if (other["from_centre_ft"], other["depth_ft"])
            == (row["from_centre_ft"], row["depth_ft"])
        )
        assert here["points_below_best"] == 0.0
        assert here["as_good"]
        good = [other["depth_ft"] for other in mine if other["as_good"]]
        assert (min(good), max(good)) == (row["as_good_depth_low_ft"], row["as_good_depth_high_ft"])


def test_the_text_answers_first(study: Positions) -> None:
    lines = terminal_text(study).splitlines()
    assert lines[3].startswith("After all returns together, of 100 balls in play the best places ")
    assert lines[5].startswith("Best means most balls in control, and nothing else.")
    assert lines[7].startswith("After returns down the line: left player ")
    assert lines[9].startswith("As good as anyone can tell: ")
    text = "\n".join(lines)
    for words in ("flatters", "--in-time 0", "never back-pedal", "cannot be told from the best"):
        assert words in text
    assert " ft" not in terminal_text(study, "metric")


def test_figures_of_long_names() -> None:
    policies = [
        {"name": f"policy with quite a long name no {k}", "rule": "centre", "spacing": f"{k} ft"}
        for k in range(1, 13)
    ]
    scenario = scenario_of(name="A name that is forty letters long, truly", policies=policies)
    result = find(scenario, Wish(Worth(1.0, 0.5), 0.0, 3.0, SHOTS))
    assert result.lifted is None
    figures = dict(place_figures(result, "metric"))
    assert list(figures) == ["places-line", "places-middle", "places-cross"]
    assert to_png(figures["places-line"])[:4] == b"\x89PNG"


def test_every_picture_says_that_it_is_no_advice(study: Positions) -> None:
    for figure in dict(place_figures(study)).values():
        text = " ".join(legibility.words(figure))
        assert "A model, not advice: what a ball taken near the net is worth afterwards" in text
        assert "best: most balls in control" in text


def test_no_dot_of_a_policy_is_hidden(study: Positions) -> None:
    for figure, here in zip(dict(place_figures(study)).values(), study.after.values(), strict=True):
        for axes, name in zip(figure.axes, PLAYERS, strict=True):
            marks = [line for line in axes.findobj(Line2D) if line.get_marker() in ("o", "s")]
            dots = [line for line in marks if line.get_markeredgecolor() == style.INK]
            best = [line for line in marks if line not in dots]
            drawn = {(float(dot.get_xdata()[0]), -float(dot.get_ydata()[0])) for dot in dots}
            assert drawn == {found[name] for found in here.named.values()}
            assert min(dot.get_zorder() for dot in dots) > max(one.get_zorder() for one in best)


# --- the command -------------------------------------------------------------------------------

QUICK = ["--shots", "64", "--grid", "3 ft", "--no-figures", "--quiet"]


def test_the_command_writes_a_scenario_to_go_on_with(tmp_path: Path) -> None:
    out = tmp_path / "out"
    result = CliRunner().invoke(main, ["positions", *QUICK, "--seed", "0", "--out", str(out)])
    assert result.exit_code == 0, result.output
    assert {path.name for path in out.iterdir()} == {
        "answer.txt",
        "best.csv",
        "best.toml",
        "manifest.json",
        "places.csv",
        "regret.csv",
    }
    loaded = sim.load(out / "best.toml")
    asked = sim.load("club-sixties", {"run": {"shots": 64, "seed": 0}})
    assert loaded.pair == asked.pair
    assert [policy.name for policy in loaded.policies] == [
        *(policy.name for policy in asked.policies),
        "best",
    ]
    places = loaded.policies[-1].places
    assert places is not None
    with (out / "best.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            spot = getattr(places.after(row["return_direction"]), row["player"])
            assert isinstance(spot, Spot)
            assert (spot.from_centre, spot.depth) == (
                float(row["from_centre_ft"]),
                float(row["depth_ft"]),
            )


def test_the_last_policy_can_be_pasted(tmp_path: Path) -> None:
    file, out = tmp_path / "pair.toml", tmp_path / "out"
    text = 'extends = "fast-hitters"\n\n[[policies]]\nname = "a"\nrule = "follow"\n'
    file.write_text(text, encoding="utf-8")
    result = CliRunner().invoke(main, ["positions", str(file), *QUICK, "--out", str(out)])
    assert result.exit_code == 0, result.output
    found = (out / "best.toml").read_text(encoding="utf-8")
    block = found[found.rindex("[[policies]]") :]
    file.write_text(f"{text}\n{block}", encoding="utf-8")
    assert sim.load(file).policies == sim.load(out / "best.toml").policies


SOUGHT = """\
[run]
baseline = "runs on"
[[policies]]
name = "mine"
rule = "best"
depth = "10 ft"
[[policies]]
name = "runs on"
rule = "best"
split_step = false
"""


@pytest.mark.usefixtures("quick_search")
def test_policies_without_places_stay_what_they_are(tmp_path: Path) -> None:
    file, out = tmp_path / "pair.toml", tmp_path / "out"
    file.write_text(SOUGHT, encoding="utf-8")
    result = CliRunner().invoke(main, ["positions", str(file), *QUICK, "--out", str(out)])
    assert result.exit_code == 0, result.output
    asked, found = sim.load(file).policies, sim.load(out / "best.toml").policies
    assert found[0] == asked[1]
    assert found[1].places is not None
    assert found[1].model_copy(update={"places": None}) == asked[0]


@pytest.mark.usefixtures("quick_search")
@pytest.mark.parametrize("command", ["approach", "counter"])
def test_other_studies_find_the_places_too(tmp_path: Path, command: str) -> None:
    file, out = tmp_path / "pair.toml", tmp_path / "out"
    file.write_text(SOUGHT, encoding="utf-8")
    words = [command, str(file), "--shots", "16", "--no-figures", "--quiet", "--out", str(out)]
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 0, result.output
    manifest = json.loads((out / "manifest.json").read_text(encoding="utf-8"))
    places = {p.name: p.places for p in with_places_found(sim.load(file)).policies}
    assert manifest["places_ft"] == {
        name: given.model_dump(exclude_none=True) for name, given in places.items() if given
    }
    assert set(manifest["places_ft"]) == {"mine", "runs on"}


@pytest.mark.usefixtures("quick_search")
def test_doubt_about_numbers_leaves_the_places(tmp_path: Path) -> None:
    file, draws, out = tmp_path / "pair.toml", tmp_path / "draws.csv", tmp_path / "out"
    file.write_text(SOUGHT, encoding="utf-8")
    speeds = "".join(f"{10 + k / 20} ft/s\n" for k in range(20))
    draws.write_text(f"pair.left.top_speed\n{speeds}", encoding="utf-8")
    words = ["compare", str(file), "--shots", "256", "--no-figures", "--quiet", "--out", str(out)]
    result = CliRunner().invoke(main, [*words, "--with-uncertainty", str(draws)])
    assert result.exit_code == 0, result.output
    assert (out / "uncertainty.csv").exists()


def test_same_bytes_whoever_does_the_work(tmp_path: Path) -> None:
    contents = []
    for workers in ("1", "2"):
        out = tmp_path / workers
        words = ["positions", *QUICK, "--workers", workers, "--out", str(out)]
        assert CliRunner().invoke(main, words).exit_code == 0
        contents.append({path.name: path.read_bytes() for path in out.iterdir()})
    assert contents[0] == contents[1]


@pytest.mark.slow
def test_the_page_shows_what_the_command_prints(tmp_path: Path) -> None:
    page = (Path(sim.__file__).parent / "docs" / "positions.md").read_text(encoding="utf-8")
    shown = page.split("```text\n")[1].split("```")[0]
    words = ["positions", "--no-figures", "--quiet", "--out", str(tmp_path / "out")]
    printed = CliRunner().invoke(main, words).output
    assert shown in printed
    assert "the choice flatters it by 0.7" in printed
    assert "elsewhere, for +0.2 " in printed


NOTHING_IN_PLAY = [
    *("--set", "opponents.shots={drive=1, drop=0, lob=0}"),
    *("--set", 'opponents.errors={speed="0 %", elevation="-25 deg", azimuth="0 deg"}'),
]


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--worth", "1", "0.5"], "--worth needs --objective worth"),
        (["--objective", "worth", "--worth", "0.4", "0.5"], "no less than one at full stretch"),
        (["--objective", "worth", "--worth", "0", "0"], "must count something"),
        (["--grid", "1 in"], "must lie between 4 in and 3 ft"),
        (["--grid", "6"], "unit"),
        (["--in-time", "101"], "101"),
        (["--in-time", "0.5"], "it is in percent, such as 50"),
        (["--in-time", "nan"], "not a share in percent"),
        (["--in-time", "100", "--set", "pair.left.top_speed='2 ft/s'"], "gets nowhere"),
        (["no-such-scenario"], "is not a bundled scenario"),
        (NOTHING_IN_PLAY, "nothing to judge places by; give the opponents smaller errors"),
    ],
)
def test_refused_options(tmp_path: Path, words: list[str], message: str) -> None:
    out = tmp_path / "out"
    quick = [word for k, word in enumerate(QUICK) if "--grid" not in (word, QUICK[k - 1])]
    if "--grid" not in words:
        quick = QUICK
    result = CliRunner().invoke(main, ["positions", *quick, *words, "--out", str(out)])
    assert result.exit_code == 2
    assert message in result.output
    assert not out.exists()


def test_toml_text_reads_back() -> None:
    import tomllib

    tables = {
        "name": 'a "name" with \x7f, \\ and é',
        "run": {"seed": 0, "baseline": "x"},
        "opponents": {
            "shots": {"drive": 60, "drop": 35.5},
            "drive": {"speed": {"kind": "normal", "mean": "38 mph", "sd": "4 mph"}},
            "lanes_by_return": {"cross": {"line": 1}},
        },
        "policies": [
            {"name": "x", "rule": "best", "split_step": False, "places": ALL_PLACES},
            {"name": "y", "centres": {"line": "1 ft"}},
        ],
        "return_of_serve": {"directions": ["line"], "odd key": [1, 2.5]},
    }
    assert tomllib.loads(toml_text(tables)) == tables
