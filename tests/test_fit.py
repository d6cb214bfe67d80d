"""Fits of charts, dashes and marks: known inputs come back, files go together."""

from __future__ import annotations

import csv
import doctest
import itertools
import json
import math
import re
import shutil
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

import sim
from sim.analyses.fit_reach import fit_reach
from sim.analyses.fit_runs import DIRECTIONS, Dashes, RunFit, dash_time, fit_player, fit_runs
from sim.analyses.fit_shots import ShotsFit, fit_shots
from sim.analyses.shot_chart import counts_of
from sim.analyses.simulated_chart import AIMS, simulated_charts, typical_aims, with_errors_and_aims
from sim.blocks import OneAfterTheOther
from sim.charts import ChartRow
from sim.cli import main
from sim.court import Array
from sim.errors import Refused
from sim.figures import style
from sim.figures.fit import reach_figure, runs_figure, shots_figure
from sim.fitted import range_of, stream
from sim.numeric_settings import changed, numeric_setting
from sim.opponents import LANES, SHOTS
from sim.players import Player
from sim.processes import Processes
from sim.rallies import FATES, play
from sim.scenario import Scenario
from sim.scenario_files import build, merge, read
from sim.texts.fit_shots import shots_text
from sim.units import parse_quantity

FILE = read("club-sixties")
FEW = {"run": {"shots": 256}}
CHARTS = Path(__file__).parent / "charts"
FEET_A_SECOND_PER_MPH = parse_quantity("1 mph", "speed")
PAGE = Path(sim.__file__).parent / "docs" / "fit.md"


def played_chart(scenario: Scenario, shots: int, seed: int) -> list[ChartRow]:
    """A chart as somebody beside the court would fill it in, of shots that the engine plays."""
    run = {"seed": seed, "sampling": "pseudo-random"}
    scenario = scenario.model_copy(update={"run": scenario.run.model_copy(update=run)})
    rows: list[ChartRow] = []
    directions = scenario.return_of_serve.directions
    for direction in directions:
        rally = play(scenario, direction, 0, math.ceil(shots / len(directions)))
        (x, y, _), _ = rally.approach.place_and_launch(rally.landing_time - rally.net_time)
        spots = {k: (float(x[n]), -float(y[n])) for n, k in enumerate(rally.in_play)}
        third, launch = rally.third_shot, rally.third_shot.launch
        speed = np.sqrt(launch.x**2 + launch.y**2 + launch.z**2)
        for k, fate in enumerate(rally.fate):
            kind = SHOTS[third.shot[k]]
            side, depth = spots.get(k, (None, None))
            rows.append(
                {
                    "shot": kind,
                    "lane": LANES[third.lane[k]],
                    "result": "in" if FATES[fate] == "in play" else FATES[fate],
                    "landing_x": side,
                    "landing_depth": depth,
                    "speed": float(speed[k]) if kind == "drive" else None,
                    "return_direction": direction,
                    "contact_side": "right" if rally.contact.x[k] >= 0.0 else "left",
                }
            )
    return rows[:shots]


def without(rows: list[ChartRow], *columns: str) -> list[ChartRow]:
    return [row | dict.fromkeys(columns) for row in rows]


def ranges(fit: ShotsFit) -> dict[str, tuple[float, float]]:
    return {e.key or e.quantity: (e.low, e.high) for e in fit.posterior.estimates}


def truths(scenario: Scenario) -> dict[str, float]:
    """What a fit should find, by setting's key."""
    keys = [f"opponents.shots.{kind}" for kind in SHOTS]
    keys += [f"opponents.lanes.{kind}" for kind in LANES]
    for name in ("drop.landing_depth", "inset", "drive.speed"):
        keys += [f"opponents.{name}.mean", f"opponents.{name}.sd"]
    keys += ["opponents.errors.elevation.sd"]
    return {key: numeric_setting(scenario, key).value for key in keys}


