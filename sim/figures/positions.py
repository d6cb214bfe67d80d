"""What each place on the court is worth to a pair, with the partner at the best one."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import BoundaryNorm, ListedColormap
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from sim.analyses.positions import AfterReturns, Positions
from sim.court import BASELINE, HALF_WIDTH, NON_VOLLEY_ZONE, POST, Array
from sim.figures import style
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
_MARKS: Final = {"left": "o", "right": "s"}
# Points below the best at which the next lighter shade begins; dark is good, in grey print, too.
_EDGES: Final = (0.0, 1.0, 2.0, 4.0, 8.0, 16.0, 100.0)
_SHADES: Final = ("#0d3f57", "#2f6f86", "#6199a8", "#93bcc5", "#c3dade", "#e6eff0")
_SWATCH: Final = 16.0
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
    grid = result.wish.grid
    mine, worth, good = here.given_partner(name)
    below = 100.0 * (float(here.land.worth[here.land.best]) - worth)
    known = np.isfinite(worth)
    _draw_half(axes)
    _draw_shades(axes, mine.x[known], mine.depth[known], below[known], grid)
    x, y = _outline(mine.x[good], mine.depth[good], grid)
    style.draw(axes, x, y, zorder=4, color="white", linewidth=3.4)
    style.draw(axes, x, y, zorder=5, color=style.INK, linewidth=1.5)
    _draw_named(axes, here, name)
    for other in PLAYERS:
        _draw_best(axes, here, other, own=other == name)


def _draw_half(axes: Axes) -> None:
    """The pair's half to scale, from the net to the baseline."""
    side, base, zone = HALF_WIDTH, BASELINE, NON_VOLLEY_ZONE
    look: Look = {"color": style.GROUND, "linewidth": 0.0, "zorder": 0}
    axes.add_artist(Rectangle((-side, -zone), 2.0 * side, zone, **look))
    x = [-side, -side, side, side, math.nan, -side, side, math.nan, 0.0, 0.0]
    y = [0.0, -base, -base, 0.0, math.nan, -zone, -zone, math.nan, -zone, -base]
    style.draw(axes, x, y, zorder=3, color=style.QUIET, linewidth=0.9, gid="lines")
    style.draw(axes, [-POST, POST], [0.0, 0.0], zorder=3, color=style.INK, linewidth=2.6, gid="net")


def _draw_shades(axes: Axes, x: Array, depth: Array, below: Array, grid: float) -> None:
    """A square for every place, the darker the nearer to the best."""
    across = np.rint((x - x.min()) / grid).astype(int)
    back = np.rint((depth - depth.min()) / grid).astype(int)
    squares = np.full((back.max() + 1, across.max() + 1), math.nan)
    squares[back, across] = np.maximum(below, 0.0)
    half = 0.5 * grid
    sides = x.min() - half, x.max() + half, -depth.max() - half, -depth.min() + half
    shades = ListedColormap(_SHADES)
    axes.imshow(
        squares,
        cmap=shades,
        norm=BoundaryNorm(_EDGES, shades.N),
        extent=sides,
        origin="upper",
        interpolation="nearest",
        aspect="auto",
        zorder=1,
    )
    axes.set(xlim=(-_HALF_VIEW, _HALF_VIEW), ylim=(_NEAREST_VIEW, _FARTHEST_VIEW))


def _outline(x: Array, depth: Array, grid: float) -> tuple[list[float], list[float]]:
    """Sides of the places' squares that no two of them share, as strokes of one line."""
    cells = {(round(a / grid * 2.0), round(b / grid * 2.0)) for a, b in zip(x, depth, strict=True)}
    strokes_x: list[float] = []
    strokes_y: list[float] = []
    for a, b in sorted(cells):
        for to_a, to_b in ((-2, 0), (2, 0), (0, -2), (0, 2)):
            if (a + to_a, b + to_b) in cells:
                continue
            middle = a + 0.5 * to_a, b + 0.5 * to_b
            along = 0.5 * abs(to_b), 0.5 * abs(to_a)
            for sign in (-1.0, 1.0):
                strokes_x.append(0.5 * grid * (middle[0] + sign * along[0]))
                strokes_y.append(-0.5 * grid * (middle[1] + sign * along[1]))
            strokes_x.append(math.nan)
            strokes_y.append(math.nan)
    return strokes_x, strokes_y


