"""The command line as a user meets it: output, files, refusals and exit codes."""

from __future__ import annotations

import csv
import json
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from sim.cli import main
from sim.scenario_files import bundled, load

QUICK = ("--shots", "256", "--no-figures")


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture
def anywhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_compare_needs_nothing_but_the_command(anywhere: Path) -> None:
    result = run("compare", *QUICK)
    assert result.exit_code == 0, result.stderr
    folder = anywhere / "reachshare-out" / "club-sixties"
    names = {path.name for path in folder.iterdir()}
    tables = {f"{name}.csv" for name in ("summary", "differences", "leaks", "lateral", "run_in")}
    assert names == {"manifest.json", *tables}
    for word in (
        "Club pair in their sixties",
        "After returns cross-court",
        "baseline",
        "Of 100",
    ):
        assert word in result.stdout
    assert "never back-pedal" in result.stdout
    assert "not medical or safety advice" in result.stdout
    assert "Results in" in result.stderr
    assert "Results in" not in result.stdout


def test_tables_agree_with_each_other(anywhere: Path) -> None:
    assert run("compare", *QUICK, "--quiet").exit_code == 0
    folder = anywhere / "reachshare-out" / "club-sixties"
    summary = rows(folder / "summary.csv")
    for row in summary:
        assert int(row["net"]) + int(row["out"]) + int(row["in_play"]) == int(row["shots"])
        assert int(row["reached"]) + int(row["through"]) == int(row["in_play"])
    whole = {
        row["policy"]: int(row["through"])
        for row in summary
        if (row["return_direction"], row["shot"], row["lane"]) == ("all", "all", "all")
    }
    leaks: dict[str, int] = dict.fromkeys(whole, 0)
    for row in rows(folder / "leaks.csv"):
        if (row["return_direction"], row["shot"]) == ("all", "all"):
            leaks[row["policy"]] += int(row["balls"])
    assert leaks == whole


def test_same_seed_same_bytes_and_seed_zero_is_a_seed(anywhere: Path) -> None:
    for out, seed in (("a", "0"), ("b", "0"), ("c", "1")):
        assert run("compare", *QUICK, "--seed", seed, "--out", out, "-q").exit_code == 0
    names = sorted(path.name for path in (anywhere / "a").iterdir())
    assert all(
        (anywhere / "a" / n).read_bytes() == (anywhere / "b" / n).read_bytes() for n in names
    )
    first, other = (anywhere / folder / "summary.csv" for folder in "ac")
    assert first.read_bytes() != other.read_bytes()


def test_figures_and_report_page_are_written(anywhere: Path) -> None:
    result = run("compare", "how-far-apart", "--shots", "128", "--units", "metric")
    assert result.exit_code == 0, result.stderr
    folder = anywhere / "reachshare-out" / "how-far-apart"
    page = (folder / "report.md").read_text(encoding="utf-8")
    pictures = re.findall(r"\]\(([^)]+)\)", page)
    assert len(pictures) >= 3
    for picture in pictures:
        assert (folder / picture).stat().st_size > 1000
        assert (folder / picture).with_suffix(".svg").stat().st_size > 1000
    assert "[A] our assumption" in page
    assert "never back-pedal" in page
    manifest = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    written = {path.name for path in folder.iterdir()} - {"manifest.json"}
    assert set(manifest["files"]) == written


def test_every_shot_has_a_row_for_every_policy(anywhere: Path) -> None:
    assert run("compare", "--shots", "40", "--no-figures", "--every-shot").exit_code == 0
    shots = rows(anywhere / "reachshare-out" / "club-sixties" / "shots.csv")
    assert len(shots) == 40 * 3 * 6
    summary = rows(anywhere / "reachshare-out" / "club-sixties" / "summary.csv")
    control = sum(row["outcome"] == "in control" for row in shots if row["policy"] == "halves")
    assert control == int(summary[0]["in_control"])
    for row in shots:
        if row["outcome"] in ("in control", "at full stretch"):
            assert row["player"]
            assert row["hand"]
            assert float(row["hit_z_ft"]) >= 0.0
        if row["outcome"] == "in control":
            assert float(row[f"{row['player']}_spare_s"]) >= 0.0