def test_failures_of_a_played_scenario_give_its_errors_back() -> None:
    scenario = with_errors_and_aims(build(FILE, {"run": {"shots": 4096, "seed": 77}}), 1.6, {})
    share = float(simulated_charts([scenario], OneAfterTheOther()).failing[0])
    # As many shots of each kind as the scenario's weights have, so that only failing is fitted.
    weights = [getattr(scenario.opponents.shots, kind) for kind in SHOTS]
    kinds = [kind for kind, weight in zip(SHOTS, weights, strict=True) for _ in range(int(weight))]
    empty = dict.fromkeys(
        ("lane", "landing_x", "landing_depth", "speed", "return_direction", "contact_side")
    )
    rows = [
        empty | {"shot": kinds[k % len(kinds)], "result": "net" if k < share * 9000 else "in"}
        for k in range(9000)
    ]
    fit = fit_shots(FILE, {"run": {"shots": 1024}}, rows)
    # A point of failing is 0.045 of the factor, and both plays together know it to half a point
    # (standard deviation): three of these. The chart itself knows it to half a point, too.
    assert fit.factor.value == pytest.approx(1.6, abs=0.07)
    assert fit.factor.high - fit.factor.low == pytest.approx(4 * 0.5 * 0.045, abs=0.02)


# Counts and the error factor alone; with landing spots and speeds see the next.
@pytest.mark.slow
def test_known_opponents_come_back_from_charts_in_nineteen_of_twenty() -> None:
    scenario = with_errors_and_aims(build(FILE), 1.3, {})
    wanted = {key: value for key, value in truths(scenario).items() if ".mean" not in key}
    held = []
    for seed in range(12):
        rows = without(
            played_chart(scenario, 60, 100 + seed), "landing_x", "landing_depth", "speed"
        )
        found = ranges(fit_shots(FILE, FEW, rows))
        held += [low <= wanted[key] <= high for key, (low, high) in found.items() if key in wanted]
    assert len(held) == 12 * 7
    # 84 ranges at 95 %: 80 expected, but those of one chart depend on each other. Fewer than 73
    # has a chance under 1 in 1000 were they seven by seven as one, and under 1 in 100,000 if not.
    assert sum(held) >= 73


@pytest.mark.slow
def test_known_opponents_come_back_with_their_aims() -> None:
    """All ranges of 200 charts of 120 shots, the inputs drawn from what is assumed before.

    Ranges of counts and of the errors should hold in 190, standard deviation 3.1. Those of the aims
    are approximate (straight lines around the best aims) and measured on the page: 86 % for the
    worst. Each bound lies three and a half standard deviations below.
    """
    chance = np.random.default_rng(100_000)
    base = build(FILE)
    held = dict.fromkeys(truths(base), 0)
    for seed in range(200):
        factor = math.exp(0.25 * chance.standard_normal())
        spreads = np.array([1.2, 0.8, 6.6]) * np.exp(0.5 * chance.standard_normal(3))
        means = chance.uniform((4.0, 1.0, 44.0), (7.0, 3.0, 60.0))
        aims = {n: (float(means[n]), float(spreads[n] ** 2)) for n in range(3)}
        scenario = with_errors_and_aims(base, factor, aims)
        rows = played_chart(scenario, 120, 100_000 + seed)
        found = ranges(fit_shots(FILE, {"run": {"shots": 1024}}, rows))
        for key, value in truths(scenario).items():
            held[key] += found[key][0] <= value <= found[key][1]
    aimed = {key: count for key, count in held.items() if key.endswith((".mean", ".sd"))}
    del aimed["opponents.errors.elevation.sd"]
    counted = {key: count for key, count in held.items() if key not in aimed}
    assert {key: count for key, count in counted.items() if count < 179} == {}
    assert {key: count for key, count in aimed.items() if count < 155} == {}


@pytest.mark.slow
def test_failures_decide_the_errors_with_the_aims_settled_first() -> None:
    """A large chart brings errors and aims back closely, though aims show only through errors."""
    aims = {0: (6.5, 1.0), 1: (2.4, 0.49), 2: (48.0, 25.0)}
    scenario = with_errors_and_aims(build(FILE), 0.7, aims)
    fit = fit_shots(FILE, {"run": {"shots": 2048}}, played_chart(scenario, 6000, 9))
    # About three standard errors of these counts, and of the aims below.
    assert fit.factor.value == pytest.approx(0.7, abs=0.05)
    for number, (mean, variance) in aims.items():
        found_mean, found_variance = fit.match.aims[number]
        assert found_mean == pytest.approx(mean, abs=0.12 if number < 2 else 0.6)
        assert math.sqrt(found_variance) == pytest.approx(math.sqrt(variance), abs=0.25)
    usual = typical_aims(build(FILE))
    assert [tuple(usual[0]), usual[1, 0], usual[2, 0]] == [(5.0, pytest.approx(1.44)), 1.8, 52.8]


