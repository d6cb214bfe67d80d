"""CSV files of any kind, for every command that reads one: the right values, or a refusal."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

import sim
from sim.chart_forms import DASHES, THIRD_SHOTS
from sim.charts import read_chart
from sim.cli import main
from sim.errors import Refused
from sim.input_files import MOST_COLUMNS
from sim.joint_draws import check_limits, read_draws
from sim.scenario import Scenario

SCENARIO = sim.load()
SHOTS = "shot,result,landing_depth\n" + "drop,in,6 ft\n" * 20
DRAWS = "pair.left.top_speed,opponents.shots.drive\n" + "12.5 ft/s,48\n" * 20
SAMPLE = "player,speed\n" + "A,30\n" * 20
MEGABYTE = 1_000_000


def as_chart(path: Path) -> list[float]:
    return [row["landing_depth"] for row in read_chart(path, THIRD_SHOTS).rows]


def as_draws(path: Path) -> list[list[float]]:
    return read_draws(path, SCENARIO).values.tolist()


def as_sample(path: Path) -> list[float]:
    table = {"kind": "sample", "file": path.name, "column": "speed", "unit": "mph"}
    scenario = path.parent / "scenario.toml"
    scenario.write_text("", encoding="utf-8")
    speed = sim.load(scenario, {"opponents": {"drive": {"speed": table}}}).opponents.drive.speed
    return list(speed.values)  # type: ignore[union-attr]


posix = pytest.mark.skipif(os.name == "nt", reason="Windows has no such files")
Reader = Callable[[Path], object]
READERS: dict[str, tuple[Reader, str]] = {
    "chart": (as_chart, SHOTS),
    "draws": (as_draws, DRAWS),
    "sample": (as_sample, SAMPLE),
}
every_reader = pytest.mark.parametrize(("reader", "good"), READERS.values(), ids=READERS)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "given.csv"


def refusal(read: Callable[[Path], object], path: Path, text: str | bytes | None = None) -> str:
    if text is not None:
        path.write_bytes(text.encode() if isinstance(text, str) else text)
    with pytest.raises(Refused) as caught:
        read(path)
    said = str(caught.value)
    assert path.name in said
    assert len(said) < 10_000
    return said


def dash(path: Path, cell: str, header: str = "distance") -> float:
    path.write_text(f"{header};seconds\n{cell};2,1\n", encoding="utf-8")
    return float(read_chart(path, DASHES).rows[0]["distance"])


# --- the same in many spellings -----------------------------------------------------------------


@every_reader
@pytest.mark.parametrize(
    "respelt",
    [
        lambda text: ("\ufeff" + text).encode(),
        lambda text: text.encode("utf-16"),
        lambda text: b"\xff\xfe" + text.encode("utf-16-le"),
        lambda text: b"\xfe\xff" + text.encode("utf-16-be"),
        lambda text: text.replace(",", ";").encode(),
        lambda text: text.replace(",", "\t").encode(),
        lambda text: text.replace("\n", "\r\n").encode(),
        lambda text: text.replace("\n", "\r").encode(),
        lambda text: text.replace("\n", ",,,\n").encode(),
        lambda text: text.replace("\n", "\n\n ,\n").encode(),
        lambda text: text.replace(" ", "\u00a0").encode(),
        lambda text: text.translate({ord("0") + k: 0x660 + k for k in range(10)}).encode(),
        lambda text: ("# written by\n" + text).encode(),
    ],
    ids=[
        *("UTF-8 with mark", "UTF-16", "UTF-16 LE", "UTF-16 BE", "semicolons", "tabs", "CRLF"),
        *("CR", "empty cells at the end", "blank lines", "no-break spaces", "Arabic digits"),
        "remark",
    ],
)
def test_what_makes_no_difference(
    path: Path, reader: Reader, good: str, respelt: Callable[[str], bytes]
) -> None:
    path.write_text(good, encoding="utf-8")
    plain = reader(path)
    path.write_bytes(respelt(good))
    assert reader(path) == plain


def test_quoted_line_breaks_belong_to_their_cell(path: Path) -> None:
    path.write_text('shot,result,note\ndrop,in,"two\nlines"\nlob,out,\n', encoding="utf-8")
    rows = read_chart(path, THIRD_SHOTS).rows
    assert [row["shot"] for row in rows] == ["drop", "lob"]


def test_the_whole_width_of_a_spreadsheet_may_be_written(path: Path) -> None:
    path.write_text(SHOTS.replace("\n", "," * 16_380 + "\n"), encoding="utf-8")
    assert as_chart(path) == [6.0] * 20


def test_columns_in_another_order_say_the_same(path: Path) -> None:
    path.write_text("landing_depth,shot,note,result\n6 ft,drop,,in\n", encoding="utf-8")
    (row,) = read_chart(path, THIRD_SHOTS).rows
    assert (row["shot"], row["result"], row["landing_depth"]) == ("drop", "in", 6.0)


@pytest.mark.parametrize(
    ("cells", "feet"),
    [
        (("15 ft", "180 in", "4.572 m", "457.2 cm"), 15.0),
        (("15,5 ft", "15.5 ft", "4,7244 m"), 15.5),
        # A thousand times as far is no dash, so that the comma can only be a decimal one.
        (("12,500 ft",), 12.5),
    ],
)
def test_units_and_commas_are_read_cell_by_cell(
    path: Path, cells: tuple[str, ...], feet: float
) -> None:
    assert [dash(path, cell) for cell in cells] == pytest.approx([feet] * len(cells), rel=1e-12)


# --- what cannot be read safely -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("cell", "why"),
    [
        ("3,500 mm", "the comma may be a decimal one or stand in front of thousands"),
        ("1,234,567 mm", "this is not a number with a unit"),
        ("1.234,5 mm", "this is not a number with a unit"),
        ("1 234 mm", "this is not a number with a unit"),
        ("1'234 mm", "only feet and inches may be combined"),
        ("2024-05-01", "this is not a number with a unit"),
        ("NaN ft", "this is not a number with a unit"),
        ("inf", "this is not a number with a unit"),
        ("1e999 ft", "the number is too large"),
        ("1_5 ft", "this is not a number with a unit"),
        ("-15 ft", "must lie between 3 ft and 400 ft"),
        ("0.5 m", "must lie between 3 ft and 400 ft (0.9144 m and 121.9 m)"),
        ("=15 ft", "this is not a number with a unit"),
        ("15", "this is not a number with a unit; write a length with its unit"),
    ],
)
def test_a_value_that_may_mean_something_else_is_refused(path: Path, cell: str, why: str) -> None:
    with pytest.raises(Refused) as caught:
        dash(path, cell)
    said = str(caught.value)
    assert said.startswith(f'{path} line 2, distance = "{cell}": ')
    assert why in said


def test_the_limits_that_are_told_in_other_units_are_allowed(path: Path) -> None:
    for told in ("0.9144 m", "121.9 m", "91.44 cm", "12190 cm", "36 in", "4800 in"):
        dash(path, told)


@every_reader
@pytest.mark.parametrize(
    ("change", "why"),
    [
        (lambda text: "", "is empty|has no"),
        (lambda text: "\n ,, \n", "is empty|has no"),
        (lambda text: text.partition("\n")[0] + "\n", "no rows yet|has 0 draws|has no values"),
        (lambda text: text.partition("\n")[2], "missing|is not a number of this|has no column"),
        (lambda text: text.replace("\n", "\0\n"), "is not a text file"),
        (lambda text: text.encode("utf-16-le"), "is not a text file"),
        (lambda text: text.replace("\n", ",9\n", 2).replace(",9", "", 1), "line 2.* cells"),
        (lambda text: text.replace("\n", ',"9\n', 3), "line .*a quotation mark"),
        (lambda text: "a" * 200_000 + "\n" + text, "line 1: cannot be read: field larger"),
        (lambda text: "a," * (MOST_COLUMNS + 1) + "a\n", f"at most {MOST_COLUMNS}"),
        (lambda text: "a," * 900_000 + "a\n", "line 1: more than 16,384 cells"),
    ],
    ids=[
        *("nothing", "blank", "header only", "no header", "NUL", "UTF-16 without mark"),
        *("more cells", "open quotation", "long cell", "many columns", "a million columns"),
    ],
)
def test_a_file_that_is_no_table_is_refused(
    path: Path, reader: Reader, good: str, change: Callable[[str], str | bytes], why: str
) -> None:
    import re

    assert re.search(why, refusal(reader, path, change(good)))


@pytest.mark.parametrize(
    ("reader", "text", "why"),
    [
        (as_chart, SHOTS.replace("landing_depth", "shot"), "the column shot stands twice"),
        (as_draws, DRAWS.replace("opponents.shots.drive", "pair.both.top_speed"), "two columns"),
        (as_sample, SAMPLE.replace("player", "speed"), 'the column "speed" stands twice'),
        (as_draws, DRAWS.replace("48", "1_000", 1), 'line 2: opponents.shots.drive = "1_000"'),
        (as_draws, DRAWS.replace("48", "nan", 1), "line 2: opponents.shots.drive"),
        (as_draws, DRAWS.replace("12.5", "1e999", 1), "line 2: pair.left.top_speed"),
        (as_draws, DRAWS.replace("12.5 ft/s", '"12,5 ft/s"', 1), "line 2: pair.left.top_speed"),
        (as_draws, DRAWS.replace(",48", "", 1), "line 2: 1 cells under 2 keys"),
        (as_sample, SAMPLE.replace("30", "-30", 1), 'line 2, speed = "-30 mph": must lie between'),
        (as_sample, SAMPLE.replace("30", "30 mph", 1), "line 2, speed"),
        (as_draws, "caf\xe9,b\n".encode("cp1252"), "save it as CSV, UTF-8"),
        (as_sample, "caf\xe9,b\n".encode("cp1252"), "save it as CSV, UTF-8"),
    ],
)
def test_what_is_wrong_is_named(path: Path, reader: Reader, text: str | bytes, why: str) -> None:
    assert why in refusal(reader, path, text)


def test_rows_after_an_open_quotation_mark_are_not_lost(path: Path) -> None:
    # Read on, the second row would be part of the first one's note, and nobody would know.
    text = 'shot,result,note\ndrop,in,"good\nlob,out,"bad\n'
    assert "line 3: cannot be read: a quotation mark" in refusal(as_chart, path, text)


# --- what is no file, or has no end -------------------------------------------------------------


@posix
@every_reader
def test_only_files_are_opened(tmp_path: Path, reader: Reader, good: str) -> None:
    folder, pipe, device = (tmp_path / name for name in ("folder.csv", "pipe.csv", "device.csv"))
    folder.mkdir()
    os.mkfifo(pipe)
    # A sample may not be a link to elsewhere, whatever is there.
    device.symlink_to("/dev/zero")
    assert "is a folder" in refusal(reader, folder)
    assert "is a pipe or a device" in refusal(reader, pipe)
    assert "device" in refusal(reader, device) or reader is as_sample


@posix
@every_reader
def test_a_file_name_is_plain_text(tmp_path: Path, reader: Reader, good: str) -> None:
    path = tmp_path / "a\x1b[2J\u202e.csv"
    path.write_text(good, encoding="utf-8")
    with pytest.raises(Refused, match=r"control characters|a sample lies beside"):
        reader(path)


@pytest.mark.parametrize(
    ("limit", "reader", "good"),
    [
        ("sim.charts._LARGEST_FILE", as_chart, SHOTS),
        ("sim.joint_draws._LARGEST_FILE", as_draws, DRAWS),
        ("sim.samples._LARGEST_FILE", as_sample, SAMPLE),
    ],
)
def test_a_file_beyond_the_limit_is_refused(
    path: Path, monkeypatch: pytest.MonkeyPatch, limit: str, reader: Reader, good: str
) -> None:
    monkeypatch.setattr(limit, len(good))
    path.write_text(good, encoding="utf-8")
    assert reader(path)
    assert "larger than" in refusal(reader, path, good + " ")


def test_too_many_rows_are_refused(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for most, reader, good in (
        ("sim.charts._MOST_ROWS", as_chart, SHOTS),
        ("sim.joint_draws._MOST_DRAWS", as_draws, DRAWS),
        ("sim.samples.LARGEST_SAMPLE", as_sample, SAMPLE),
    ):
        monkeypatch.setattr(most, 20)
        path.write_text(good, encoding="utf-8")
        assert reader(path)
        more = good + good.splitlines()[-1] + "\n"
        assert "more than 20 rows" in refusal(reader, path, more)


def megabytes_taken(words: tuple[str, ...], folder: Path) -> tuple[float, str]:
    """Most memory of a run that is refused, and what it says."""
    code = (
        "import resource, sys\nfrom sim.cli import main\n"
        "try: main(sys.argv[1:])\n"
        "except SystemExit as end: code = end.code\n"
        "print(code, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *words],
        capture_output=True,
        text=True,
        cwd=folder,
        env=os.environ | {"PYTHONPATH": str(Path(sim.__file__).parents[1])},
        check=True,
    )
    exit_code, kilobytes = done.stdout.split()
    assert exit_code == "2", done.stderr
    return int(kilobytes) / 1024.0, done.stderr


@posix
@pytest.mark.slow
@pytest.mark.parametrize("row", ["drop,in,6 ft\n", "a", "a,"], ids=["rows", "a line", "columns"])
@pytest.mark.parametrize(
    "words",
    [
        ("fit", "shots", "given.csv"),
        ("fit", "runs", "given.csv"),
        ("compare", "--with-uncertainty", "given.csv"),
        ("sensitivity", "--between", "follow", "halves", "--with-uncertainty", "given.csv"),
        ("compare", "scenario.toml"),
    ],
)
def test_two_hundred_megabytes_are_refused_in_bounded_memory(
    tmp_path: Path, words: tuple[str, ...], row: str
) -> None:
    path = tmp_path / "given.csv"
    sample = 'kind = "sample", file = "given.csv", column = "speed", unit = "mph"'
    (tmp_path / "scenario.toml").write_text(f"opponents.drive.speed = {{ {sample} }}\n")
    path.write_text("", encoding="utf-8")
    usual, _ = megabytes_taken(words, tmp_path)
    with path.open("w", encoding="utf-8") as file:
        for _ in range(200):
            file.write(row * (MEGABYTE // len(row)))
    taken, said = megabytes_taken(words, tmp_path)
    assert "given.csv: larger than" in said
    # No limit is above 20 MB, of which a buffer may hold one more.
    assert taken - usual < 45.0
    assert sorted(each.name for each in tmp_path.iterdir()) == ["given.csv", "scenario.toml"]


# --- commands -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "words",
    [
        ("fit", "shots", "given.csv"),
        ("fit", "runs", "given.csv"),
        ("compare", "--with-uncertainty", "given.csv"),
        ("sensitivity", "--between", "follow", "halves", "--with-uncertainty", "given.csv"),
    ],
)
def test_a_refusal_leaves_nothing_behind(
    path: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...]
) -> None:
    monkeypatch.chdir(path.parent)
    for data in (b"", b"\0" * 100, b"a,b\n1,2\n", b'"', b"\x1b[2J\x9b\n1\n"):
        path.write_bytes(data)
        result = CliRunner().invoke(main, words)
        assert result.exit_code == 2, result.output
        assert "given.csv" in result.stderr
        assert "Traceback" not in result.output
        assert "\x1b" not in result.stderr
    assert list(path.parent.iterdir()) == [path]


def test_the_ends_of_draws_are_checked_first(path: Path) -> None:
    # A wrong value is told before thousands of right ones have been looked at.
    rows = ["12.5 ft/s,48"] * 3000
    rows[2000] = "99 ft/s,48"
    path.write_text("\n".join([DRAWS.partition("\n")[0], *rows]), encoding="utf-8")
    checked: list[float] = []

    def with_numbers(numbers: object) -> Scenario:
        speed = numbers["pair.left.top_speed"]  # type: ignore[index]
        checked.append(speed)
        if speed > 30.0:
            raise Refused("too fast")
        return SCENARIO

    with pytest.raises(Refused, match="line 2002: too fast"):
        check_limits(read_draws(path, SCENARIO), with_numbers)
    assert len(checked) <= 4


def test_checking_many_draws_shows_how_far_it_is(path: Path) -> None:
    speeds = np.linspace(10.0, 14.0, 2500)
    text = "pair.left.top_speed\n" + "".join(f"{speed:.4f} ft/s\n" for speed in speeds)
    path.write_text(text, encoding="utf-8")
    told: list[tuple[int, int]] = []
    draws = read_draws(path, SCENARIO)
    check_limits(draws, lambda numbers: SCENARIO, lambda *step: told.append(step))
    assert told == [(1000, 2500), (2000, 2500)]