def test_manifest_tells_every_default_with_its_tag(anywhere: Path) -> None:
    assert run("compare", *QUICK).exit_code == 0
    path = anywhere / "reachshare-out" / "club-sixties" / "manifest.json"
    manifest = json.loads(path.read_text(encoding="utf-8"))
    assert manifest["defaults"]["run_in.split_step_lead"]["tag"] == "A"
    assert manifest["defaults"]["run_in.late_without_split_step"]["value"] == "0.104 s"
    assert manifest["defaults"]["ball.mass"]["tag"] == "S"
    assert "opponents.level" not in manifest["defaults"]
    assert manifest["scenario_tables"]["opponents"]["level"] == "3.5"
    assert manifest["seed"] == 1


def test_another_runs_results_are_never_overwritten(anywhere: Path) -> None:
    assert run("compare", *QUICK, "--out", "here").exit_code == 0
    before = {path.name: path.read_bytes() for path in (anywhere / "here").iterdir()}
    assert run("compare", *QUICK, "--out", "here").exit_code == 0, (
        "the very same run may be repeated"
    )
    refused = run("compare", *QUICK, "--out", "here", "--seed", "7")
    assert refused.exit_code == 2
    assert "another run (other settings of the scenario)" in refused.stderr
    metric = run("compare", *QUICK, "--out", "here", "--units", "metric")
    assert metric.exit_code == 2
    assert "another run (other --units)" in metric.stderr
    assert "--force" in refused.stderr
    assert {path.name: path.read_bytes() for path in (anywhere / "here").iterdir()} == before
    assert run("compare", *QUICK, "--out", "here", "--seed", "7", "--force").exit_code == 0
    assert (anywhere / "here" / "summary.csv").read_bytes() != before["summary.csv"]


def test_force_removes_only_what_the_earlier_run_wrote(anywhere: Path) -> None:
    folder = anywhere / "here"
    assert run("compare", *QUICK, "--every-shot", "--out", "here").exit_code == 0
    (folder / "my notes.txt").write_text("mine", encoding="utf-8")
    manifest = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    manifest["files"]["../precious.txt"] = "0" * 64
    (folder / "manifest.json").write_text(json.dumps(manifest), encoding="utf-8")
    (anywhere / "precious.txt").write_text("mine", encoding="utf-8")
    assert run("compare", *QUICK, "--out", "here", "--force").exit_code == 0
    assert not (folder / "shots.csv").exists()
    assert (folder / "my notes.txt").exists()
    assert (anywhere / "precious.txt").exists()


def test_a_folder_of_other_files_is_refused(anywhere: Path) -> None:
    (anywhere / "letters").mkdir()
    (anywhere / "letters" / "summary.csv").write_text("mine", encoding="utf-8")
    (anywhere / "file").write_text("mine", encoding="utf-8")
    for out in ("letters", "file"):
        refused = run("compare", *QUICK, "--out", out)
        assert refused.exit_code == 2
        assert out in refused.stderr
    assert (anywhere / "letters" / "summary.csv").read_text(encoding="utf-8") == "mine"
    assert list((anywhere / "letters").iterdir()) == [anywhere / "letters" / "summary.csv"]