def test_the_workers_do_not_matter() -> None:
    rows = without(played_chart(build(FILE), 60, 4), "landing_x", "landing_depth", "speed")
    with Processes(2) as workers:
        shared = fit_shots(FILE, FEW, rows, workers=workers)
    alone = fit_shots(FILE, FEW, rows)
    assert shared.posterior.estimates == alone.posterior.estimates
    for key, draws in alone.posterior.draws.items():
        assert np.array_equal(shared.posterior.draws[key], draws)


def test_lanes_from_landing_spots() -> None:
    scenario = build(FILE)
    spot = {"shot": "drop", "lane": None, "result": "in", "landing_depth": None, "speed": None}
    spot |= {"return_direction": None, "contact_side": None}
    cases = [
        ({"landing_x": 8.0, "contact_side": "right"}, "line"),
        ({"landing_x": -8.0, "contact_side": "right"}, "cross"),
        ({"landing_x": -8.0, "contact_side": "left"}, "line"),
        ({"landing_x": 4.9}, "middle"),
        # The right-hand player returned; down the line the opponents strike on the pair's right.
        ({"landing_x": 8.0, "return_direction": "line"}, "line"),
        ({"landing_x": 8.0, "return_direction": "cross"}, "cross"),
    ]
    for change, lane in cases:
        counts = counts_of([spot | change], scenario).lanes
        assert dict(zip(LANES, counts.tolist(), strict=True))[lane] == 1.0, change
    unknown = counts_of([spot | {"landing_x": 8.0}, spot | {"landing_x": 0.0}], scenario)
    assert (unknown.unknown_lanes, unknown.lanes.sum()) == (1, 1.0)
    with pytest.raises(Refused, match="contact_side"):
        counts_of([spot | {"landing_x": 8.0}], scenario)


def test_lanes_from_landing_spots_are_nearly_those_aimed_at() -> None:
    """Balls that land in are aimed at the middle more often: four points, as the page says."""
    scenario = build(FILE)
    rows = played_chart(scenario, 12_000, 3)
    seen = counts_of(without(rows, "lane"), scenario).lanes
    aimed = counts_of(rows, scenario).lanes
    assert np.abs(seen / seen.sum() - aimed / aimed.sum()).max() < 0.05


def test_enough_shots_after_a_return_get_lanes_of_their_own() -> None:
    rows = played_chart(build(FILE), 120, 6)
    few = [row for row in rows if row["return_direction"] == "line"][:29]
    others = [row for row in rows if row["return_direction"] == "cross"]
    fit = fit_shots(FILE, FEW, without(few + others, "landing_x", "landing_depth", "speed"))
    assert list(fit.posterior.tables["opponents"]["lanes_by_return"]) == ["cross"]
    assert "opponents.lanes_by_return.cross.middle" in fit.posterior.draws


def test_failing_more_often_than_can_be_played_is_told() -> None:
    rows = without(played_chart(build(FILE), 40, 5), "landing_x", "landing_depth", "speed")
    fit = fit_shots(FILE, FEW, [row | {"result": "net"} for row in rows])
    assert fit.match.outside > 0.9
    assert fit.factor.value > 3.5
    assert fit.factor.high == pytest.approx(4.0, abs=0.02)
    assert "the fit stands at the end of that" in shots_text(fit, "chart.csv").split("\n")[0]


def test_a_chart_that_contradicts_itself_does_not_look_sure() -> None:
    """Half go into the net, though those in land within a foot: no errors do both."""
    empty = dict.fromkeys(("lane", "landing_x", "speed", "return_direction", "contact_side"))
    chance = np.random.default_rng(0)
    drops = [empty | {"shot": "drop", "result": "in", "landing_depth": depth}
             for depth in 6.0 + chance.standard_normal(20)]  # fmt: skip
    failed = empty | {"shot": "drop", "result": "net", "landing_depth": None}
    fit = fit_shots(FILE, FEW, drops + [failed] * 20)
    assert fit.match.trust < 1.0
    assert fit.factor.high - fit.factor.low > 0.5
    assert "hardly go together" in shots_text(fit, "chart.csv")


ALIKE = {
    "speed": ({"shot": "drive", "speed": 40.0 * FEET_A_SECOND_PER_MPH}, FEET_A_SECOND_PER_MPH),
    "depth": ({"shot": "drop", "landing_depth": 6.0}, 1.0),
    "inset": ({"shot": "drop", "landing_x": 8.0, "lane": "line"}, 1.0),
}


