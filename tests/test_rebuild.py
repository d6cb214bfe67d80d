"""Runs made again from their manifests: every command, every option, and manifests gone wrong."""

from __future__ import annotations

import contextlib
import csv
import doctest
import json
import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result
from PIL import Image

from sim.cli import main
from sim.commands.from_manifest import commands, kept, spelt
from sim.commands.rebuild import DIFFERS
from sim.errors import Refused
from sim.manifest import NUMBERS, OF_THE_LIKENESS, OF_THE_SCENARIO, PICTURES, WITHOUT_EFFECT
from sim.outputs import digest_of
from sim.rebuilt_files import Cells, Gap, Lines, Pixels, Rebuilt, Shapes, difference
from sim.scenario_files import load
from sim.texts.rebuild import in_words, rebuilt_text
from tests.faults.children import forked_command, limit

CHARTS = Path(__file__).parent / "charts"
REPORTS = Path(__file__).parent.parent / "reports"
PAGE = REPORTS.parent / "sim" / "docs" / "rebuild.md"
README = REPORTS.parent / "README.md"
# Somebody's folder: nothing of its name may get into a manifest.
HOME = "home-of-somebody"
PLAIN = ("--no-figures", "--shots", "64")
FIT = ("--no-figures", "--draws", "20")
OWN = f"{HOME}/mine.toml"
DRAWS = ("--with-uncertainty", f"{HOME}/legs.csv", "--with-uncertainty", f"{HOME}/other/legs.csv")

# What is typed; between them, the runs of a command use all options that its results depend on.
RUNS = {
    "compare": ("compare", "--shots", "64", "--between", "halves", "follow"),
    "found compare": (
        *("compare", *PLAIN, "--set", 'policies=[{name = "found", rule = "best"}]'),
        *("--set", 'return_of_serve.directions=["line"]', "--set", "run.seed=0"),
    ),
    "own compare": ("compare", OWN, *PLAIN, "--every-shot", "--between", "follow", "halves"),
    "doubtful compare": ("compare", OWN, *PLAIN, *DRAWS, "--settings", "20", "--seed", "3"),
    "precise compare": (
        *("compare", "--no-figures", "--precision", "9", "--precision-of", "share"),
        *("--measure", "reached", "--max-shots", "2000", "--baseline", "follow"),
    ),
    "imprecise compare": ("compare", "--no-figures", "--precision", "0.1", "--max-shots", "200"),
    "sweep": (
        *("sweep", *PLAIN, "--vary", "spacing=6:8:1 ft", "--policy", "follow"),
        *("--measure", "reached", "--units", "metric"),
    ),
    "positions": (
        *("positions", OWN, *PLAIN, "--grid", "3 ft", "--in-time", "20"),
        *("--objective", "worth", "--worth", "1", "0.4"),
    ),
    "counter": ("counter", *PLAIN, "--no-grid", "--worth", "1", "0.3", "0.9"),
    "sensitivity": (
        *("sensitivity", "--between", "follow", "halves", "--shots", "16", "--settings", "32"),
        *("--with-uncertainty", f"{HOME}/legs.csv", "--measure", "reached", "--no-figures"),
        *("--vary-input", "pair.both.bend=0.5:1 ft", "--only", "opponents.drive.speed.mean"),
    ),
    "approach": (
        *("approach", *PLAIN, "--policy", "follow", "--return", "cross", "--arrive", "50"),
    ),
    "report": ("report", "how-far-apart", *PLAIN, "--no-inputs"),
    "whole report": ("report", "how-far-apart", *PLAIN, "--settings", "32"),
    "handout": ("handout", OWN, "--shots", "64", "--policy", "follow"),
    "plain handout": ("handout", *PLAIN),
    "draw": (
        *("draw", "--shots", "64", "--between", "halves", "follow", "--direction", "line"),
        *("--format", "gif", "--speed", "1", "--number", "3"),
    ),
    "plain draw": ("draw", *PLAIN, "--points", "2"),
    "shot": (
        *("shot", *PLAIN, "--number", "5", "--direction", "line", "--policy", "follow"),
        *("--policy", "halves"),
    ),
    "fit shots": (
        *("fit", "shots", f"{HOME}/chart.csv", "--shots", "256", "--level", "4.0", *FIT),
        *("--seed", "0", "--like", OWN),
    ),
    "fit runs": (
        *("fit", "runs", f"{HOME}/dashes.csv", "--player", "left", "--reaction", "0.1 s"),
        *("--seed", "0", *FIT),
    ),
    "own fit": (
        *("fit", "reach", "--height", "5 ft 7 in", "--mark", "70 in", *FIT, "--like", OWN),
    ),
    "fit reach": (
        *("fit", "reach", "--height", "5 ft 7 in", "--mark", "70 in", "--mark", "71 in"),
        *("--player", "right", "--units", "metric", "--draws", "20", "--seed", "0"),
    ),
}
# These take longest; the others are rebuilt in every run of the tests.
LONG = ("fit shots", "report", "whole report", "draw", "handout", "found compare")

