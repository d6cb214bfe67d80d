"""Which doubt matters: the inputs with their ranges, the study, its files and its figure."""

from __future__ import annotations

import csv
import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result

from sim.analyses.inputs import Drawn, Range, inputs_of, range_of, usual_inputs
from sim.analyses.sensitivity import Difference, Sensitivity, sensitivity
from sim.analyses.sobol_indices import Indices, design
from sim.cli import main
from sim.commands.one_comparison import only_between
from sim.errors import Refused
from sim.figures.sensitivity import tornado_figure
from sim.figures.style import to_png
from sim.joint_draws import read_draws
from sim.numeric_settings import changer, numeric_setting
from sim.processes import Processes
from sim.scenario import Scenario
from sim.scenario_files import build, read
from sim.texts.input_values import in_words
from sim.texts.sensitivity import (
    how_sure,
    part_alone,
    parts_of_doubt,
    terminal_text,
    what_matters,
    who_is_ahead,
)

FILE = read("club-sixties")
PAIR = ("follow", "halves")
SCENARIO = only_between(build(FILE), *PAIR)


MAKE = changer(FILE, {"run": {"shots": 256, "seed": 0}})


def with_numbers(numbers: Any) -> Scenario:
    return only_between(MAKE(numbers), *PAIR)


def usual(changes: dict[str, Any] | None = None) -> dict[str, Range]:
    scenario = only_between(build(FILE, changes or {}), *PAIR)
    make = changer(FILE, changes or {})
    return {each.key: each for each in usual_inputs(scenario, make)}


def ratios(each: Range) -> tuple[float, float]:
    value = each.settings[0].value
    return each.lows[0] / value, each.highs[0] / value


def test_ranges_follow_from_what_the_values_rest_on() -> None:
    found = usual()
    assert len(found) == 8
    assert ratios(found["pair.both.top_speed"]) == pytest.approx((0.7, 1.3))
    assert found["pair.both.top_speed"].why == "our assumption"
    assert ratios(found["pair.both.full_stretch"]) == pytest.approx((0.8, 1.2))
    assert found["pair.both.full_stretch"].why == "common practice"
    assert ratios(found["opponents.shots.drive"]) == pytest.approx((0.9, 1.1))
    assert found["opponents.shots.drive"].why == "published"
    assert found["opponents.errors"].keys == [
        f"opponents.errors.{part}.sd" for part in ("speed", "elevation", "azimuth")
    ]


def test_what_the_scenario_gives_is_varied_less_and_what_it_lacks_not_at_all() -> None:
    players = {name: {"top_speed": "12 ft/s"} for name in ("left", "right")}
    opponents = {
        "lanes": {"line": 1.0, "middle": 1.0, "cross": 0.0},
        "drive": {"speed": {"kind": "uniform", "low": "30 mph", "high": "40 mph"}},
    }
    found = usual({"pair": players, "opponents": opponents})
    assert ratios(found["pair.both.top_speed"]) == pytest.approx((0.9, 1.1))
    assert found["pair.both.top_speed"].why == "given"
    assert "opponents.lanes.cross" not in found
    assert "opponents.drive.speed.mean" not in found


def test_one_player_measured_leaves_the_wide_range_of_the_other() -> None:
    found = usual({"pair": {"left": {"top_speed": "12 ft/s"}}})["pair.both.top_speed"]
    assert ratios(found) == pytest.approx((0.7, 1.3))
    assert found.shown(0.5, "us") == "12/13 ft/s"


def test_ranges_are_cut_at_the_limits() -> None:
    """Five sd of the drives' speed, 4.5 mph, must stay above 5 mph: the mean above 27.5 mph."""
    found = usual()["opponents.drive.speed.mean"]
    assert found.clipped
    assert found.shown(0.0, "us") == "27.5 mph"
    assert ratios(found)[1] == pytest.approx(1.3)
    with_numbers(found.numbers(0.0))


