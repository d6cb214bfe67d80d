"""What not knowing the inputs adds to a comparison: draws from files, and doubt taken apart."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from sim.analyses.uncertainty import Uncertainty, doubt, spread, uncertainty
from sim.cli import main
from sim.commands.one_comparison import only_between
from sim.errors import Refused
from sim.joint_draws import check_apart, read_draws, scenarios_of
from sim.numeric_settings import changer
from sim.scenario import Scenario
from sim.scenario_files import build, read

FILE = read("club-sixties")
SCENARIO = build(FILE)


def drawn_file(path: Path, keys: str, rows: Sequence[str], start: str = "") -> Path:
    path.write_text("\n".join([start + keys, *rows]) + "\n", encoding="utf-8")
    return path


def speeds(path: Path, mean: float, sd: float, rows: int = 24) -> Path:
    chance = np.random.default_rng(7)
    values = [f"{v:.3f} mph" for v in mean + sd * chance.normal(size=rows)]
    return drawn_file(path, "opponents.drive.speed.mean", values)


def toy(
    chance: np.random.Generator, groups: int, between: float, common: float, rest: float
) -> np.ndarray:
    """Settings by replicates with known standard deviations of a setting's mean."""
    setting = between * chance.normal(size=(groups, 4, 1))
    shots = 4.0 * common * chance.normal(size=(groups, 1, 16))
    return 1.0 + setting + shots + 4.0 * rest * chance.normal(size=(groups, 4, 16))


def test_known_variances_are_found() -> None:
    chance = np.random.default_rng(1)
    found = [spread(toy(chance, 50, 1.5, 0.8, 0.5)) for _ in range(200)]
    # Standard errors of these means are below one in a hundred.
    assert np.mean([each.between for each in found]) == pytest.approx(1.5**2, rel=0.03)
    assert np.mean([each.noise for each in found]) == pytest.approx(0.5**2, rel=0.03)
    assert np.mean([each.row_noise for each in found]) == pytest.approx(0.8**2 + 0.5**2, rel=0.03)
    sampling = (0.8**2 + 0.5**2 / 4) / 50
    assert np.mean([each.sampling for each in found]) == pytest.approx(sampling, rel=0.03)
    noise = (0.8**2 + 0.5**2) / (1.5**2 + 0.8**2 + 0.5**2)
    assert np.mean([each.noise_share for each in found]) == pytest.approx(noise, rel=0.03)


@pytest.mark.parametrize("groups", [5, 50])
@pytest.mark.parametrize("between", [0.0, 0.2, 1.0, 3.0])
def test_the_interval_holds_one_more_draw_nineteen_times_in_twenty(
    groups: int, between: float
) -> None:
    chance = np.random.default_rng(3)
    held = 0
    for _ in range(500):
        found = doubt(toy(chance, groups, between, common=1.0, rest=0.5 * between))
        held += found.low <= 1.0 + between * chance.normal() <= found.high
    # 475 of 500 are expected, with a standard error of 5.
    assert 458 <= held <= 490


def test_both_reasons_add_up_in_squares() -> None:
    found = doubt(toy(np.random.default_rng(5), 50, 1.0, 1.0, 0.5))
    half = found.high - found.mean
    assert found.mean - found.low == pytest.approx(half)
    assert np.hypot(found.sampling, found.not_knowing) == pytest.approx(half)


def test_more_replicates_shrink_only_the_sampling() -> None:
    chance = np.random.default_rng(6)
    tables = [toy(chance, 50, 1.0, shots, 0.5 * shots) for shots in (1.0, 0.25)]
    few, many = map(doubt, tables)
    assert many.sampling == pytest.approx(0.25 * few.sampling, rel=0.2)
    assert many.not_knowing == pytest.approx(few.not_knowing, rel=0.2)


def played(tmp_path: Path, sd: float, shots: int, mean: float = 36.0) -> Uncertainty:
    scenario = only_between(SCENARIO, "follow", "halves")
    draws = read_draws(speeds(tmp_path / "drawn.csv", mean, sd), scenario)
    make = changer(FILE, {"run": {"shots": shots}})
    settings = scenarios_of([draws], 24, 1, make)
    settings = [only_between(each, "follow", "halves") for each in settings]
    return uncertainty(scenario, settings, [(draws.file, draws.keys)])


def of(found: Uncertainty, measure: str, quantity: str) -> object:
    return next(
        e.doubt
        for e in found.estimates
        if (e.policy, e.measure, e.quantity) == ("follow", measure, quantity)
    )


