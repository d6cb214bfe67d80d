"""Names that would do harm if anything took them for more than text, through every command."""

from __future__ import annotations

import csv
import json
import os
import re
import unicodedata
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner

import sim
from sim.cli import main
from sim.outputs import write_table
from sim.scenario_files import read
from sim.toml_text import toml_text

NAMES = (
    '=HYPERLINK("http://x";"y")',
    "<script>window.hacked=1</script>",
    "＠SUM(1+1)|$\\frac{1}{2}$",
    "' =1]]> `x` **b** [a](http://x) {{7*7}}",
    "-2+3 a\u0301\u0300\u0316\u0330 \U0001f3d3 \u05d0\u05d1 &lt;b&gt;",
)
QUESTION = "\"><img src=x onerror=window.hacked=1> $x$ {% raw %} | 'why' </style> &amp; --> ]]>"
RULES = ("halves", "follow", "centre", "bisect", "tethered")
SCENARIO = {
    "extends": "club-sixties",
    "name": "+cmd|' /C calc'!A0 <b>$a$ [x](y)",
    "question": QUESTION,
    "return_of_serve": {"directions": ["cross"]},
    "policies": [{"name": n, "rule": r} for n, r in zip(NAMES, RULES, strict=True)],
}
TAME = SCENARIO | {
    "name": "A pair".ljust(len(SCENARIO["name"]), "r"),
    "question": "Which?".ljust(len(QUESTION), "h"),
    # As long as the others, which need as much room.
    "policies": [
        {"name": rule.ljust(len(n), rule[0]), "rule": rule}
        for n, rule in zip(NAMES, RULES, strict=True)
    ],
}
PAIR = ("--between", NAMES[1], NAMES[0])
# By the folder of their results.
COMMANDS: dict[str, tuple[str, ...]] = {
    "compare": ("compare", "given.toml", "--shots", "64", "--every-shot"),
    "doubts": (*("compare", "given.toml", "--shots", "64"), "--with-uncertainty", "=draws.csv"),
    "approach": ("approach", "given.toml", "--shots", "64"),
    "counter": ("counter", "given.toml", "--shots", "64", "--no-grid"),
    "handout": ("handout", "given.toml", "--shots", "64"),
    "positions": ("positions", "given.toml", "--shots", "64", "--grid", "3 ft"),
    "report": ("report", "given.toml", "--shots", "64", "--no-inputs"),
    "sensitivity": (
        *("sensitivity", "given.toml", "--shots", "16", "--settings", "32", *PAIR),
        *("--only", "opponents.errors", "--with-uncertainty", "=draws.csv"),
    ),
    "shot": ("shot", "given.toml", "--shots", "64", "--number", "3"),
    "sweep": ("sweep", "given.toml", "--shots", "64", "--vary", "spacing=6:8:1 ft"),
    "fit": ("fit", "runs", "=chart.csv", "--player", "left", "--like", "given.toml"),
}
BIDI = frozenset({"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"})
NUMBER = re.compile(r"[+-]?[\d.]+(e[+-]?\d+)?( [a-z/%]+)?", re.ASCII)


def check_plain(text: str, where: str) -> None:
    """No letter that a terminal, an editor or a reader's eye obeys."""
    for letter in set(text) - {"\n"}:
        acts = unicodedata.category(letter) in ("Cc", "Cs", "Zl", "Zp")
        assert not acts, f"{where}: {letter!r}"
        assert unicodedata.bidirectional(letter) not in BIDI, f"{where}: {letter!r}"


def is_taken_for_a_formula(cell: str) -> bool:
    bare = cell.lstrip(' "\u00a0\u3000')
    return bare[:1] in tuple("=+-@＝＋－＠\t\r\n") and not NUMBER.fullmatch(cell)


def check_table(text: str, where: str) -> None:
    for row in csv.reader(text.splitlines()):
        for cell in row:
            assert not is_taken_for_a_formula(cell), f"{where}: {cell}"