def test_both_ends_and_both_players_have_the_same_decimals() -> None:
    found = usual()
    for key, low, high in (
        ("pair.both.full_stretch", "4.80/4.94 ft", "7.20/7.41 ft"),
        ("return_of_serve.landing_depth.mean", "13.1 ft", "16.0 ft"),
        ("pair.both.top_speed", "9.1 ft/s", "16.9 ft/s"),
    ):
        assert (found[key].shown(0.0, "us"), found[key].shown(1.0, "us")) == (low, high)


def test_weights_are_told_of_a_hundred() -> None:
    """Of drives, drops and lobs only the proportions count, and a tenth more is not of all."""
    weights = SCENARIO.opponents.shots
    drives = usual()["opponents.shots.drive"]
    for along, factor in ((0.0, 0.9), (0.5, 1.0), (1.0, 1.1)):
        drive = factor * weights.drive
        share = 100.0 * drive / (drive + weights.drop + weights.lob)
        assert in_words(SCENARIO, drives, along, "us") == f"{share:.0f} of 100"
    lobs = range_of("opponents.shots.lob=5:15", SCENARIO, with_numbers)
    for along, lob in ((0.0, 5.0), (1.0, 15.0)):
        share = 100.0 * lob / (lob + weights.drive + weights.drop)
        assert in_words(SCENARIO, lobs, along, "us") == f"{share:.0f} of 100"
    speed = usual()["opponents.drive.speed.mean"]
    assert in_words(SCENARIO, speed, 0.0, "us") == "27.5 mph"
    stretch = usual()["pair.both.full_stretch"]
    assert in_words(SCENARIO, stretch, 0.0, "metric") == "1.46 and 1.51 m"


def test_a_missing_split_step_is_doubted_where_a_policy_has_none() -> None:
    stop = {"name": "stop", "rule": "halves"}
    policies = [stop, {"name": "run on", "rule": "halves", "split_step": False}]
    scenario = build(FILE, {"policies": policies})
    make = changer(FILE, {"policies": policies})
    keys = [each.key for each in usual_inputs(scenario, make)]
    assert "run_in.late_without_split_step" in keys
    assert "run_in.late_without_split_step" not in usual()


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("pair.both.top_speed=10:14 ft/s", 10.0, 14.0),
        ("pair.left.top_speed = 3 m/s : 14 ft/s", 3.0 / 0.3048, 14.0),
        ("opponents.shots.lob=0:12", 0.0, 12.0),
        ("pair.both.reaction.mean=250:300 ms", 0.25, 0.3),
    ],
)
def test_a_range_of_ones_own(text: str, low: float, high: float) -> None:
    found = range_of(text, SCENARIO, with_numbers)
    assert (found.lows[0], found.highs[0]) == pytest.approx((low, high))
    assert found.why == "your range"


def test_a_group_moves_by_a_factor() -> None:
    found = range_of("opponents.errors=0.5:2", SCENARIO, with_numbers)
    value = numeric_setting(SCENARIO, "opponents.errors.azimuth.sd").value
    assert found.numbers(1.0)["opponents.errors.azimuth.sd"] == pytest.approx(2.0 * value)
    assert found.shown(0.0, "us") == "0.5 times"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("pair.both.top_speed", '^--vary-input "pair.both.top_speed": is not KEY=LOW:HIGH'),
        ("pair.both.top_speed=10 ft/s", "not KEY=LOW:HIGH"),
        ("pair.both.top_sped=1:2 ft/s", r"pair\.left\.top_speed"),
        (
            "pair.both.top_speed=10:14",
            '^--vary-input "pair.both.top_speed=10:14": .*this is not a number with a unit',
        ),
        ("pair.both.top_speed=14:10 ft/s", "^--vary-input .*: 14 ft/s must be below 10 ft/s"),
        ("pair.both.top_speed=10:99 ft/s", r"top_speed .*between 2 ft/s and 36"),
        ("run.shots=10:99", "cannot be varied"),
    ],
)
def test_ranges_that_are_refused(text: str, message: str) -> None:
    with pytest.raises(Refused, match=message):
        range_of(text, SCENARIO, with_numbers)