def test_draws_that_do_not_differ_leave_nothing_unknown(tmp_path: Path) -> None:
    found = played(tmp_path, sd=0.0, shots=64)
    for each in found.estimates:
        assert each.doubt.not_knowing == 0.0
        assert each.doubt.sampling > 0.0
        assert each.doubt.low < each.doubt.mean <= each.doubt.high


def test_more_shots_shrink_the_sampling_and_not_the_not_knowing(tmp_path: Path) -> None:
    few, many = (played(tmp_path, 3.0, shots) for shots in (64, 512))
    for measure, quantity in (("in_control", "share"), ("in_control", "difference")):
        first, second = of(few, measure, quantity), of(many, measure, quantity)
        assert second.sampling < 0.5 * first.sampling
        assert second.not_knowing > 0.5 * first.not_knowing


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


def assert_in_order(text: str, parts: list[str]) -> None:
    places = [text.index(part) for part in parts]
    assert places == sorted(places)


def test_compare_says_what_not_knowing_adds(tmp_path: Path) -> None:
    legs = drawn_file(
        tmp_path / "legs.csv",
        "pair.left.top_speed,pair.left.time_constant,opponents.shots.drive",
        [f"{11.5 + 0.1 * k:.2f} ft/s,{0.9 + 0.01 * k:.2f} s,{40 + k}" for k in range(22)],
    )
    words = ["compare", "--between", "follow", "halves", "--shots", "1024", "--no-figures"]
    drives = speeds(tmp_path / "drives.csv", 36.0, 3.0)
    files = ["--with-uncertainty", legs, "--with-uncertainty", drives]
    result = run(*words, *files, "--out", tmp_path / "out")
    assert result.exit_code == 0, result.stderr
    assert_in_order(
        result.stdout,
        [
            "should they shift with the return",
            "With what you do not know:",
            ": sampling ±",
            "At the scenario's own values:",
            "Of 100 balls in play the pair gets in control",
            "20 settings drawn from",
            "The numbers are a model's",
        ],
    )
    assert "In control of 100, follow against halves: " in result.stdout
    assert ": sampling ±" in result.stdout
    # The shorter file has 22 rows, played four at a time.
    assert "20 settings drawn from legs.csv (pair.left.top_speed" in result.stdout
    assert "drives.csv (opponents.drive.speed.mean); 64 shots" in result.stdout
    with (tmp_path / "out" / "uncertainty.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [(row["policy"], row["measure"], row["quantity"]) for row in rows] == [
        (policy, measure, quantity)
        for measure in ("reached", "in_control")
        for policy, quantity in (
            ("halves", "share"),
            ("follow", "share"),
            ("follow", "difference"),
        )
    ]
    for row in rows:
        assert float(row["low"]) <= float(row["mean"]) <= float(row["high"])
        assert bool(row["verdict"]) == (row["quantity"] == "difference")
    before = (tmp_path / "out" / "uncertainty.csv").read_bytes()
    again = run(*words, *files, "--out", tmp_path / "again", "--workers", "2", "--quiet")
    assert again.exit_code == 0
    assert (tmp_path / "again" / "uncertainty.csv").read_bytes() == before
    speeds(tmp_path / "drives.csv", 37.0, 3.0)
    other = run(*words, *files, "--out", tmp_path / "out")
    assert other.exit_code == 2, "the file's contents are part of the run"


def test_the_report_page_has_the_section(tmp_path: Path) -> None:
    words = ["compare", "--between", "follow", "halves", "--shots", "256", "--quiet"]
    drives = speeds(tmp_path / "drives.csv", 36.0, 3.0)
    assert run(*words, "--with-uncertainty", drives, "--out", tmp_path / "out").exit_code == 0
    page = (tmp_path / "out" / "report.md").read_text(encoding="utf-8")
    assert_in_order(
        page,
        [
            "# Club pair",
            "With what you do not know:",
            "- In control of 100, follow against halves",
            "At the scenario's own values:",
            "- Of 100 balls in play the pair gets in control",
            "## With what you do not know",
            "## What the numbers leave out",
        ],
    )
    assert "| follow |" in page[page.index("## With what you do not know") :]


@pytest.mark.parametrize(
    ("option", "words"),
    [
        ("--all", ["--all"]),
        ("--precision", ["--precision", "1"]),
        ("--cluster", ["--cluster", "x"]),
    ],
)
def test_options_that_do_not_go_with_draws(option: str, words: list[str], tmp_path: Path) -> None:
    result = run("compare", *words, "--with-uncertainty", tmp_path / "no.csv")
    assert result.exit_code == 2
    assert f"{option} and --with-uncertainty exclude each other" in result.stderr


def test_settings_need_draws() -> None:
    result = run("compare", "--settings", "40")
    assert result.exit_code == 2
    assert "--settings needs --with-uncertainty" in result.stderr


