"""Cells of maps and tables, alike in all figures.

The darker a cell, the more of what its key names; white has no value at all. The best one has a
thick frame, and a line around holds it and all that cannot be told from it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from sim import palette
from sim.court import Array
from sim.figures import style
from sim.figures.style import SMALL, Look

Colour = tuple[float, float, float]

# A single hue of falling lightness, for colour-blind readers and grey print. The lightest is told
# from white, which is for what is not known.
LIGHTEST: Final = "#dfe8f3"
DARKEST: Final = "#0e3a69"
_HALO: Final = 2.6
_OUTLINE: Final = 2.0
_FRAME: Final = 3.6
_STRIP: Final = 110.0
_STRIP_HEIGHT: Final = 1.45 * SMALL
_STEPS: Final = 44
_BESIDE: Final = 8.0


@dataclass(frozen=True)
class Shades:
    """Shades from ``least`` to ``most``, in whatever unit the values have."""

    least: float
    most: float

    @classmethod
    def of(cls, values: Array, otherwise: tuple[float, float] = (0.0, 100.0)) -> Shades:
        """From the least to the most of the values that are known (not NaN), if any is."""
        known = values[~np.isnan(values)]
        return cls(float(known.min()), float(known.max())) if known.size else cls(*otherwise)

    def part(self, value: float) -> float:
        """How far a value is from the least, 0, to the most, 1; the most may be the smaller one."""
        if self.most == self.least:
            return 0.0
        return min(max((value - self.least) / (self.most - self.least), 0.0), 1.0)

    def fill(self, value: float) -> Colour:
        """The colour (red, green, blue from 0 to 1) of a cell with that value."""
        light, dark = np.array(to_rgb(LIGHTEST)), np.array(to_rgb(DARKEST))
        red, green, blue = light + self.part(value) * (dark - light)
        return float(red), float(green), float(blue)

    def words(self, value: float) -> str:
        """The colour of words on that cell."""
        return words_on(self.fill(value))


def words_on(ground: Colour) -> str:
    """White or black, whichever stands out more: always more than 4.5 to 1."""
    return max((palette.PAPER, palette.BLACK), key=lambda words: contrast(words, ground))


def contrast(words: str, ground: Colour) -> float:
    """Contrast of words and their ground, from 1 to 21.

    Source: W3C, Web Content Accessibility Guidelines 2.1, contrast ratio (memory).
    """
    lights = luminance(to_rgb(words)), luminance(ground)
    return (max(lights) + 0.05) / (min(lights) + 0.05)


def luminance(colour: Colour) -> float:
    """Relative luminance of an sRGB colour, 0 for black and 1 for white.

    Source: Web Content Accessibility Guidelines 2.1 (W3C, 2018), definition of relative luminance
    and of contrast ratio (memory).

    >>> round(luminance((1.0, 1.0, 1.0)), 6), luminance((0.0, 0.0, 0.0))
    (1.0, 0.0)
    """
    plain = np.array(colour)
    linear = np.where(plain <= 0.04045, plain / 12.92, ((plain + 0.055) / 1.055) ** 2.4)
    return float(linear @ np.array([0.2126, 0.7152, 0.0722]))


@dataclass(frozen=True)
class Table:
    """Cells by column and row: their edges in the axes' units, shape (columns, 2) and (rows, 2).

    ``values``, ``best`` and ``as_good`` have the shape (columns, rows). Values that are not known
    are NaN; ``as_good`` holds the best and all that cannot be told from it.
    """

    columns: Array
    rows: Array
    values: Array
    best: np.ndarray
    as_good: np.ndarray

    def fill(self, cell: tuple[int, int], shades: Shades) -> Colour:
        """The colour of a cell: white where its value is not known."""
        value = float(self.values[cell])
        return to_rgb(palette.PAPER) if np.isnan(value) else shades.fill(value)


def side_by_side(edges: Array) -> Array:
    """Both edges of every cell, shape (cells, 2), of cells that touch each other."""
    return np.column_stack((edges[:-1], edges[1:]))


def draw_table(axes: Axes, table: Table, shades: Shades, words: dict[tuple[int, int], str]) -> None:
    """Every cell with its shade, the words of those that have some, and what marks the best."""
    for cell in np.ndindex(table.values.shape):
        column, row = cell
        (left, right), (low, high) = table.columns[column], table.rows[row]
        fill = table.fill(cell, shades)
        look: Look = {"facecolor": fill, "linewidth": 0.0, "zorder": 1}
        if table.best[cell]:
            look["gid"] = "best"
        axes.add_artist(Rectangle((left, low), right - left, high - low, **look))
        if cell in words:
            bold = "bold" if table.best[cell] else "normal"
            middle = 0.5 * (left + right), 0.5 * (low + high)
            colour: Look = {"color": words_on(fill), "zorder": 6}
            style.label(axes, *middle, words[cell], weight=bold, **colour)
    draw_outline(axes, table.columns, table.rows, table.as_good)
    draw_outline(axes, table.columns, table.rows, table.best, _FRAME)


def draw_outline(
    axes: Axes, columns: Array, rows: Array, chosen: np.ndarray, width: float = _OUTLINE
) -> None:
    """A line around the chosen cells, dark within light to stand out on any shade.

    Edges as in a `Table`; ``chosen`` has the shape (columns, rows).
    """
    upright, level = _border(columns, rows, chosen), _border(rows, columns, chosen.T)
    strokes = [*upright, *((span, side) for side, span in level)]
    for zorder, colour, wide in ((4, palette.PAPER, width + _HALO), (5, style.INK, width)):
        look: Look = {"color": colour, "linewidth": wide, "zorder": zorder, "clip_on": False}
        for stroke in strokes:
            style.draw(axes, *stroke, solid_capstyle="projecting", **look)


def _border(columns: Array, rows: Array, chosen: np.ndarray) -> list[tuple[list[float], Array]]:
    """The upright sides that chosen cells do not share with another, each with its two ends."""
    found = []
    for column, row in np.argwhere(chosen):
        for side, neighbour in ((0, column - 1), (1, column + 1)):
            touches = 0 <= neighbour < len(columns) and np.isclose(
                columns[column][side], columns[neighbour][1 - side]
            )
            if not (touches and chosen[neighbour, row]):
                found.append(([float(columns[column][side])] * 2, rows[row]))
    return found


def draw_key(
    figure: Figure, left: float, line: float, shades: Shades, ends: tuple[str, str], words: str
) -> float:
    """What light and dark mean: a strip with both values on it, and words beside, on one line.

    Gives where it ends (points).
    """
    top = line - 0.36 * SMALL - 0.5 * _STRIP_HEIGHT
    axes = style.add_axes(figure, left, top, _STRIP, _STRIP_HEIGHT)
    axes.set(xlim=(0.0, _STRIP), ylim=(0.0, 1.0))
    width = _STRIP / _STEPS
    for step in range(_STEPS):
        value = shades.least + (step + 0.5) / _STEPS * (shades.most - shades.least)
        # A little wider, so that no white shows between two.
        look: Look = {"facecolor": shades.fill(value), "linewidth": 0.0}
        axes.add_artist(Rectangle((step * width, 0.0), width + 0.3, 1.0, **look))
    for text, at, align, value in (
        (ends[0], 4.0, "left", shades.least),
        (ends[1], _STRIP - 4.0, "right", shades.most),
    ):
        style.label(axes, at, 0.5, text, ha=align, color=shades.words(value))
    style.write(figure, left + _STRIP + _BESIDE, line, words, SMALL)
    return left + _STRIP + _BESIDE + style.width_of(words, SMALL)


def draw_steps(
    figure: Figure, left: float, line: float, shades: list[Colour], names: list[str], words: str
) -> None:
    """The same for shades in steps: a cell for each with its name on it."""
    middle = line - 0.36 * SMALL
    for fill, name in zip(shades, names, strict=True):
        width = style.width_of(name, SMALL) + 10.0
        top = middle - 0.5 * _STRIP_HEIGHT
        look: Look = {"facecolor": fill, "linewidth": 0.0, "transform": style.points(figure)}
        figure.add_artist(Rectangle((left, top), width, _STRIP_HEIGHT, **look))
        style.write(figure, left + 5.0, line, name, SMALL, color=words_on(fill))
        left += width
    style.write(figure, left + _BESIDE, line, words, SMALL)