@pytest.mark.parametrize("aim", ALIKE)
@pytest.mark.parametrize("others", [0, 1])
def test_values_all_alike_are_fitted_as_surely_as_rounding_allows(aim: str, others: int) -> None:
    """Sixty times the same number, or once another rounded one, tell the mean within half a step.

    They lie too near each other to have been measured one by one: no spread is fitted.
    """
    said, step = ALIKE[aim]
    empty = dict.fromkeys(
        (
            *("lane", "landing_x", "landing_depth", "speed", "return_direction", "contact_side"),
            "shot",
        )
    )
    row = empty | {"result": "in"} | said
    measured = next(name for name in ("speed", "landing_depth", "landing_x") if name in said)
    other = row | {measured: row[measured] + step}
    failed = empty | {"shot": said["shot"], "lane": "line", "result": "net"}
    fit = fit_shots(FILE, FEW, [*[row] * 60, *[other] * others, *[failed] * 12])
    ((number, target),) = fit.match.targets.items()
    charted = 10.0 - row[measured] if measured == "landing_x" else row[measured]
    assert target.mean == pytest.approx(charted, abs=step / 60.0)
    low, high = range_of(target.means)
    # 95 % of an even step; with this many draws its ends are known to a hundredth.
    assert (high - low) / step == pytest.approx(0.95, abs=0.02)
    assert 0.5 * (low + high) == pytest.approx(target.mean, abs=0.02 * step)
    key = AIMS[number].key
    assert f"{key}.mean" in fit.posterior.draws
    assert f"{key}.sd" not in fit.posterior.draws
    assert "alike for all balls but for rounding" in shots_text(fit, "chart.csv")
    check_words(shots_figure(fit))


def test_forty_miles_an_hour_for_every_drive_gives_drives_of_forty() -> None:
    empty = dict.fromkeys(
        ("lane", "landing_x", "landing_depth", "return_direction", "contact_side")
    )
    speed = 40.0 * FEET_A_SECOND_PER_MPH
    drive = empty | {"shot": "drive", "result": "in", "speed": speed}
    fit = fit_shots(FILE, FEW, [drive] * 20 + [drive | {"result": "net"}] * 4)
    fitted = build(FILE, merge(fit.posterior.tables, {"run": {"shots": 2048}}))
    played = float(simulated_charts([fitted], OneAfterTheOther()).mean[0, 2])
    # Half of the mph that rounding leaves open, and as much for the shots that are played.
    assert played == pytest.approx(speed, abs=0.5 * FEET_A_SECOND_PER_MPH)
    assert fit.match.usual_aims[2, 0] < 37.0 * FEET_A_SECOND_PER_MPH
    # Told where the aim stands beside what was charted, and only where the two differ.
    told = "aimed at faster than charted"
    assert told in shots_text(fit, "chart.csv")
    slow = fit_shots(FILE, FEW, [row | {"speed": 0.6 * speed} for row in [drive] * 20])
    assert told not in shots_text(slow, "chart.csv")


def test_errors_without_a_spread_cannot_be_scaled() -> None:
    changes = FEW | {"opponents": {"errors": {"azimuth": "0 deg"}}}
    with pytest.raises(Refused, match=r"opponents\.errors\.azimuth: has no spread"):
        fit_shots(FILE, changes, played_chart(build(FILE), 30, 5))


def timed(
    top_speed: float, time_constant: float, watch: float, chance: np.random.Generator
) -> Dashes:
    """Four dashes straight ahead over two distances and two sideways at 0.85 of the speed."""
    distance = np.array([10.0, 10.0, 25.0, 25.0, 10.0, 10.0])
    direction = np.array([0, 0, 0, 0, 1, 1])
    ahead = distance / np.where(direction == 1, 0.85, 1.0)
    time = dash_time(ahead, np.array(top_speed), np.array(time_constant))
    return Dashes(distance, time + watch * chance.standard_normal(6), direction)


