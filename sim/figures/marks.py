"""Estimates with their intervals: marks in rows beside names, bands along curves, keys to both."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch
from matplotlib.path import Path

from sim.court import Array
from sim.figures import style
from sim.figures.style import MARGIN, SMALL, TEXT, Look

NAME_LINE: Final = TEXT * 1.2
_BAND: Final = 0.25
# What stands for now, or for what others are compared with.
DASHED: Final[Look] = {"color": style.QUIET, "linewidth": 1.2, "linestyle": (0, (3.0, 3.0))}


def names_width(names: Iterable[Sequence[str]]) -> float:
    """Width (points) of the widest line of names that may have several."""
    return max(style.width_of(line, TEXT) for lines in names for line in lines)


def row_height(names: Iterable[Sequence[str]], least: float) -> float:
    """Height (points) of rows that hold all names, each apart from the next."""
    return max(least, max(map(len, names)) * NAME_LINE + 6.0)


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
    draw_interval(on, ends, y)
    draw_mark(on, value, y, filled=filled)


def draw_interval(on: Axes | Figure, ends: Sequence[float], y: float) -> None:
    """A line from end to end with an upright at both."""
    style.draw(on, ends, [y, y], zorder=4, color=style.INK, linewidth=1.6)
    upright: Look = {"marker": "|", "markersize": 13.0, "markeredgewidth": 1.3}
    style.draw(on, ends, [y, y], zorder=4, color=style.INK, **upright)


def draw_mark(on: Axes | Figure, x: float, y: float, *, filled: bool) -> None:
    """The mark of an estimate."""
    face: Look = {"markersize": 6.5, "markerfacecolor": style.INK if filled else "white"}
    style.draw(on, [x], [y], zorder=5, color=style.INK, marker="o", markeredgewidth=1.4, **face)


def draw_band(
    axes: Axes, low: tuple[Array, Array], high: tuple[Array, Array], colour: str = style.INK
) -> None:
    """The intervals along a curve, between the lines (x, y) of their ends."""
    (low_x, low_y), (high_x, high_y) = low, high
    edge = np.column_stack((np.append(low_x, high_x[::-1]), np.append(low_y, high_y[::-1])))
    look: Look = {"facecolor": colour, "alpha": _BAND, "linewidth": 0.0}
    axes.add_artist(PathPatch(Path(edge), zorder=2, **look))


def draw_key(figure: Figure, line: float, words: dict[bool, str]) -> float:
    """What filled and open marks mean, on the line at ``line`` points; gives where it ends."""
    left = MARGIN + 12.0
    for filled, meaning in words.items():
        estimate = left, left - 10.0, left + 10.0
        draw_estimate(figure, estimate, line - 0.36 * TEXT, filled=filled)
        style.write(figure, left + 17.0, line, meaning)
        left += 17.0 + style.width_of(meaning, TEXT) + 28.0
    return left
