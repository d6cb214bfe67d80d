"""The numbers behind the report page: the comparison's own, and those of other settings."""

from __future__ import annotations

from itertools import pairwise, product
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.path import Path as Ring

import sim
from sim.analyses.court_views import CLOSE_ENOUGH, CourtView, fewer_points
from sim.analyses.inputs import usual_inputs
from sim.analyses.report import Report, leader_and_rival, report
from sim.analyses.sensitivity import sensitivity
from sim.analyses.variants import (
    GRIDS,
    MOST_VARIANTS,
    change_rows,
    in_groups,
    play_variants,
    setting_rows,
    switches,
)
from sim.answers import LEAKS, answer_all
from sim.best_places import with_places_of
from sim.commands.one_comparison import only_between
from sim.comparison import Comparison, compare
from sim.court import Array
from sim.coverage import coverage, fan_after, outlines
from sim.errors import Refused
from sim.numeric_settings import changer
from sim.outputs import write_table
from sim.processes import Processes
from sim.rallies import play
from sim.run_in import PLAYERS, targets
from sim.scenario import Policy, Scenario
from sim.scenario_files import build, read
from sim.statistics import FEW
from sim.tables import Row

SHOTS = 192
SPACINGS, SHIFTS = GRIDS[0]
PLACES = {
    direction: {
        "left": {"from_centre": f"{left} ft", "depth": "13 ft"},
        "right": {"from_centre": "5 ft", "depth": "16 ft"},
    }
    for direction, left in (("line", -4), ("middle", -5), ("cross", -6))
}
POLICIES: list[dict[str, Any]] = [
    {"name": "halves", "rule": "halves"},
    {"name": "six", "rule": "follow", "spacing": "6 ft"},
    {"name": "odd", "rule": "follow", "spacing": "6.5 ft", "shift": 0.25},
    {"name": "fixed", "rule": "fixed", "centres": {"line": "1 ft", "cross": "-1 ft"}},
    {"name": "told", "rule": "best", "places": PLACES},
]


def made(settings: int = 0, **changes: Any) -> tuple[Report, Scenario]:
    two = {"directions": ["line", "cross"]}
    changes = {"policies": POLICIES, "run": {"shots": SHOTS}, "return_of_serve": two} | changes
    file = read("club-sixties")
    scenario = build(file, changes)
    return report(scenario, changer(file, changes), settings=settings), scenario


@pytest.fixture(scope="module")
def usual() -> Report:
    return made()[0]


def switch_of(found: Report, policy: str) -> Any:
    return next(switch for switch in found.switches if switch.policy.name == policy)


def rows_by(found: Report) -> dict[tuple[int, str], Row]:
    return {(row["variant"], row["return_direction"]): row for row in found.rows}


def totals(rows: list[Row]) -> list[Row]:
    return [row for row in rows if row["shot"] == "all" and row.get("lane", "all") == "all"]


# --- the numbers -------------------------------------------------------------------------------


# 192 shots of all directions are played in the same arrays, 2064 of each in arrays of their own.
@pytest.mark.parametrize("shots", [SHOTS, 2064])
def test_a_policy_as_it_stands_has_exactly_the_comparisons_numbers(shots: int) -> None:
    run = {"shots": shots}
    scenario = sim.load("club-sixties", {"policies": [POLICIES[k] for k in (0, 3, 4)], "run": run})
    found, variants = switches(scenario)
    played = play_variants(in_groups(scenario, variants))
    rows = {
        (row["variant"], row["return_direction"]): row
        for row in setting_rows(scenario, found, variants, played)
    }
    own = {switch.policy.name: switch.own_variant for switch in found}
    comparison = compare(scenario)
    summary, leaks = totals(comparison.summary_rows), totals(comparison.leak_rows)
    assert len(summary) == 4 * len(scenario.policies)
    for told in summary:
        ours = rows[own[told["policy"]], told["return_direction"]]
        assert ours["as_it_stands"] == told["policy"]
        assert ours["in_play"] == told["in_play"] > 0
        for measure, part in product(("reached", "in_control"), ("", "_share", "_low", "_high")):
            assert ours[measure + part] == told[measure + part]
    for told in leaks:
        ours = rows[own[told["policy"]], told["return_direction"]]
        through = f"through_{told['leak']}"
        assert ours[through] == told["balls"]
        for part in ("share", "low", "high"):
            assert ours[f"{through}_{part}"] == told[f"leak_{part}"]


