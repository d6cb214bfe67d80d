"""Courts to scale, side by side, and the marks of who stands where: alike in all figures."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from sim.court import BASELINE, HALF_WIDTH, NON_VOLLEY_ZONE, POST
from sim.coverage import Point
from sim.figures import scales, style
from sim.figures.style import MARGIN, SMALL, TEXT, Look
from sim.scenario import RETURN_DIRECTIONS

MARKS: Final = {"left": "o", "right": "s"}
# What a panel shows of the ground (ft).
HALF_VIEW: Final = 12.2
_NEAREST_VIEW: Final = -25.2
_BEHIND_CONTACT: Final = 3.6
_BEHIND_ALL: Final = 1.0
# Panels have one size, whether a scenario has one return direction or three.
_GAP: Final = 4.0
_WIDTH: Final = (style.ROOM - (len(RETURN_DIRECTIONS) - 1) * _GAP) / len(RETURN_DIRECTIONS)
_INDENT: Final = 6.0
_PER_FOOT: Final = _WIDTH / (2.0 * HALF_VIEW)
_NAMES: Final = 1.25 * SMALL
_LINE: Final = SMALL * style.LINE
_HEADING: Final = 2.0 * TEXT


@dataclass(frozen=True)
class Panels:
    """A row of courts below ``top`` (points), each with its captions below.

    ``farthest`` is how far beyond the net the opponents strike (ft), at most, and ``nearest`` the
    ``y`` (ft) down to which something is drawn behind the pair's baseline.
    """

    top: float
    farthest: float
    captions: list[list[str]]
    nearest: float = -BASELINE

    @property
    def bottom(self) -> float:
        """Where the captions end (points)."""
        return self._caption_top + max(map(len, self.captions)) * _LINE

    @property
    def _caption_top(self) -> float:
        return self.top + _HEADING + self._height + _NAMES

    @property
    def _far_view(self) -> float:
        return _BEHIND_CONTACT + max(BASELINE, self.farthest)

    @property
    def _near_view(self) -> float:
        return min(_NEAREST_VIEW, self.nearest - _BEHIND_ALL)

    @property
    def _height(self) -> float:
        return _PER_FOOT * (self._far_view - self._near_view)

    def add(self, figure: Figure, place: int, direction: str, *, first_bold: bool = False) -> Axes:
        """Draw the court after returns in one direction with its heading and its caption."""
        left, top = MARGIN + place * (_WIDTH + _GAP), self.top + _HEADING
        words, middle = style.RETURNS[direction], left + 0.5 * _WIDTH
        style.write(figure, middle, top - 6.0, words, weight="bold", ha="center")
        axes = style.add_axes(figure, left, top, _WIDTH, self._height)
        axes.set(xlim=(-HALF_VIEW, HALF_VIEW), ylim=(self._near_view, self._far_view))
        axes.set_aspect("equal")
        draw_court(axes)
        for row, line in enumerate(self.captions[place]):
            below = self._caption_top + (row + 1) * _LINE
            weight = "bold" if first_bold and row == 0 else "normal"
            style.write(figure, left + _INDENT, below, line, SMALL, weight=weight)
        return axes


def caption(parts: list[str]) -> list[str]:
    """What stands below a court, in lines that fit."""
    return [line for part in parts for line in style.wrapped(part, _WIDTH - _INDENT, SMALL)]


def found_in_words(left: str, right: str) -> list[str]:
    """How far from the net the shot finds the two, in lines of a caption.

    >>> found_in_words("13 ft", "13 ft"), found_in_words("13 ft", "14 ft")
    (['found 13 ft from net'], ['found left 13 ft,', 'right 14 ft from net'])
    """
    if left == right:
        return [f"found {left} from net"]
    return [f"found left {left},", f"right {right} from net"]


def draw_court(axes: Axes, *, named: bool = True) -> None:
    """The non-volley zone, all lines in one stroke, and the net from post to post.

    The opponents' zone is ``named``.
    """
    side, base, zone = HALF_WIDTH, BASELINE, NON_VOLLEY_ZONE
    look: Look = {"color": style.GROUND, "linewidth": 0.0}
    axes.add_artist(Rectangle((-side, -zone), 2 * side, 2 * zone, zorder=0, **look))
    x = [-side, side, side, -side, -side, math.nan]
    y = [-base, -base, base, base, -base, math.nan]
    for half in (-1.0, 1.0):
        x += [-side, side, math.nan, 0.0, 0.0, math.nan]
        y += [half * zone, half * zone, math.nan, half * zone, half * base, math.nan]
    style.draw(axes, x, y, zorder=3, color=style.QUIET, linewidth=0.9, gid="lines")
    net = [-POST, POST], [0.0, 0.0]
    style.draw(axes, *net, zorder=3, color=style.INK, linewidth=2.6, gid="net")
    if named:
        style.label(axes, 0.0, 0.5 * zone, "non-volley zone", color=style.QUIET, zorder=3)


def draw_player(axes: Axes, name: str, start: Point, found: Point, target: Point) -> None:
    """The straight way from the start, full where the shot finds the player, open the target."""
    colour, mark = style.PLAYERS[name], MARKS[name]
    for here, there, width in ((start, found, 2.2), (found, target, 1.3)):
        path = (here[0], there[0]), (here[1], there[1])
        style.draw(axes, *path, zorder=5, color=colour, linewidth=width)
    hollow: Look = {"markersize": 6.5, "markerfacecolor": "white", "markeredgecolor": colour}
    style.draw(axes, *_dot(target), zorder=6, marker=mark, markeredgewidth=1.6, **hollow)
    solid: Look = {"markersize": 9.5, "markerfacecolor": colour, "markeredgecolor": "white"}
    style.draw(axes, *_dot(found), zorder=7, marker=mark, markeredgewidth=1.2, **solid)


def write_names(axes: Axes, starts: dict[str, Point]) -> None:
    """Who is who, below the court, where nothing else is drawn."""
    (nearest, _), (_, up) = axes.get_ylim(), scales.a_point(axes)
    order = sorted(starts, key=lambda name: starts[name][0])
    apart = max(style.width_of(name, SMALL, bold=True) for name in order) / _PER_FOOT + 0.6
    wanted = [starts[name][0] for name in order]
    for name, x in zip(order, scales.spread(wanted, apart, -HALF_WIDTH, HALF_WIDTH), strict=True):
        words: Look = {"color": style.PLAYER_WORDS[name], "weight": "bold"}
        style.label(axes, x, nearest - 0.5 * _NAMES * up, name, **words)


def draw_strike(axes: Axes, contact: Point, words: str) -> None:
    """A diamond where the opponents strike on average, with words behind it."""
    x, y = contact
    style.draw(axes, *_dot(contact), zorder=7, marker="D", color=style.INK, markersize=7.0)
    room = HALF_VIEW - 0.5 * style.width_of(words, SMALL) / _PER_FOOT
    style.label(axes, min(max(x, -room), room), max(y, BASELINE) + 2.0, words)


def _dot(point: Point) -> tuple[list[float], list[float]]:
    return [point[0]], [point[1]]
