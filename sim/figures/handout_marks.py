"""Marks on a court of the page for players, and how a place on the court is one on the drawing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sim.court import HALF_WIDTH
from sim.figures.handout_drawing import (
    Area,
    Line,
    Point,
    Shape,
    Words,
    box,
    diamond,
    hatched,
    round_mark,
)

# What is seen of the ground to the left of the court (ft); to its right there is room for words.
LEFT: Final = 11.6
# Sizes in points.
MARK: Final = 7.0
FOUND: Final = 3.9
BALL: Final = 3.4
STRIKE: Final = 4.6
GAP: Final = 4.0
# Who is so close (ft) to the target has arrived, who starts so close to it stays.
THERE: Final = 0.6
_HATCH: Final = 3.6
_TICK: Final = 2.5
_AROUND_WORDS: Final = 1.2


@dataclass(frozen=True)
class View:
    """What all courts of a page have in common.

    So many points a foot, the far and the near end of what is seen (ft from the net), the size of
    the words, and the room (points) for words to the right of the court.
    """

    scale: float
    far: float
    near: float
    size: float
    aside: float

    @property
    def top(self) -> float:
        """Points above the far end, for the mark of who strikes there."""
        return STRIKE + 2.0

    @property
    def width(self) -> float:
        """Width of the drawing."""
        return (LEFT + HALF_WIDTH) * self.scale + self.aside

    @property
    def height(self) -> float:
        """Height of the drawing."""
        return self.top + (self.far + self.near) * self.scale + self.size + 8.0

    def at(self, x: float, y: float) -> Point:
        """A place on the court as a place on the drawing."""
        return (x + LEFT) * self.scale, self.top + (self.far - y) * self.scale


def mark(player: str, x: float, y: float, radius: float, *, filled: bool = True) -> list[Shape]:
    """A player's mark, round on the left and square on the right: filled and lettered, or open."""
    corners = _outline(player, x, y, radius)
    if not filled:
        return [Area(corners, "paper", player, 1.6)]
    letter, colour = ("L", "paper") if player == "left" else ("R", "on-right")
    size = 1.4 * radius
    words = Words(x, y + 0.36 * size, letter, size, colour, "middle", bold=True)
    return [Area(corners, player, "paper", 0.8), words]


def ring(player: str, x: float, y: float, radius: float) -> list[Shape]:
    """An open mark over another mark, which is seen through it."""
    corners = _outline(player, x, y, radius)
    return [Area(corners, "", "paper", 2.8), Area(corners, "", player, 1.6)]


def _outline(player: str, x: float, y: float, radius: float) -> tuple[Point, ...]:
    half = 0.9 * radius
    if player == "left":
        return round_mark(x, y, radius)
    return box(x - half, y - half, x + half, y + half)


def ball(x: float, y: float) -> list[Shape]:
    """The ball between the two."""
    return [Area(round_mark(x, y, BALL), "paper", "ink", 1.2)]


def strike_mark(x: float, y: float) -> list[Shape]:
    """Where the opponents strike."""
    return [Area(diamond(x, y, STRIKE), "ink")]


def hatching(corners: tuple[Point, ...]) -> list[Shape]:
    """A convex area that is left open."""
    return [*hatched(corners, _HATCH, "through", 0.9), Area(corners, "", "through", 0.9)]


def measure(start: Point, end: Point) -> list[Shape]:
    """A stroke between two places, with ticks across its ends."""
    upright = start[0] == end[0]
    dx, dy = (_TICK, 0.0) if upright else (0.0, _TICK)
    ticks = [Line(((x - dx, y - dy), (x + dx, y + dy)), "ink", 0.9) for x, y in (start, end)]
    return [Line((start, end), "ink", 0.9), *ticks]


def label(words: Words, ground: str = "paper") -> list[Shape]:
    """Words that keep the lines of the court from running through them, on ground of a colour."""
    left, top, right, bottom = words.box
    around = box(left - _AROUND_WORDS, top, right + _AROUND_WORDS, bottom)
    return [Area(around, ground), words]
