"""The map of a sweep of two keys: one policy's share at every pair of values."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from sim.analyses.sweep import MEASURE_WORDS, Plan, Sweep
from sim.analyses.sweep_axes import Axis
from sim.court import Array
from sim.figures import style
from sim.figures.cells import Shades
from sim.figures.style import MARGIN, ROOM, SMALL, TEXT, WIDTH, Look
from sim.figures.sweep import plain, ticks_across
from sim.statistics import share_of_replicates
from sim.wording import decimals

_CELL_HEIGHT: Final = 26.0
_LEAST_HEIGHT: Final = 150.0
_MOST_HEIGHT: Final = 460.0
_SCALE_WIDTH: Final = 50.0
_FOOT: Final = 3.5 * SMALL
_KEY: Final = 2.4 * TEXT
_STRIP: Final = 150.0
_STEPS: Final = 60
_LEAST_TICKS: Final = 3
_MOST_TICKS: Final = 6
_BESIDE: Final = 6.0
_HALO: Final = 5.5
_OUTLINE: Final = 2.6


def map_figure(sweep: Sweep) -> Figure:
    """Share of the first policy by both keys, with the best and what cannot be told from it."""
    plan, (across, upwards) = sweep.plan, sweep.plan.axes
    shares = _shares(sweep)
    policy, words = plan.policies[0].name, MEASURE_WORDS[plan.measure]
    title = f"{policy}: {words}, by {across.words} and {upwards.words}"
    subtitle = f"{plan.scenario.name} · % of the balls in play, after all returns"
    text = f"White: {_whose(plan)}. Outlined: what cannot be told from it, all together at 95 %."
    notes = style.wrapped(f"{text} Triangles: as it is now.", ROOM, SMALL, most=4)
    height = min(max(_CELL_HEIGHT * shares.shape[1], _LEAST_HEIGHT), _MOST_HEIGHT)
    names = style.head_height(title, subtitle) + _KEY
    top = names + 1.7 * SMALL
    bottom = top + height + _FOOT
    with style.own_settings():
        figure = style.new_figure(bottom + style.foot_height(notes))
        style.head(figure, title, subtitle)
        shades = Shades.of(shares)
        _draw_key(figure, names - 0.6 * TEXT, shades)
        _write_axis_names(figure, names + 0.9 * SMALL, bottom - 8.0, across, upwards)
        width = ROOM - _SCALE_WIDTH
        axes = style.add_axes(figure, MARGIN + _SCALE_WIDTH, top, width, height)
        axes.set(xlim=_limits(across), ylim=_limits(upwards))
        best, told = _best_and_told(sweep)
        cells = _cell_size(axes, shares.shape)
        _draw_cells(axes, sweep, shares, shades, _what_fits(sweep, shares, *cells), best, told)
        _draw_outline(axes, across, upwards, told)
        _draw_scales(axes, across, upwards)
        _draw_now(axes, sweep)
        style.foot(figure, bottom, notes)
    return figure


def _whose(plan: Plan) -> str:
    """What is best: of what a pair chooses; what nobody chooses has a most only."""
    if plan.chosen is not None:
        return f"the best {plan.axes[plan.chosen].words} at each {plan.axes[1 - plan.chosen].words}"
    return "the most" if plan.of_scenario else "the best setting"


def _shares(sweep: Sweep) -> Array:
    """Shares in percent, shape (values of the first key, values of the second)."""
    found = []
    for each in sweep.counts[0]:
        hits, balls = each.of(sweep.plan.measure)
        found.append(100.0 * hits.sum() / balls.sum() if balls.any() else math.nan)
    return np.array(found).reshape([len(axis.values) for axis in sweep.plan.axes])


def _best_and_told(sweep: Sweep) -> tuple[np.ndarray, np.ndarray]:
    """Which settings are the best, and which are told from it; shape as that of `_shares`.

    Where a pair chooses one number for what it meets of the other, at each value of the other.
    """
    lengths = [len(axis.values) for axis in sweep.plan.axes]
    best, told = np.zeros(lengths, bool), np.ones(lengths, bool)
    chosen = sweep.plan.chosen
    if chosen is None:
        found = sweep.best(0)
        told.flat[found.tied] = False
        best.flat[[] if found.best is None else found.best] = True
        return best, told
    for place in range(lengths[1 - chosen]):
        found = sweep.best_along(0, chosen, place)
        line = (slice(None), place) if chosen == 0 else (place, slice(None))
        told[line][found.tied] = False
        best[line][[] if found.best is None else found.best] = True
    return best, told


def _numbers(axis: Axis) -> Array:
    return np.array([axis.number(value) for value in axis.values])


def _edges(axis: Axis) -> Array:
    """Where cells meet: half-way between values, which all are a step apart."""
    numbers = _numbers(axis)
    half = 0.5 * (numbers[1] - numbers[0])
    return np.append(numbers - half, numbers[-1] + half)


def _limits(axis: Axis) -> tuple[float, float]:
    edges = _edges(axis)
    return float(edges[0]), float(edges[-1])


def _draw_cells(
    axes: Axes,
    sweep: Sweep,
    shares: Array,
    shades: Shades,
    written_as: tuple[int, tuple[int, int]],
    best: np.ndarray,
    told: np.ndarray,
) -> None:
    x, y = map(_edges, sweep.plan.axes)
    places, apart = written_as
    # Where cells are narrower than a number, several best ones could stand side by side.
    best_written = apart == (1, 1) or best.sum() == 1
    for (i, j), share in np.ndenumerate(shares):
        is_best = bool(best[i, j])
        fill = "white" if is_best or math.isnan(share) else shades.fill(share)
        corner = float(x[i]), float(y[j])
        size = float(x[i + 1] - x[i]), float(y[j + 1] - y[j])
        axes.add_artist(Rectangle(corner, *size, facecolor=fill, linewidth=0.0, zorder=1))
        written = best_written if is_best else _is_written((i, j), apart, best, told)
        if written and not math.isnan(share):
            look: Look = {"color": style.INK if is_best else shades.words(share), "zorder": 4}
            weight = "bold" if is_best else "normal"
            middle = 0.5 * (x[i] + x[i + 1]), 0.5 * (y[j] + y[j + 1])
            style.label(axes, *middle, f"{share:.{places}f}", weight=weight, **look)


def _is_written(
    cell: tuple[int, int], apart: tuple[int, int], best: np.ndarray, told: np.ndarray
) -> bool:
    """Whether a cell's value is written: one in so many, where it crosses no border."""
    for place, step, size in zip(cell, apart, told.shape, strict=True):
        if place % step != step // 2 or place + step // 2 >= size:
            return False
    under = told[_around(cell, [step // 2 for step in apart])]
    near = best[_around(cell, [step - 1 for step in apart])]
    return not near.any() and bool(under.all() or not under.any())


def _around(cell: tuple[int, int], reach: list[int]) -> tuple[slice, ...]:
    """The cells so many places to either side."""
    pairs = zip(cell, reach, strict=True)
    return tuple(slice(max(place - far, 0), place + far + 1) for place, far in pairs)


def _cell_size(axes: Axes, shape: tuple[int, ...]) -> tuple[float, float]:
    """Width and height of a cell in points."""
    per_point = axes.figure.dpi / 72.0
    return axes.bbox.width / per_point / shape[0], axes.bbox.height / per_point / shape[1]


def _what_fits(
    sweep: Sweep, shares: Array, wide: float, high: float
) -> tuple[int, tuple[int, int]]:
    """Decimals of the values, and in how many cells of a row and column one is written.

    Tenths are for values that are known as well as that, and where there is room.
    """
    most = float(np.nanmax(shares)) if not np.isnan(shares).all() else 0.0
    widths = [style.width_of(f"{most:.{places}f}", SMALL, bold=True) + 4.0 for places in (0, 1)]
    intervals = [share_of_replicates(*each.of(sweep.plan.measure)) for each in sweep.counts[0]]
    widest = max(50.0 * (upper - lower) for lower, upper in intervals)
    places = 1 if widths[1] <= wide and decimals(widest) > 0 else 0
    return places, (math.ceil(widths[places] / wide), math.ceil(1.15 * SMALL / high))


def _draw_outline(axes: Axes, across: Axis, upwards: Axis, told: np.ndarray) -> None:
    """The border of the cells that are not told, light around dark to stand out on any colour."""
    x, y = _edges(across), _edges(upwards)
    framed = np.pad(told, 1, constant_values=True)
    lines = []
    for i, j in np.argwhere(framed[1:, 1:-1] != framed[:-1, 1:-1]):
        lines.append(([x[i], x[i]], [y[j], y[j + 1]]))
    for i, j in np.argwhere(framed[1:-1, 1:] != framed[1:-1, :-1]):
        lines.append(([x[i], x[i + 1]], [y[j], y[j]]))
    for zorder, colour, width in ((2, "white", _HALO), (3, style.INK, _OUTLINE)):
        look: Look = {"color": colour, "linewidth": width, "zorder": zorder, "clip_on": False}
        for line in lines:
            style.draw(axes, *line, solid_capstyle="projecting", **look)


def _ticks(axis: Axis) -> list[float]:
    """Round numbers that are values, or a few of the values where hardly any is round."""
    numbers = _numbers(axis)
    slack = 1e-6 * (numbers[1] - numbers[0])
    found = [tick for tick in ticks_across(axis) if np.abs(numbers - tick).min() < slack]
    if len(found) >= _LEAST_TICKS:
        return found
    return [float(number) for number in numbers[:: math.ceil(numbers.size / _MOST_TICKS)]]


def _draw_scales(axes: Axes, across: Axis, upwards: Axis) -> None:
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    wide, tall = _cell_size(axes, (1, 1))
    for value in _ticks(across):
        below = low - 2.1 * _BESIDE / tall * (high - low)
        style.label(axes, value, below, plain(value), color=style.QUIET, va="top")
    for value in _ticks(upwards):
        beside = left - 2.4 * _BESIDE / wide * (right - left)
        style.label(axes, beside, value, plain(value), color=style.QUIET, ha="right")


def _draw_now(axes: Axes, sweep: Sweep) -> None:
    """Triangles outside of the map that point at the values of the scenario as it stands."""
    plan, (across, upwards) = sweep.plan, sweep.plan.axes
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    wide, tall = _cell_size(axes, (1, 1))
    look: Look = {"color": style.INK, "markersize": 7.0, "clip_on": False, "zorder": 5}
    for value in across.now(plan.scenario, plan.policies[0]):
        if left <= across.number(value) <= right:
            below = low - _BESIDE / tall * (high - low)
            style.draw(axes, [across.number(value)], [below], marker="^", **look)
    for value in upwards.now(plan.scenario, plan.policies[0]):
        if low <= upwards.number(value) <= high:
            beside = left - _BESIDE / wide * (right - left)
            style.draw(axes, [beside], [upwards.number(value)], marker=">", **look)


def _write_axis_names(
    figure: Figure, above: float, below: float, across: Axis, upwards: Axis
) -> None:
    """The second key above its scale, the first below its own."""
    for top, axis, left, align in (
        (above, upwards, MARGIN, "left"),
        (below, across, WIDTH - MARGIN, "right"),
    ):
        words = f"{axis.words}, {axis.unit}" if axis.unit else axis.words
        line = style.wrapped(words, ROOM, SMALL, most=1)[0]
        style.write(figure, left, top, line, SMALL, ha=align)


def _draw_key(figure: Figure, line: float, shades: Shades) -> None:
    """A strip of the colours between the least and the most share."""
    least, most = f"{shades.least:.0f} %", f"{shades.most:.0f} %"
    style.write(figure, MARGIN, line, least)
    left = MARGIN + style.width_of(least, TEXT) + 8.0
    axes = style.add_axes(figure, left, line - 0.8 * TEXT, _STRIP, 0.85 * TEXT)
    axes.set(xlim=(0.0, 1.0), ylim=(0.0, 1.0))
    for place in range(_STEPS):
        share = shades.least + (place + 0.5) / _STEPS * (shades.most - shades.least)
        look: Look = {"facecolor": shades.fill(share), "linewidth": 0.0}
        axes.add_artist(Rectangle((place / _STEPS, 0.0), 1.05 / _STEPS, 1.0, **look))
    style.write(figure, left + _STRIP + 8.0, line, most)