def test_known_legs_come_back_in_nineteen_of_twenty() -> None:
    """Legs and timing error drawn from what the fit assumes before: then 95 % must be 95 %."""
    chance, random = np.random.default_rng(5), stream(1, 7)
    held = np.zeros(4)
    runs = 60
    for _ in range(runs):
        time_constant = math.exp(0.25 * chance.standard_normal())
        top_speed = 13.0 * math.exp(0.2 * chance.standard_normal())
        watch = 0.1 * math.sqrt(4.0 / chance.chisquare(4))
        dashes = timed(top_speed, time_constant, watch, chance)
        fit = fit_player(dashes, Player(), random)
        time = dash_time(np.array(15.0), fit.top_speed, fit.time_constant)
        truth = dash_time(np.array(15.0), np.array(top_speed), np.array(time_constant))
        pairs = (
            (fit.top_speed, top_speed),
            (fit.time_constant, time_constant),
            (fit.watch, watch),
            (time, float(truth)),
        )
        held += [
            low <= value <= high for (low, high), value in ((range_of(d), v) for d, v in pairs)
        ]
    # 57 of 60 are expected with a standard deviation of 1.7; three and a half of them.
    assert (held >= 51).all(), held


def test_one_distance_cannot_tell_top_speed_from_time_constant() -> None:
    chance = np.random.default_rng(1)
    one = Dashes(np.full(8, 15.0), 2.02 + 0.05 * chance.standard_normal(8), np.zeros(8, int))
    fit = fit_player(one, Player(), stream(1, 7))
    assert fit.learnt > 0.85
    assert range_of(fit.time_constant)[0] < 0.75
    assert range_of(fit.time_constant)[1] > 1.35
    # The dash itself is known far better than the speed it would lead to.
    time = dash_time(np.array(15.0), fit.top_speed, fit.time_constant)
    assert np.std(np.log(time)) < 0.3 * np.std(np.log(fit.top_speed))


def test_more_dashes_tell_more() -> None:
    chance, random = np.random.default_rng(2), stream(1, 7)
    widths = []
    for times in (1, 16):
        one = timed(13.0, 1.0, 0.1, chance)
        many = Dashes(*(np.tile(column, times) for column in vars(one).values()))
        noise = 0.1 * chance.standard_normal(many.seconds.size)
        exact = timed(13.0, 1.0, 0.0, chance).seconds
        fit = fit_player(Dashes(many.distance, np.tile(exact, times) + noise, many.direction),
                         Player(), random)  # fmt: skip
        low, high = range_of(fit.top_speed)
        widths.append(high - low)
    assert widths[1] < 0.5 * widths[0]


def rows_of(dashes: Dashes, player: str | None = None) -> list[ChartRow]:
    return [
        {
            "distance": d,
            "seconds": t,
            "direction": DIRECTIONS[w],
            "player": player,
            "reaction": None,
        }
        for d, t, w in zip(dashes.distance, dashes.seconds, dashes.direction, strict=True)
    ]


def test_both_players_and_the_reaction_in_the_watch() -> None:
    exact = timed(13.0, 1.0, 0.0, np.random.default_rng(0))
    rows = rows_of(exact, "right")
    late = [row | {"seconds": row["seconds"] + 0.2, "player": None} for row in rows]
    fit = fit_runs(FILE, {}, rows + late, "left", reaction=0.2)
    # The reaction is taken off the dashes of both: those of the right one are too fast by it.
    medians = {name: float(np.median(run.top_speed)) for name, run in fit.players.items()}
    assert medians["left"] == pytest.approx(13.0, abs=0.4)
    assert medians["right"] > medians["left"] + 0.2
    own = fit_runs(FILE, {}, [row | {"reaction": 0.0} for row in rows] + late, "left", reaction=0.2)
    assert np.median(own.players["right"].top_speed) == pytest.approx(13.0, abs=0.4)
    assert {"pair.left.sideways", "pair.right.top_speed"} <= set(own.posterior.draws)
    with pytest.raises(Refused, match="whose dashes are these"):
        fit_runs(FILE, {}, late)


def test_sideways_alone_leaves_the_share_of_speed_to_the_scenario() -> None:
    chance = np.random.default_rng(0)
    dashes = timed(13.0, 1.0, 0.0, chance)
    side = dashes.direction == 1
    only = Dashes(dashes.distance[side], dashes.seconds[side], dashes.direction[side])
    fit: RunFit = fit_player(only, Player(), stream(1, 7))
    assert fit.shares == {}
    time: Array = dash_time(np.array(10.0) / 0.85, fit.top_speed, fit.time_constant)
    assert np.median(time) == pytest.approx(only.seconds[0], abs=0.03)


