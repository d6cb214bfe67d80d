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
# How many of 100 fewer than at the best make the next darker shade.
_EDGES: Final = (100.0, 16.0, 8.0, 4.0, 2.0, 1.0, 0.0)
_SHADES: Final = [Shades(0.0, len(_EDGES) - 2.0).fill(step) for step in range(len(_EDGES) - 1)]
# Numbers of the policies stand in a row within the non-volley zone (ft).
_NUMBERS_AT: Final = -3.4
_NUMBERS_APART: Final = 1.9
_MOST_NUMBERED: Final = 9
_WORTH_A_LINE: Final = 0.4


def place_figures(result: Positions, units: Units = "us") -> Iterator[tuple[str, Figure]]:
    """A figure for each return direction, with its file stem."""
    for direction, here in result.after.items():
        yield f"places-{direction}", _figure(result, direction, here, units)


def _figure(result: Positions, direction: str, here: AfterReturns, units: Units) -> Figure:
    title = f"Where to stand after returns {style.RETURNS[direction]}"
    subtitle = f"{result.scenario.name} · best: most {_most(result)}"
    notes = _notes(result, here)
    top = style.head_height(title, subtitle) + 2.0 * TEXT
    words = top + _HEIGHT
    key = words + 2.0 * _LINE + 0.5 * TEXT
    explained = _explained(result, here)
    bottom = key + (2.0 + len(explained)) * _LINE
    with style.own_settings():
        figure = style.new_figure(bottom + style.foot_height(notes))
        style.head(figure, title, subtitle)
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
        _draw_key(figure, key, explained)
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
        dot: Look = {"markersize": 4.5, "markerfacecolor": "white", "markeredgecolor": style.INK}
        style.draw(axes, [x], [-depth], zorder=9, marker="o", markeredgewidth=0.9, **dot)
        style.label(axes, row, _NUMBERS_AT, str(k + 1), zorder=7)


def _draw_best(axes: Axes, here: AfterReturns, name: str, *, own: bool) -> None:
    """The best place: full for the player of the panel, open for the partner."""
    spot, colour = getattr(here.spots, name), style.PLAYERS[name]
    x, y = spot.from_centre, -spot.depth
    found_x, found_y = here.found[name][0], -here.found[name][1]
    if own and _short_by(here, name) > _WORTH_A_LINE:
        style.draw(axes, [x, found_x], [y, found_y], zorder=7, color="white", linewidth=3.6)
        style.draw(axes, [x, found_x], [y, found_y], zorder=7, color=colour, linewidth=2.0)
    look: Look = {"markersize": 11.0 if own else 9.0, "markeredgewidth": 1.6}
    look["markerfacecolor"] = colour if own else "white"
    look["markeredgecolor"] = "white" if own else colour
    style.draw(axes, [x], [y], zorder=10, marker=MARKS[name], **look)


def _explained(result: Positions, here: AfterReturns) -> list[str]:
    """What the key says of places without a shade, and of the line from a best place if any."""
    late = "not reached in time, or " if result.wish.in_time > 0.0 else ""
    lines = [f"blank: {late}too near the partner"]
    if any(_short_by(here, name) > _WORTH_A_LINE for name in PLAYERS):
        lines.append("line from the best: to where the shots find them")
    return lines


def _short_by(here: AfterReturns, name: str) -> float:
    """How far (ft) from the best place the shots find a player."""
    spot, (x, depth) = getattr(here.spots, name), here.found[name]
    return math.hypot(x - spot.from_centre, depth - spot.depth)


def _draw_key(figure: Figure, top: float, explained: list[str]) -> None:
    """What shades, outline and marks mean, each beside its words."""
    lines = [top + (row + 1) * _LINE for row in range(2 + len(explained))]
    names = ["16+", *(f"{low:g}–{high:g}" for high, low in pairwise(_EDGES[1:]))]
    draw_steps(figure, MARGIN, lines[0] - 3.0, _SHADES, names, "of 100 fewer than at the best")
    left = MARGIN
    for own, words in ((True, "best"), (False, "partner")):
        for name, colour in style.PLAYERS.items():
            look: Look = {"markersize": 9.0, "color": colour, "marker": MARKS[name]}
            look["markerfacecolor"] = colour if own else "white"
            style.draw(figure, [left + 5.0], [lines[1] - 0.36 * SMALL], **look)
            left += 14.0
        style.write(figure, left + 2.0, lines[1], words, SMALL)
        left += 2.0 + style.width_of(words, SMALL) + 14.0
    middle = lines[1] - 0.36 * SMALL
    style.draw(figure, [left, left + 20.0], [middle, middle], color=style.INK, linewidth=2.0)
    style.write(figure, left + 26.0, lines[1], "cannot be told from the best", SMALL)
    for line, words in zip(lines[2:], explained, strict=True):
        style.write(figure, MARGIN, line, words, SMALL)


def _notes(result: Positions, here: AfterReturns) -> list[str]:
    """Which number is which policy."""
    if not here.named:
        return []
    names = [
        style.wrapped(f"{k} {name}", style.ROOM, SMALL, most=1)[0]
        for k, name in enumerate(here.named, 1)
    ][:_MOST_NUMBERED]
    more = len(here.named) - len(names)
    lines = ["Dots: where the shots find them as they stand by"]
    for name in [*names, f"and {more} more"][: len(names) + bool(more)]:
        longer = f"{lines[-1]}   {name}"
        # A number and its name stay together, the first on a line of their own.
        if len(lines) > 1 and style.width_of(longer, SMALL) <= style.ROOM:
            lines[-1] = longer
        else:
            lines.append(name)
    return lines