def test_another_setting_has_the_numbers_of_a_scenario_that_says_so(usual: Report) -> None:
    switch = switch_of(usual, "six")
    number = switch.variants[switch.spacings.index(9.0)][switch.shifts.index(0.8)]
    other = {"name": "x", "rule": "follow", "spacing": "9 ft", "shift": 0.8}
    scenario = usual.scenario.model_copy(update={"policies": [Policy.model_validate(other)]})
    rows = rows_by(usual)
    for told in totals(compare(scenario).summary_rows):
        ours = rows[number, told["return_direction"]]
        assert (ours["spacing_ft"], ours["shift"]) == (9.0, 0.8)
        for column in ("in_play", "reached", "in_control", "in_control_low", "reached_high"):
            assert ours[column] == told[column]


def test_reached_and_through_add_up_to_the_balls_in_play(usual: Report) -> None:
    for row in usual.rows:
        through = sum(row[f"through_{leak}"] for leak in LEAKS)
        assert row["reached"] + through == row["in_play"]


def test_rows_stand_in_the_order_of_variants_and_directions(usual: Report) -> None:
    numbers, directions = range(len(usual.variants)), ("all", "line", "cross")
    assert list(rows_by(usual)) == list(product(numbers, directions))
    for (number, _), row in rows_by(usual).items():
        variant = usual.variants[number]
        told = (row["policy"], row["spacing_ft"], row["shift"])
        assert told == (variant.policy.name, variant.spacing, variant.shift)


def test_a_gain_is_the_paired_difference_of_the_comparison() -> None:
    """Six feet or nine, as the comparison of the two has it."""
    two = [
        {"name": "six", "rule": "follow", "spacing": "6 ft"},
        {"name": "nine", "rule": "follow", "spacing": "9 ft"},
    ]
    scenario = sim.load("club-sixties", {"policies": two, "run": {"shots": 512}})
    found, variants = switches(scenario)
    played = play_variants(in_groups(scenario, variants))
    changes = {
        (row["return_direction"], row["spacing_ft"]): row
        for row in change_rows(scenario, found, variants, played)
        if row["policy"] == "six" and row["shift"] == 0.4
    }
    checked = 0
    for told in compare(scenario).difference_rows:
        if told["shot"] != "all":
            continue
        ours, measure = changes[told["return_direction"], 9.0], told["measure"]
        assert ours[f"{measure}_points"] == pytest.approx(told["points"])
        apart = told["only_policy"], told["only_baseline"]
        # Where few differ or are missed the two allow for it in ways of their own.
        if min(sum(apart), *(side + told["neither"] for side in apart)) >= FEW:
            assert ours[f"{measure}_points_low"] == pytest.approx(told["points_low"])
            assert ours[f"{measure}_points_high"] == pytest.approx(told["points_high"])
            checked += 1
    assert checked > 2


def test_a_policy_as_it_stands_gains_nothing(usual: Report) -> None:
    own = {switch.policy.name: switch.own_variant for switch in usual.switches}
    rows = [row for row in usual.changes if row["variant"] == own[row["policy"]]]
    assert len(rows) == 3 * len(usual.switches)
    for row in rows:
        assert row["in_control_points"] == row["reached_points"] == 0.0
        assert row["in_control_points_low"] <= 0.0 <= row["in_control_points_high"]
    settings = sum(len(line) for switch in usual.switches for line in switch.variants)
    assert len(usual.changes) == 3 * settings


def test_the_rows_can_be_written(usual: Report, tmp_path: Path) -> None:
    write_table(tmp_path / "settings.csv", usual.rows)
    lines = (tmp_path / "settings.csv").read_text(encoding="utf-8").splitlines()
    assert len(lines) == 1 + len(usual.rows)
    columns = lines[0].split(",")
    best = dict(zip(columns, lines[-1].split(","), strict=True))
    assert (best["policy"], best["spacing_ft"], best["shift"]) == ("told", "", "")


# --- what can be switched -----------------------------------------------------------------------