KEY = "pair.left.top_speed"
GOOD = ["12 ft/s"] * 20
BAD = {
    "unknown key": ("pair.left.top_sped", GOOD, r"line 1: pair\.left\.top_sped: .*top_speed"),
    "not about the scenario": ("run.shots", ["64"] * 20, r"line 1: run\.shots: .*take it out"),
    "twice": (f"{KEY},pair.both.top_speed", ["12 ft/s,12 ft/s"] * 20, "stands in two columns"),
    "unit": (KEY, [*GOOD, "12 s"], r"line 22: .*top_speed = \"12 s\".*not a unit"),
    "no unit": (KEY, ["12", *GOOD], "line 2: .*unit"),
    "empty cell": (f"{KEY},run_in.returner_delay", [*GOOD[:3], "12 ft/s,"] * 9, "line 2: 1 cells"),
    "decimal comma": (KEY, ["12,5 ft/s", *GOOD], "line 2: 2 cells under 1 keys.*12.31 ft/s"),
    "weight": ("opponents.shots.drive", ["inf"] * 20, "line 2: .*finite"),
    "few": (KEY, GOOD[:19], "19 draws.*20"),
    "none": (KEY, [], "0 draws.*20"),
}


@pytest.mark.parametrize("name", BAD)
def test_a_bad_file_is_refused_with_file_line_and_key(name: str, tmp_path: Path) -> None:
    keys, rows, message = BAD[name]
    path = drawn_file(tmp_path / "draws.csv", keys, rows)
    with pytest.raises(Refused, match=message) as refused:
        read_draws(path, SCENARIO)
    assert "draws.csv" in str(refused.value)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(Refused, match=r"no\.csv: cannot be read"):
        read_draws(tmp_path / "no.csv", SCENARIO)
    (tmp_path / "bytes.csv").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(Refused, match="UTF-8"):
        read_draws(tmp_path / "bytes.csv", SCENARIO)
    (tmp_path / "empty.csv").write_bytes(b"")
    with pytest.raises(Refused, match="empty"):
        read_draws(tmp_path / "empty.csv", SCENARIO)


def test_a_byte_order_mark_and_empty_lines_do_not_matter(tmp_path: Path) -> None:
    path = drawn_file(tmp_path / "draws.csv", KEY, ["12 ft/s", "", *GOOD], start="\ufeff")
    draws = read_draws(path, SCENARIO)
    assert (draws.keys, draws.values.shape) == ([KEY], (21, 1))
    assert draws.lines[:2] == (2, 4)


def test_a_value_outside_the_limits_is_named_with_its_line(tmp_path: Path) -> None:
    path = drawn_file(tmp_path / "draws.csv", KEY, [*GOOD, "99 ft/s"])
    with pytest.raises(Refused, match=r"draws\.csv line 22: .*top_speed.*between 2 ft/s and 36"):
        scenarios_of([read_draws(path, SCENARIO)], 200, 1, changer(FILE, {}))


def test_a_number_in_two_files_is_refused(tmp_path: Path) -> None:
    both = [f"{v} ft/s" for v in range(10, 30)]
    first = read_draws(drawn_file(tmp_path / "a.csv", KEY, GOOD), SCENARIO)
    second = read_draws(drawn_file(tmp_path / "b.csv", "pair.both.top_speed", both), SCENARIO)
    with pytest.raises(Refused, match=r"b\.csv: pair\.left\.top_speed stands in .*a\.csv"):
        check_apart([first, second])


def test_rows_stay_together_and_files_do_not(tmp_path: Path) -> None:
    """Two files sorted alike must not make their numbers go up and down together."""
    rising = [f"{10 + 0.01 * k:.2f}" for k in range(400)]
    legs = [f"{v} ft/s,{v} ft/s" for v in rising]
    first = drawn_file(tmp_path / "a.csv", "pair.left.top_speed,pair.right.top_speed", legs)
    second = drawn_file(tmp_path / "b.csv", "opponents.shots.drive", rising)
    draws = [read_draws(path, SCENARIO) for path in (first, second)]
    made: list[Scenario] = scenarios_of(draws, 200, 1, changer(FILE, {}))
    left, right, drive = (
        np.array(values)
        for values in zip(
            *(
                (s.pair.left.top_speed, s.pair.right.top_speed, s.opponents.shots.drive)
                for s in made
            ),
            strict=True,
        )
    )
    assert len(set(left)) == 200
    assert np.array_equal(left, right)
    # Of 200 independent pairs the correlation's standard deviation is 0.07.
    assert abs(np.corrcoef(left, drive)[0, 1]) < 0.28
