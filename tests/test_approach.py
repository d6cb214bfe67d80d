"""The way in: arrival, spacing, the split step, the returns tried, and its command."""

from __future__ import annotations

import csv
import doctest
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.patches import Rectangle
from matplotlib.text import Text

import sim
from sim.analyses.approach import Approach, approach, only
from sim.analyses.approach_remedies import FASTER, SHORTER, SOONER, arriving, faster, shorter
from sim.analyses.approach_returns import (
    DEPTHS,
    HEIGHTS,
    LEAST,
    MOST_CONTROL,
    MOST_TIME,
    Return,
    fresh_blocks,
    sums_of_block,
    with_return,
)
from sim.analyses.approach_split_step import (
    RUNS_ON,
    STOPS,
    split_step_rows,
    split_steps,
    twins_of,
)
from sim.analyses.approach_way import Way, places_until, ways
from sim.answers import answer_all
from sim.blocks import OneAfterTheOther, blocks_of
from sim.cli import main
from sim.errors import Refused
from sim.figures import style
from sim.figures.approach import approach_figures
from sim.processes import Processes
from sim.rallies import play
from sim.run_in import PLAYERS
from sim.scenario import Scenario
from sim.tables import Row
from sim.tally import ARRIVED_WITHIN
from sim.texts.approach import remedies_in_words, terminal_text
from sim.wording import CAUTIONS, LIMITS

SHOTS = 96
CLUB = sim.load("club-sixties", {"run": {"shots": SHOTS}})
INTO_THE_NET = {
    "shots": {"drive": 1, "drop": 1, "lob": 0},
    "drive": {"net_clearance": "0 ft"},
    "drop": {"net_clearance": "0 ft"},
    "errors": {"speed": "0 %", "elevation": "-25 deg", "azimuth": "0 deg"},
}


@pytest.fixture(scope="module")
def club() -> Approach:
    return approach(only(CLUB, ["halves", "follow"], ["line", "cross"]))


def each_way(scenario: Scenario) -> list[Way]:
    return [way for found in ways(scenario) for way in found if way.direction != "all"]


def rows_of_the_engine() -> dict[tuple[str, str], Row]:
    rows = sim.compare(CLUB).run_in_rows
    return {(row["policy"], row["return_direction"]): row for row in rows}


def mean_depth(scenario: Scenario) -> float:
    found = [-way.found[name].y.mean() for way in each_way(scenario) for name in PLAYERS]
    return float(np.mean(found))


def test_arrivals_depths_and_spacing_are_those_the_engine_counts() -> None:
    engine = rows_of_the_engine()
    for way in each_way(CLUB):
        row = engine[way.policy.name, way.direction]
        assert way.balls == row["in_play"]
        assert way.contact.time.mean() == pytest.approx(row["contact_time_s"])
        assert way.apart[-1].mean() == pytest.approx(row["spacing_ft"])
        for name in PLAYERS:
            assert way.arrived(name).mean() == pytest.approx(row[f"{name}_arrived_share"])
            assert -way.found[name].y.mean() == pytest.approx(row[f"{name}_depth_ft"])


def test_who_arrives_is_who_has_the_time() -> None:
    stops = {policy.name: policy.split_step for policy in CLUB.policies}
    for way in each_way(CLUB):
        lead = CLUB.run_in.split_step_lead if stops[way.policy.name] else 0.0
        for name in PLAYERS:
            in_time = way.needs[name] <= way.contact.time - lead
            assert (way.arrived(name) | ~in_time).all()
            # Who is not quite there counts as arrived, too.
            assert (way.to_go(name)[way.arrived(name)] < ARRIVED_WITHIN).all()
            assert (way.to_go(name)[in_time] < 1e-9).all()


