"""Drawings of a few plain shapes that become a page of a PDF file, or SVG inside a page.

Lengths are in points (1/72 in), to the right of and below the drawing's top left corner. Colours
are named as the pages' custom properties are, so that a page in the dark has its own.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch
from matplotlib.path import Path

from sim import palette
from sim.figures import style
from sim.figures.letters import width_of
from sim.figures.style import Look

Point = tuple[float, float]

# Words take so much of their size above and below their baseline.
ASCENT: Final = 0.78
DESCENT: Final = 0.24
COLOURS: Final = {
    "ink": palette.INK,
    "quiet": palette.QUIET,
    "faint": palette.FAINT,
    "ground": palette.GROUND,
    "paper": palette.PAPER,
    # A letter on the right-hand player's mark, which is light on every page.
    "on-right": palette.INK,
    "through": palette.THROUGH,
    **palette.PLAYERS,
    **{f"{name}-words": colour for name, colour in palette.PLAYER_WORDS.items()},
}
_CORNERS_OF_ROUND: Final = 40


@dataclass(frozen=True)
class Line:
    """A stroke through points; ``dashes`` are lengths on and off in points, none for a full one."""

    points: tuple[Point, ...]
    colour: str
    width: float
    dashes: tuple[float, ...] = ()

    @property
    def kind(self) -> str:
        """What a template draws it as."""
        return "line"


@dataclass(frozen=True)
class Area:
    """A closed outline, filled and edged; an empty colour leaves either out."""

    points: tuple[Point, ...]
    fill: str
    edge: str = ""
    width: float = 0.0

    @property
    def kind(self) -> str:
        """What a template draws it as."""
        return "area"


@dataclass(frozen=True)
class Words:
    """A line of words; ``x`` is where it starts, or its middle or end, by ``anchor``."""

    x: float
    baseline: float
    text: str
    size: float
    colour: str = "ink"
    anchor: str = "start"
    bold: bool = False

    @property
    def kind(self) -> str:
        """What a template draws it as."""
        return "words"

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, top, right and bottom of what the words take."""
        width = width_of(self.text, self.size, bold=self.bold)
        left = self.x - {"start": 0.0, "middle": 0.5, "end": 1.0}[self.anchor] * width
        top, bottom = self.baseline - ASCENT * self.size, self.baseline + DESCENT * self.size
        return left, top, left + width, bottom


Shape = Line | Area | Words


@dataclass(frozen=True)
class Drawing:
    """Shapes on a sheet, drawn one over the other in their order."""

    width: float
    height: float
    shapes: tuple[Shape, ...]

    def words(self) -> list[Words]:
        """All words on it."""
        return [shape for shape in self.shapes if isinstance(shape, Words)]


def moved(shapes: Iterable[Shape], right: float, down: float) -> list[Shape]:
    """The shapes elsewhere."""
    found: list[Shape] = []
    for shape in shapes:
        if isinstance(shape, Words):
            found.append(replace(shape, x=shape.x + right, baseline=shape.baseline + down))
        else:
            points = tuple((x + right, y + down) for x, y in shape.points)
            found.append(replace(shape, points=points))
    return found


def box(left: float, top: float, right: float, bottom: float) -> tuple[Point, ...]:
    """Corners of a rectangle."""
    return (left, top), (right, top), (right, bottom), (left, bottom)


def round_mark(x: float, y: float, radius: float) -> tuple[Point, ...]:
    """Corners of what looks round."""
    angles = np.linspace(0.0, 2.0 * math.pi, _CORNERS_OF_ROUND, endpoint=False)
    return tuple((x + radius * math.cos(a), y + radius * math.sin(a)) for a in map(float, angles))


def diamond(x: float, y: float, radius: float) -> tuple[Point, ...]:
    """Corners of a square that stands on one of them."""
    return (x, y - radius), (x + radius, y), (x, y + radius), (x - radius, y)


def arrow(start: Point, end: Point, colour: str, width: float, head: float) -> list[Shape]:
    """A straight arrow with its tip at the end."""
    length = math.dist(start, end)
    if length <= 0.0:
        return []
    ahead = (end[0] - start[0]) / length, (end[1] - start[1]) / length
    head = min(head, length)
    neck = end[0] - head * ahead[0], end[1] - head * ahead[1]
    aside = -0.45 * head * ahead[1], 0.45 * head * ahead[0]
    wings = (neck[0] + aside[0], neck[1] + aside[1]), (neck[0] - aside[0], neck[1] - aside[1])
    return [Line((start, neck), colour, width), Area((end, *wings), colour)]


def hatched(corners: tuple[Point, ...], apart: float, colour: str, width: float) -> list[Shape]:
    """Slanting strokes across a convex area."""
    # Where strokes of slope 1 cross its edges: x + y is the same along a stroke.
    sums = [x + y for x, y in corners]
    strokes: list[Shape] = []
    edges = list(zip(corners, (*corners[1:], corners[0]), strict=True))
    for total in np.arange(min(sums) + 0.5 * apart, max(sums), apart).tolist():
        crossings = []
        for (x1, y1), (x2, y2) in edges:
            first, second = x1 + y1 - total, x2 + y2 - total
            if (first < 0.0) != (second < 0.0):
                part = first / (first - second)
                crossings.append((x1 + part * (x2 - x1), y1 + part * (y2 - y1)))
        if len(crossings) == 2:
            strokes.append(Line(tuple(crossings), colour, width))
    return strokes


def painted(drawing: Drawing) -> Figure:
    """The drawing as a figure of its size, in light colours."""
    figure = Figure(figsize=(drawing.width / 72.0, drawing.height / 72.0), facecolor="white")
    for order, shape in enumerate(drawing.shapes):
        if isinstance(shape, Words):
            _add_words(figure, shape, order)
        elif isinstance(shape, Line):
            _add_line(figure, shape, order)
        else:
            _add_area(figure, shape, order)
    return figure


def _add_words(figure: Figure, words: Words, order: int) -> None:
    anchors = {"start": "left", "middle": "center", "end": "right"}
    look: Look = {"ha": anchors[words.anchor], "weight": "bold" if words.bold else "normal"}
    look |= {"color": COLOURS[words.colour], "zorder": order}
    style.write(figure, words.x, words.baseline, words.text, words.size, **look)


def _add_line(figure: Figure, line: Line, order: int) -> None:
    x, y = zip(*line.points, strict=True)
    look: Look = {"linewidth": line.width, "solid_capstyle": "butt", "zorder": order}
    if line.dashes:
        # In a figure dashes count in line widths.
        look["linestyle"] = (0.0, [length / line.width for length in line.dashes])
    style.draw(figure, x, y, color=COLOURS[line.colour], **look)


def _add_area(figure: Figure, area: Area, order: int) -> None:
    look: Look = {"linewidth": area.width, "zorder": order, "transform": style.points(figure)}
    look["facecolor"] = COLOURS[area.fill] if area.fill else "none"
    look["edgecolor"] = COLOURS[area.edge] if area.edge else "none"
    figure.add_artist(PathPatch(Path([*area.points, area.points[0]], closed=True), **look))