MINE = """\
extends = "club-sixties"
[opponents.drive.speed]
kind = "sample"
file = "other/speeds.csv"
column = "speed"
unit = "mph"
[[policies]]
name = "halves"
rule = "halves"
[[policies]]
name = "follow"
rule = "follow"
"""


def write_inputs(folder: Path) -> None:
    (folder / "other").mkdir(parents=True)
    (folder / "mine.toml").write_text(MINE, encoding="utf-8")
    (folder / "other" / "speeds.csv").write_text("speed\n30\n34\n41\n", encoding="utf-8")
    speeds = "".join(f"{12 + number / 20} ft/s\n" for number in range(20))
    (folder / "legs.csv").write_text(f"pair.left.top_speed\n{speeds}", encoding="utf-8")
    (folder / "other" / "legs.csv").write_text(f"pair.right.top_speed\n{speeds}", encoding="utf-8")
    # As a spreadsheet saves it: no UTF-8, and line ends of its own.
    chart = (CHARTS / "tuesday.csv").read_text(encoding="utf-8").replace("\n", "\r\n")
    (folder / "chart.csv").write_bytes(f"# Übung\r\n{chart}".encode("cp1252"))
    dashes = "distance,seconds\n10 ft,1.52\n25 ft,2.8\n25 ft,2.7\n"
    (folder / "dashes.csv").write_text(dashes, encoding="utf-8")


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, [*map(str, words)])


Made = Callable[[str], Path]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """Makes a run by its name in `RUNS`, once, and tells its folder."""
    top = tmp_path_factory.mktemp("runs")
    write_inputs(top / HOME)

    def folder(name: str) -> Path:
        out = top / HOME / name
        if not out.exists():
            with contextlib.chdir(top):
                result = run(*RUNS[name], "--out", out)
            assert result.exit_code == (3 if name == "imprecise compare" else 0), result.output
        return out

    return folder


@pytest.fixture
def asked(elsewhere: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], dict[str, Any]]:
    """The manifest that a run begins with, by its name in `RUNS`; nothing is played."""
    write_inputs(elsewhere / HOME)
    found: list[dict[str, Any]] = []

    def look(folder: Path, manifest: dict[str, Any], *, force: bool) -> None:
        found.append(manifest)
        raise Refused("seen enough")

    monkeypatch.setattr("sim.outputs.check_folder", look)

    def manifest(name: str) -> dict[str, Any]:
        assert "seen enough" in run(*RUNS[name]).stderr
        return found[-1]

    return manifest


@pytest.fixture
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def manifest_in(folder: Path) -> dict[str, Any]:
    manifest: dict[str, Any] = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    return manifest


@pytest.fixture
def mailed(made: Made, elsewhere: Path) -> Callable[..., Path]:
    """Copies the manifest of a run, and nothing else, after a ``change`` to it."""

    def mail(name: str, change: Callable[[dict[str, Any]], object] = lambda manifest: None) -> Path:
        manifest = manifest_in(made(name))
        change(manifest)
        (elsewhere / "sent.json").write_text(json.dumps(manifest), encoding="utf-8")
        return elsewhere / "sent.json"

    return mail


