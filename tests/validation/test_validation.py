"""The validation page says what its command would write, and the README what the page says."""

from __future__ import annotations

import re
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from matplotlib.lines import Line2D
from PIL import Image

from sim.figures import style
from sim.opponents import SHOTS
from tests.published.all_checks import CHECKS, PROPERTIES
from tests.published.check import Check, Estimate, Range, Source
from tests.published.test_shot_shares import EXTRACT, lost_and_played, shots_of_levels
from tests.validation import tables
from tests.validation.failures_figure import failures_figure, groups
from tests.validation.figures import calculated, estimated
from tests.validation.flight_figures import flight_figure
from tests.validation.page import COMMAND, PAGE, PICTURES, page, summary

README = Path(__file__).parents[2] / "README.md"
SOURCES = PAGE.parent / "sources.md"
NUMBER = re.compile(r"\d+(?:\.\d+)?")
MOST_BYTES = 100_000


@cache
def written() -> str:
    return PAGE.read_text(encoding="utf-8")


def differing(fresh: str, old: str) -> list[str]:
    """Lines of two pages that differ by more than the last digit of a number.

    Another processor may round differently, and one of 98,304 shots then fall the other way.
    """
    lines = [text.splitlines() for text in (fresh, old)]
    if len(lines[0]) != len(lines[1]):
        return [f"{len(lines[0])} lines, not {len(lines[1])}"]
    return [new for new, was in zip(*lines, strict=True) if not _alike(new, was)]


def _alike(new: str, was: str) -> bool:
    # A sign may turn with the last digit: +0.01 and −0.00 are as near as 0.01 and 0.00.
    words = [re.sub(r"[+−](?=\d)", "", text) for text in (new, was)]
    if NUMBER.sub("#", words[0]) != NUMBER.sub("#", words[1]):
        return False
    numbers = (NUMBER.findall(text) for text in words)
    return all(_near(one, other) for one, other in zip(*numbers, strict=True))


def _near(one: str, other: str) -> bool:
    places = [len(text.partition(".")[2]) for text in (one, other)]
    if places[0] == 0:
        return one == other
    return places[0] == places[1] and abs(float(one) - float(other)) <= 1.01 * 10.0 ** -places[0]


def test_the_page_is_what_the_command_writes() -> None:
    assert differing(page(), written()) == [], f"run: {COMMAND}"


@pytest.mark.parametrize(
    ("old", "new", "same"),
    [
        ("| 13.7 | +0.004 |", "| 13.8 | +0.005 |", True),
        ("| 13.7 | +0.000 |", "| 13.7 | −0.001 |", True),
        ("| 13.7 |", "| 13.9 |", False),
        ("| 13.7 |", "| 13.70 |", False),
        ("157 numbers", "158 numbers", False),
        ("inside", "outside", False),
        ("a\nb", "a", False),
    ],
)
def test_a_page_that_has_drifted_is_noticed(old: str, new: str, same: bool) -> None:
    assert (differing(new, old) == []) == same


def test_every_number_and_property_stands_on_the_page() -> None:
    text = written()
    assert [each.quantity for each in CHECKS if f"| {each.quantity}" not in text] == []
    assert [each.place for each in PROPERTIES if f"`{each.place}`" not in text] == []


def test_published_sources_stand_among_the_sources() -> None:
    sources = SOURCES.read_text(encoding="utf-8").lower()
    seen = {
        source.words
        for source in (each.source for each in [*CHECKS, *PROPERTIES])
        if source.certainty in ("read", "quoted", "from memory")
    }
    names = {name for words in seen for name in re.findall(r"\b[A-Z][a-z]{3,}", words)}
    assert {"Newcombe", "Woods", "Lindsey", "Rulebook"} <= names
    assert [name for name in sorted(names) if name.lower() not in sources] == []


def test_numbers_that_do_not_agree_come_first() -> None:
    text = written()
    headings = ["## What does not agree", "## What nobody has checked", "## What the program works"]
    places = [text.index(heading) for heading in headings]
    assert all(first < second for first, second in pairwise(places))
    first_table = text[places[0] : places[1]]
    different = [check for check in CHECKS if check.differs]
    assert len(different) > 5
    assert first_table.count("\n| ") == len(different) + 2
    assert all(check.differs in first_table for check in different)


