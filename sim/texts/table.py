"""Tables and lengths as text, for the terminal and for pages."""

from __future__ import annotations

import unicodedata

from sim.units import in_unit


def aligned(table: list[list[str]]) -> str:
    """A table (header first) in columns of plain text, each line indented by two.

    >>> print(aligned([["policy", "apart"], ["follow", "7.0 ft"]]))
      policy  apart
      follow  7.0 ft
    """
    widths = [max(_width(row[k]) for row in table) for k in range(len(table[0]))]
    lines = []
    for row in table:
        cells = [
            cell + " " * (width - _width(cell)) for cell, width in zip(row, widths, strict=True)
        ]
        lines.append("  " + "  ".join(cells).rstrip())
    return "\n".join(lines)


def grid(table: list[list[str]]) -> str:
    """A table (header first) in Markdown."""
    rows = ["| " + " | ".join(map(escaped, row)) + " |" for row in table]
    return "\n".join([rows[0], "|" + " --- |" * len(table[0]), *rows[1:]])


def escaped(text: str) -> str:
    """Text that Markdown and HTML show as it is."""
    for letter in "\\`*_[]<>|#":
        text = text.replace(letter, f"\\{letter}")
    return text.replace("&", "&amp;").replace("\\<", "&lt;").replace("\\>", "&gt;")


def length(feet: float, units: str) -> str:
    """A length in feet or metres.

    >>> length(8.0, "us"), length(8.0, "metric")
    ('8.0 ft', '2.44 m')
    """
    return f"{feet:.1f} ft" if units == "us" else f"{in_unit(feet, 'length', 'm'):.2f} m"


def _width(text: str) -> int:
    """Columns that a text takes in a terminal."""
    wide = sum(unicodedata.east_asian_width(letter) in "WF" for letter in text)
    return len(text) + wide - sum(unicodedata.combining(letter) != 0 for letter in text)