def drawn(path: Path) -> Drawn:
    rows = [f"{11 + 0.1 * k:.1f} ft/s,{30 + k} mph" for k in range(20)]
    header = "pair.left.top_speed,opponents.drive.speed.mean"
    path.write_text("\n".join([header, *rows]), encoding="utf-8")
    return Drawn(read_draws(path, SCENARIO), path.name)


def test_ones_own_ranges_and_draws_take_the_place_of_the_usual_ones(tmp_path: Path) -> None:
    own = range_of("pair.both.reaction.mean=0.25:0.3 s", SCENARIO, with_numbers)
    file = drawn(tmp_path / "draws.csv")
    found = {e.key: e for e in inputs_of(usual().values(), [own], [file.draws], ())}
    assert found["pair.both.reaction.mean"] is own
    assert found["draws.csv"].keys == ["pair.left.top_speed", "opponents.drive.speed.mean"]
    assert "opponents.drive.speed.mean" not in found
    # The file says nothing of the right-hand player.
    assert found["pair.both.top_speed"].keys == ["pair.right.top_speed"]
    clash = range_of("pair.left.top_speed=10:11 ft/s", SCENARIO, with_numbers)
    with pytest.raises(Refused, match=r"draws\.csv: pair\.left\.top_speed is varied by"):
        inputs_of(usual().values(), [clash], [file.draws], ())


def test_only_keeps_the_named_and_refuses_the_unknown() -> None:
    found = inputs_of(usual().values(), [], [], ["opponents.errors", "pair.both.top_speed"])
    assert [each.key for each in found] == ["pair.both.top_speed", "opponents.errors"]
    with pytest.raises(Refused, match=r"--only speed: .*there are: pair\.both\.top_speed"):
        inputs_of(usual().values(), [], [], ["speed"])


def test_rows_of_draws_stay_together(tmp_path: Path) -> None:
    file = drawn(tmp_path / "draws.csv")
    rows = {tuple(file.numbers(u).values()) for u in np.linspace(0.0, 1.0, 101)}
    assert rows == {tuple(row) for row in file.draws.values.tolist()}


def test_a_design_is_two_samples_and_their_mixtures() -> None:
    pages = design(3, 64, seed=0)
    assert pages.shape == (5, 64, 3)
    for k in range(3):
        mixed = pages[0].copy()
        mixed[:, k] = pages[1][:, k]
        assert np.array_equal(pages[2 + k], mixed)
    # Scrambled Sobol points: each quarter of every axis holds a quarter of them.
    counts = [np.bincount((4 * axis).astype(int)) for axis in pages[:2].reshape(2 * 64, 3).T]
    assert np.array_equal(counts, np.full((3, 4), 32))


KEYS = ("pair.both.full_stretch", "opponents.drive.speed.mean")


@pytest.fixture(scope="module")
def small() -> Sensitivity:
    inputs = inputs_of(usual().values(), [], [], KEYS)
    return sensitivity(with_numbers({}), inputs, with_numbers, "in_control", 32)


def test_what_cannot_matter_does_not(small: Sensitivity) -> None:
    """A ball in control is met without a lunge: the full stretch has no part in it."""
    place = [each.key for each in small.inputs].index("pair.both.full_stretch")
    assert (small.indices.first[place], small.indices.total[place]) == (0.0, 0.0)
    low, high = small.ends[place]
    assert low == high == small.usual


def test_the_study_hangs_together(small: Sensitivity) -> None:
    assert small.places.shape == (32, 2)
    assert len(small.differences) == sum(small.told) == 32
    values = [each.points for each in small.differences]
    assert np.mean(values) == pytest.approx(small.spread.mean)
    assert small.quantiles["min"] <= small.quantiles["median"] <= small.quantiles["max"]
    share, low, high = small.share_of_settings(small.ahead[0])
    assert low <= share <= high
    assert sum(value > 0.0 for value in values) == small.ahead[0]
    spans = [abs(small.ends[k][0].points - small.ends[k][1].points) for k in small.order]
    assert spans == sorted(spans, reverse=True)