# --- the same again -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=[pytest.mark.slow] if name in LONG else []) for name in RUNS]
)
def test_the_manifest_alone_rebuilds_every_command(
    name: str, made: Made, mailed: Callable[..., Path]
) -> None:
    result = run("rebuild", mailed(name), "--out", "again")
    assert result.exit_code == 0, result.output
    files = {path.name: path.read_bytes() for path in made(name).iterdir()}
    assert result.stdout == f"Rebuilt {len(files) - 1} files: all the same to the byte.\n"
    assert {path.name: path.read_bytes() for path in Path("again").iterdir()} == files


@pytest.mark.parametrize("command", commands(main))
def test_every_option_stands_in_the_manifest_or_has_a_reason_not_to(
    command: str, asked: Callable[[str], dict[str, Any]]
) -> None:
    """An option that is new has to be used in `RUNS`, and to show in the manifest there."""
    mine = [name for name, words in RUNS.items() if " ".join(words).startswith(f"{command} ")]
    manifests = [asked(name) for name in mine]
    told = {name for manifest in manifests for name in manifest["options"]} - {"command"}
    told |= {each["use"] for manifest in manifests for each in manifest["inputs"]} - {"sample"}
    assert told == set(kept(commands(main)[command]))
    given = [word[2:].replace("-", "_") for name in mine for word in RUNS[name] if word[:2] == "--"]
    known = {spelt(each) for each in commands(main)[command].params}
    assert {*given} <= known
    # All are tried with a value of their own, not only with what they usually have.
    assert {name for name in told if name not in ("chart", "times")} - {*given} <= {"units"}


def test_what_is_said_to_be_left_out_of_manifests_exists() -> None:
    """Whether results are the same by whatever workers, cluster or resumed: tests of long runs."""
    params = {spelt(each) for command in commands(main).values() for each in command.params}
    assert set(WITHOUT_EFFECT) | {*OF_THE_SCENARIO, *OF_THE_LIKENESS} <= params


def test_the_same_manifest_whatever_has_no_effect(made: Made, elsewhere: Path) -> None:
    write_inputs(elsewhere / "there")
    words = [word.replace(HOME, "there") for word in RUNS["doubtful compare"]]
    for more in (("--workers", "1"), ("--workers", "2", "--quiet", "--force"), ("--resume",)):
        assert run(*words, *more, "--force", "--out", "out").exit_code == 0
        assert manifest_in(Path("out")) == manifest_in(made("doubtful compare"))


@pytest.mark.parametrize("name", RUNS)
def test_no_folder_gets_into_a_manifest(
    name: str, asked: Callable[[str], dict[str, Any]], elsewhere: Path
) -> None:
    text = json.dumps(asked(name))
    assert not any(part in text for part in (HOME, str(elsewhere), "other/", "reachshare-out"))


def test_all_scenarios_at_once_are_runs_of_their_own(elsewhere: Path) -> None:
    assert run("compare", "--all", "--out", "all", "--no-figures", "--shots", "64").exit_code == 0
    assert run("rebuild", "all/stop-or-run").exit_code == 0
    alone = ("compare", "stop-or-run", "--out", "one", "--no-figures", "--shots", "64")
    assert run(*alone).exit_code == 0
    assert manifest_in(Path("one")) == manifest_in(Path("all/stop-or-run"))


def test_other_input_files_make_another_run(elsewhere: Path) -> None:
    write_inputs(elsewhere / HOME)
    words = ("compare", *PLAIN, *DRAWS, "--settings", "20", "--out", "out")
    assert run(*words).exit_code == 0
    with (elsewhere / HOME / "legs.csv").open("a", encoding="utf-8") as file:
        file.write("13.5 ft/s\n")
    result = run(*words)
    assert result.exit_code == 2
    assert "holds the results of another run (other input files)" in result.stderr