def test_the_grid_has_the_usual_values_and_the_policys_own(usual: Report) -> None:
    odd = switch_of(usual, "odd")
    assert odd.spacings == tuple(sorted((*SPACINGS, 6.5)))
    assert odd.shifts == tuple(sorted((*SHIFTS, 0.25)))
    assert (odd.spacings[odd.own[0]], odd.shifts[odd.own[1]]) == (6.5, 0.25)
    assert len(odd.variants) == len(odd.spacings)
    assert {len(line) for line in odd.variants} == {len(odd.shifts)}
    halves, fixed, told = (switch_of(usual, name) for name in ("halves", "fixed", "told"))
    assert (halves.spacings, halves.shifts, halves.own) == (SPACINGS, (), (6, 0))
    assert (fixed.spacings, fixed.shifts, fixed.own) == (SPACINGS, (), (3, 0))
    assert (told.spacings, told.shifts, told.own) == ((), (), (0, 0))
    assert told.variants == ((len(usual.variants) - 1,),)


def test_every_place_of_a_switch_is_the_policy_set_so(usual: Report) -> None:
    for switch in usual.switches:
        for i, line in enumerate(switch.variants):
            for j, number in enumerate(line):
                variant = usual.variants[number]
                if switch.spacings:
                    assert variant.policy.gap == variant.spacing == switch.spacings[i]
                if switch.shifts:
                    assert variant.policy.shift == variant.shift == switch.shifts[j]
                assert variant.policy.rule == switch.policy.rule


def test_none_is_played_twice(usual: Report) -> None:
    kinds = [
        variant.policy.model_copy(update={"name": "any"}).model_dump_json()
        for variant in usual.variants
    ]
    assert len(set(kinds)) == len(kinds)
    assert {number for s in usual.switches for line in s.variants for number in line} == set(
        range(len(kinds))
    )
    six, odd = switch_of(usual, "six"), switch_of(usual, "odd")
    shared = set(np.ravel(six.variants)) & set(np.ravel(odd.variants))
    assert len(shared) == len(SPACINGS) * len(SHIFTS)


def test_depth_and_split_step_make_another_policy() -> None:
    twins = [
        {"name": "stop", "rule": "halves"},
        {"name": "run", "rule": "halves", "split_step": False},
        {"name": "deep", "rule": "halves", "depth": "12 ft"},
        {"name": "near", "rule": "halves", "spacing": "4 ft"},
    ]
    found, variants = switches(sim.load("club-sixties", {"policies": twins}))
    assert len(variants) == 3 * len(SPACINGS)
    assert found[0].variants == found[3].variants
    assert found[0].own_variant != found[3].own_variant


def test_an_own_value_takes_the_place_of_one_just_beside_it() -> None:
    metric = [{"name": "metric", "rule": "follow", "spacing": "2.134 m", "shift": 0.395}]
    (switch,), _ = switches(sim.load("club-sixties", {"policies": metric}))
    assert len(switch.spacings) == len(SPACINGS)
    assert len(switch.shifts) == len(SHIFTS)
    assert switch.spacings[switch.own[0]] == pytest.approx(2.134 / 0.3048)
    assert switch.shifts[switch.own[1]] == 0.395


def test_many_policies_have_fewer_settings_and_too_many_none() -> None:
    def of_depths(count: int) -> list[dict[str, Any]]:
        depths = [f"{8 + 0.1 * k:.1f} ft" for k in range(count)]
        return [{"name": f"p{k}", "rule": "follow", "depth": d} for k, d in enumerate(depths)]

    known = set()
    for count in (1, 5, 6, 20, 35, 60, 100):
        found, variants = switches(sim.load("club-sixties", {"policies": of_depths(count)}))
        assert len(variants) <= MOST_VARIANTS
        assert len({switch.own_variant for switch in found}) == count
        assert found[0].coarse == (len(found[0].spacings) < len(SPACINGS))
        known.add(len(found[0].spacings) * len(found[0].shifts))
        for switch in found:
            policy = variants[switch.own_variant].policy
            assert (policy.gap, policy.shift, policy.depth) == (7.0, 0.4, switch.policy.depth)
    assert len(known) == len(GRIDS)
    with pytest.raises(Refused, match="101 policies are too many for a page"):
        switches(sim.load("club-sixties", {"policies": of_depths(101)}))


# --- courts from above ---------------------------------------------------------------------------