@pytest.mark.parametrize(
    ("marks", "low", "high"),
    [
        # By hand: one mark, an inch, Student's t with 4 degrees of freedom, 2.776.
        ([70.0], 70.0 - 2.776, 70.0 + 2.776),
        # Three marks: variance (4 + 2) / 6 = 1 in2, t with 6 degrees, 2.447 / sqrt(3).
        ([69.0, 70.0, 71.0], 70.0 - 1.413, 70.0 + 1.413),
    ],
)
def test_range_of_a_stretch_by_hand(marks: list[float], low: float, high: float) -> None:
    fit = fit_reach(FILE, {}, "left", 67.0 / 12.0, np.array(marks) / 12.0)
    assert 12.0 * fit.stretch.low == pytest.approx(low, abs=1e-3)
    assert 12.0 * fit.stretch.high == pytest.approx(high, abs=1e-3)
    assert 12.0 * fit.assumed == pytest.approx(72.0)
    draws = 12.0 * fit.posterior.draws["pair.left.full_stretch"]
    # 4000 draws know such an end to about a tenth of the range.
    assert range_of(draws) == pytest.approx((low, high), abs=0.1 * (high - low))


# Figures: every word is inside, none on another.


def check_words(figure: Figure) -> None:
    with style.own_settings():
        FigureCanvasAgg(figure).draw()
        texts = [text for text in figure.findobj(Text) if text.get_text().strip()]
        boxes = [(text.get_text(), text.get_window_extent()) for text in texts]
    width, height = figure.get_size_inches() * figure.dpi
    for name, box in boxes:
        inside = box.x0 >= 0.0 and box.y0 >= 0.0 and box.x1 <= width and box.y1 <= height
        assert inside, name
    for (one, box), (other, other_box) in itertools.combinations(boxes, 2):
        assert not box.padded(-2.0).overlaps(other_box), (one, other)


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("inches", [[70.0], [69.0, 70.0, 71.0], [90.0, 91.0], [50.0, 50.0]])
def test_words_of_the_strip(units: str, inches: list[float]) -> None:
    fit = fit_reach(FILE, {}, "right", 67.0 / 12.0, np.array(inches) / 12.0)
    check_words(reach_figure(fit, units))


@pytest.mark.parametrize("units", ["us", "metric"])
def test_words_of_the_runs(units: str) -> None:
    exact = timed(13.0, 1.0, 0.0, np.random.default_rng(0))
    backwards = {"distance": 8.0, "seconds": 2.4, "direction": "backwards", "player": "left"}
    rows = rows_of(exact, "left") + rows_of(exact, "right") + [backwards | {"reaction": None}]
    check_words(runs_figure(fit_runs(FILE, {}, rows), units))
    slow = [row | {"seconds": 2.0 * row["seconds"]} for row in rows[-3:]]
    check_words(runs_figure(fit_runs(FILE, {}, slow), units))


def test_words_of_the_shots() -> None:
    changes = FEW | {"name": "Scenario $x_1$ & <WWWWWWWWWWWWWWWWWWWWW>"}
    rows = without(played_chart(build(FILE), 12, 5), "landing_x", "landing_depth", "speed")
    for charted in (rows, without(rows, "lane"), [row | {"result": "in"} for row in rows]):
        check_words(shots_figure(fit_shots(FILE, changes, charted)))


# The command line and the page.


@pytest.mark.slow
def test_the_page_shows_what_the_command_prints(anywhere: Path) -> None:
    shutil.copy(CHARTS / "tuesday.csv", "tuesday.csv")
    block = re.search(r"```text\n(.*?)```", PAGE.read_text(encoding="utf-8"), flags=re.DOTALL)
    assert block is not None
    printed = run("fit", "shots", "tuesday.csv", "--no-figures", "--quiet").stdout.splitlines()
    lines = block.group(1).splitlines()
    assert len(lines) > 10
    assert [line for line in lines if line not in printed] == []


def test_the_examples_of_the_page_run() -> None:
    result = doctest.testfile(str(PAGE), module_relative=False, encoding="utf-8")
    assert (result.failed, result.attempted) == (0, 4)


@pytest.fixture
def anywhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(*words: str) -> Result:
    return CliRunner().invoke(main, words)


