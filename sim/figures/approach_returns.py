"""Maps of the returns tried: how deep and how high, against what they do for the pair."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from sim.analyses.approach import Approach
from sim.analyses.approach_returns import DEPTHS, HEIGHTS, Tried
from sim.court import Array
from sim.figures import style
from sim.figures.cells import Shades
from sim.figures.style import MARGIN, ROOM, SMALL, TEXT, Look, Units
from sim.quantities import Distribution
from sim.units import METRES_PER_FOOT

_SCALE: Final = 34.0
_GAP: Final = 14.0
_WIDTH: Final = (ROOM - _SCALE - _GAP) / 2.0
_CELL_HEIGHT: Final = 21.0
_HEIGHT: Final = _CELL_HEIGHT * len(HEIGHTS)
_DARKEST: Final = style.PLAYERS["left"]
# Cells darker than this part of the way to the darkest carry white numbers.
_WHITE_FROM: Final = 0.55


def map_of_returns(result: Approach, units: Units = "us") -> Figure:
    """Where the shot finds them, and the share in control, by depth and height of the return."""
    tried = {(one.what.depth, one.what.height): one for one in result.returns.together()}
    title = "What a deeper or higher return does"
    subtitle = f"{result.scenario.name} · {result.returns.policy.name} · {_directions(result)}"
    notes = style.wrapped(_note(result, units), ROOM, SMALL, most=6)
    top = style.head_height(title, subtitle) + 3.4 * TEXT
    bottom = top + _HEIGHT + 3.4 * SMALL
    far = "ft" if units == "us" else "m"
    maps: list[tuple[str, Array, Callable[[float], str], float]] = [
        (f"from net when struck, {far}", _table(tried, _depth), _in(units), -1.0),
        ("in control, of 100", _table(tried, _control), "{:.0f}".format, 1.0),
    ]
    enough = _table(tried, lambda one: one.share("arrived")) >= result.arrive
    with style.own_settings():
        figure = style.new_figure(bottom + style.foot_height(notes))
        style.head(figure, title, subtitle)
        look: Look = {"color": style.QUIET, "ha": "left"}
        style.write(figure, MARGIN, top - 0.6 * TEXT, f"high, {far}", SMALL, **look)
        for place, (words, table, shown, sign) in enumerate(maps):
            left = MARGIN + _SCALE + place * (_WIDTH + _GAP)
            style.write(figure, left, top - 1.9 * TEXT, words, weight="bold")
            axes = style.add_axes(figure, left, top, _WIDTH, _HEIGHT)
            axes.set(xlim=(0.0, len(DEPTHS)), ylim=(0.0, len(HEIGHTS)))
            _draw_cells(axes, table, shown, sign)
            _draw_outline(axes, enough)
            _draw_own(axes, result)
            _write_scales(axes, units, heights=place == 0)
            middle = left + 0.5 * _WIDTH
            below = top + _HEIGHT + 2.6 * SMALL
            words = f"return lands, {far} from the net"
            style.write(figure, middle, below, words, SMALL, color=style.QUIET, ha="center")
        style.foot(figure, bottom, notes)
    return figure


def _directions(result: Approach) -> str:
    if len(result.directions) > 1:
        return "all returns"
    return f"returns {style.RETURNS[result.directions[0]]}"


def _note(result: Approach, units: Units) -> str:
    wanted = f"{100.0 * result.arrive:.0f} of 100 balls"
    outlined = any(one.share("arrived") >= result.arrive for one in result.returns.together())
    arrived = (
        f"Thick line around: both have arrived for {wanted} or more. "
        if outlined
        else f"No return lets both arrive for {wanted}. "
    )
    return (
        f"{arrived}Dashed: the middle eight of ten of the pair's own returns, in depth and in "
        "height. Darker is nearer to the net, and more in control. The pair's errors are not "
        "modelled: high and deep returns go out more easily."
    )


def _depth(tried: Tried) -> float:
    return tried.depth


def _control(tried: Tried) -> float:
    return 100.0 * tried.share("in_control")


def _in(units: Units) -> Callable[[float], str]:
    """How a distance from the net is written in a cell."""
    if units == "us":
        return "{:.0f}".format
    return lambda feet: f"{feet * METRES_PER_FOOT:.1f}"


def _table(
    tried: dict[tuple[float | None, float | None], Tried], value: Callable[[Tried], float]
) -> Array:
    """A value for every return, shape (heights, depths)."""
    rows = [[value(tried[depth, height]) for depth in DEPTHS] for height in HEIGHTS]
    return np.array(rows, float)


def _draw_cells(axes: Axes, table: Array, shown: Callable[[float], str], sign: float) -> None:
    """A cell for every return, the darker the better, with its number."""
    ends = Shades.of(sign * table)
    shades = Shades(ends.least, ends.most, "white", _DARKEST)
    for row, column in np.ndindex(table.shape):
        value = float(table[row, column])
        if not np.isfinite(value):
            continue
        face = shades.fill(sign * value)
        look: Look = {"facecolor": face, "edgecolor": "white", "linewidth": 0.8, "zorder": 1}
        axes.add_artist(Rectangle((column, row), 1.0, 1.0, **look))
        colour = "white" if shades.part(sign * value) > _WHITE_FROM else style.INK
        style.label(axes, column + 0.5, row + 0.47, shown(value), color=colour, zorder=3)


def _draw_outline(axes: Axes, enough: np.ndarray) -> None:
    """A line around the returns that let both arrive often enough."""
    padded = np.pad(enough, 1)
    look: Look = {"color": style.INK, "linewidth": 3.0, "zorder": 4, "solid_capstyle": "round"}
    for row, column in zip(*np.nonzero(enough), strict=True):
        for down, across, x, y in (
            (-1, 0, (column, column + 1), (row, row)),
            (1, 0, (column, column + 1), (row + 1, row + 1)),
            (0, -1, (column, column), (row, row + 1)),
            (0, 1, (column + 1, column + 1), (row, row + 1)),
        ):
            if not padded[row + 1 + down, column + 1 + across]:
                style.draw(axes, x, y, **look)


def _draw_own(axes: Axes, result: Approach) -> None:
    """Where the pair's own returns lie: the middle eight of ten in depth and in height."""
    wanted = result.scenario.return_of_serve
    columns, rows = _usual(wanted.landing_depth, DEPTHS), _usual(wanted.top, HEIGHTS)
    if not (columns and rows):
        return
    left, right, low, high = columns[0], columns[-1] + 1, rows[0], rows[-1] + 1
    x, y = [left, right, right, left, left], [low, low, high, high, low]
    style.draw(axes, x, y, zorder=5, color="white", linewidth=2.6)
    dashed: Look = {"color": style.INK, "linewidth": 1.8, "linestyle": (0, (2.5, 1.5))}
    style.draw(axes, x, y, zorder=6, **dashed)


def _usual(drawn: Distribution, values: tuple[float, ...]) -> list[int]:
    """Which of the values lie where the middle eight of ten of the pair's own do."""
    low, high = drawn.quantile(np.array([0.1, 0.9]))
    return [place for place, value in enumerate(values) if low <= value <= high]


def _write_scales(axes: Axes, units: Units, *, heights: bool) -> None:
    shown = _in(units)
    for column, depth in enumerate(DEPTHS):
        style.label(axes, column + 0.5, -0.55, shown(depth), color=style.QUIET)
    for row, height in enumerate(HEIGHTS if heights else ()):
        style.label(axes, -0.3, row + 0.47, shown(height), color=style.QUIET, ha="right")