def test_the_workers_do_not_matter(small: Sensitivity) -> None:
    with Processes(2) as workers:
        other = sensitivity(with_numbers({}), small.inputs, with_numbers, "in_control", 32, workers)
    assert other.differences == small.differences
    assert other.ends == small.ends
    assert np.array_equal(other.indices.total_resampled, small.indices.total_resampled)


def told(small: Sensitivity, first: list[float], total: list[float]) -> Sensitivity:
    """The study with other inputs and indices, which are known to about a hundredth."""
    chance = 0.005 * np.random.default_rng(0).normal(size=(200, len(first)))
    found = Indices(
        np.array(first), np.array(total), np.array(first) + chance, np.array(total) + chance
    )
    inputs = tuple(replace(small.inputs[0], label=name) for name in "ABC")
    return replace(small, indices=found, inputs=inputs)


def test_the_answer_follows_the_indices(small: Sensitivity) -> None:
    study = told(small, [0.7, 0.0, 0.3], [0.7, 0.0, 0.3])
    clear = what_matters(study)
    first, _, third = (part_alone(study, k) for k in range(3))
    assert (first, third) == ("70 % [69, 71]", "30 % [29, 31]")
    assert clear[0] == (
        f"What matters most is A ({first} of the doubt): measure that first. Then C ({third} of "
        "the doubt)."
    )
    assert parts_of_doubt(study) == {0: f"A ({first} of the doubt)", 2: f"C ({third} of the doubt)"}
    assert clear[1] == "Hardly matters, alone or with others: B."
    assert clear[2].startswith("No interactions worth telling")
    close = what_matters(told(small, [0.5, 0.5, 0.0], [0.5, 0.5, 0.0]))
    assert "which comes first cannot be told yet" in close[0]
    together = what_matters(told(small, [0.2, 0.2, 0.0], [0.8, 0.8, 0.5]))
    assert together[-1].startswith("Interactions make 60 %")
    unclear = told(small, [np.nan] * 3, [np.nan] * 3)
    assert "cannot be told" in what_matters(unclear)[0]
    assert parts_of_doubt(unclear) == {}


def test_who_is_ahead_is_told_from_the_winners_side(small: Sensitivity) -> None:
    points = [3.0] * 8 + [-1.0] * 20 + [0.0] * 4
    found = [Difference(value, value - 2.0, value + 2.0) for value in points]
    other = replace(small, differences=tuple(found))
    assert who_is_ahead(other) == (
        "Halves gets more in control than follow in 62 of 100 plausible settings [45, 77]; follow "
        "in 25, neither in 13."
    )
    assert how_sure(other) == (
        "By its own interval 8 settings of 32 tell follow ahead, 0 halves; 24 cannot tell. Chance "
        "alone would tell up to 1 either way if neither were better."
    )


def test_parts_of_the_doubt_are_none_to_all(small: Sensitivity) -> None:
    """Few settings give estimates and intervals outside, which say nothing to a coach."""
    wild = told(small, [1.3, -0.2, -0.8], [1.4, 0.1, 0.1])
    first = np.array([[0.6, -0.4, -0.9], [1.7, 0.3, -0.5]])
    indices = replace(wild.indices, first_resampled=first)
    ends = (*small.ends, small.ends[0])
    text = terminal_text(replace(wild, indices=indices, ends=ends))
    rows = [re.split(r"  +", line.strip()) for line in text.splitlines() if line[:2] == "  "]
    alone = {row[0]: row[-2] for row in rows}
    assert (alone["A"], alone["B"], alone["C"]) == ("100 [63, 100]", "0 [0, 28]", "cannot tell")
    assert "Too few settings to tell what matters most; it looks like A. More tell" in text
    assert "What matters most is" not in text


