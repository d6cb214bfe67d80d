"""Scenario files of any kind: huge, deep, endless, or pointing where they should not."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from click.testing import CliRunner

import sim
from sim.cli import main
from sim.scenario_files import bundled, read
from sim.toml_text import toml_text

SECRET = "the-secret-of-another-file"
SAMPLE = '[opponents.drive.speed]\nkind = "sample"\nfile = {}\ncolumn = "speed"\nunit = "mph"\n'


def refusal(text: str | bytes, folder: Path) -> str:
    file = folder / "given.toml"
    file.write_bytes(text.encode() if isinstance(text, str) else text)
    with pytest.raises(sim.ScenarioError) as caught:
        sim.load(file)
    said = str(caught.value)
    assert str(file) in said
    # A few lines of a few words: what anyone reads.
    assert len(said) < 6_000
    return said


def policies(count: int, name: str = "p{}") -> str:
    each = '[[policies]]\nname = "{}"\nrule = "halves"\n'
    return "".join(each.format(name.format(number)) for number in range(count))


# --- size and depth -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "why"),
    [
        (policies(10_000), "policies: list should have at most 200 items"),
        ("".join(f"k{k} = 1\n" for k in range(10_000)), "... and 9,980 more"),
        (policies(200).replace("rule", "rul"), "... and 380 more"),
        ("k" * 1_000_000 + " = 1", "kkk...: unknown key"),
        (f'name = "{"n" * 1_000_000}"', "nnn...: string should have at most 40 characters"),
        (f'extends = "{"n" * 1_000_000}"', "nnn...: not a bundled scenario"),
        (f'opponents.level = "{"n" * 1_000_000}"', "nnn...: must be one of 3.0"),
        ("#" * 2_000_001, "larger than 2 MB"),
        ("a = " + "[" * 100_000, "nested more than 12 deep"),
        ("a = " + "[" * 100 + "]" * 100, "nested more than 12 deep"),
        ("a = " + "{a = " * 100_000, "nested more than 12 deep"),
        (".".join("a" * 100_000) + " = 1", "nested more than 12 deep"),
        (".".join("a" * 59) + " = 1", "nested more than 12 deep"),
        ("[" + ".".join("a" * 100_000) + "]", "nested more than 12 deep"),
        ('"\\"".' * 100_000 + "a = 1", "nested more than 12 deep"),
        ("'='." * 100_000 + "a = 1", "nested more than 12 deep"),
        ("run.seed = " + "9" * 1_000_000, "whole numbers lie between"),
        (
            "run.seed = 0x" + "f" * 1_000_000,
            "run.seed = a number of 4000000 bits: whole numbers lie between",
        ),
        ("name = 0b" + "1" * 64, f"name = {2**64 - 1}: whole numbers lie between"),
        ("run.seed = 9223372036854775808", "run.seed = 9223372036854775808: whole numbers lie"),
        ("run.seed = -9223372036854775808", "must be greater than or equal to 0"),
        ("run.seed = -9223372036854775809", "run.seed = -9223372036854775809: whole numbers lie"),
        ("run.seed = 1e999", "run.seed = inf: must be a valid integer"),
        ("policies = [{name = 'a', rule = 'halves', shift = -inf}]", "shift = -inf: must be"),
        ('pair.left.height = "1e999 ft"', "the number is too large"),
        ('pair.left.height = "3 m"', "between 4 ft and 7 ft 6 in (1.22 m and 2.286 m)"),
        ('pair.left.height = "1 cm"', "between 4 ft and 7 ft 6 in (122 cm and 228.6 cm)"),
        (
            'opponents.drive.speed = {kind = "normal", mean = "60 km/h", sd = "30 km/h"}',
            "must stay between 5 mph and 110 mph (8.047 km/h and 177 km/h); use kind",
        ),
        ('pair.left.full_stretch = "1 m"', "without a lunge (4.00 ft, 1.22 m)"),
        ('air.temperature = "200 F"', "between -20 C and 50 C (-4 F and 122 F)"),
        ('name = "a"\nname = "b"', "not valid TOML: Cannot overwrite a value"),
        ("[run]\nseed = 1\n[run]\nshots = 1", "not valid TOML"),
        ("name = 2024-05-01", "name = 2024-05-01: must be a valid string"),
        ('name = "\\ud800"', "not valid TOML"),
        (b'name = "\xed\xa0\x80"', "not UTF-8 text"),
        ('name = "a"'.encode("utf-16"), "not UTF-8 text"),
        (b"\0" * 1000, "not valid TOML"),
    ],
)
def test_what_no_scenario_is_is_refused_in_a_few_words(
    tmp_path: Path, text: str | bytes, why: str
) -> None:
    assert why in refusal(text, tmp_path)


def test_ten_thousand_values_of_a_list_are_a_distribution(tmp_path: Path) -> None:
    values = ", ".join(f'"{30 + k / 1000} mph"' for k in range(10_000))
    (tmp_path / "mine.toml").write_text(
        f'opponents.drive.speed = {{ kind = "list", values = [{values}] }}', encoding="utf-8"
    )
    # The middle of 30, 30.001 ... 39.999 mph.
    median = sim.load(tmp_path / "mine.toml").opponents.drive.speed.typical()
    assert median == pytest.approx(35.0 * 5280.0 / 3600.0, abs=0.002)
    weights = f'opponents.inset = {{ kind = "list", values = ["2 ft"], weights = {[-1] * 10_000} }}'
    assert "... and 9,980 more" in refusal(weights, tmp_path)


def test_two_hundred_policies_are_a_scenario(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text(policies(200), encoding="utf-8")
    assert len(sim.load(tmp_path / "mine.toml").policies) == 200
    (tmp_path / "mine.toml").write_text(f'run.baseline = "x"\n{policies(200)}', encoding="utf-8")
    with pytest.raises(sim.ScenarioError, match=r'"p19" and 180 more'):
        sim.load(tmp_path / "mine.toml")


def test_settings_on_the_command_line_are_held_to_the_same() -> None:
    for change in (
        "pair.left." + "a." * 40 + "a=1",
        "run.seed=" + "9" * 5000,
        "run.seed=0x" + "f" * 5000,
        "name='a\u202eb'",
        "pair.left.height=5\u2028ft",
        "air.temperature=nan",
        "pair.left.height=inf",
    ):
        result = CliRunner().invoke(main, ["compare", "--set", change])
        assert result.exit_code == 2, change
        # What no setting may be is refused where it was given, a wrong value by its key.
        assert result.stderr.startswith(("Error: --set: ", "Error: club-sixties.toml: "))
        assert len(result.stderr) < 1_000


@pytest.mark.parametrize(
    "words",
    [
        ("compare", "--precision", "nan"),
        ("compare", "--precision", "inf"),
        ("counter", "--worth", "nan", "1", "1"),
        ("counter", "--worth", "1", "inf", "1"),
        ("counter", "--worth", "1", "1", "nan"),
        ("positions", "--in-time", "nan"),
        ("positions", "--objective", "worth", "--worth", "nan", "nan"),
        ("positions", "--objective", "worth", "--worth", "1", "nan"),
        ("draw", "--speed", "nan"),
        ("approach", "--arrive", "nan"),
        ("sweep", "--vary", "shift=nan:1:0.1"),
        ("sweep", "--vary", "shift=0:inf:0.1"),
        ("sweep", "--vary", "shift=0:1_0:1"),
        ("sensitivity", "--between", "follow", "halves", "--vary-input", "ball.friction=nan:nan"),
        ("sensitivity", "--between", "follow", "halves", "--vary-input", "ball.friction=0:inf"),
    ],
)
def test_no_number_option_takes_what_is_no_number(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...]
) -> None:
    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 2, result.output
    option = next(word for word in words if word.startswith("--") and word != "--between")
    assert option in result.stderr or words[-1].partition("=")[0] in result.stderr
    assert list(tmp_path.iterdir()) == []


# --- which files are opened ---------------------------------------------------------------------


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder for a scenario, beside others with files that are none of its business."""
    if os.name == "nt":
        pytest.skip("links need a right of their own on Windows")
    for name in ("other.toml", "other.csv"):
        (tmp_path / name).write_text(f"speed,{SECRET}\n", encoding="utf-8")
    (tmp_path / "own" / "below").mkdir(parents=True)
    (tmp_path / "own" / "beside.toml").write_text(f'extends = "given"\n# {SECRET}', "utf-8")
    (tmp_path / "own" / "link.csv").symlink_to(tmp_path / "other.csv")
    (tmp_path / "own" / "loop.csv").symlink_to("loop.csv")
    (tmp_path / "own" / "linked").symlink_to(tmp_path)
    return tmp_path / "own"


