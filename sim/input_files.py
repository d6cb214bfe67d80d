"""Files that people give: read whole but never more than so much, and CSV taken apart.

Whatever is wrong is an `UnreadableFile` that says why; who asked for the file says which it is.
"""

from __future__ import annotations

import csv
import io
import re
import stat
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Final

from sim.plain_text import is_plain

MOST_COLUMNS: Final = 200
# Cells of a line, empty ones at its end included: what a spreadsheet may have.
_WIDEST_SHEET: Final = 16_384
_MEGABYTE: Final = 1_000_000
_UTF_16_MARKS: Final = (b"\xff\xfe", b"\xfe\xff")
_LETTERS_AS_WRITTEN: Final = str.maketrans(
    {"’": "'", "′": "'", "″": '"', "”": '"', "−": "-", "–": "-"}
)
# What spreadsheets may write before all else, cells after it left empty.
_SEPARATOR_SAID: Final = re.compile(r'"?sep=([,;\t])')


class UnreadableFile(ValueError):
    """Why a file is not read: ends a sentence that begins with the file's name."""


def content(path: Path, most: int) -> bytes:
    """The bytes of a file of at most so many; no device, pipe or folder, which may never end.

    Raises `UnreadableFile`.
    """
    if not is_plain(str(path)):
        raise UnreadableFile(": its name holds control characters; rename it")
    try:
        kind = path.stat().st_mode
        if stat.S_ISDIR(kind):
            raise UnreadableFile(": is a folder; name a file in it")
        if not stat.S_ISREG(kind):
            raise UnreadableFile(": is a pipe or a device; save what it holds as a file")
        with path.open("rb") as file:
            data = file.read(most + 1)
    except OSError as error:
        raise UnreadableFile(f": cannot be read: {error.strerror}") from None
    if len(data) > most:
        raise UnreadableFile(f": larger than {most / _MEGABYTE:g} MB")
    return data


def csv_lines(data: bytes, most: int, *, forgiving: bool = False) -> list[tuple[int, list[str]]]:
    """Line numbers and cells of at most so many lines of CSV, without blank lines and remarks (#).

    Byte order marks, UTF-16, semicolons, tabs, line ends of any system, spaces of any kind and
    empty cells at the end make no difference. ``forgiving`` also takes what older spreadsheets
    write, and other letters for signs and quotation marks. Raises `UnreadableFile`.
    """
    text = _decoded(data, forgiving)
    if "\0" in text:
        raise UnreadableFile(": is not a text file; save the spreadsheet as CSV")
    first = next((line for line in text.splitlines() if line.strip(' \t,;"')), "")
    said = _SEPARATOR_SAID.match(first)
    separator = said[1] if said else max(",;\t", key=first.count)
    letters = _LETTERS_AS_WRITTEN if forgiving else {}
    lines = []
    for number, row in _rows(text, separator):
        cells = [" ".join(cell.translate(letters).split()) for cell in row]
        while cells and not cells[-1]:
            cells.pop()
        if cells and not cells[0].startswith("#") and not (said and number == 1):
            lines.append((number, cells))
        if len(cells) > MOST_COLUMNS:
            raise UnreadableFile(f" line {number}: {len(cells):,} cells; at most {MOST_COLUMNS}")
        # The header is no row.
        if len(lines) > most + 1:
            raise UnreadableFile(f": more than {most:,} rows")
    return lines


def _rows(text: str, separator: str) -> Iterator[tuple[int, list[str]]]:
    # A quotation mark left open would swallow the rows after it: strict.
    lines = _not_too_wide(io.StringIO(text, newline=""), separator)
    reader = csv.reader(lines, delimiter=separator, skipinitialspace=True, strict=True)
    try:
        for row in reader:
            yield reader.line_num, row
    except csv.Error as error:
        why = str(error)
        if "expected after" in why or "end of data" in why:
            why = 'a quotation mark (") opens a cell and does not close it; take it out'
        raise UnreadableFile(f" line {reader.line_num}: cannot be read: {why}") from None


def _not_too_wide(lines: Iterable[str], separator: str) -> Iterator[str]:
    for number, line in enumerate(lines, 1):
        if line.count(separator) > _WIDEST_SHEET:
            raise UnreadableFile(f" line {number}: more than {_WIDEST_SHEET:,} cells")
        yield line


def _decoded(data: bytes, forgiving: bool) -> str:
    """Text in UTF-8 or marked UTF-16, or as older spreadsheets write it."""
    try:
        return data.decode("utf-16" if data[:2] in _UTF_16_MARKS else "utf-8-sig")
    except UnicodeDecodeError:
        if not forgiving:
            raise UnreadableFile(": not UTF-8 text; save it as CSV, UTF-8") from None
        return data.decode("cp1252", errors="replace")