def table(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def write_chart(path: Path, shots: int, seed: int = 3) -> None:
    rows = played_chart(build(FILE), shots, seed)
    with path.open("w", encoding="utf-8", newline="") as file:
        titles = {"landing_x": "landing_x_ft", "landing_depth": "landing_depth_ft", "speed": "ft/s"}
        titles["speed"] = "speed_ft/s"
        writer = csv.writer(file)
        writer.writerow([titles.get(name, name) for name in rows[0]])
        writer.writerows(row.values() for row in rows)


DASHES = "distance,seconds,direction\n10 ft,1.52,\n25 ft,2.8,\n25 ft,2.7,\n10 ft,1.8,sideways\n"
COMMANDS = {
    "shots": ("shots", "chart.csv", "--shots", "256"),
    "shots in metres": ("shots", "tuesday.csv", "--shots", "256", "--units", "metric"),
    "runs": ("runs", "dashes.csv", "--player", "right"),
    "reach": ("reach", "--height", "5 ft 7 in", "--mark", "70 in", "--mark", "71 in"),
}


@pytest.mark.parametrize("name", COMMANDS)
def test_files_of_a_fit_go_together(anywhere: Path, name: str) -> None:
    write_chart(anywhere / "chart.csv", 90)
    (anywhere / "dashes.csv").write_text(DASHES, encoding="utf-8")
    shutil.copy(CHARTS / "tuesday.csv", "tuesday.csv")
    result = run("fit", *COMMANDS[name], "--draws", "20", "--seed", "0")
    assert result.exit_code == 0, result.output
    folder = Path("reachshare-out") / f"fit-{name.split()[0]}"
    manifest = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    written = {path.name for path in folder.iterdir()} - {"manifest.json"}
    assert set(manifest["files"]) == written
    assert {"fit.toml", "draws.csv", "fit.csv", "fit.png", "fit.svg"} <= set(manifest["files"])
    assert manifest["options"]["command"] == f"fit {name.split()[0]}"
    assert f"reachshare compare {folder.as_posix()}/fit.toml --with-uncertainty" in result.stdout

    # Every draw is valid for the scenario, by the keys and in the spelling of scenarios.
    file = read(str(folder / "fit.toml"))
    scenario = build(file)
    draws = table(folder / "draws.csv")
    assert len(draws) == 20
    for row in (draws[0], draws[-1]):
        values = {key: numeric_setting(scenario, key).read(cell) for key, cell in row.items()}
        for key, value in values.items():
            other = changed(file, {}, {key: value})
            assert numeric_setting(other, key).value == pytest.approx(value, rel=1e-9)
    # The scenario holds the estimates, within their ranges.
    for row in table(folder / "fit.csv"):
        estimate, low, high = (float(row[part]) for part in ("estimate", "low", "high"))
        assert low <= estimate <= high, row
        assert int(row["n"]) > 0
        if row["quantity"] in draws[0]:
            value = numeric_setting(scenario, row["quantity"])
            text = f"{row['estimate']} {row['unit']}".strip()
            assert value.value == pytest.approx(value.read(text), rel=2e-3, abs=0.06)


def test_the_same_seed_gives_the_same_bytes_and_another_one_others(anywhere: Path) -> None:
    (anywhere / "dashes.csv").write_text(DASHES, encoding="utf-8")
    for out, seed in (("a", "0"), ("b", "0"), ("c", "1")):
        options = ("--out", out, "--seed", seed, "--player", "left")
        assert run("fit", "runs", "dashes.csv", *options).exit_code == 0
    first, same, other = ({p.name: p.read_bytes() for p in Path(out).iterdir()} for out in "abc")
    assert first == same
    assert first["draws.csv"] != other["draws.csv"]
    assert run("fit", "runs", "dashes.csv", "--out", "a", "--player", "right").exit_code == 2


def test_fits_build_on_each_other(anywhere: Path) -> None:
    (anywhere / "dashes.csv").write_text(DASHES, encoding="utf-8")
    assert run("fit", "runs", "dashes.csv", "--player", "left", "--out", "legs").exit_code == 0
    mark = ("--height", "5 ft 6 in", "--mark", "71 in")
    assert run("fit", "reach", *mark, "--like", "legs/fit.toml", "--out", "both").exit_code == 0
    legs, both = sim.load("legs/fit.toml"), sim.load("both/fit.toml")
    assert both.pair.left.top_speed == legs.pair.left.top_speed
    assert both.pair.left.full_stretch == pytest.approx(71.0 / 12.0, abs=1e-3)
    assert both.name == legs.name == "Club pair in their sixties, fitted"


def test_a_sample_beside_the_scenario_is_found_from_the_new_one(anywhere: Path) -> None:
    (anywhere / "own").mkdir()
    (anywhere / "own" / "speeds.csv").write_text("speed\n30\n34\n", encoding="utf-8")
    text = (
        'extends = "fast-hitters"\n[opponents.drive.speed]\nkind = "sample"\nfile = "speeds.csv"\n'
        'column = "speed"\nunit = "mph"\n[[policies]]\nname = "a \\"b\\" \\\\ é"\nrule = "halves"\n'
        "split_step = false\n"
    )
    (anywhere / "own" / "mine.toml").write_text(text, encoding="utf-8")
    words = ("--height", "5 ft 6 in", "--mark", "71 in", "--like", "own/mine.toml", "--out", "o/p")
    result = run("fit", "reach", *words)
    assert result.exit_code == 0, result.output
    before, after = sim.load("own/mine.toml"), sim.load("o/p/fit.toml")
    assert after.opponents == before.opponents
    assert after.policies == before.policies


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("shots",), "which chart? reachshare fit shots --template"),
        (("shots", "none.csv"), "none.csv: cannot be read"),
        (("shots", "chart.csv", "--template", "new.csv"), "leave the chart out"),
        (("shots", "--template", "chart.csv"), "chart.csv: is there already"),
        (("shots", "chart.csv", "--level", "3.7"), "opponents.level"),
        (("shots", "chart.csv", "--like", "club-sixtie"), "is not a bundled scenario"),
        (("runs", "chart.csv"), "columns distance and seconds missing"),
        (("runs", "dashes.csv", "--reaction", "0.2"), "this is not a number with a unit"),
        (("runs", "dashes.csv", "--reaction", "2 s"), "must lie between 0 s and 1 s"),
        (("runs", "dashes.csv"), "whose dashes are these? Add --player left or --player right"),
        (("reach", "--height", "67", "--mark", "70 in"), '--height "67"'),
        (
            ("reach", "--height", "5 ft 7 in", "--mark", "40 in"),
            "without a lunge (4.00 ft, 1.22 m)",
        ),
        (("shots", "spots.csv"), "spots.csv: the landing spots (column landing_x) tell no lanes"),
        (("runs", "far.csv", "--player", "left"), "far.csv: the fit gives pair.left.top_speed"),
        (("runs", "dashes.csv", "--draws", "19"), "19 is not in the range 20<="),
        (
            ("reach", "--height", "6 ft", "--mark", "70 in", "--mark", "20 in"),
            '--mark "20 in": must',
        ),
        (("reach", "--height", "9 ft", "--mark", "80 in"), "must lie between 4 ft and 7 ft 6 in"),
    ],
)
def test_wrong_input_is_refused_and_nothing_written(
    anywhere: Path, words: tuple[str, ...], said: str
) -> None:
    (anywhere / "chart.csv").write_text("shot,result\ndrop,in\n", encoding="utf-8")
    (anywhere / "dashes.csv").write_text(DASHES, encoding="utf-8")
    (anywhere / "far.csv").write_text("distance,seconds\n25 ft,0.5\n", encoding="utf-8")
    spots = "shot,result,landing_x\ndrop,in,8 ft\n"
    (anywhere / "spots.csv").write_text(spots, encoding="utf-8")
    given = sorted(path.name for path in anywhere.iterdir())
    result = run("fit", *words)
    assert result.exit_code == 2, result.output
    assert said in result.stderr
    assert sorted(path.name for path in anywhere.iterdir()) == given


