"""Charts: what people counted or timed, typed into a spreadsheet and saved as CSV.

The reader forgives what spreadsheets and people do (byte order marks, semicolons, tabs, decimal
commas, line ends of any system, blank lines, capitals, spaces, a few other words for the same
thing) and refuses what it would have to guess, naming file, line, column and value.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from sim.errors import Refused
from sim.input_files import UnreadableFile, content, csv_lines
from sim.plain_text import quoted, some_of, spelt_out
from sim.quantities import Quantity
from sim.units import UNITS
from sim.wording import counted, joined

_LARGEST_FILE: Final = 2_000_000
_MOST_ROWS: Final = 20_000
_MOST_PROBLEMS: Final = 50
_NEAR: Final = 0.75
# Other spellings of units, after which `units.parse_quantity` reads them.
_UNITS_AS_WRITTEN: Final = {
    "foot": "ft",
    "feet": "ft",
    "inch": "in",
    "inches": "in",
    "metre": "m",
    "metres": "m",
    "meter": "m",
    "meters": "m",
    "sec": "s",
    "secs": "s",
    "second": "s",
    "seconds": "s",
    "kmh": "km/h",
    "kph": "km/h",
    "fps": "ft/s",
}
_PLAIN_NUMBER: Final = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)")
_DECIMAL_COMMA: Final = re.compile(r"(?<=\d),(?=\d)")
# A comma that may as well stand in front of thousands.
_EITHER_COMMA: Final = re.compile(r"(?<![\d.,])[1-9]\d{0,2},\d{3}(?![\d.,])")

# A row's values by column name: a word, a number in the program's unit, or None where left empty.
ChartRow = dict[str, Any]


class ChartError(Refused):
    """What is wrong with a chart, one line a problem, no more of them than anyone would read."""

    def __init__(self, problems: Sequence[str]) -> None:
        shown = list(problems[:_MOST_PROBLEMS])
        if len(problems) > _MOST_PROBLEMS:
            shown.append(f"... and {counted(len(problems) - _MOST_PROBLEMS, 'more problem')}")
        super().__init__("\n".join(shown))


@dataclass(frozen=True)
class Column:
    """A column of a chart: words with the other spellings of each, or a quantity within limits.

    ``unit`` is taken where neither the cell nor the header has one.
    """

    name: str
    words: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    dimension: str = ""
    low: str = ""
    high: str = ""
    unit: str = ""
    required: bool = False
    also: tuple[str, ...] = ()

    def read(self, cell: str, unit: str) -> str | float:
        """The value of a cell. Raises `ValueError` that says what is allowed."""
        return self._quantity(cell, unit) if self.dimension else self._word(cell)

    def _word(self, cell: str) -> str:
        meant = {" ".join(re.split(r"[\s_-]+", w)): k for k, v in self.words.items() for w in v}
        meant |= {word: word for word in self.words}
        wanted = " ".join(re.split(r"[\s_-]+", cell.lower()))
        if wanted in meant:
            return meant[wanted]
        near = difflib.get_close_matches(wanted, meant, n=1, cutoff=0.6)
        hint = f' (did you mean "{meant[near[0]]}"?)' if near else ""
        raise ValueError(f"must be {joined(list(self.words), 'or')}{hint}")

    def _quantity(self, cell: str, unit: str) -> float:
        if _EITHER_COMMA.search(cell) and self._is_allowed(cell.replace(",", "", 1), unit):
            raise ValueError(
                "the comma may be a decimal one or stand in front of thousands; write a point for "
                "decimals, and nothing in front of thousands"
            )
        return self._with_point(_DECIMAL_COMMA.sub(".", cell, count=1), unit)

    def _with_point(self, cell: str, unit: str) -> float:
        text = re.sub(r"[a-z/]+", lambda word: _unit(word.group()), cell.lower())
        if _PLAIN_NUMBER.fullmatch(text) and unit:
            text = f"{text} {unit}"
        return Quantity(self.dimension, self.low, self.high)(text)

    def _is_allowed(self, cell: str, unit: str) -> bool:
        try:
            self._with_point(cell, unit)
        except ValueError:
            return False
        return True


@dataclass(frozen=True)
class Form:
    """A kind of chart: its columns, a template to fill in, and what no row may say.

    ``misfits`` gives column and reason for each contradiction in a row.
    """

    columns: tuple[Column, ...]
    template: str
    misfits: Callable[[ChartRow], Iterator[tuple[str, str]]]
    how_to_begin: str


@dataclass(frozen=True)
class Chart:
    """A chart as read: its file's name, its rows and the headers left out."""

    name: str
    rows: list[ChartRow]
    left_out: list[str]