def test_readme_quotes_the_first_lines() -> None:
    readme = README.read_text(encoding="utf-8")
    assert f"\n> {summary()}\n" in readme
    assert written().splitlines()[2] == summary()
    assert "(sim/docs/validation.md)" in readme


def test_pictures_are_there_linked_and_small() -> None:
    stems = [stem for stem, _ in [*calculated(), *estimated()]]
    assert sorted(path.name for path in PICTURES.iterdir()) == sorted(f"{s}.png" for s in stems)
    for stem in stems:
        path = PICTURES / f"{stem}.png"
        assert f"]({path.relative_to(PAGE.parent).as_posix()})" in written()
        assert path.stat().st_size < MOST_BYTES
        with Image.open(path) as picture:
            assert picture.width == 1260


def test_pictures_are_the_same_twice() -> None:
    for maker in (calculated, estimated):
        first, second = ([style.to_png(figure) for _, figure in maker()] for _ in range(2))
        assert first == second


def test_every_share_of_ours_has_its_interval() -> None:
    drawn = [
        line
        for axes in failures_figure().axes
        for line in axes.findobj(Line2D)
        if line.get_marker() == "|"
    ]
    rows = [row for _, rows in groups() for row in rows]
    assert [list(line.get_xdata()) for line in drawn] == [
        [row.ours.low, row.ours.high] for row in rows
    ]
    assert all(row.ours.low < row.ours.value < row.ours.high for row in rows)


@pytest.mark.parametrize("shot", ["drive", "drop"])
def test_the_interval_of_all_levels_together_is_that_of_their_mean(shot: str) -> None:
    """As from the variances of independent shares; of so many shots the two ways agree."""
    weights = np.array(shots_of_levels(shot))
    part = weights / weights.sum()
    counts = [lost_and_played(level) for level in EXTRACT]
    lost, played = np.array([[each[SHOTS.index(shot)] for each in pair] for pair in counts]).T
    share = lost / played
    half = 2.5758 * np.sqrt(np.sum(part**2 * share * (1.0 - share) / played))
    _, rows = groups()[-1]
    (row,) = [row for row in rows if row.name == f"{shot}s"]
    middle = 100.0 * float(part @ share)
    assert row.ours.value == pytest.approx(middle)
    assert row.ours.low == pytest.approx(middle - 100.0 * half, abs=0.003)
    assert row.ours.high == pytest.approx(middle + 100.0 * half, abs=0.003)


def test_no_mark_of_a_flight_is_cut_off() -> None:
    (flights, *_) = flight_figure().axes
    circles = [line for line in flights.findobj(Line2D) if line.get_marker() == "o"]
    assert len(circles) == 3
    assert not any(line.get_clip_on() for line in circles)


SOMEBODY = Source("Somebody 2001", "from memory")
WHO = "Somebody 2001 (from memory)"


def check_of(published: float | Range, ours: float | Estimate, **more: object) -> Check:
    return Check("it", SOMEBODY, published, lambda: ours, **more)


@pytest.mark.parametrize(
    ("check", "cells"),
    [
        (
            check_of(35.0, 34.46, allowed=0.5, why="so", unit="mph", decimals=1),
            ["it, mph", WHO, "35.0", "34.5", "−0.5", "0.5: so"],
        ),
        (
            check_of(Range(5.0, 8.0), Estimate(5.0, 4.7, 5.3), unit="%", decimals=1),
            ["it, %", WHO, "5.0 to 8.0", "5.0 (4.7 to 5.3)", "outside by 0.3", "the range"],
        ),
        (
            check_of(Range(high=8.0), 7.0, why="why", decimals=0),
            ["it", WHO, "at most 8", "7", "inside", "the range: why"],
        ),
        (
            check_of(2.0, 2.0, allowed=1e-9, why="rounding"),
            ["it", WHO, "2.00", "2.00", "0.00", "rounding"],
        ),
        (
            check_of(200.0, 201.0, allowed=0.01, relative=True, why="so", decimals=0),
            ["it", WHO, "200", "201", "+1.0", "1 %: so"],
        ),
    ],
)
def test_rows(check: Check, cells: list[str]) -> None:
    assert tables.row(check) == cells