def test_nothing_is_left_when_writing_fails(
    anywhere: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("sim.outputs.write_manifest", full)
    result = run("compare", *QUICK, "--out", "deep/here")
    assert result.exit_code == 2
    assert "No space left on device" in result.stderr
    assert list(anywhere.rglob("*")) == []


BAD = {
    'pair.left.height = "9 ft"': "must lie between 4 ft and 7 ft 6 in",
    'pair.left.hight = "5 ft"': 'did you mean "height"',
    'pair.left.handed = "lefft"': 'did you mean "left"',
    "pair.left.reaction = 0.3": "the unit is missing",
    'opponents.level = "3.7"': "must be one of 3.0, 3.5",
    'opponents.level = ["3.5"]': "must be one of 3.0, 3.5",
    "pair.left.age_group = {a = 1}": "must be one of thirties",
    'opponents.drive = "fast"': "must be a table",
    'opponents.drive.speed = {mean = "38 mph", sd = "2 mph"}': "kind: must be given",
    'opponents.drive.speed = {kind = "normal", mean = "38 mph"}': "sd",
    'opponents.drive.speed = {kind = "normal", mean = "38 mph", sd = "20 mph"}': "truncated",
    'opponents.inset = {kind = "sample", file = "no", column = "a", unit = "ft"}': "cannot read",
    "pair = 5": "must be a table",
    "policies = 5": "must be a list",
    'policies.follow.spacing = "6 ft"': "reachshare sweep, such as --vary",
    'opponents.drive.speed = {kind = "lits"}': "triangular, list, sample (did you mean",
    'pair.extends = "fast-hitters"': "pair.extends: unknown key",
    "opponents.level = 9223372036854775808": "9223372036854775808: whole numbers lie between",
    'run.shots = "5"': "integer",
    "run.seed = true": "integer",
    "opponents.lanes = {line = 1}": "opponents.lanes.middle: must be given",
    'opponents.drive.speed = "nan mph"': "not a number with a unit",
    'opponents.drive.speed = {kind = "norml", mean = "38 mph"}': 'did you mean "normal"',
    'opponents.drive.speed = {kind = "normal", mean = "38 mph", sd = "-2 mph"}': "negative",
    "opponents.lanes = {line = 0, middle = 0, cross = 0}": "above 0",
    "opponents.shots.drive = nan": "finite",
    'air.temperature = "200 C"': "between -20 C and 50 C",
    "run.shots = 0": "greater than or equal to 1",
    "run.seed = -1": "greater than or equal to 0",
    'run.baseline = "nobody"': "is not a policy",
    'policies = [{name = "a", rule = "folow"}]': 'did you mean "follow"',
    "policies = []": "at least 1",
    'policies = [{name = "a", rule = "halves"}, {name = "A", rule = "centre"}]': '"a" and "A"',
    'policies = [{name = "a\\u001b[2J", rule = "halves"}]': "control characters",
    'name = ""': "must not be empty",
    'extends = "../../etc/passwd"': "not a bundled scenario",
    'extends = "club-sixtie"': 'did you mean "club-sixties"',
    'return_of_serve.directions = ["line", "line"]': "only once",
    'pair.left.full_stretch = "3 ft"': "without a lunge",
    "= 5": "not valid TOML",
}


@pytest.mark.parametrize(("line", "reason"), BAD.items())
def test_bad_scenarios_are_refused_with_a_reason(anywhere: Path, line: str, reason: str) -> None:
    file = anywhere / "bad.toml"
    file.write_text(line + "\n", encoding="utf-8")
    for command in (("compare", file), ("scenario", "check", file)):
        result = run(*command)
        assert result.exit_code == 2, result.output
        assert reason in result.stderr
        assert "bad.toml" in result.stderr
    assert [path.name for path in anywhere.iterdir()] == ["bad.toml"]


def test_errors_spell_control_characters_out(anywhere: Path) -> None:
    # Off a terminal click strips escapes, so the error itself is looked at.
    import sim

    for line in ('"\\u001b[2Jx" = 5', '[pair.left]\n"\\u001b[2Jx" = "5 ft"', 'name = "\\u001b[2J"'):
        (anywhere / "bad.toml").write_text(line, encoding="utf-8")
        with pytest.raises(sim.ScenarioError) as caught:
            sim.load("bad.toml")
        assert "\x1b" not in str(caught.value)
        assert "\\x1b" in str(caught.value)


def test_new_policies_leave_the_old_baseline_behind(anywhere: Path) -> None:
    import sim

    policies = [{"name": "one", "rule": "centre"}, {"name": "two", "rule": "follow"}]
    assert sim.load("club-sixties", {"policies": policies}).baseline.name == "one"
    refused = run("compare", "--no-figures", "--set", "run=5")
    assert refused.exit_code == 2
    assert "run = 5: must be a table" in refused.stderr


def test_a_failed_replacement_leaves_the_earlier_results(
    anywhere: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import os

    assert run("compare", *QUICK, "--out", "here").exit_code == 0
    before = {path.name: path.read_bytes() for path in (anywhere / "here").iterdir()}
    really = os.replace

    def locked(source: Path, target: Path) -> None:
        fresh = Path(source).read_bytes() != before["manifest.json"]
        if Path(target).resolve() == anywhere.resolve() / "here" / "manifest.json" and fresh:
            raise PermissionError(13, "locked")
        really(source, target)

    monkeypatch.setattr("sim.outputs.os.replace", locked)
    result = run("compare", *QUICK, "--out", "here", "--seed", "3", "--force")
    assert result.exit_code == 2
    assert "locked" in result.stderr
    assert {path.name: path.read_bytes() for path in (anywhere / "here").iterdir()} == before
    assert [path.name for path in anywhere.iterdir()] == ["here"]


def test_unknown_names_and_files_are_refused(anywhere: Path) -> None:
    for word, reason in (
        ("club-sixtys", 'did you mean "club-sixties"'),
        ("missing.toml", "no such file"),
        ("no/such/thing", "no such file"),
    ):
        result = run("compare", word)
        assert result.exit_code == 2
        assert reason in result.stderr
    (anywhere / "latin.toml").write_bytes(b'name = "Caf\xe9"\n')
    assert "UTF-8" in run("scenario", "check", "latin.toml").stderr
    result = run("compair")
    assert result.exit_code == 2
    assert "compare" in result.stderr
    assert not (anywhere / "reachshare-out").exists()


def test_settings_can_be_changed_on_the_command_line(anywhere: Path) -> None:
    result = run("compare", *QUICK, "--set", "pair.left.height=9 ft")
    assert result.exit_code == 2
    assert "pair.left.height" in result.stderr
    assert run("compare", *QUICK, "--set", "nonsense").exit_code == 2
    other = run("compare", *QUICK, "--set", "extends=fast-hitters")
    assert other.exit_code == 2
    assert "extends: stands only at the top of a scenario file" in other.stderr
    assert "did you mean" not in other.stderr
    tall = ("--set", "pair.left.height=6 ft 6 in", "--set", 'opponents.level="5.0"')
    assert run("compare", *QUICK, *tall, "--out", "tall").exit_code == 0
    manifest = json.loads((anywhere / "tall" / "manifest.json").read_text(encoding="utf-8"))
    assert manifest["scenario_tables"]["pair"]["left"]["height"] == "6 ft 6 in"
    assert manifest["scenario_tables"]["opponents"]["level"] == "5.0"


def test_a_new_scenario_runs_as_it_is_and_is_not_overwritten(anywhere: Path) -> None:
    assert run("scenario", "new", "Zoë's pair.toml", "--like", "tall-and-short").exit_code == 0
    assert run("scenario", "check", "Zoë's pair.toml").exit_code == 0
    assert run("compare", "Zoë's pair.toml", *QUICK).exit_code == 0
    assert (anywhere / "reachshare-out" / "Zoë's pair" / "summary.csv").exists()
    text = (anywhere / "Zoë's pair.toml").read_text(encoding="utf-8")
    assert run("scenario", "new", "Zoë's pair.toml").exit_code == 2
    assert (anywhere / "Zoë's pair.toml").read_text(encoding="utf-8") == text
    assert run("scenario", "new", "pair.txt").exit_code == 2
    assert run("scenario", "new", "pair.toml", "--like", "nobody").exit_code == 2


def words_of(command: str) -> list[str]:
    """What a shell makes of a command line: its words."""
    code = f"for word in {command.strip()}; do printf '%s\\0' \"$word\"; done"
    done = subprocess.run(["sh", "-c", code], capture_output=True, text=True, check=True)
    return done.stdout.split("\0")[:-1]


@pytest.mark.parametrize(
    "name",
    ["pair.toml", "my pair.toml", "my pair's.toml", "a; id.toml", "-x.toml", "$HOME `x`.toml"],
)
def test_what_is_printed_to_be_copied_can_be(name: str, anywhere: Path) -> None:
    """A shell takes it apart into the words that name the files."""
    made = run("scenario", "new", "--", name)
    command = words_of(made.stderr.split("then: ")[1])
    assert command[:-1] == ["reachshare", "compare"]
    assert not command[-1].startswith("-")
    assert run("scenario", "check", command[-1]).exit_code == 0
    fit = ("fit", "reach", "--height", "5 ft 7 in", "--mark", "70 in", "--no-figures")
    fitted = run(*fit, "--draws", "20", f"--out={name}.fit")
    command = words_of(fitted.stdout.split("Next: ")[1])
    assert command[:2] == ["reachshare", "compare"]
    assert all(Path(word).is_file() for word in (command[2], command[4]))
    assert run(*command[1:], *QUICK, "--settings", "20").exit_code == 0


@pytest.mark.parametrize("name", bundled())
def test_an_unfilled_template_is_the_scenario_it_builds_on(name: str, anywhere: Path) -> None:
    assert run("scenario", "new", "mine.toml", "--like", name).exit_code == 0
    own, parent = load("mine.toml"), load(name)
    same = {"name": parent.name, "question": parent.question}
    assert own.model_copy(update=same).digest() == parent.digest()


def test_one_policy_is_not_called_policies(anywhere: Path) -> None:
    one = "[[policies]]\nname = 'a'\nrule = 'halves'\n"
    for text, said in (
        (one, "good: own, 1 policy\n"),
        (one + one.replace("'a'", "'b'"), ", 2 policies\n"),
    ):
        Path("own.toml").write_text(text, encoding="utf-8")
        assert run("scenario", "check", "own.toml").stdout.endswith(said)


def test_a_file_without_its_ending_is_named(anywhere: Path) -> None:
    assert run("scenario", "new", "mine.toml").exit_code == 0
    assert '"mine.toml"' in run("scenario", "check", "mine").stderr


def test_every_remark_of_the_template_is_a_valid_line(anywhere: Path) -> None:
    assert run("scenario", "new", "mine.toml").exit_code == 0
    lines = (anywhere / "mine.toml").read_text(encoding="utf-8").splitlines()
    setting = re.compile(r"# (\[|\w+ = )")
    uncommented = [line[2:] if setting.match(line) else line for line in lines]
    (anywhere / "full.toml").write_text("\n".join(uncommented), encoding="utf-8")
    result = run("scenario", "check", "full.toml")
    assert result.exit_code == 0, result.stderr
    assert sum(a != b for a, b in zip(lines, uncommented, strict=True)) > 8


def test_scenarios_are_listed_and_shown() -> None:
    listed = run("scenario", "list").stdout
    assert len(listed.splitlines()) >= 5
    assert run("scenario", "show", "seventies-lobs").stdout.startswith("# Players over seventy")
    full = run("scenario", "show", "--full", "--units", "metric").stdout
    assert re.search(r"pair.left.height +1.702 m +given", full)
    assert re.search(r"run_in.split_step_lead +0.15 s +\[A\] our assumption", full)


def test_schema_accepts_what_the_program_accepts_and_refuses_typing_errors() -> None:
    import tomllib

    import jsonschema

    from sim.scenario_files import bundled, bundled_folder

    schema = json.loads(run("scenario", "schema").stdout)
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    for name in bundled():
        tables = tomllib.loads((bundled_folder() / f"{name}.toml").read_text(encoding="utf-8"))
        assert list(validator.iter_errors(tables)) == []
    assert list(validator.iter_errors({"pair": {"left": {"hight": "5 ft"}}}))
    assert list(validator.iter_errors({"opponents": {"level": "3.7"}}))
    assert list(validator.iter_errors({"pair": {"left": {"height": 5}}}))


def test_stopped_while_it_loads_it_ends_without_a_word() -> None:
    """As if the key came while the first library is being loaded."""
    code = (
        "import sys\n"
        "class Key:\n"
        "    def find_spec(self, name, *_):\n"
        "        if name == 'click': raise KeyboardInterrupt\n"
        "from {module} import {function}\n"
        "sys.meta_path.insert(0, Key())\n"
        "{function}()"
    )
    pyproject = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text("utf-8"))
    module, function = pyproject["project"]["scripts"]["reachshare"].split(":")
    code = code.format(module=module, function=function)
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "")