def test_a_view_shows_the_means_of_the_engine(usual: Report) -> None:
    checked = 0
    for name in ("halves", "odd", "told"):
        number = switch_of(usual, name).own_variant
        policy = usual.variants[number].policy
        for direction, view in usual.views[number].items():
            rally = play(usual.scenario, direction, 0, SHOTS)
            contact = rally.contact.take(rally.in_play)
            (answer,) = answer_all(usual.scenario, rally, [policy])
            goals = targets(usual.scenario, policy, direction, contact)
            assert view.contact == (contact.x.mean(), contact.y.mean())
            for player in PLAYERS:
                place, goal = answer.places[player], goals[player]
                ours = view.players[player]
                assert ours.found == (place.x.mean(), place.y.mean())
                assert ours.target == (goal.x.mean(), goal.y.mean())
            checked += 1
    assert checked == 6


def test_every_ball_that_got_through_is_counted_and_some_are_shown(usual: Report) -> None:
    rows = rows_by(usual)
    for number, views in enumerate(usual.views):
        assert list(views) == ["line", "cross"]
        for direction, view in views.items():
            row = rows[number, direction]
            assert view.in_play == row["in_play"]
            assert view.missed == row["in_play"] - row["reached"]
            assert view.through.shape == (min(view.missed, 40), 2)


def test_a_point_is_within_the_outlines_where_the_ball_is_within_reach(usual: Report) -> None:
    scenario, policy = usual.scenario, usual.scenario.policies[1]
    rally = play(scenario, "cross", 0, SHOTS)
    fan = fan_after(scenario, rally)
    (answer,) = answer_all(scenario, rally, [policy])
    feet = {
        name: (float(place.x.mean()), float(place.y.mean()))
        for name, place in answer.places.items()
    }
    covered = coverage(scenario, policy, fan, feet)
    points = np.stack((fan.track.x, fan.track.y), axis=-1).reshape(-1, 2)
    # The outermost drives are edges of all that is looked at.
    edge = np.isin(np.arange(len(points)) % fan.drive.size, (0, fan.drive.size - 1))
    seen = 0
    for margins in (covered.in_control, covered.at_full_stretch):
        for name in PLAYERS:
            rings = outlines(fan, margins[name])
            inside = np.zeros(len(points), bool)
            for ring in rings:
                np.testing.assert_array_equal(ring[0], ring[-1])
                inside ^= Ring(ring).contains_points(points)
            margin = np.maximum(margins[name], -1.0).ravel()
            # On the edge the last digit decides.
            clear = ~edge & (np.abs(margin) > 1e-6)
            np.testing.assert_array_equal(inside[clear], margin[clear] > 0.0)
            seen += int(inside.sum())
    assert seen > 1000


def off(points: Array, ring: Array) -> float:
    """The farthest that any point is from a ring, stretch by stretch."""
    worst = 0.0
    for point in points:
        nearest = np.inf
        for start, end in pairwise(ring):
            along = end - start
            length = float(along @ along)
            share = min(max(float((point - start) @ along) / length, 0.0), 1.0) if length else 0.0
            nearest = min(nearest, float(np.hypot(*(point - start - share * along))))
        worst = max(worst, nearest)
    return worst


def test_outlines_of_fewer_points_lie_on_those_of_many(usual: Report) -> None:
    scenario, policy = usual.scenario, usual.scenario.policies[0]
    rally = play(scenario, "line", 0, SHOTS)
    fan = fan_after(scenario, rally)
    view = usual.views[switch_of(usual, "halves").own_variant]["line"]
    feet = {name: view.players[name].found for name in PLAYERS}
    exact = outlines(fan, coverage(scenario, policy, fan, feet).in_control["left"])
    ours = view.players["left"].in_control
    assert len(ours) == len(exact) > 0
    for few, many in zip(ours, exact, strict=True):
        assert 4 <= len(few) < 0.7 * len(many)
        np.testing.assert_array_equal(few[0], few[-1])
        assert {tuple(point) for point in few} <= {tuple(point) for point in many}
        assert off(many, few) <= CLOSE_ENOUGH


def test_a_square_keeps_its_corners_and_nothing_else() -> None:
    side = np.linspace(0.0, 1.0, 11)[:-1]
    zero, one = np.zeros(10), np.ones(10)
    x = np.concatenate((side, one, 1.0 - side, zero, [0.0]))
    y = np.concatenate((zero, side, one, 1.0 - side, [0.0]))
    few = fewer_points(np.column_stack((x, y)))
    np.testing.assert_array_equal(few, [[0, 0], [1, 0], [1, 1], [0, 1], [0, 0]])