@pytest.mark.parametrize(
    ("low", "high", "few"),
    [
        (0.4, 0.8, False),
        (0.2, 0.9, True),
        (-0.1, 0.3, True),
        (1.2, 3.0, True),
    ],
)
def test_wide_intervals_name_nothing_to_measure(
    small: Sensitivity, low: float, high: float, few: bool
) -> None:
    """Sentence, table and figure agree on what too few settings cannot tell."""
    clear = told(small, [0.7, 0.0, 0.2], [0.7, 0.0, 0.2])
    first = clear.indices.first_resampled.copy()
    first[:, 0] = np.linspace(low, high, len(first))
    value = 2.4 if low > 1.0 else 0.7
    indices = replace(clear.indices, first=np.array([value, 0.0, 0.2]), first_resampled=first)
    wide = replace(clear, indices=indices, ends=(*small.ends, small.ends[0]))
    sentences = what_matters(wide)
    if few:
        assert sentences == [
            "Too few settings to tell what matters most; it looks like A. More tell: "
            "--settings 512."
        ]
    else:
        part = f"A ({part_alone(wide, 0)} of the doubt)"
        assert part.startswith("A (70 % [4")
        assert sentences[0].startswith(f"What matters most is {part}")
    assert (parts_of_doubt(wide) == {}) == few
    drawn_words = [text.get_text() for text in tornado_figure(wide).axes[0].texts]
    assert part_alone(wide, 0) in drawn_words
    assert (part_alone(wide, 0) == "cannot tell") == (low > 1.0)
    assert not any("240" in words for words in [*drawn_words, terminal_text(wide)])


def test_more_settings_than_played_are_asked_for(small: Sensitivity) -> None:
    unclear = told(small, [0.5, 0.0, 0.2], [0.7, 0.0, 0.2])
    unclear.indices.first_resampled[:, 0] = np.linspace(0.0, 1.0, 200)
    for settings, more in ((512, "--settings 2048."), (65_536, "more --shots.")):
        played = replace(unclear, differences=small.differences[:1] * settings)
        assert what_matters(played)[0].endswith(f"More tell: {more}")


def test_the_text_has_ranges_limits_and_cautions(small: Sensitivity) -> None:
    for units, words in (("us", "27.5 mph"), ("metric", "44.3 km/h")):
        text = terminal_text(small, units)
        assert words in text
        assert "never back-pedal" in text
        assert "not medical or safety advice" in text
        assert "our assumption ±30 %" in text


def test_the_figure_speaks_as_a_coach_does(small: Sensitivity) -> None:
    weights = usual()["opponents.lanes.cross"]
    clear = told(small, [0.7, 0.3, 0.0], [0.7, 0.3, 0.0])
    first = clear.indices.first_resampled.copy()
    first[:, 1] = np.linspace(-0.2, 0.02, len(first))
    first[:, 2] = 0.001
    indices = replace(clear.indices, first=np.array([0.7, -0.1, 0.001]), first_resampled=first)
    shown = replace(
        clear,
        indices=indices,
        inputs=(weights, *clear.inputs[1:]),
        ends=(*small.ends, small.ends[0]),
    )
    figure = tornado_figure(shown)
    words = [text.get_text() for text in figure.axes[0].texts]
    assert {"19 of 100", "30 of 100"} <= set(words)
    assert not {"17.5", "32.5"} & set(words)
    assert {"0 % [0, 1]", "under 1 %"} <= set(words)
    assert "none" not in " ".join(words)
    subtitle = " ".join(text.get_text() for text in figure.texts[1:3])
    assert subtitle.endswith(
        "how many more of 100 balls in play follow gets in control than halves"
    )
    reached = tornado_figure(replace(shown, measure="reached"))
    assert "follow reaches than halves" in " ".join(text.get_text() for text in reached.texts)


@pytest.mark.parametrize("units", ["us", "metric"])
def test_the_figure_is_drawn_with_long_names(small: Sensitivity, units: str) -> None:
    longest = replace(small.inputs[0], label="a very long name of an input " * 4)
    other = replace(small, inputs=(longest, *small.inputs[1:]))
    figure = tornado_figure(other, units)
    assert len(to_png(figure)) > 10_000
    width = figure.bbox.width
    for text in [*figure.texts, *figure.axes[0].texts]:
        box = text.get_window_extent(figure.canvas.get_renderer())
        assert box.x0 >= 0.0
        assert box.x1 <= width


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