def read_chart(path: Path, form: Form) -> Chart:
    """Read a chart. Raises `ChartError` naming file, line, column and value of every problem."""
    try:
        data = content(path, _LARGEST_FILE)
        lines = csv_lines(data, _MOST_ROWS, forgiving=True)
    except UnreadableFile as why:
        raise ChartError([f"{path}{why}"]) from None
    if not lines:
        raise ChartError([f"{path}: is empty; {form.how_to_begin}"])
    (_, header), *body = lines
    places, left_out = _places(header, form, path)
    rows, problems = [], list[str]()
    for number, cells in body:
        if len(cells) > len(header):
            problems.append(
                f"{path} line {number}: {len(cells)} cells under {len(header)} headers; write 1.5 "
                "with a point, or separate the cells by semicolons"
            )
            continue
        row, wrong = _row(cells, places, form)
        rows.append(row)
        problems += [f"{path} line {number}, {what}" for what in wrong]
    if problems:
        raise ChartError(problems)
    if not rows:
        raise ChartError(
            [f"{path}: has headers and no rows yet; add yours under them, without a # in front"]
        )
    return Chart(path.name, rows, left_out)


def _places(
    header: list[str], form: Form, path: Path
) -> tuple[dict[str, tuple[int, str]], list[str]]:
    """Where each column stands and the unit its header names; and headers of no use here."""
    places: dict[str, tuple[int, str]] = {}
    unknown, problems = [], []
    for index, title in enumerate(header):
        found = _column_of(title, form)
        if found is None:
            unknown.append(title)
        elif found[0].name in places:
            problems.append(f"{path}: the column {found[0].name} stands twice")
        else:
            column, unit = found
            places[column.name] = index, unit
            if unit and unit not in UNITS[column.dimension]:
                allowed = ", ".join(u for u in UNITS[column.dimension] if u not in "'\"")
                problems.append(
                    f"{path}: header {quoted(title)}: {quoted(unit)} is not a unit of "
                    f"{column.dimension} ({allowed})"
                )
    absent = [column for column in form.columns if column.name not in places]
    for title in unknown:
        near = difflib.get_close_matches(_plain(title), [c.name for c in absent], 1, _NEAR)
        if near:
            problems.append(f'{path}: unknown column {quoted(title)} (did you mean "{near[0]}"?)')
    missing = [column.name for column in absent if column.required]
    if missing:
        problems.append(
            f"{path}: {'columns' if missing[1:] else 'column'} {joined(missing)} missing; "
            f"the headers are {some_of(header)}; {form.how_to_begin}"
        )
    if problems:
        raise ChartError(problems)
    return places, [spelt_out(title) for title in unknown if title]


def _column_of(title: str, form: Form) -> tuple[Column, str] | None:
    """The column a header means, and the unit after its name: ``landing_x_ft``, ``Speed (mph)``."""
    plain = _plain(title)
    for column in form.columns:
        for name in (column.name, *column.also):
            if plain == name:
                return column, column.unit
            if column.dimension and plain.startswith(f"{name}_"):
                return column, _unit(plain.removeprefix(f"{name}_").replace("_", "/"))
    return None


def _plain(title: str) -> str:
    return re.sub(r"[\s()\[\]_-]+", "_", title.lower()).strip("_")


def _unit(word: str) -> str:
    return _UNITS_AS_WRITTEN.get(word, word)


def _row(
    cells: list[str], places: dict[str, tuple[int, str]], form: Form
) -> tuple[ChartRow, list[str]]:
    """A row's values, and what is wrong with them, each beginning with the column."""
    row: ChartRow = {column.name: None for column in form.columns}
    wrong = []
    for column in form.columns:
        index, unit = places.get(column.name, (len(cells), ""))
        cell = cells[index] if index < len(cells) else ""
        if cell:
            try:
                row[column.name] = column.read(cell, unit)
            except ValueError as error:
                wrong.append(f"{column.name} = {quoted(cell)}: {error}")
        elif column.required:
            wrong.append(f"{column.name}: is empty, and must be given")
    if not wrong:
        wrong = [f"{name}: {why}" for name, why in form.misfits(row)]
    return row, wrong