# --- who leads, and how sure that is -------------------------------------------------------------


def of(comparison: Comparison, **run: Any) -> Comparison:
    scenario = comparison.scenario
    changed = scenario.run.model_copy(update=run)
    return Comparison(
        scenario.model_copy(update={"run": changed}), comparison.tally, comparison.shots_played
    )


def test_the_leader_has_most_and_its_rival_is_the_baseline_or_the_next(usual: Report) -> None:
    hits = {row["policy"]: row["in_control"] for row in totals(usual.comparison.summary_rows)
            if row["return_direction"] == "all"}  # fmt: skip
    first, second, *_, last = sorted(hits, key=lambda name: -hits[name])
    assert hits[first] > hits[second] > hits[last]
    assert leader_and_rival(of(usual.comparison, baseline=last)) == (first, last)
    assert leader_and_rival(of(usual.comparison, baseline=first)) == (first, second)
    assert (usual.leader, usual.rival) == leader_and_rival(usual.comparison)


def test_the_doubt_is_what_the_study_of_sensitivity_says_and_places_stay() -> None:
    two = [{"name": "searched", "rule": "best"}, {"name": "halves", "rule": "halves"}]
    changes: dict[str, Any] = {
        "policies": two,
        "run": {"shots": 16},
        "return_of_serve": {"directions": ["cross"]},
    }
    found, scenario = made(settings=16, **changes)
    places = found.scenario.policies[0].places
    assert places is not None
    assert scenario.policies[0].places is None

    make, names = changer(read("club-sixties"), changes), (found.leader, str(found.rival))
    assert set(names) == {"searched", "halves"}

    def with_numbers(numbers: Any) -> Scenario:
        return only_between(with_places_of(make(numbers), found.scenario), *names)

    pair = with_numbers({})
    told = sensitivity(
        pair, usual_inputs(pair, with_numbers), with_numbers, "in_control", 16, shots_at_ends=16
    )
    assert found.doubt is not None
    assert len(found.doubt.differences) == 16
    assert found.doubt.differences == told.differences
    assert (found.doubt.usual, found.doubt.ends) == (told.usual, told.ends)
    assert found.doubt.policy.name == found.leader
    assert found.doubt.scenario.baseline.name == found.rival
    assert places in [policy.places for policy in found.doubt.scenario.policies]


def test_a_refused_doubt_names_only_options_that_there_are() -> None:
    changes = {"policies": POLICIES[:2], "run": {"shots": 16}}
    file = read("club-sixties")
    scenario, make = build(file, changes), changer(file, changes)

    def not_together(numbers: Any) -> Scenario:
        if len(numbers) > 4:
            raise Refused("such numbers do not go together")
        return make(numbers)

    with pytest.raises(Refused, match="such numbers") as refused:
        report(scenario, not_together, settings=16)
    assert "--vary-input" not in str(refused.value)
    assert str(refused.value).endswith("--no-inputs")


def test_those_alike_are_paired_with_the_leader_whoever_is_the_baseline() -> None:
    run = {"shots": 64, "baseline": "far"}
    policies = [
        {"name": "far", "rule": "centre", "depth": "25 ft"},
        {"name": "a", "rule": "halves"},
        {"name": "b", "rule": "halves", "spacing": "10.05 ft"},
    ]
    found, _ = made(policies=policies, run=run)
    assert {found.leader, *found.alike} == {"a", "b"}
    assert found.rival == "far"
    as_baseline, _ = made(policies=policies, run=run | {"baseline": found.leader})
    assert (as_baseline.leader, as_baseline.rival) == (found.leader, *found.alike)
    assert as_baseline.alike == ()


def test_every_part_of_the_work_is_named_and_ends() -> None:
    told: dict[str, tuple[int, int]] = {}
    changes = {"policies": POLICIES[:2], "run": {"shots": 16}}
    scenario = build(read("club-sixties"), changes)
    report(
        scenario,
        changer(read("club-sixties"), changes),
        tell=lambda part, done: told.__setitem__(part, (done.done, done.planned)),
        settings=4,
    )
    assert {"the policies", "plausible settings", "the courts", "who takes the middle"} < set(told)
    assert all(done == planned for done, planned in told.values())


def test_without_settings_there_is_no_doubt(usual: Report) -> None:
    assert usual.doubt is None


