"""Maps of the returns tried: how deep and how high, against what they do for the pair."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from sim.analyses.approach import Approach
from sim.analyses.approach_returns import DEPTHS, HEIGHTS, Tried
from sim.analyses.sweep_best import against_best
from sim.court import Array
from sim.figures import style
from sim.figures.cells import Shades, Table, draw_key, draw_table, side_by_side, words_on
from sim.figures.style import MARGIN, ROOM, SMALL, TEXT, Look, Units
from sim.quantities import Distribution
from sim.run_in import PLAYERS
from sim.units import METRES_PER_FOOT

_SCALE: Final = 34.0
_GAP: Final = 14.0
_WIDTH: Final = (ROOM - _SCALE - _GAP) / 2.0
_CELL_HEIGHT: Final = 21.0
_HEIGHT: Final = _CELL_HEIGHT * len(HEIGHTS)
_COLUMNS: Final = side_by_side(np.arange(len(DEPTHS) + 1.0))
_ROWS: Final = side_by_side(np.arange(len(HEIGHTS) + 1.0))
# Decimals of a distance in a cell.
_PLACES: Final = {"us": 0, "metric": 1}
_SHAPE: Final = len(DEPTHS), len(HEIGHTS)

_Grid = dict[tuple[float | None, float | None], Tried]


def map_of_returns(result: Approach, units: Units = "us") -> Figure:
    """Where the shot finds them, and the share in control, by depth and height of the return."""
    tried = {(one.what.depth, one.what.height): one for one in result.returns.together()}
    title = "What a deeper or higher return does"
    subtitle = f"{result.scenario.name} · {result.returns.policy.name} · {_directions(result)}"
    notes = style.wrapped(_note(result, units), ROOM, SMALL, most=9)
    top = style.head_height(title, subtitle) + 5.2 * TEXT
    bottom = top + _HEIGHT + 3.4 * SMALL
    far = "ft" if units == "us" else "m"
    nobody = np.zeros(_SHAPE, bool)
    # Shades are of the numbers as they are written: the same number has the same shade.
    depths = _in(units, _values(tried, lambda one: one.depth))
    control = np.round(_values(tried, _control))
    near_to_far = Shades.of(depths)
    maps = [
        (
            f"from net when struck, {far}",
            Table(_COLUMNS, _ROWS, depths, nobody, nobody),
            Shades(near_to_far.most, near_to_far.least),
            _PLACES[units],
        ),
        (
            "in control, of 100",
            Table(_COLUMNS, _ROWS, control, *_best(tried)),
            Shades.of(control),
            0,
        ),
    ]
    enough = _values(tried, lambda one: one.share("arrived")) >= result.arrive
    with style.own_settings():
        figure = style.new_figure(bottom + style.foot_height(notes))
        style.head(figure, title, subtitle)
        look: Look = {"color": style.QUIET, "ha": "left"}
        style.write(figure, MARGIN, top - 0.6 * TEXT, f"high, {far}", SMALL, **look)
        for place, (words, table, shades, places) in enumerate(maps):
            left = MARGIN + _SCALE + place * (_WIDTH + _GAP)
            style.write(figure, left, top - 3.8 * TEXT, words, weight="bold")
            ends = f"{shades.least:.{places}f}", f"{shades.most:.{places}f}"
            draw_key(figure, left, top - 2.1 * TEXT, shades, ends, "")
            axes = style.add_axes(figure, left, top, _WIDTH, _HEIGHT)
            axes.set(xlim=(0.0, len(DEPTHS)), ylim=(0.0, len(HEIGHTS)))
            known = np.argwhere(~np.isnan(table.values)).tolist()
            written = {(c, r): f"{table.values[c, r]:.{places}f}" for c, r in known}
            draw_table(axes, table, shades, written)
            _underline(axes, table, shades, enough)
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
    tried = result.returns.together()
    wanted = f"{100.0 * result.arrive:.0f} of 100 balls"
    underlined = any(one.share("arrived") >= result.arrive for one in tried)
    arrived = f"Underlined: both have arrived for {wanted} or more. "
    nobody = f"No return lets both arrive for {wanted}. "
    return (
        "Thick frame: most in control. Line around: what cannot be told from it, all together at "
        "95 %. "
        f"{arrived if underlined else nobody}"
        "Dashed: the middle eight of ten of the pair's own returns, in depth and in height. "
        f"Numbers are known to {_errors(tried, units)} or better. The pair's errors are not "
        "modelled: high and deep returns go out more easily."
    )


def _errors(tried: list[Tried], units: Units) -> str:
    """Half the widest intervals of the numbers on both maps."""
    rows = [one.row() for one in tried if one.balls]
    feet = [
        0.5 * (row[f"{name}_from_net_ft_high"] - row[f"{name}_from_net_ft_low"])
        for row in rows
        for name in PLAYERS
    ]
    shares = [50.0 * (row["in_control_high"] - row["in_control_low"]) for row in rows]
    far, unit = (1.0, "ft") if units == "us" else (METRES_PER_FOOT, "m")
    depth = style.give_or_take(far * max(feet, default=0.0))
    return f"{depth} {unit} and {style.give_or_take(max(shares, default=0.0))} of 100"


def _best(tried: _Grid) -> tuple[np.ndarray, np.ndarray]:
    """The return with most in control, and all that cannot be told from it: `_SHAPE` each."""
    each = [tried[depth, height].counts("in_control") for depth in DEPTHS for height in HEIGHTS]
    hits, balls = (np.array(part) for part in zip(*each, strict=True))
    found = against_best(hits, balls)
    best, tied = np.zeros((2, len(each)), bool)
    best[[] if found.best is None else found.best] = True
    tied[found.tied] = True
    return best.reshape(_SHAPE), tied.reshape(_SHAPE)


def _control(tried: Tried) -> float:
    return 100.0 * tried.share("in_control")


def _in(units: Units, feet: Array) -> Array:
    """Distances as they are written in cells."""
    return np.round(feet if units == "us" else feet * METRES_PER_FOOT, _PLACES[units])


def _values(tried: _Grid, value: Callable[[Tried], float]) -> Array:
    """A value for every return, of shape `_SHAPE`."""
    return np.array([[value(tried[depth, height]) for height in HEIGHTS] for depth in DEPTHS])


def _underline(axes: Axes, table: Table, shades: Shades, enough: np.ndarray) -> None:
    """A stroke below the numbers of the returns that let both arrive often enough."""
    for column, row in np.argwhere(enough):
        ground = table.fill((int(column), int(row)), shades)
        look: Look = {"color": words_on(ground), "linewidth": 1.6, "zorder": 6}
        style.draw(axes, [column + 0.2, column + 0.8], [row + 0.14, row + 0.14], **look)


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
    depths, highs = (
        [f"{value:.{_PLACES[units]}f}" for value in _in(units, np.array(values))]
        for values in (DEPTHS, HEIGHTS)
    )
    for column, text in enumerate(depths):
        style.label(axes, column + 0.5, -0.55, text, color=style.QUIET)
    for row, text in enumerate(highs if heights else ()):
        style.label(axes, -0.3, row + 0.47, text, color=style.QUIET, ha="right")