def test_samples_go_with_the_scenarios_that_are_written(made: Made) -> None:
    written = (made("positions") / "best.toml", made("own fit") / "fit.toml")
    before = load(made("own fit").parent / "mine.toml").opponents.drive.speed
    assert [load(path).opponents.drive.speed for path in written] == [before, before]


# --- what differs -------------------------------------------------------------------------------


def with_seed_two(manifest: dict[str, Any]) -> None:
    manifest["scenario_tables"]["run"]["seed"] = 2
    shots = manifest["scenario_tables"]["run"]["shots"]
    changed = load(None, {"run": {"seed": 2, "shots": shots}})
    manifest["scenario_digest"] = changed.digest()


def test_another_seed_is_told(mailed: Callable[..., Path]) -> None:
    result = run("rebuild", mailed("compare", with_seed_two))
    assert result.exit_code == DIFFERS
    assert result.stdout.startswith("Rebuilt 14 files: ")
    assert "summary.csv       differs; the original is not beside the manifest" in result.stdout
    assert "comes out otherwise in: seed" in result.stdout


def test_how_much_differs_is_told_where_the_files_are_at_hand(made: Made, elsewhere: Path) -> None:
    shutil.copytree(made("compare"), "copy")
    manifest = manifest_in(Path("copy"))
    with_seed_two(manifest)
    Path("copy/manifest.json").write_text(json.dumps(manifest), encoding="utf-8")
    result = run("rebuild", "copy", "--out", "again", "--force")
    assert result.exit_code == DIFFERS
    old, new = (rows(Path(folder) / "run_in.csv") for folder in ("copy", "again"))
    in_play = old[0].index("in_play")
    gaps = [
        abs(float(one) - float(other))
        for pair in zip(old[1:], new[1:], strict=True)
        for column, (one, other) in enumerate(zip(*pair, strict=True))
        if one != other and column != in_play
    ]
    assert gaps
    amount = f"{max(gaps):.6f}".rstrip("0").rstrip(".")
    assert f"{len(gaps)} numbers differ, by {amount} at most" in result.stdout
    assert "% of its pixels differ, by" in result.stdout


def test_files_changed_after_the_run_are_told(made: Made, elsewhere: Path) -> None:
    shutil.copytree(made("compare"), "copy")
    with Path("copy/summary.csv").open("a", encoding="utf-8") as file:
        file.write("one more line\n")
    result = run("rebuild", "copy")
    assert result.exit_code == DIFFERS
    assert "Rebuilt 14 files: all the same to the byte." in result.stdout
    assert "Beside the manifest, summary.csv is not as the run wrote it" in result.stdout


def test_another_version_is_told(mailed: Callable[..., Path]) -> None:
    def older(manifest: dict[str, Any]) -> None:
        # Another version may read the same tables otherwise, so that the digest differs as well.
        manifest |= {"version": "0.0.1", "scenario_digest": "0" * 64}

    result = run("rebuild", mailed("own compare", older))
    assert result.exit_code == DIFFERS
    assert "Made with reachshare 0.0.1, rebuilt with reachshare " in result.stdout
    assert "numbers may differ" in result.stdout
    assert "comes out otherwise in: scenario_digest" in result.stdout


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("numpy", "the last digits of numbers"),
        ("python", "the last digits of numbers"),
        ("machine", "the last digits of numbers"),
        ("matplotlib", "pictures and pages may come out a little otherwise"),
        ("jinja2", "pictures and pages may come out a little otherwise"),
        ("ffmpeg", "pictures and pages may come out a little otherwise"),
    ],
)
def test_other_libraries_are_told_and_do_no_harm(
    name: str, said: str, mailed: Callable[..., Path]
) -> None:
    def other(manifest: dict[str, Any]) -> None:
        manifest["made_with"][name] = "0.1"

    result = run("rebuild", mailed("own compare", other))
    assert result.exit_code == 0
    assert f"Made with {name} 0.1, rebuilt with {name} " in result.stdout
    assert said in result.stdout


def test_made_with_names_all_that_is_weighed(made: Made) -> None:
    assert list(manifest_in(made("own compare"))["made_with"]) == ["machine", *NUMBERS, *PICTURES]