# --- awkward scenarios ---------------------------------------------------------------------------


def same(one: CourtView, other: CourtView) -> bool:
    rings = [
        (ours, theirs)
        for name in PLAYERS
        for kind in ("in_control", "at_full_stretch")
        for ours, theirs in zip(
            getattr(one.players[name], kind), getattr(other.players[name], kind), strict=True
        )
    ]
    places = [(one.through, other.through), *rings]
    return (one.contact, one.widest, one.missed) == (
        other.contact,
        other.widest,
        other.missed,
    ) and all(np.array_equal(ours, theirs) for ours, theirs in places)


def test_workers_change_nothing(usual: Report) -> None:
    with Processes(2) as workers:
        shared = report(usual.scenario, lambda numbers: usual.scenario, workers, settings=0)
    assert shared.rows == usual.rows
    assert shared.changes == usual.changes
    assert shared.middle == usual.middle
    for one, other in zip(shared.views, usual.views, strict=True):
        assert list(one) == list(other)
        assert all(same(one[direction], other[direction]) for direction in one)


def test_a_single_policy_has_no_rival() -> None:
    found, _ = made(settings=32, policies=POLICIES[:1], run={"shots": 32})
    assert (found.leader, found.rival, found.doubt) == ("halves", None, None)
    assert len(found.variants) == len(SPACINGS)


def test_a_single_direction() -> None:
    only = {"directions": ["cross"]}
    found, _ = made(policies=POLICIES[:2], run={"shots": 32}, return_of_serve=only)
    assert {row["return_direction"] for row in found.rows} == {"all", "cross"}
    assert [list(views) for views in found.views] == [["cross"]] * len(found.variants)
    assert [each.direction for each in found.middle] == ["all", "cross"] * 2


def test_a_direction_without_a_ball_in_play_has_no_court() -> None:
    """Drives down the line that all fly off ten degrees too far to the side."""
    wild = {
        "lanes": {"line": 1, "middle": 0, "cross": 0},
        "errors": {"azimuth": {"kind": "constant", "value": "10 deg"}},
    }
    returns = {"lateral": {"cross": "-10 ft"}}
    found, _ = made(
        policies=POLICIES[:1], run={"shots": 64}, opponents=wild, return_of_serve=returns
    )
    in_play = {row["return_direction"]: row["in_play"] for row in found.rows}
    assert in_play["line"] == 0 < in_play["cross"]
    assert [list(views) for views in found.views] == [["middle", "cross"]] * len(found.variants)
    row = rows_by(found)[0, "line"]
    assert np.isnan(row["in_control_share"])


def test_no_ball_in_play_at_all() -> None:
    into_the_net = {
        "shots": {"drive": 1, "drop": 0, "lob": 0},
        "drive": {"net_clearance": "0 ft"},
        "errors": {"speed": "0 %", "elevation": "-25 deg", "azimuth": "0 deg"},
    }
    found, _ = made(settings=32, policies=POLICIES[:2], run={"shots": 32}, opponents=into_the_net)
    assert (found.leader, found.rival, found.doubt) == ("halves", "six", None)
    assert not any(found.views)
    assert {row["in_play"] for row in found.rows} == {0}


def test_drives_that_land_out_leave_the_court_without_outlines() -> None:
    wild = {"drive": {"speed": "80 mph", "inside_baseline": "none"}}
    found, _ = made(policies=POLICIES[:1], run={"shots": 32}, opponents=wild)
    for views in found.views:
        assert views
        for view in views.values():
            assert view.widest == ()
            assert not any(p.in_control or p.at_full_stretch for p in view.players.values())


@pytest.mark.slow
@pytest.mark.parametrize("path", sorted(Path("scenarios").glob("*.toml")), ids=lambda p: p.stem)
def test_every_bundled_scenario_has_a_report(path: Path) -> None:
    changes = {"run": {"shots": 256}}
    file = read(path.stem)
    scenario = build(file, changes)
    found = report(scenario, changer(file, changes), settings=32)
    assert found.doubt is not None
    assert [switch.policy.name for switch in found.switches] == [
        policy.name for policy in scenario.policies
    ]
    for switch in found.switches:
        assert switch.policy.name in rows_by(found)[switch.own_variant, "all"]["as_it_stands"]
    assert len(found.views) == len(found.variants)