def test_the_last_instant_is_where_the_answers_find_them() -> None:
    for direction in CLUB.return_of_serve.directions:
        rally = play(CLUB, direction, 0, SHOTS)
        answers = answer_all(CLUB, rally, CLUB.policies)
        found = [way for way in each_way(CLUB) if way.direction == direction]
        for way, answer in zip(found, answers, strict=True):
            end = np.full(way.balls, np.inf)
            last = places_until(CLUB, way.policy, way.goals, way.contact, end)
            for name in PLAYERS:
                for places in (last[name], way.found[name]):
                    assert np.array_equal(places.x, answer.places[name].x)
                    assert np.array_equal(places.y, answer.places[name].y)


def test_the_course_ends_with_the_found_places_and_starts_at_the_start(club: Approach) -> None:
    rows = [row for row in club.way_rows if row["policy"] == "follow"]
    arrival = {(row["return_direction"], row["player"]): row for row in club.arrival_rows[9:]}
    for direction in club.directions:
        course = [row for row in rows if row["return_direction"] == direction]
        for name in PLAYERS:
            mine = [row for row in course if row["player"] == name]
            assert (mine[0]["time_s"], mine[0]["y_ft"]) == (0.0, pytest.approx(-22.5))
            assert mine[-1]["moment"] == "as the shot finds them"
            assert -mine[-1]["y_ft"] == pytest.approx(arrival[direction, name]["from_net_ft"])
            depths = [-row["y_ft"] for row in mine]
            assert all(later <= sooner + 1e-9 for sooner, later in pairwise(depths))


def test_spacing_on_the_way_lies_between_the_narrowest_and_the_widest(club: Approach) -> None:
    engine = rows_of_the_engine()
    for row in club.spacing_rows:
        parts = [row[f"at_{part}_percent_ft"] for part in (0, 25, 50, 75, 100)]
        assert row["narrowest_ft"] <= min(parts) + 1e-9
        assert row["widest_ft"] >= max(parts) - 1e-9
        if row["return_direction"] != "all":
            # The engine looks at fewer moments, all of them among ours.
            known = engine[row["policy"], row["return_direction"]]
            assert row["narrowest_ft"] <= known["narrowest_ft"] + 1e-9
            assert row["widest_ft"] >= known["widest_ft"] - 1e-9


@pytest.mark.parametrize(
    ("policy", "said"),
    [
        ({"name": "narrow", "rule": "centre", "spacing": "2 ft", "depth": "18 ft"}, "closer than"),
        ({"name": "wide", "rule": "centre", "spacing": "18 ft"}, "farther apart than 12 ft"),
        ({"name": "usual", "rule": "centre", "spacing": "7 ft"}, "Nobody comes closer than 5 ft"),
    ],
)
def test_bad_spacing_is_warned_of(policy: dict[str, str], said: str) -> None:
    scenario = sim.load("club-sixties", {"policies": [policy], "run": {"shots": 64}})
    scenario = scenario.model_copy(
        update={"run": scenario.run.model_copy(update={"baseline": policy["name"]})}
    )
    assert said in terminal_text(approach(only(scenario, [], ["middle"])))


def test_stopping_against_running_on_is_the_comparison_of_the_two() -> None:
    scenario = only(CLUB, ["follow"], [])
    rows = split_step_rows(scenario, split_steps(scenario, OneAfterTheOther()))
    played = sim.compare(twins_of(scenario, scenario.policies[0]))
    wanted = [row for row in played.difference_rows if row["shot"] == "all"]
    assert len(wanted) == len(rows) == 8
    for row in wanted:
        assert (row["policy"], row["baseline"]) == (STOPS, RUNS_ON)
        where = row["return_direction"], row["measure"]
        mine = next(one for one in rows if (one["return_direction"], one["measure"]) == where)
        for name in ("in_play", "both", "neither", "points", "points_low", "points_high"):
            assert mine[name] == row[name]
        assert mine["verdict"] == row["verdict"]