@pytest.mark.parametrize("rubbish", [b"\xff\xfe\x00", b"backend: nonsense\nfont.size: large\n"])
def test_what_is_set_up_for_other_pictures_does_not_matter(rubbish: bytes, anywhere: Path) -> None:
    Path("matplotlibrc").write_bytes(rubbish)
    # As a notebook has it where matplotlib-inline is not installed for this Python.
    env = os.environ | {"MPLBACKEND": "module://nobody.has_this_backend"}
    code = (
        "import os, sys; from sim.cli import main\n"
        "try: main(sys.argv[1:])\n"
        "finally: print(os.environ['MPLBACKEND'], os.listdir())"
    )
    words = [sys.executable, "-c", code, "compare", "--shots", "64", "--quiet", "--out", "out"]
    done = subprocess.run(words, env=env, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    assert Path("out/shares.png").is_file()
    last = done.stdout.splitlines()[-1]
    assert last.startswith("module://nobody.has_this_backend [")
    assert "'matplotlibrc'" in last


def test_importing_figures_leaves_the_backend_to_the_user(anywhere: Path) -> None:
    Path("matplotlibrc").write_text("lines.linewidth: 7\n", encoding="utf-8")
    code = (
        "import sim.figures, matplotlib as m; print(m.get_backend(), m.rcParams['lines.linewidth'])"
    )
    env = os.environ | {"MPLBACKEND": "svg"}
    words = [sys.executable, "-c", code]
    done = subprocess.run(words, env=env, capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["svg", "7.0"]


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys; from sim.cli import main\n"
        "try: main(['--help'])\n"
        "except SystemExit: pass\n"
        "heavy = {'numpy', 'scipy', 'pandas', 'matplotlib', 'pydantic'} & set(sys.modules)\n"
        "sys.exit(1 if heavy else 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=False)
    assert done.returncode == 0, done.stdout


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--precision", "1", "--shots", "64"), "--shots and --precision exclude each other"),
        (("--max-shots", "1000"), "--max-shots needs --precision"),
        (("--measure", "reached"), "--measure needs --precision"),
        (("--precision-of", "share"), "--precision-of needs --precision"),
        (("--all", "--between", "follow", "halves"), "--all and --between exclude each other"),
        (("--between", "follow", "halves", "--baseline", "halves"), "leave out --baseline"),
        (("--between", "folow", "halves"), '"folow" is not a policy'),
        (("--between", "halves", "halves"), "cannot be compared with itself"),
        (("--workers", "2", "--cluster", "tcp://127.0.0.1:1"), "exclude each other"),
        (("--precision", "-1"), "--precision"),
    ],
)
def test_options_that_do_not_go_together(anywhere: Path, words: tuple[str, ...], said: str) -> None:
    result = run("compare", *words)
    assert result.exit_code == 2
    assert said in result.stderr
    assert list(anywhere.iterdir()) == []


def test_only_two_policies_are_compared(anywhere: Path) -> None:
    result = run("compare", "--between", "follow", "halves", *("--shots", "256", "--no-figures"))
    assert result.exit_code == 0
    table = rows(anywhere / "reachshare-out" / "club-sixties" / "differences.csv")
    assert {(row["policy"], row["baseline"]) for row in table} == {("follow", "halves")}


def test_both_samplers_answer_alike(anywhere: Path) -> None:
    shares = []
    for sampling in ("quasi-random", "pseudo-random"):
        options = ("--sampling", sampling, "--shots", "2048", "--no-figures", "--out", sampling)
        assert run("compare", *options).exit_code == 0
        (row,) = (
            row
            for row in rows(anywhere / sampling / "summary.csv")
            if row["policy"] == "halves"
            and (row["return_direction"], row["shot"], row["lane"]) == ("all", "all", "all")
        )
        shares.append(tuple(float(row[f"in_control_{end}"]) for end in ("low", "high")))
    (low, high), (other_low, other_high) = shares
    assert shares[0] != shares[1]
    # Two 95 % intervals of one number: apart once in some two hundred times, and the seed is fixed.
    assert max(low, other_low) < min(high, other_high)
