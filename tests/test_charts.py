"""Reading what people type: what is forgiven, what is refused and how."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.chart_forms import DASHES, THIRD_SHOTS
from sim.charts import Chart, ChartError, Form, read_chart

PLAIN = "shot,result,landing_depth,speed\ndrop,in,6 ft,\ndrive,net,,38 mph\n"


def read(path: Path, data: str | bytes, form: Form = THIRD_SHOTS) -> Chart:
    path.write_bytes(data.encode() if isinstance(data, str) else data)
    return read_chart(path, form)


def problems(path: Path, data: str | bytes, form: Form = THIRD_SHOTS) -> list[str]:
    with pytest.raises(ChartError) as caught:
        read(path, data, form)
    return [line.removeprefix(str(path)).strip() for line in str(caught.value).splitlines()]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "chart.csv"


@pytest.mark.parametrize(
    "same",
    [
        PLAIN,
        "\ufeff" + PLAIN,
        "sep=,\n" + PLAIN,
        "\ufeffsep=;\r\n" + PLAIN.replace(",", ";"),
        PLAIN.replace("\n", "\r\n"),
        PLAIN.replace("\n", "\r"),
        PLAIN.replace(",", ";"),
        PLAIN.replace(",", "\t"),
        PLAIN.replace("\n", "\n\n ,,,\n"),
        PLAIN.upper(),
        PLAIN.replace("drop", "  Drop  shot ").replace("net", '"into the net"'),
        PLAIN.replace("\n", ",,,\n"),
        "# a remark\n" + PLAIN + "# drive,in\n",
        PLAIN.replace("landing_depth", "Landing depth (ft)").replace("6 ft", "6"),
        PLAIN.replace(",", ";")
        .replace("landing_depth", "landing-depth")
        .replace("6 ft", "72,0 in"),
        PLAIN.replace("speed", "speed_kmh").replace("38 mph", "61.155072"),
        PLAIN.replace("6 ft", "6 FEET").replace("38 mph", "38\u00a0MPH"),
        PLAIN.encode("utf-16"),
        PLAIN.replace("speed", "speed,note").replace("38 mph", "38 mph,schön").encode("cp1252"),
    ],
)
def test_the_same_chart_in_many_spellings(path: Path, same: str | bytes) -> None:
    first, second = read(path, same).rows
    assert (first["shot"], first["result"], first["speed"]) == ("drop", "in", None)
    assert (second["shot"], second["result"], second["landing_depth"]) == ("drive", "net", None)
    assert first["landing_depth"] == pytest.approx(6.0, rel=1e-12)
    assert second["speed"] == pytest.approx(38.0 * 5280.0 / 3600.0, rel=1e-6)


@pytest.mark.parametrize(
    ("header", "cell", "feet"),
    [("distance", "15 ft", 15.0), ("distance_m", "4.572", 15.0), ("Distance [m]", "15 ft", 15.0)],
)
def test_units_in_the_header_or_the_cell(path: Path, header: str, cell: str, feet: float) -> None:
    (row,) = read(path, f"{header},time\n{cell},2.05\n", DASHES).rows
    assert row["distance"] == pytest.approx(feet, rel=1e-12)
    assert (row["seconds"], row["player"], row["direction"]) == (2.05, None, None)


def test_wrong_values_are_named_with_the_nearest_guess(path: Path) -> None:
    text = (
        "shot,result,landing_depth,contact_side\ndrvie,in,,\ndrop,,6,\nlob,out,6 yd,up\n"
        "drop,in,-1 ft,l\n"
    )
    assert problems(path, text) == [
        'line 2, shot = "drvie": must be drive, drop or lob (did you mean "drive"?)',
        "line 3, result: is empty, and must be given",
        'line 3, landing_depth = "6": this is not a number with a unit; write a length with its '
        'unit, for example "5 ft 7 in" or "1.70 m"',
        'line 4, landing_depth = "6 yd": "yd" is not a unit of length (ft, in, m, cm, mm); write '
        'a length with its unit, for example "5 ft 7 in" or "1.70 m"',
        'line 4, contact_side = "up": must be left or right',
        'line 5, landing_depth = "-1 ft": must lie between 0 ft and 40 ft',
    ]


def test_balls_that_were_in_landed_in(path: Path) -> None:
    text = "shot,result,landing_x,landing_depth\ndrop,in,10.5 ft,23 ft\ndrop,out,10.5 ft,23 ft\n"
    assert problems(path, text) == [
        "line 2, landing_x: a ball that was in lands within 10 ft (3.05 m) of the centre line",
        "line 2, landing_depth: a ball that was in lands within 22 ft (6.71 m) of the net",
    ]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "is empty; reachshare fit shots --template"),
        ("# only a remark\n", "is empty"),
        ("shot,result\n", "has headers and no rows"),
        ("shot,lane\ndrive,line\n", 'column result missing; the headers are "shot", "lane"'),
        ("drive,in\ndrop,in\n", "columns shot and result missing"),
        ("shot,result,shot\n", "the column shot stands twice"),
        ("shot,result,lnae\n", 'unknown column "lnae" (did you mean "lane"?)'),
        ("shot,result,landing_x_yd\n", '"yd" is not a unit of length (ft, in, m, cm, mm)'),
        ("shot,result,landing_depth\ndrop,in,1,8 ft\n", "4 cells under 3 headers; write 1.5 with"),
        ("shot,result\nd\0op,in\n", "is not a text file"),
    ],
)
def test_what_is_wrong_with_the_whole_is_said(path: Path, text: str, said: str) -> None:
    assert said in problems(path, text)[0]


def test_no_more_problems_than_anyone_reads(path: Path) -> None:
    found = problems(path, "shot,result\n" + "x,in\n" * 75)
    assert len(found) == 51
    assert found[-1] == "... and 25 more problems"


def test_huge_and_missing_files_are_refused(path: Path) -> None:
    with pytest.raises(ChartError, match="cannot be read: No such file"):
        read_chart(path, THIRD_SHOTS)
    assert "more than 20,000 rows" in problems(path, "shot,result\n" + "drop,in\n" * 20_001)[0]
    assert "larger than 2 MB" in problems(path, "shot,result\n" + "drop,in\n" * 300_000)[0]


def test_other_columns_are_left_out_and_named(path: Path) -> None:
    assert read(path, "shot,result,note,who\ndrop,in,nice,me\n").left_out == ["note", "who"]


@pytest.mark.parametrize("form", [THIRD_SHOTS, DASHES])
def test_a_template_has_examples_that_are_left_out_until_the_sign_is_taken_away(
    path: Path, form: Form
) -> None:
    assert "has headers and no rows" in problems(path, form.template, form)[0]
    head, examples = form.template.split("without the #\n")
    filled = head + "without the #\n" + examples.replace("# ", "")
    assert len(read(path, filled, form).rows) == 3


@given(st.one_of(st.binary(max_size=200), st.text(max_size=200).map(str.encode)))
def test_nothing_but_a_chart_error_comes_of_any_file(
    tmp_path_factory: pytest.TempPathFactory, data: bytes
) -> None:
    path = tmp_path_factory.mktemp("fuzz") / "chart.csv"
    for start in (b"", b"shot,result,landing_x\n", b"distance,seconds,player\n"):
        for form in (THIRD_SHOTS, DASHES):
            path.write_bytes(start + data)
            try:
                chart = read_chart(path, form)
            except ChartError:
                continue
            assert chart.rows