SMALL = ("--between", *PAIR, "--settings", "32", "--shots", "32", "--workers", "1")


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_the_command_writes_its_tables_and_figure(tmp_path: Path) -> None:
    file = drawn(tmp_path / "draws.csv")
    words = ["--only", "opponents.errors", "--vary-input", "opponents.lanes.cross=5:60"]
    out = tmp_path / "out"
    draws = ["--with-uncertainty", file.draws.file]
    result = run("sensitivity", *SMALL, *words, *draws, "--out", out)
    assert result.exit_code == 0, result.stderr
    names = {path.name for path in out.iterdir()}
    tables = {"inputs.csv", "settings.csv", "sensitivity.csv"}
    assert names == {*tables, "answer.txt", "manifest.json", "tornado.png", "tornado.svg"}
    inputs = {row["input"]: row for row in rows(out / "inputs.csv")}
    assert set(inputs) == {"opponents.errors", "opponents.lanes.cross", "draws.csv"}
    assert inputs["opponents.lanes.cross"]["rests_on"] == "your range"
    assert inputs["opponents.lanes.cross"]["from"] == "5"
    settings = rows(out / "settings.csv")
    assert len(settings) == 32
    assert {row["draws.csv"].split()[0] for row in settings} == {"line"}


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--between", "follow", "nobody"], '"nobody" is not a policy'),
        (["--between", *PAIR, "--settings", "100"], "power of two"),
        (["--between", *PAIR, "--only", "speed"], "--only speed"),
        (["--between", *PAIR, "--seed", str(2**63)], f"{2**63} is not in the range"),
        (["--between", *PAIR, "--vary-input", "x=1:2"], "x: is not a number"),
        (["--between", *PAIR, "--with-uncertainty", "no.csv"], "no.csv: cannot be read"),
        ([], "--between"),
    ],
)
def test_wrong_input_is_refused_before_any_work(
    words: list[str], message: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    result = run("sensitivity", *words)
    assert result.exit_code == 2
    assert message in result.stderr
    assert list(tmp_path.iterdir()) == []


def test_ranges_that_do_not_go_together_are_refused_before_any_work(tmp_path: Path) -> None:
    """A tall player whose full stretch is less than the reach without a lunge."""
    varied = ["pair.both.height=5 ft:7 ft", "pair.both.full_stretch=4.2:6 ft"]
    words = [word for text in varied for word in ("--vary-input", text)]
    result = run("sensitivity", *SMALL, *words, "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert "these do not go together" in result.stderr
    assert "full_stretch" in result.stderr
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("command", ["sensitivity", "sweep"])
def test_the_rule_best_gets_its_places_first(command: str, tmp_path: Path) -> None:
    """And keeps them in every setting; the manifest holds them."""
    best = ("--set", 'policies=[{name="halves", rule="halves"}, {name="B", rule="best"}]')
    one = ("--set", 'return_of_serve.directions=["line"]', "--no-figures", "--shots", "32")
    only = ("--only", "opponents.drive.speed.mean")
    asked = {
        "sensitivity": ("--between", "B", "halves", "--settings", "32", *only),
        "sweep": ("--vary", "pair.both.top_speed=10:12:1 ft/s"),
    }[command]
    result = run(command, *best, *one, *asked, "--workers", "1", "--out", tmp_path / "out")
    assert result.exit_code == 0, result.stderr
    manifest = json.loads((tmp_path / "out" / "manifest.json").read_text(encoding="utf-8"))
    assert manifest["places_ft"]["B"]["line"]["left"]["depth"] > 0.0
    assert "B" in result.stdout


def test_nothing_in_play_in_any_setting_is_told_with_what_would_help(tmp_path: Path) -> None:
    words = ("--set", "opponents.shots={drive=1, drop=0, lob=0}", "--only", "pair.both.top_speed")
    errors = 'opponents.errors={speed="0 %", elevation="-25 deg", azimuth="0 deg"}'
    result = run("sensitivity", *SMALL, *words, "--set", errors, "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert "no third shot stays in play in any setting: give the opponents" in result.stderr
    assert not (tmp_path / "out").exists()