def _draw_named(axes: Axes, here: AfterReturns, name: str) -> None:
    """Where the shots find the player under each policy, numbered within the non-volley zone."""
    places = [found[name] for found in here.named.values()][:_MOST_NUMBERED]
    order = sorted(range(len(places)), key=lambda k: places[k])
    at = _spread([places[k][0] for k in order])
    for k, row in zip(order, at, strict=True):
        x, depth = places[k]
        line = (row, x), (_NUMBERS_AT - 0.9, -depth)
        style.draw(axes, *line, zorder=6, color=style.INK, linewidth=0.7)
        dot: Look = {"markersize": 4.5, "markerfacecolor": "white", "markeredgecolor": style.INK}
        style.draw(axes, [x], [-depth], zorder=9, marker="o", markeredgewidth=0.9, **dot)
        style.label(axes, row, _NUMBERS_AT, str(k + 1), zorder=7)


def _spread(wanted: list[float]) -> list[float]:
    """Ascending places moved apart, about the same middle as far as the court has room."""
    at = list(wanted)
    for k in range(1, len(at)):
        at[k] = max(at[k], at[k - 1] + _NUMBERS_APART)
    if at:
        shift = (sum(wanted) - sum(at)) / len(at)
        room = HALF_WIDTH - 0.5
        shift = min(max(shift, -room - at[0]), room - at[-1])
        at = [place + shift for place in at]
    return at


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
    style.draw(axes, [x], [y], zorder=8, marker=_MARKS[name], **look)


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
    style.write(figure, MARGIN, lines[0], "points below the best:", SMALL)
    left = MARGIN + style.width_of("points below the best:", SMALL) + 8.0
    for shade, low, high in zip(_SHADES, _EDGES[:-1], _EDGES[1:], strict=True):
        square: Look = {"marker": "s", "markersize": 12.0, "color": shade}
        middle = lines[0] - 0.36 * SMALL
        style.draw(figure, [left + 6.0], [middle], markeredgecolor=style.FAINT, **square)
        words = f"{low:g}–{high:g}" if high < _EDGES[-1] else f"{low:g}+"
        style.write(figure, left + _SWATCH, lines[0], words, SMALL)
        left += _SWATCH + style.width_of(words, SMALL) + 7.0
    left = MARGIN
    for own, words in ((True, "best"), (False, "partner")):
        for name, colour in style.PLAYERS.items():
            look: Look = {"markersize": 9.0, "color": colour, "marker": _MARKS[name]}
            look["markerfacecolor"] = colour if own else "white"
            style.draw(figure, [left + 5.0], [lines[1] - 0.36 * SMALL], **look)
            left += 14.0
        style.write(figure, left + 2.0, lines[1], words, SMALL)
        left += 2.0 + style.width_of(words, SMALL) + 14.0
    middle = lines[1] - 0.36 * SMALL
    style.draw(figure, [left, left + 20.0], [middle, middle], color=style.INK, linewidth=1.5)
    style.write(figure, left + 26.0, lines[1], "cannot be told from the best", SMALL)
    for line, words in zip(lines[2:], explained, strict=True):
        style.write(figure, MARGIN, line, words, SMALL)


def _notes(result: Positions, here: AfterReturns) -> list[str]:
    """Which number is which policy."""
    if not here.named:
        return []
    names = [f"{k} {name}" for k, name in enumerate(here.named, 1)][:_MOST_NUMBERED]
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