def test_a_speed_no_scenario_takes_is_refused_with_the_reason(anywhere: Path) -> None:
    fast = "".join(f"{d} m,{t}\n" for d, t in ((20, 2.74), (40, 4.49), (60, 6.16), (100, 9.43)))
    (anywhere / "fast.csv").write_text("distance,seconds\n" + fast, encoding="utf-8")
    result = run("fit", "runs", "fast.csv", "--player", "left")
    assert result.exit_code == 2
    assert "must lie between 2 ft/s and 36 ft/s" in result.stderr


def test_templates_to_a_file_and_to_standard_output(anywhere: Path) -> None:
    shown = run("fit", "shots", "--template").stdout
    assert run("fit", "shots", "--template", "new.csv").exit_code == 0
    assert Path("new.csv").read_text(encoding="utf-8") == shown
    assert run("fit", "runs", "--template").stdout.startswith("distance,seconds")
    filled = shown.replace("# drive", "drive").replace("# drop", "drop")
    Path("filled.csv").write_text(filled, encoding="utf-8")
    result = run(
        "fit", "shots", "filled.csv", "--shots", "256", "--no-figures", "--units", "metric"
    )
    assert result.exit_code == 0, result.output
    assert "3 third shots: 2 in, 1 into the net, 0 out" in result.stdout