def test_how_much_deeper_who_stops_is_found() -> None:
    scenario = only(CLUB, ["follow"], ["cross"])
    row = split_step_rows(scenario, split_steps(scenario, OneAfterTheOther()))[0]
    stops, runs_on = sim.compare(twins_of(scenario, scenario.policies[0])).run_in_rows
    gap = [stops[f"{name}_depth_ft"] - runs_on[f"{name}_depth_ft"] for name in PLAYERS]
    assert row["deeper_ft"] == pytest.approx(np.mean(gap))


def test_who_stops_is_never_found_nearer_to_the_net(club: Approach) -> None:
    assert all(row["deeper_ft_low"] >= 0.0 for row in club.split_step_rows)


def test_policies_that_are_each_others_twins_are_played_once() -> None:
    scenario = sim.load("stop-or-run", {"run": {"shots": 16}})
    names = [each.policy.name for each in split_steps(scenario, OneAfterTheOther())]
    assert names == ["stop (halves)", "stop (follow)", "stop halfway (halves)"]


def test_height_buys_time_and_brings_them_nearer(club: Approach) -> None:
    for lower, higher in pairwise(club.returns.by_height):
        assert higher.mean("time") > lower.mean("time")
        assert higher.depth <= lower.depth
        assert higher.share("arrived") >= lower.share("arrived")


def test_more_speed_brings_them_nearer() -> None:
    depths = [mean_depth(faster(CLUB, speed)) for speed in (13.0, 16.0, 20.0, 30.0)]
    assert all(faster_found < slower_found for slower_found, faster_found in pairwise(depths))


def test_a_return_tried_is_the_scenario_with_constants(club: Approach) -> None:
    changes = {"landing_depth": "15 ft", "top": "12 ft", "directions": ["line", "cross"]}
    scenario = sim.load("club-sixties", {"return_of_serve": changes, "run": {"shots": SHOTS}})
    played = sim.compare(scenario)
    for row in played.summary_rows:
        if (row["policy"], row["shot"], row["lane"]) == ("halves", "all", "all"):
            wanted = Return(row["return_direction"], 15.0, 12.0)
            tried = next(each for each in club.returns.grid if each.what == wanted)
            assert tried.balls == row["in_play"]
            for measure in ("reached", "in_control"):
                assert tried.share(measure) == row[f"{measure}_share"]


def test_the_best_returns_are_judged_on_shots_that_did_not_choose_them(club: Approach) -> None:
    chosen = club.returns.chosen
    assert {MOST_TIME, MOST_CONTROL} <= chosen.keys()
    longest = max(each.mean("time") for each in club.returns.grid)
    for virtue, tried in chosen.items():
        known = next(each for each in club.returns.grid if each.what == tried.what)
        assert not np.array_equal(known.sums, tried.sums)
        if virtue == MOST_TIME:
            assert known.mean("time") == longest
            assert known.what.height == 14.0
    assert [block.number for block in fresh_blocks(CLUB)] == [1]
    block = fresh_blocks(CLUB)[0]
    again = sums_of_block(with_return(club.scenario, chosen[MOST_TIME].what), block)
    place = club.scenario.return_of_serve.directions.index(chosen[MOST_TIME].what.direction)
    assert np.array_equal(again[:, place], chosen[MOST_TIME].sums)


def test_the_lowest_return_that_lets_them_arrive(club: Approach) -> None:
    enough = [
        each
        for each in club.returns.grid
        if each.what.direction != "all" and each.share("arrived") >= club.arrive
    ]
    assert club.returns.chosen[LEAST].what.height == min(each.what.height or 0 for each in enough)


def test_who_always_arrives_is_told_so_instead_of_a_lowest_return() -> None:
    result = approach(only(CLUB, ["stay back"], ["middle"]))
    text = terminal_text(result)
    assert "Every return tried lets both arrive for 80 of 100." in text
    assert "The lowest return tried" not in text
    assert "The shot finds both players 22.0 ft from the net." in text
    assert "22.0 ft from the net either way" in text