@pytest.mark.slow
def test_places_found_are_held_against_the_manifest(mailed: Callable[..., Path]) -> None:
    def moved(manifest: dict[str, Any]) -> None:
        manifest["places_ft"]["found"]["line"]["left"]["depth"] += 0.5

    result = run("rebuild", mailed("found compare", moved))
    assert result.exit_code == DIFFERS
    assert "The manifest itself comes out otherwise in: places_ft." in result.stdout


def test_missing_and_new_files_are_told(mailed: Callable[..., Path]) -> None:
    def renamed(manifest: dict[str, Any]) -> None:
        manifest["files"]["odd.csv"] = manifest["files"].pop("leaks.csv")

    result = run("rebuild", mailed("own compare", renamed))
    assert result.exit_code == DIFFERS
    assert "odd.csv    did not come out" in result.stdout
    assert "leaks.csv  came out; the manifest does not tell of it" in result.stdout


def rows(path: Path) -> list[list[str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


def test_differences_of_tables(tmp_path: Path) -> None:
    old, new = tmp_path / "old.csv", tmp_path / "new.csv"
    old.write_text("policy,share,n\na,0.5,3\nb,0.25,\n", encoding="utf-8")
    new.write_text("policy,share,n\na,0.500002,7\nc,0.2,1\n", encoding="utf-8")
    found = difference(old, new)
    numbers = Gap(2, pytest.approx(0.05), "share", 3)
    assert found == Cells(Gap(1, 4.0, "n", 2), numbers, 2)
    assert in_words(found) == (
        "1 count differs, by 4 (n, line 2); 2 numbers differ, by 0.05 at most (share, line 3); "
        "2 words differ"
    )
    new.write_text("policy,share,n\na,0.5,3\n", encoding="utf-8")
    assert difference(old, new) == Shapes("2 rows of 3", "1 rows of 3")
    new.write_bytes(old.read_bytes().replace(b"\n", b"\r\n"))
    assert difference(old, new) == Lines(0, 0)


def test_differences_of_pictures(tmp_path: Path) -> None:
    pixels = np.full((10, 20, 3), 200, dtype=np.uint8)
    Image.fromarray(pixels).save(tmp_path / "old.png", compress_level=1)
    Image.fromarray(pixels).save(tmp_path / "packed.png", compress_level=9)
    assert (tmp_path / "old.png").read_bytes() != (tmp_path / "packed.png").read_bytes()
    assert difference(tmp_path / "old.png", tmp_path / "packed.png") == Pixels(0.0, 0)
    pixels[0, :5, 1] = 190
    Image.fromarray(pixels).save(tmp_path / "new.png")
    assert difference(tmp_path / "old.png", tmp_path / "new.png") == Pixels(5 / 200, 10)
    Image.fromarray(pixels[:5]).save(tmp_path / "small.png")
    assert isinstance(difference(tmp_path / "old.png", tmp_path / "small.png"), Shapes)
    (tmp_path / "none.png").write_text("no picture", encoding="utf-8")
    assert difference(tmp_path / "none.png", tmp_path / "old.png") is None


def test_differences_of_texts(tmp_path: Path) -> None:
    old, new = tmp_path / "old.svg", tmp_path / "new.svg"
    old.write_text("a\nb\nc\n", encoding="utf-8")
    new.write_text("a\nB\nc\nd\n", encoding="utf-8")
    assert difference(old, new) == Lines(2, 2)
    assert difference(old.rename(tmp_path / "old.pdf"), new.rename(tmp_path / "new.pdf")) is None


def test_nothing_the_same_is_not_told_as_all_the_same() -> None:
    nothing = Rebuilt([], {}, [], ["gone.csv"], [], [], [], {})
    assert not nothing.all_the_same
    assert "all the same" not in rebuilt_text(nothing)


# --- too large for a manifest ---------------------------------------------------------------------


def test_a_large_input_is_asked_for(elsewhere: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sim.manifest._LARGEST_TEXT", 100)
    write_inputs(elsewhere / HOME)
    words = ("fit", "runs", f"{HOME}/dashes.csv", "--player", "left", *FIT, "--out", "fit")
    with (elsewhere / HOME / "dashes.csv").open("a", encoding="utf-8") as file:
        file.write("# a remark\n" * 10)
    assert run(*words).exit_code == 0
    assert "text" not in manifest_in(Path("fit"))["inputs"][0]
    result = run("rebuild", "fit")
    assert result.exit_code == 2
    assert "dashes.csv is too large to be in the manifest; give it with --input" in result.stderr
    assert digest_of(elsewhere / HOME / "dashes.csv") in result.stderr
    assert run("rebuild", "fit", "--input", f"{HOME}/legs.csv").exit_code == 2
    (elsewhere / HOME / "dashes.csv").rename("renamed.csv")
    given = run("rebuild", "fit", "--input", "renamed.csv", "--input", f"{HOME}/legs.csv")
    assert given.exit_code == 0, given.output


# --- manifests gone wrong -----------------------------------------------------------------------


def tables(manifest: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = manifest["scenario_tables"]
    return found


WRONG: dict[str, tuple[Callable[[dict[str, Any]], object], str]] = {
    "other program": (lambda m: m.update(program="other"), "is not a manifest of reachshare"),
    "no files": (lambda m: m.pop("files"), "'files': field required"),
    "no file": (lambda m: m.update(files={}), "'files': "),
    "old files": (lambda m: m.update(files=["a.csv"]), "kept no fingerprints"),
    "files": (lambda m: m.update(files=3), "'files': "),
    "up": (lambda m: m["files"].update({"../up.csv": "0" * 64}), "without a folder"),
    "root": (lambda m: m["files"].update({"/etc/passwd": "0" * 64}), "without a folder"),
    "digest": (lambda m: m["files"].update({"a.csv": "0"}), "'files.a.csv': "),
    "null": (lambda m: m.update(scenario_tables=None), "'scenario_tables': "),
    "list": (lambda m: m.update(options=[]), "'options': "),
    "deep": (lambda m: tables(m).update(x=json.loads("[" * 40 + "]" * 40)), "nested too deeply"),
    "seed": (lambda m: tables(m)["run"].update(seed=2), "changed by hand"),
    "value": (lambda m: tables(m)["run"].update(seed="x"), "scenario_tables: run.seed"),
    "key": (lambda m: tables(m).update(surprise=1), "surprise: unknown key"),
    "digest of tables": (lambda m: m.update(scenario_digest="0" * 64), "changed by hand"),
    "command": (lambda m: m["options"].update(command="os.system"), "makes no run"),
    "group": (lambda m: m["options"].update(command="fit"), "makes no run"),
    "itself": (lambda m: m["options"].update(command="rebuild"), "makes no run"),
    "no command": (lambda m: m["options"].pop("command"), "makes no run"),
    "command list": (lambda m: m["options"].update(command=["compare"]), "makes no run"),
    "out": (lambda m: m["options"].update(out="/tmp/x"), "'out' is no option"),
    "cluster": (lambda m: m["options"].update(cluster="tcp://x:1"), "'cluster' is no option"),
    "template": (lambda m: m["options"].update(template="x.csv"), "'template' is no option"),
    "near": (lambda m: m["options"].update(betwen=["a", "b"]), 'did you mean "between"?'),
    "choice": (lambda m: m["options"].update(units="cubits"), "options: units: "),
    "table": (lambda m: m["options"].update(units={"a": 1}), "must be a word or a number"),
    "flag 0": (lambda m: m["options"].update(no_figures=0), "no_figures: must be true or false"),
    "flag 1": (lambda m: m["options"].update(every_shot=1), "every_shot: must be true or false"),
    "flag 1e308": (lambda m: m["options"].update(no_figures=1e308), "must be true or false"),
    "flag word": (lambda m: m["options"].update(no_figures="yes"), "must be true or false"),
    "half": (lambda m: m["options"].update(settings=20.5), "'20.5' is not a valid integer"),
    "true": (lambda m: m["options"].update(settings=True), "must be a word or a number"),
    "path": (lambda m: m["options"].update(with_uncertainty=["/etc/x"]), "among its inputs"),
    "number": (lambda m: m["options"].update(with_uncertainty=[0]), "among its inputs"),
    "one": (lambda m: m["options"].update(between="follow"), "must be a list"),
    "three": (lambda m: m["options"].update(between=["a", "b", "c"]), "options: between: "),
    "nobody": (lambda m: m["options"].update(between=["a", "b"]), "asks for a run that is refused"),
    "letters": (lambda m: m.update(version="\x1b[2J"), "'version': must be plain text"),
    "name": (lambda m: m.update({"\x1b[2J": 1}), "not plain text"),
    "text": (lambda m: m["options"].update(units="\ud800"), "not valid JSON"),
    "contents": (lambda m: m["inputs"][0].update(text="speed\n1\n"), "not those of its SHA-256"),
    "base64": (lambda m: m["inputs"][0].update(text=None, base64="é"), "is damaged"),
    "input name": (lambda m: m["inputs"][0].update(name="../x.csv"), "without a folder"),
    "use": (lambda m: m["inputs"][0].update(use="out"), "is not among the inputs"),
    "no input": (lambda m: m["inputs"].clear(), "'speeds.csv' is not among the inputs"),
    "source": (lambda m: m["scenario_source"].update(name="a/b.toml"), "without a folder"),
}  # fmt: skip


@pytest.mark.parametrize("wrong", WRONG)
def test_wrong_manifests_are_refused_and_nothing_written(
    wrong: str, mailed: Callable[..., Path], elsewhere: Path
) -> None:
    change, said = WRONG[wrong]
    result = run("rebuild", mailed("own compare", change), "--out", "again")
    assert result.exit_code == 2, result.output
    assert said in result.stderr
    assert isinstance(result.exception, SystemExit)
    assert [path.name for path in elsewhere.iterdir()] == ["sent.json"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "not valid JSON"),
        ("{", "not valid JSON"),
        ("[]", "is not a manifest"),
        ("null", "is not a manifest"),
        ('{"program": NaN}', "not valid JSON"),
        ('{"program": 1e999}', "not valid JSON"),
        ("[" * 100_000, "nested too deeply"),
        ("\udcff", "not valid JSON"),
    ],
)
def test_what_is_no_manifest_is_refused(text: str, said: str, elsewhere: Path) -> None:
    Path("bad.json").write_bytes(text.encode("utf-8", "surrogateescape"))
    result = run("rebuild", "bad.json")
    assert result.exit_code == 2
    assert said in result.stderr
    assert isinstance(result.exception, SystemExit)


def test_files_that_are_none_or_too_large_are_refused(
    elsewhere: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert "there" not in [path.name for path in elsewhere.iterdir()]
    assert "cannot be read" in run("rebuild", "there").stderr
    Path("folder").mkdir()
    assert "manifest.json: cannot be read" in run("rebuild", "folder").stderr
    monkeypatch.setattr("sim.rebuilding._LARGEST_FILE", 10)
    Path("large.json").write_text(" " * 11, encoding="utf-8")
    assert "large.json: larger than" in run("rebuild", "large.json").stderr


@pytest.mark.parametrize("name", ["sensitivity", "fit reach", "sweep"])
def test_what_a_command_requires_is_required(name: str, mailed: Callable[..., Path]) -> None:
    required = {"sensitivity": "between", "fit reach": "height", "sweep": "vary"}[name]
    result = run("rebuild", mailed(name, lambda manifest: manifest["options"].pop(required)))
    assert result.exit_code == 2
    assert f"options: {required}: must be given" in result.stderr


def test_the_original_is_not_written_over(made: Made, elsewhere: Path) -> None:
    folder = made("own compare")
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    result = run("rebuild", folder, "--out", folder, "--force")
    assert result.exit_code == 2
    assert "is the folder of the run itself" in result.stderr
    Path("taken").mkdir()
    Path("taken/novel.txt").write_text("mine", encoding="utf-8")
    assert run("rebuild", folder, "--out", "taken").exit_code == 2
    assert [path.name for path in Path("taken").iterdir()] == ["novel.txt"]
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


@pytest.fixture
def scratch(elsewhere: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where temporary folders are made."""
    monkeypatch.setattr("tempfile.tempdir", str(elsewhere))
    return elsewhere


def test_an_interruption_leaves_nothing(
    mailed: Callable[..., Path], scratch: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(*_: Any, **__: Any) -> Iterator[None]:
        raise KeyboardInterrupt

    sent = mailed("own compare")
    monkeypatch.setattr("sim.commands.one_comparison._play", stopped)
    result = run("rebuild", sent, "--out", "again")
    assert result.exit_code == 130
    assert "Interrupted: nothing was written to again." in result.stderr
    assert [path.name for path in scratch.iterdir()] == ["sent.json"]


def test_nothing_is_left_when_a_file_cannot_grow(
    mailed: Callable[..., Path], scratch: Path
) -> None:
    words = ("rebuild", str(mailed("own compare")), "--out", "again")
    ended = forked_command(words, lambda: limit("FSIZE", 4096))
    assert ended.code == 2
    assert "writing failed: File too large" in ended.err
    assert [path.name for path in scratch.iterdir()] == ["sent.json"]


# --- the page and the reports in the repository --------------------------------------------------


def test_the_examples_of_the_page_run() -> None:
    result = doctest.testfile(str(PAGE), module_relative=False, encoding="utf-8")
    assert result.attempted >= 5
    assert result.failed == 0


@pytest.mark.slow
def test_page_and_readme_quote_what_is_printed(elsewhere: Path) -> None:
    """The default run: the same again, with other versions said, and with another seed forged."""
    assert run("compare", "--quiet").exit_code == 0
    folder = Path("reachshare-out/club-sixties")
    printed = [run("rebuild", folder).stdout]
    assert f"| {printed[0].strip()} ([how]" in README.read_text(encoding="utf-8")
    before = manifest_in(folder)
    libraries = ("numpy", "scipy", "matplotlib", "contourpy", "pillow")
    older = before["made_with"] | dict.fromkeys(libraries, "0.1")
    forged = before["scenario_tables"] | {"run": {"baseline": "halves", "seed": 2}}
    digest = load(None, {"run": {"seed": 2}}).digest()
    for change in (
        {"made_with": older},
        {"scenario_tables": forged, "scenario_digest": digest},
    ):
        (folder / "manifest.json").write_text(json.dumps(before | change), encoding="utf-8")
        printed.append(run("rebuild", folder).stdout)
    # The libraries here may be others than those on the page, and draw otherwise.
    lines = {without_versions(line) for text in printed for line in text.splitlines()}
    shown = re.findall(r"```text\n(.*?)```", PAGE.read_text(encoding="utf-8"), flags=re.DOTALL)
    quoted = [line for block in shown for line in block.splitlines() if "pixels" not in line]
    quoted = [line for line in quoted if line != "..."]
    assert len(quoted) > 6
    assert [line for line in quoted if without_versions(line) not in lines] == []


def without_versions(line: str) -> str:
    return re.sub(r"[\d.]+", "", line) if line.startswith("Made with") else line


@pytest.mark.slow
@pytest.mark.parametrize(
    "folder", sorted(path.parent.name for path in REPORTS.glob("*/manifest.json"))
)
def test_committed_reports_are_rebuilt(folder: str, tmp_path: Path) -> None:
    """Tables to the byte; pictures where the libraries are those that drew them."""
    result = run("rebuild", REPORTS / folder, "--out", tmp_path / "again")
    before, now = (manifest_in(path) for path in (REPORTS / folder, tmp_path / "again"))
    names = [name for name in before["files"] if name.endswith((".csv", ".txt", ".toml"))]
    if before["made_with"] == now["made_with"]:
        names = [*before["files"]]
        assert result.exit_code == 0, result.output
    assert {name: before["files"][name] for name in names} == {
        name: now["files"][name] for name in names
    }