@pytest.mark.parametrize(
    "parent",
    [
        *("../other", "../other.toml", "beside", "beside.toml", "given", "given.toml", "./given"),
        *("/etc/passwd", "/dev/zero", "/dev/stdin", "C:\\x", "c:x.toml", "\\\\host\\share\\x"),
        *("..\\\\other", "con", "", " ", "club-sixties.toml", "CLUB-SIXTIES", "club-sixties/"),
        *("../scenarios/club-sixties", "http://localhost/x.toml", "file:///etc/passwd", "~"),
    ],
)
def test_a_scenario_builds_on_a_bundled_one_only(folder: Path, parent: str) -> None:
    said = refusal(toml_text({"extends": parent}), folder)
    assert "not a bundled scenario" in said
    assert "a scenario builds on a bundled one only, never on a file" in said
    assert SECRET not in said


@pytest.mark.parametrize("parent", ['["club-sixties"]', "{ a = 1 }", "5", "true", '"a\\u0000b"'])
def test_what_is_no_name_is_nothing_to_build_on(folder: Path, parent: str) -> None:
    said = refusal(f"extends = {parent}", folder)
    assert "extends" in said
    assert "not a bundled scenario" in said or "plain text" in said


def test_no_bundled_scenario_builds_on_itself(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, parent in (("a", "b"), ("b", "c"), ("c", "a"), ("self", "self")):
        (tmp_path / f"{name}.toml").write_text(f'extends = "{parent}"', encoding="utf-8")
    monkeypatch.setattr("sim.scenario_files.bundled_folder", lambda: tmp_path)
    assert bundled() == ["a", "b", "c", "self"]
    for name in bundled():
        with pytest.raises(sim.ScenarioError, match="goes round in a circle"):
            sim.load(name)


@pytest.mark.parametrize(
    "file",
    [
        *("../other.csv", "below/../../other.csv", "/etc/passwd", "/dev/zero", "..", "."),
        *("link.csv", "loop.csv", "linked/other.csv", "C:\\other.csv", "c:other.csv", ""),
        *("..\\other.csv", "below\\other.csv", "//host/other.csv", "file:///etc/passwd", "~"),
        *("none.csv", "n" * 5000, "a\u202eb.csv", "given.toml"),
    ],
)
def test_a_sample_lies_beside_its_scenario_or_below(folder: Path, file: str) -> None:
    said = refusal(SAMPLE.format(toml_text({"f": file}).removeprefix("f = ").strip()), folder)
    assert "opponents.drive.speed" in said
    assert SECRET not in said
    assert "root:" not in said


def test_samples_beside_and_below_are_read(folder: Path) -> None:
    (folder / "below" / "speeds.csv").write_text("speed\n30\n34\n", encoding="utf-8")
    (folder / "in.csv").symlink_to("below/speeds.csv")
    for name in ("below/speeds.csv", "./below/speeds.csv", "in.csv"):
        (folder / "mine.toml").write_text(SAMPLE.format(f'"{name}"'), encoding="utf-8")
        assert len(sim.load(folder / "mine.toml").opponents.drive.speed.values) == 2  # type: ignore[union-attr]


def test_scenarios_that_commands_write_take_samples_along(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder)
    (folder / "below" / "speeds.csv").write_text("speed\n30\n34\n", encoding="utf-8")
    (folder / "mine.toml").write_text(SAMPLE.format('"below/speeds.csv"'), encoding="utf-8")
    quick = ("--no-figures", "-q")
    for words in (
        ("fit", "reach", "--height", "66 in", "--mark", "71 in", "--like", "mine.toml"),
        ("positions", "mine.toml", "--shots", "64", "--grid", "3 ft"),
    ):
        result = CliRunner().invoke(main, [*words, *quick, "--out", "elsewhere/" + words[0]])
        assert result.exit_code == 0, result.output
    for written in ("fit/fit.toml", "positions/best.toml"):
        again = sim.load(folder / "elsewhere" / written)
        assert again.opponents == sim.load(folder / "mine.toml").opponents


def test_a_file_of_no_kind_is_no_scenario(folder: Path) -> None:
    os.mkfifo(folder / "pipe.toml")
    (folder / "device.toml").symlink_to("/dev/zero")
    (folder / "loop.toml").symlink_to("loop.toml")
    (folder / "a\x07.toml").write_text('name = "a"', encoding="utf-8")
    for name, why in (
        ("pipe.toml", "is a pipe or a device"),
        ("device.toml", "is a pipe or a device"),
        ("loop.toml", "there is no such file"),
        ("below/", "is a folder"),
        ("a\x07.toml", "its name holds control characters"),
        ("n" * 5000 + ".toml", "there is no such file"),
        ("n" * 5000 + "/x", "there is no such file"),
        ("a\0.toml", "there is no such file"),
        ("a\0", "is not a bundled scenario"),
        ("n" * 5000, "is not a bundled scenario"),
    ):
        given = f"{folder}/{name}" if "." in name or "/" in name else name
        with pytest.raises(sim.ScenarioError, match=why):
            sim.load(given)


def test_a_link_to_a_scenario_is_the_scenario(folder: Path) -> None:
    (folder / "below" / "real.toml").write_text('name = "real"', encoding="utf-8")
    (folder / "linked.toml").symlink_to("below/real.toml")
    file = read(folder / "linked.toml")
    # It is called what it is given as, and its samples are looked for beside the link.
    assert (file.short_name, file.folder) == ("linked", folder)


def test_what_is_no_scenario_is_not_shown(folder: Path) -> None:
    (folder / "link.toml").symlink_to(folder.parent / "other.toml")
    result = CliRunner().invoke(main, ["scenario", "show", str(folder / "link.toml")])
    assert result.exit_code == 2
    assert SECRET not in result.output