def test_a_curve_tells_which_place_belongs_to_which_return(club: Approach) -> None:
    higher, deeper = terminal_text(club).splitlines()[4:6]
    for line, curve, far, near in (
        (higher, club.returns.by_height, "high", "low"),
        (deeper, club.returns.by_depth, "deep", "shallow"),
    ):
        places = [f"{tried.depth:.1f} ft" for tried in (curve[-1], curve[0])]
        assert f"{places[0]} from the net after the {far} one, {places[1]} after the {near}" in line
    assert "if it lands 21 ft from the net, after" in deeper


def test_replicates_without_shots_do_not_count() -> None:
    """Of 17 shots in sixteen replicates two go to each, and the last seven get none."""
    scenario = only(sim.load("club-sixties", {"run": {"shots": 17}}), ["halves"], ["middle"])
    assert ways(scenario)[0][0].replicates == 9
    assert sums_of_block(scenario, blocks_of(17)[0]).shape[0] == 9


def test_returns_after_which_no_ball_stays_in_play(club: Approach) -> None:
    lowest, *higher = club.returns.by_height
    without = [replace(tried, sums=0.0 * tried.sums) for tried in (*club.returns.by_depth, lowest)]
    curves = replace(club.returns, by_depth=without[:-1], by_height=[without[-1], *higher])
    text = terminal_text(replace(club, returns=curves))
    assert "Whether a deeper return buys time: hardly a third shot stayed in play." in text
    assert "after 1.5 s if 6 ft" in text
    assert "nan" not in text


def test_a_slow_pair_is_told_that_no_return_does() -> None:
    slow = {"top_speed": "5 ft/s"}
    scenario = sim.load(
        "club-sixties", {"pair": {"left": slow, "right": slow}, "run": {"shots": 32}}
    )
    result = approach(only(scenario, ["halves"], ["middle"]))
    assert LEAST not in result.returns.chosen
    assert "No return tried lets both arrive for 80 of 100" in terminal_text(result)


def test_remedies_are_the_least_that_do(club: Approach) -> None:
    found = {remedy.kind: remedy for remedy in club.remedies}
    assert set(found) == {FASTER, SOONER, SHORTER}
    each = [way for way in club.ways[0] if way.direction != "all"]
    for kind, changed, step in ((FASTER, faster, -0.1), (SHORTER, shorter, -0.1)):
        value = found[kind].value
        assert value is not None
        assert arriving(changed(club.scenario, value), each) >= club.arrive
        assert arriving(changed(club.scenario, value + step), each) < club.arrive
    # Even at once they would be too late.
    assert found[SOONER].value is None
    assert found[SOONER].played.share("arrived") < club.arrive


def test_a_sprinters_speed_is_called_out_of_reach(club: Approach) -> None:
    (legs,) = [remedy for remedy in club.remedies if remedy.kind == FASTER]
    wanted = "of 100 balls (fresh shots):"
    told = terminal_text(club).split(wanted)[1].splitlines()[1]
    assert legs.value is not None
    assert legs.value > 1.2 * 13.0
    assert told.startswith(
        f"- a top speed of {legs.value:.1f} ft/s, which is out of reach (the pair has 13 ft/s, "
        "players in their thirties 18 ft/s by our assumption, world-class sprinters about 40 ft/s;"
    )
    assert "world-class sprinters about 12 m/s" in terminal_text(club, "metric")


@pytest.mark.parametrize(
    ("needed", "left", "far", "sprinters"),
    [
        (15.5, "13 ft/s", False, False),
        (15.7, "13 ft/s", True, False),
        (15.5, "12 ft/s", True, False),
        (18.1, "13 ft/s", True, True),
    ],
)
def test_what_is_out_of_reach_hangs_on_the_slower_of_the_pair(
    club: Approach, needed: float, left: str, far: bool, sprinters: bool
) -> None:
    """Up to a fifth more than 13 ft/s, 15.6 ft/s, is not; of 12 ft/s, 14.4 ft/s."""
    scenario = sim.load("club-sixties", {"pair": {"left": {"top_speed": left}}})
    (legs,) = [replace(r, value=needed) for r in club.remedies if r.kind == FASTER]
    told = remedies_in_words(replace(club, scenario=scenario, remedies=[legs]))[1]
    assert ("out of reach" in told) == far
    assert ("world-class" in told) == sprinters
    assert ("the pair has 13 ft/s" in told) == (left == "13 ft/s")
    assert ("the slower of the pair has 12 ft/s" in told) == (left == "12 ft/s")