class _Tags(HTMLParser):
    """All tags of a page with the names of their attributes."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: set[tuple[str, ...]] = set()
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.add((tag, *(name for name, _ in attrs)))


def check_page(text: str, where: str, tame: str) -> None:
    """Names add nothing to a page: the same kinds of tags as with plain names."""
    assert _Tags(text).found == _Tags(tame).found, where


def check_markdown(text: str, where: str) -> None:
    bare = re.sub(r"\\.", "", text)
    assert "<script" not in bare, where
    assert "[a](" not in bare, where
    tables = re.findall(r"(?:^\|.*\n)+", bare, re.MULTILINE)
    assert tables, where
    for table in tables:
        assert len({line.count("|") for line in table.splitlines()}) == 1, f"{where}: {table}"


def check_folder(folder: Path, tame: Path) -> Iterator[str]:
    """Look at every file that a command has written; their endings."""
    for path in sorted(folder.iterdir()):
        assert re.fullmatch(r"[a-z0-9_.-]+", path.name), path.name
        yield path.suffix
        if path.suffix in (".png", ".gif", ".pdf"):
            continue
        text = path.read_bytes().decode("utf-8")
        check_plain(text, str(path))
        if path.suffix == ".csv":
            check_table(text, str(path))
        elif path.suffix == ".svg":
            ElementTree.fromstring(text)
        elif path.suffix == ".json":
            assert json.loads(text)["scenario_tables"]["name"] in (SCENARIO["name"], TAME["name"])
        elif path.suffix == ".html":
            check_page(text, str(path), (tame / path.name).read_text(encoding="utf-8"))
        elif path.suffix == ".md":
            check_markdown(text, str(path))
        elif path.suffix == ".toml":
            assert sim.load(path).policies[1].name == NAMES[1]
        else:
            assert path.suffix == ".txt", path.name


@pytest.fixture
def anywhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "given.toml").write_text(toml_text(SCENARIO), encoding="utf-8")
    (tmp_path / "tame.toml").write_text(toml_text(TAME), encoding="utf-8")
    rows = "".join(f"{12.0 + k / 20:.2f} ft/s\n" for k in range(20))
    (tmp_path / "=draws.csv").write_text(f"pair.left.top_speed\n{rows}", encoding="utf-8")
    dashes = "15 ft,2.05,=1+1\n25 ft,2.9,\x1b[2J\u202e\x9b2J\n"
    head = "distance,seconds,=cmd \x1b[31m\u202enote\n"
    (tmp_path / "=chart.csv").write_text(head + dashes, encoding="utf-8")
    return tmp_path


def played(words: tuple[str, ...], out: str) -> None:
    result = CliRunner().invoke(main, [*words, "--out", out])
    assert result.exit_code == 0, result.output
    check_plain(result.stdout + result.stderr, out)


SLOW = ("approach", "report", "sensitivity")


@pytest.mark.parametrize(
    "command", [pytest.param(c, marks=pytest.mark.slow if c in SLOW else ()) for c in COMMANDS]
)
def test_every_file_and_word_is_plain_text(anywhere: Path, command: str) -> None:
    words = (*COMMANDS[command], "--no-figures")
    played(words, "given")
    if command in ("report", "handout"):
        played(tuple(word.replace("given.toml", "tame.toml") for word in words), "tame")
    endings = set(check_folder(anywhere / "given", anywhere / "tame"))
    assert {".csv", ".json"} <= endings


@pytest.mark.slow
@pytest.mark.parametrize("command", [*COMMANDS, "draw"])
def test_every_figure_is_drawn_of_names_as_they_are(anywhere: Path, command: str) -> None:
    words = COMMANDS.get(command, ("draw", "given.toml", "--shots", "64", *PAIR))
    played(words, "given")
    if command in ("report", "handout"):
        played(tuple(word.replace("given.toml", "tame.toml") for word in words), "tame")
    endings = set(check_folder(anywhere / "given", anywhere / "tame"))
    assert endings & {".png", ".svg", ".pdf", ".html"}
    if command == "compare":
        # Dollar signs would make a formula of a name, drawn in other letters.
        for policy in sim.load("given.toml").policies:
            root = ElementTree.parse(anywhere / "given" / f"court-{policy.slug}.svg").getroot()
            assert policy.name in " ".join(root.itertext())


def test_scenarios_are_shown_and_checked_in_plain_text(anywhere: Path) -> None:
    text = toml_text(SCENARIO) + "# \u202e\u2028\u009b2J of a remark\n"
    (anywhere / "given.toml").write_text(text, encoding="utf-8")
    for words in (("show",), ("show", "--full"), ("check",)):
        result = CliRunner().invoke(main, ["scenario", *words, "given.toml"])
        assert result.exit_code == 0, result.output
        check_plain(result.output, str(words))


# --- cells --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "cell",
    [
        *("=1+1", "+cmd", "-cmd", "@SUM(A1)", " =1", "\u00a0=1"),
        *("\u3000=1", '"=1', "' =1", "''=1", "＝1+1", "＋1+1", "－cmd", "＠SUM", "-1+1", "+1 2"),
        *("-2 ft'!A1", "-1 ft =1", "- 1", "-", "="),
    ],
)
def test_no_cell_is_a_formula(tmp_path: Path, cell: str) -> None:
    write_table(tmp_path / "table.csv", [{cell: cell}])
    with (tmp_path / "table.csv").open(encoding="utf-8", newline="") as file:
        assert [*csv.reader(file)] == [[f"'{cell}"], [f"'{cell}"]]


@pytest.mark.parametrize(
    ("cell", "written"),
    [("\t=1", "\\x09=1"), ("\r=1", "\\x0d=1"), ("\n=1", "\\x0a=1"), ("\ufeff=1", "\\ufeff=1")],
)
def test_control_characters_in_cells_are_spelt_out(tmp_path: Path, cell: str, written: str) -> None:
    write_table(tmp_path / "table.csv", [{"name": cell}])
    assert (tmp_path / "table.csv").read_bytes().decode() == f"name\n{written}\n"


@pytest.mark.parametrize(
    ("value", "cell"),
    [
        (-1.5, "-1.5"),
        (-3, "-3"),
        ("-1.5", "-1.5"),
        ("-1.25 ft", "-1.25 ft"),
        ("+3e-05 m/s", "+3e-05 m/s"),
        ("-4 %", "-4 %"),
        ("a = b", "a = b"),
        ("half-way", "half-way"),
        ("'t Hooft", "'t Hooft"),
        ("−1", "−1"),
        ("", ""),
    ],
)
def test_numbers_and_plain_names_stay_as_they_are(tmp_path: Path, value: object, cell: str) -> None:
    write_table(tmp_path / "table.csv", [{"a": value, "b": 1}])
    assert (tmp_path / "table.csv").read_text(encoding="utf-8") == f"a,b\n{cell},1\n"


# --- what becomes part of file names ------------------------------------------------------------


@pytest.mark.parametrize(
    ("names", "why"),
    [
        (("a b", "a-b"), 'the names "a b" and "a-b" are the same, or nearly so'),
        (("A", "a"), 'the names "A" and "a" are the same, or nearly so'),
        (("Über", "uber"), 'the names "Über" and "uber" are the same, or nearly so'),
        (("../../x", "x"), 'the names "../../x" and "x" are the same, or nearly so'),
        (("a/b", "a\\b"), 'the names "a/b" and "a\\b" are the same, or nearly so'),
        (("con", "con."), 'the names "con" and "con." are the same, or nearly so'),
        (("Σ 1", "x", "Ω 1"), 'the names "Σ 1" and "Ω 1" are the same, or nearly so'),
        (("Σ 1", "Ω 1"), "only a to z and digits count"),
        (("...",), "needs a letter or digit"),
        (("\U0001f3d3",), "needs a letter or digit"),
        (("a" * 41,), "at most 40 characters"),
        (("a" * 300,), "at most 40 characters"),
        ((" ",), "must not be empty"),
        (("a\u202eb",), "without control characters"),
        (("a\u200bb",), "without control characters"),
        (("a\nb",), "without control characters"),
        (("a\x9bb",), "without control characters"),
        (("a\ue000b",), "without control characters"),
    ],
)
def test_names_that_would_share_a_file_are_refused(names: tuple[str, ...], why: str) -> None:
    with pytest.raises(sim.ScenarioError) as caught:
        sim.load(None, {"policies": [{"name": name, "rule": "halves"} for name in names]})
    assert why in str(caught.value)
    check_plain(str(caught.value), why)


def test_policies_are_safe_file_names() -> None:
    names = ("../../x", "con", "a/b", "c...", "d\u0301e\u0301", "C:\\e", "~f")
    loaded = sim.load(None, {"policies": [{"name": name, "rule": "halves"} for name in names]})
    slugs = [policy.slug for policy in loaded.policies]
    assert slugs == ["x", "con", "a-b", "c", "de", "c-e", "f"]


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such names")
@pytest.mark.parametrize(
    ("file", "name"),
    [
        ("mine.toml", "mine"),
        ("..toml", "scenario"),
        ("...toml", "scenario"),
        ("....toml", "scenario"),
        (". .toml", "scenario"),
        ("a. .toml", "a"),
        (".hidden.toml", "hidden"),
        ("=cmd.toml", "=cmd"),
        ("\U0001f3d3.toml", "\U0001f3d3"),
        ("n" * 240 + ".toml", "n" * 150),
        ("\u00e9" * 120 + ".toml", "\u00e9" * 75),
    ],
)
def test_results_stay_in_a_folder_of_their_own(anywhere: Path, file: str, name: str) -> None:
    (anywhere / file).write_text('name = "a"', encoding="utf-8")
    assert read(anywhere / file).short_name == name
    before = set(anywhere.iterdir())
    result = CliRunner().invoke(
        main, ["compare", f"./{file}", "--shots", "16", "--no-figures", "-q", "--force"]
    )
    assert result.exit_code == 0, result.output
    assert set(anywhere.iterdir()) - before == {anywhere / "reachshare-out"}
    assert [path.name for path in (anywhere / "reachshare-out").iterdir()] == [name]
