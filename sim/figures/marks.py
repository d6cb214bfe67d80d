"""Estimates in rows: names beside them, marks with their intervals, and the key to the marks."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from sim.figures import style
from sim.figures.style import MARGIN, SMALL, TEXT, Look

NAME_LINE: Final = TEXT * 1.2


def names_width(names: Iterable[Sequence[str]]) -> float:
    """Width (points) of the widest line of names that may have several."""
    return max(style.width_of(line, TEXT) for lines in names for line in lines)


def write_names(
    figure: Figure,
    names: Iterable[Sequence[str]],
    right: float,
    top: float,
    row: float,
    remark: str = "",
) -> None:
    """Write names in lines, in rows of that height (points) from the ``top``, up to the ``right``.

    A line that is the ``remark`` is set small and grey.
    """
    for place, lines in enumerate(names):
        first = top + (place + 0.5) * row - 0.5 * (len(lines) - 1) * NAME_LINE + 0.36 * TEXT
        for number, line in enumerate(lines):
            quiet = number > 0 and line == remark
            size, colour = (SMALL, style.QUIET) if quiet else (TEXT, style.INK)
            below = first + number * NAME_LINE
            style.write(figure, right, below, line, size, color=colour, ha="right")


def draw_estimate(
    on: Axes | Figure, estimate: tuple[float, float, float], y: float, *, filled: bool
) -> None:
    """A mark (value, low, high) with its interval, whose ends stand out above and below it."""
    value, *ends = estimate
    style.draw(on, ends, [y, y], zorder=4, color=style.INK, linewidth=1.6)
    upright: Look = {"marker": "|", "markersize": 13.0, "markeredgewidth": 1.3}
    style.draw(on, ends, [y, y], zorder=4, color=style.INK, **upright)
    face: Look = {"markersize": 6.5, "markerfacecolor": style.INK if filled else "white"}
    style.draw(on, [value], [y], zorder=5, color=style.INK, marker="o", markeredgewidth=1.4, **face)


def draw_key(figure: Figure, line: float, words: dict[bool, str]) -> float:
    """What filled and open marks mean, on the line at ``line`` points; gives where it ends."""
    left = MARGIN + 12.0
    for filled, meaning in words.items():
        estimate = left, left - 10.0, left + 10.0
        draw_estimate(figure, estimate, line - 0.36 * TEXT, filled=filled)
        style.write(figure, left + 17.0, line, meaning)
        left += 17.0 + style.width_of(meaning, TEXT) + 28.0
    return left