def test_not_even_out_of_reach_is_enough(club: Approach) -> None:
    (legs,) = [replace(r, value=None) for r in club.remedies if r.kind == FASTER]
    told = remedies_in_words(replace(club, remedies=[legs]))[1]
    assert told.startswith("- a top speed of 36 ft/s, which is out of reach (the pair has 13 ft/s")
    assert "would not do: " in told


def test_a_pair_that_arrives_needs_no_remedy() -> None:
    result = approach(only(CLUB, ["stay back"], ["middle"]))
    assert result.remedies == []
    assert result.arrival_rows[2]["arrived_share"] == 1.0
    assert "arrived in time for all (stay back)" in terminal_text(result)


def test_places_that_were_found_have_no_depth_to_change() -> None:
    spots = {
        name: {"from_centre": f"{side} ft", "depth": "12 ft"}
        for name, side in (("left", -5), ("right", 5))
    }
    policy = {
        "name": "found",
        "rule": "best",
        "places": dict.fromkeys(("line", "middle", "cross"), spots),
    }
    scenario = sim.load("club-sixties", {"policies": [policy], "run": {"shots": 32}})
    result = approach(only(scenario, [], ["middle"]))
    assert {remedy.kind for remedy in result.remedies} == {FASTER, SOONER}


def test_the_workers_do_not_matter(club: Approach) -> None:
    with Processes(2) as workers:
        shared = approach(club.scenario, workers=workers)
    assert terminal_text(shared) == terminal_text(club)
    assert repr(shared.return_rows) == repr(club.return_rows)
    assert shared.split_step_rows == club.split_step_rows
    assert shared.remedy_rows == club.remedy_rows


def test_the_answer_comes_first_and_the_cautions_last(club: Approach) -> None:
    lines = terminal_text(club).splitlines()
    assert lines[3].startswith("Of 100 balls both have arrived in time for")
    assert lines[-len(CAUTIONS) :] == list(CAUTIONS)
    assert all(sentence in lines for sentence in LIMITS)
    stopping = next(line for line in lines if line.startswith("Stopping"))
    assert "ft deeper (halves)" in stopping


def test_nothing_in_play_is_told() -> None:
    scenario = sim.load("club-sixties", {"opponents": INTO_THE_NET, "run": {"shots": 32}})
    result = approach(only(scenario, ["halves"], ["line"]))
    text = terminal_text(result)
    assert "No third shot stayed in play" in text
    assert "nan" not in text
    assert list(approach_figures(result)) == []
    assert result.way_rows == []


def test_the_map_of_returns_marks_the_best_and_what_cannot_be_told_from_it(club: Approach) -> None:
    figure = dict(approach_figures(club))["returns"]
    # A key and a map for each of the two numbers.
    axes = figure.axes[3]
    tried = {(one.what.depth, one.what.height): one for one in club.returns.together()}
    shares = [tried[d, h].share("in_control") for d in DEPTHS for h in HEIGHTS]
    cells = [patch for patch in axes.findobj(Rectangle) if patch is not axes.patch]
    framed = [k for k, cell in enumerate(cells) if cell.get_gid() == "best"]
    assert framed == [int(np.argmax(shares))]
    numbers = [float(text.get_text()) for text in axes.texts[: len(shares)]]
    assert numbers == pytest.approx([100.0 * share for share in shares], abs=0.51)


