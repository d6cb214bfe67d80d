"""What each place on the court is worth to a pair, with the partner at the best one."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import BoundaryNorm, ListedColormap
from matplotlib.figure import Figure

from sim.analyses.positions import AfterReturns, Positions
from sim.court import HALF_WIDTH, Array
from sim.figures import style
from sim.figures.cells import Shades, draw_outline, draw_steps, side_by_side
from sim.figures.courts import MARKS, draw_court
from sim.figures.scales import spread
from sim.figures.style import MARGIN, SMALL, TEXT, Look, Units
from sim.run_in import PLAYERS
from sim.scenario import Spot
from sim.texts.positions import WORTH, measure_words

# What a panel shows of the ground (ft).
_HALF_VIEW: Final = 11.2
_FARTHEST_VIEW: Final = 0.8
_NEAREST_VIEW: Final = -23.0
_GAP: Final = 14.0
_WIDTH: Final = (style.ROOM - _GAP) / 2.0
_HEIGHT: Final = _WIDTH * (_FARTHEST_VIEW - _NEAREST_VIEW) / (2.0 * _HALF_VIEW)
_LINE: Final = SMALL * style.LINE
_KEY_LINES: Final = 3
# How many of 100 fewer than at the best make the next darker shade.
_EDGES: Final = (100.0, 16.0, 8.0, 4.0, 2.0, 1.0, 0.0)
_SHADES: Final = [Shades(0.0, len(_EDGES) - 2.0).fill(step) for step in range(len(_EDGES) - 1)]
# Numbers of the policies stand in a row within the non-volley zone (ft).
_NUMBERS_AT: Final = -3.4
_NUMBERS_APART: Final = 1.9
_MOST_NUMBERED: Final = 9
_NAMED: Final[Look] = {
    "marker": "o",
    "markersize": 4.5,
    "markeredgewidth": 0.9,
    "markerfacecolor": "white",
    "markeredgecolor": style.INK,
}
_WORTH_A_LINE: Final = 0.4
# Stands in the picture itself: pictures are passed on without the page around them.
_CAUTION: Final = (
    "A model, not advice: what a ball taken near the net is worth afterwards is not in it."
)


def place_figures(result: Positions, units: Units = "us") -> Iterator[tuple[str, Figure]]:
    """A figure for each return direction, with its file stem."""
    for direction, here in result.after.items():
        yield f"places-{direction}", _figure(result, direction, here, units)


def _figure(result: Positions, direction: str, here: AfterReturns, units: Units) -> Figure:
    title = f"Where to stand after returns {style.RETURNS[direction]}"
    subtitle = f"{result.scenario.name} · best: most {_most(result)}"
    caution = style.wrapped(_CAUTION, style.ROOM, TEXT)
    notes = _notes(here)
    head = style.head_height(title, subtitle)
    top = head + len(caution) * TEXT * style.LINE + 2.0 * TEXT
    words = top + _HEIGHT
    key = words + 2.0 * _LINE + 0.5 * TEXT
    found = any(_short_by(here, name) > _WORTH_A_LINE for name in PLAYERS)
    bottom = key + (_KEY_LINES + found) * _LINE
    with style.own_settings():
        figure = style.new_figure(bottom + style.foot_height(notes))
        style.head(figure, title, subtitle)
        for row, line in enumerate(caution):
            style.write(figure, MARGIN, head + (row + 1) * TEXT * style.LINE, line)
        for place, name in enumerate(PLAYERS):
            left = MARGIN + place * (_WIDTH + _GAP)
            middle = left + 0.5 * _WIDTH
            colour: Look = {"color": style.PLAYER_WORDS[name], "weight": "bold", "ha": "center"}
            style.write(figure, middle, top - 6.0, f"{name} player", **colour)
            axes = style.add_axes(figure, left, top, _WIDTH, _HEIGHT)
            axes.set(xlim=(-_HALF_VIEW, _HALF_VIEW), ylim=(_NEAREST_VIEW, _FARTHEST_VIEW))
            _draw_panel(axes, result, here, name)
            spot = getattr(here.spots, name)
            for row, line in enumerate(_in_words(spot, units)):
                below = words + (row + 1) * _LINE
                style.write(figure, middle, below, line, SMALL, ha="center")
        _draw_key(figure, key, result, found=found)
        style.foot(figure, bottom, notes)
    return figure


def _most(result: Positions) -> str:
    words = measure_words(result.wish.worth)
    return words if words == WORTH else f"balls {words}"


def _in_words(spot: Spot, units: Units) -> list[str]:
    side = "left" if spot.from_centre < 0.0 else "right"
    return [
        f"best: {_length(abs(spot.from_centre), units)} {side} of centre,",
        f"{_length(spot.depth, units)} from the net",
    ]


def _length(feet: float, units: Units) -> str:
    """Half feet matter here."""
    return f"{feet:.1f} ft" if units == "us" else style.length(feet, units)


def _draw_panel(axes: Axes, result: Positions, here: AfterReturns, name: str) -> None:
    mine, worth, good = here.given_partner(name)
    places = _Squares.of(mine.x, mine.depth, result.wish.grid)
    below = 100.0 * (float(here.land.worth[here.land.best]) - worth)
    axes.set(xlim=(-_HALF_VIEW, _HALF_VIEW), ylim=(_NEAREST_VIEW, _FARTHEST_VIEW))
    draw_court(axes, named=False)
    places.draw_shades(axes, np.maximum(below, 0.0))
    draw_outline(axes, places.columns, places.rows, places.filled(good, otherwise=False))
    _draw_named(axes, here, name)
    for other in PLAYERS:
        _draw_best(axes, here, other, own=other == name)


@dataclass(frozen=True)
class _Squares:
    """The grid of places: edges of columns and rows (ft), and the square of every place."""

    columns: Array
    rows: Array
    column: np.ndarray
    row: np.ndarray

    @classmethod
    def of(cls, x: Array, depth: Array, grid: float) -> _Squares:
        """The squares of places so far apart; rows from the farthest back to the net."""
        column = np.rint((x - x.min()) / grid).astype(int)
        row = np.rint((depth.max() - depth) / grid).astype(int)
        left, back = x.min() - 0.5 * grid, -depth.max() - 0.5 * grid
        columns = side_by_side(left + grid * np.arange(column.max() + 2))
        return cls(columns, side_by_side(back + grid * np.arange(row.max() + 2)), column, row)

    def filled(self, values: np.ndarray, otherwise: float | bool) -> np.ndarray:
        """A value for every square, shape (columns, rows)."""
        squares = np.full((len(self.columns), len(self.rows)), otherwise)
        squares[self.column, self.row] = values
        return squares

    def draw_shades(self, axes: Axes, fewer: Array) -> None:
        """The darker the nearer to the best; places without a value stay blank."""
        shades = ListedColormap(_SHADES[::-1])
        axes.imshow(
            self.filled(fewer, math.nan).T,
            cmap=shades,
            norm=BoundaryNorm(_EDGES[::-1], shades.N),
            extent=(self.columns[0, 0], self.columns[-1, 1], self.rows[0, 0], self.rows[-1, 1]),
            origin="lower",
            interpolation="nearest",
            aspect="auto",
            zorder=1,
        )


def _draw_named(axes: Axes, here: AfterReturns, name: str) -> None:
    """Where the shots find the player under each policy, numbered within the non-volley zone."""
    places = [found[name] for found in here.named.values()][:_MOST_NUMBERED]
    order = sorted(range(len(places)), key=lambda k: places[k])
    room = HALF_WIDTH - 0.5
    at = spread([places[k][0] for k in order], _NUMBERS_APART, -room, room)
    for k, row in zip(order, at, strict=True):
        x, depth = places[k]
        line = (row, x), (_NUMBERS_AT - 0.9, -depth)
        style.draw(axes, *line, zorder=6, color=style.INK, linewidth=0.7)
        # Above the marks of the best places, which are larger and would hide it.
        style.draw(axes, [x], [-depth], zorder=11, **_NAMED)
        style.label(axes, row, _NUMBERS_AT, str(k + 1), zorder=7)


def _draw_best(axes: Axes, here: AfterReturns, name: str, *, own: bool) -> None:
    """The best place: full for the player of the panel, open for the partner."""
    spot, colour = getattr(here.spots, name), style.PLAYERS[name]
    x, y = spot.from_centre, -spot.depth
    found_x, found_y = here.found[name][0], -here.found[name][1]
    if own and _short_by(here, name) > _WORTH_A_LINE:
        _draw_way(axes, [x, found_x], [y, found_y], name)
    look: Look = {"markersize": 11.0 if own else 9.0, "markeredgewidth": 1.6}
    look["markerfacecolor"] = colour if own else "white"
    look["markeredgecolor"] = "white" if own else colour
    style.draw(axes, [x], [y], zorder=10, marker=MARKS[name], **look)


def _draw_way(on: Axes | Figure, x: list[float], y: list[float], name: str) -> None:
    """From a best place to where the shots find the player on the way to it, a mark at the end."""
    style.draw(on, x, y, zorder=8, color="white", linewidth=4.4)
    style.draw(on, x, y, zorder=8, color=style.PLAYERS[name], linewidth=2.2)
    end: Look = {"color": style.PLAYERS[name], "markeredgecolor": "white", "markeredgewidth": 1.4}
    style.draw(on, x[1:], y[1:], zorder=9, marker=MARKS[name], markersize=7.5, **end)


def _short_by(here: AfterReturns, name: str) -> float:
    """How far (ft) from the best place the shots find a player."""
    spot, (x, depth) = getattr(here.spots, name), here.found[name]
    return math.hypot(x - spot.from_centre, depth - spot.depth)


def _draw_key(figure: Figure, top: float, result: Positions, *, found: bool) -> None:
    """What shades, outline and marks mean, each beside its words.

    ``found`` says whether a line goes from a best place to where the shots find the player.
    """
    lines = [top + (row + 1) * _LINE for row in range(_KEY_LINES + found)]
    middles = [line - 0.36 * SMALL for line in lines]
    names = ["16+", *(f"{low:g}–{high:g}" for high, low in pairwise(_EDGES[1:]))]
    draw_steps(figure, MARGIN, lines[0] - 3.0, _SHADES, names, "of 100 fewer than at the best")
    left = MARGIN
    for own, words in ((True, "best"), (False, "partner")):
        for name, colour in style.PLAYERS.items():
            look: Look = {"markersize": 9.0, "color": colour, "marker": MARKS[name]}
            look["markerfacecolor"] = colour if own else "white"
            style.draw(figure, [left + 5.0], [middles[1]], **look)
            left += 14.0
        style.write(figure, left + 2.0, lines[1], words, SMALL)
        left += 2.0 + style.width_of(words, SMALL) + 14.0
    style.draw(figure, [left, left + 20.0], [middles[1]] * 2, color=style.INK, linewidth=2.0)
    style.write(figure, left + 26.0, lines[1], "cannot be told from the best", SMALL)
    late = "not reached in time, or " if result.wish.in_time > 0.0 else ""
    style.write(figure, MARGIN, lines[2], f"blank: {late}too near the partner", SMALL)
    if found:
        left = MARGIN
        for name in PLAYERS:
            _draw_way(figure, [left, left + 16.0], [middles[3]] * 2, name)
            left += 28.0
        style.write(figure, left, lines[3], "where the shots find them on the way there", SMALL)


def _notes(here: AfterReturns) -> list[str]:
    """Which number is which policy."""
    if not here.named:
        return []
    names = [
        style.wrapped(f"{k} {name}", style.ROOM, SMALL, most=1)[0]
        for k, name in enumerate(here.named, 1)
    ][:_MOST_NUMBERED]
    more = len(here.named) - len(names)
    lines = ["White dots: where the shots find them under each policy"]
    for name in [*names, f"and {more} more"][: len(names) + bool(more)]:
        longer = f"{lines[-1]}   {name}"
        # A number and its name stay together, the first on a line of their own.
        if len(lines) > 1 and style.width_of(longer, SMALL) <= style.ROOM:
            lines[-1] = longer
        else:
            lines.append(name)
    return lines