@pytest.mark.parametrize("units", ["us", "metric"])
def test_figures_keep_their_words_on_the_page(club: Approach, units: style.Units) -> None:
    figures = dict(approach_figures(club, units))
    assert list(figures) == ["court", "depth-over-time", "returns"]
    for figure in figures.values():
        with style.own_settings():
            canvas = FigureCanvasAgg(figure)
            canvas.draw()
            for text in figure.findobj(Text):
                if text.get_text():
                    assert text.get_size() >= style.SMALL
                    box = text.get_window_extent(canvas.get_renderer())
                    assert box.x0 >= 0.0
                    assert box.x1 <= figure.bbox.width
                    assert box.y0 >= 0.0


@pytest.fixture
def anywhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["approach", "--shots", "32", *words])


def test_the_command_from_end_to_end(anywhere: Path) -> None:
    words = ("--policy", "follow", "--return", "cross", "--arrive", "50")
    result = run(*words)
    assert result.exit_code == 0, result.output
    assert "follow" in result.stdout
    folder = anywhere / "reachshare-out" / "club-sixties-approach"
    tables = {"arrival", "way", "spacing", "returns", "split_step", "remedies"}
    assert {path.stem for path in folder.glob("*.csv")} == tables
    assert {path.stem for path in folder.glob("*.png")} == {"court", "depth-over-time", "returns"}
    with (folder / "returns.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert {row["return_direction"] for row in rows} == {"cross"}
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert run(*words, "--workers", "1").exit_code == 0
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--policy", "folow"), '"folow" is not a policy of the scenario'),
        (("--return", "back"), "'back' is not one of"),
        (("--arrive", "101"), "101 is not from 1 to 100"),
        (("--arrive", "0.8"), "it is in percent, such as 80"),
        (("--arrive", "nan"), "nan is not from 1 to 100"),
        (("--set", "return_of_serve.directions=['line']", "--return", "cross"), "--return"),
    ],
)
def test_wrong_input_is_refused_before_any_work(
    anywhere: Path, words: tuple[str, ...], said: str
) -> None:
    result = run(*words)
    assert result.exit_code == 2
    assert said in result.output
    assert list(anywhere.iterdir()) == []


def test_only_chosen_policies_and_directions_the_baseline_first() -> None:
    scenario = sim.load("club-sixties", {"run": {"baseline": "follow"}})
    chosen = only(scenario, [], [])
    assert [policy.name for policy in chosen.policies][:2] == ["follow", "halves"]
    assert len(chosen.policies) == len(scenario.policies)
    chosen = only(scenario, ["bisect", "halves", "bisect"], ["cross", "line"])
    assert [policy.name for policy in chosen.policies] == ["bisect", "halves"]
    assert chosen.baseline.name == "bisect"
    assert chosen.return_of_serve.directions == ["line", "cross"]
    with pytest.raises(Refused, match="--policy"):
        only(scenario, ["nobody"], [])


def test_a_table_with_nothing_in_it_is_not_written(anywhere: Path) -> None:
    assert run("--policy", "stay back", "--return", "middle", "--no-figures").exit_code == 0
    folder = anywhere / "reachshare-out" / "club-sixties-approach"
    assert not (folder / "remedies.csv").exists()
    assert all(path.stat().st_size > 100 for path in folder.glob("*.csv"))


def test_the_examples_of_the_page_run() -> None:
    page = Path(sim.__file__).parent / "docs" / "approach.md"
    result = doctest.testfile(str(page), module_relative=False, encoding="utf-8")
    assert result.attempted >= 5
    assert result.failed == 0


@pytest.mark.slow
def test_the_page_shows_what_the_command_prints(anywhere: Path) -> None:
    page = (Path(sim.__file__).parent / "docs" / "approach.md").read_text(encoding="utf-8")
    shown = page.split("```text\n")[1].split("```")[0].splitlines()
    printed = CliRunner().invoke(main, ["approach", "--no-figures", "-q"]).stdout.splitlines()
    lines = [line for line in shown if line not in ("", "...")]
    assert len(lines) >= 20
    assert [line for line in lines if line not in printed] == []
