"""The map of a sweep of two keys: one policy's share at every pair of values."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from sim.analyses.sweep import MEASURE_WORDS, Plan, Sweep
from sim.analyses.sweep_axes import Axis
from sim.court import Array
from sim.figures import scales, style
from sim.figures.cells import Shades, Table, draw_key, draw_table, side_by_side
from sim.figures.style import MARGIN, ROOM, SMALL, TEXT, WIDTH, Look
from sim.figures.sweep import ticks_across
from sim.statistics import share_of_replicates
from sim.wording import decimals

_CELL_HEIGHT: Final = 26.0
_LEAST_HEIGHT: Final = 150.0
_MOST_HEIGHT: Final = 460.0
_SCALE_WIDTH: Final = 50.0
_FOOT: Final = 3.5 * SMALL
_KEY: Final = 2.4 * TEXT
_LEAST_TICKS: Final = 3
_MOST_TICKS: Final = 6
_BESIDE: Final = 6.0


def map_figure(sweep: Sweep) -> Figure:
    """Share of the first policy by both keys, with the best and what cannot be told from it."""
    plan, (across, upwards) = sweep.plan, sweep.plan.axes
    shares = _shares(sweep)
    policy, words = plan.policies[0].name, MEASURE_WORDS[plan.measure]
    title = f"{policy}: {words}, by {across.words} and {upwards.words}"
    subtitle = f"{plan.scenario.name} · after all returns"
    widest = _half_width(sweep)
    notes = style.wrapped(
        f"Thick frame: {_whose(plan)}. Line around: what cannot be told from it, all together at "
        "95 %. "
        f"Numbers are known to {style.give_or_take(widest)} or better. Triangles: as it is now.",
        ROOM,
        SMALL,
        most=4,
    )
    height = min(max(_CELL_HEIGHT * shares.shape[1], _LEAST_HEIGHT), _MOST_HEIGHT)
    names = style.head_height(title, subtitle) + _KEY
    top = names + 1.7 * SMALL
    bottom = top + height + _FOOT
    with style.own_settings():
        figure = style.new_figure(bottom + style.foot_height(notes))
        style.head(figure, title, subtitle)
        shades = Shades.of(shares)
        ends = f"{shades.least:.0f}", f"{shades.most:.0f}"
        draw_key(figure, MARGIN, names - 0.8 * TEXT, shades, ends, f"{words}, of 100 in play")
        _write_axis_names(figure, names + 0.9 * SMALL, bottom - 8.0, across, upwards)
        width = ROOM - _SCALE_WIDTH
        axes = style.add_axes(figure, MARGIN + _SCALE_WIDTH, top, width, height)
        axes.set(xlim=_limits(across), ylim=_limits(upwards))
        best, told = _best_and_told(sweep)
        columns, rows = (side_by_side(_edges(axis)) for axis in plan.axes)
        table = Table(columns, rows, shares, best, ~told)
        draw_table(axes, table, shades, _written(axes, table, widest))
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


def _half_width(sweep: Sweep) -> float:
    """Half the widest interval of all shares (points)."""
    intervals = [share_of_replicates(*each.of(sweep.plan.measure)) for each in sweep.counts[0]]
    return max((50.0 * (high - low) for low, high in intervals if low <= high), default=0.0)


def _written(axes: Axes, table: Table, widest: float) -> dict[tuple[int, int], str]:
    """What is written in which cells: all values, or as many as there is room for."""
    places, apart = _what_fits(axes, table, widest)
    # Where cells are narrower than a number, several best ones could stand side by side.
    best_written = apart == (1, 1) or table.best.sum() == 1
    words = {}
    for (i, j), share in np.ndenumerate(table.values):
        written = best_written if table.best[i, j] else _is_written((i, j), apart, table)
        if written and not math.isnan(share):
            words[i, j] = f"{share:.{places}f}"
    return words


def _is_written(cell: tuple[int, int], apart: tuple[int, int], table: Table) -> bool:
    """Whether a cell's value is written: one in so many, where it crosses no border."""
    for place, step, size in zip(cell, apart, table.values.shape, strict=True):
        if place % step != step // 2 or place + step // 2 >= size:
            return False
    under = table.as_good[_around(cell, [step // 2 for step in apart])]
    near = table.best[_around(cell, [step - 1 for step in apart])]
    return not near.any() and bool(under.all() or not under.any())


def _around(cell: tuple[int, int], reach: list[int]) -> tuple[slice, ...]:
    """The cells so many places to either side."""
    pairs = zip(cell, reach, strict=True)
    return tuple(slice(max(place - far, 0), place + far + 1) for place, far in pairs)


def _what_fits(axes: Axes, table: Table, widest: float) -> tuple[int, tuple[int, int]]:
    """Decimals of the values, and in how many cells of a row and column one is written.

    Tenths are for values that are known as well as that, and where there is room.
    """
    right, up = scales.a_point(axes)
    wide, high = float(np.ptp(table.columns[0])) / right, float(np.ptp(table.rows[0])) / up
    known = table.values[~np.isnan(table.values)]
    most = float(known.max()) if known.size else 0.0
    widths = [style.width_of(f"{most:.{places}f}", SMALL, bold=True) + 4.0 for places in (0, 1)]
    places = 1 if widths[1] <= wide and decimals(widest) > 0 else 0
    return places, (math.ceil(widths[places] / wide), math.ceil(1.15 * SMALL / high))


def _ticks(axis: Axis) -> list[float]:
    """Round numbers that are values, or a few of the values where hardly any is round."""
    numbers = _numbers(axis)
    slack = 1e-6 * (numbers[1] - numbers[0])
    found = [tick for tick in ticks_across(axis) if np.abs(numbers - tick).min() < slack]
    if len(found) >= _LEAST_TICKS:
        return found
    return [float(number) for number in numbers[:: math.ceil(numbers.size / _MOST_TICKS)]]


def _draw_scales(axes: Axes, across: Axis, upwards: Axis) -> None:
    left, low, (right, up) = axes.get_xlim()[0], axes.get_ylim()[0], scales.a_point(axes)
    values = _ticks(across)
    for value, words in zip(values, scales.plain(values), strict=True):
        below = low - 2.1 * _BESIDE * up
        style.label(axes, value, below, words, color=style.QUIET, va="top")
    values = _ticks(upwards)
    for value, words in zip(values, scales.plain(values), strict=True):
        beside = left - 2.4 * _BESIDE * right
        style.label(axes, beside, value, words, color=style.QUIET, ha="right")


def _draw_now(axes: Axes, sweep: Sweep) -> None:
    """Triangles outside of the map that point at the values of the scenario as it stands."""
    plan, (across, upwards) = sweep.plan, sweep.plan.axes
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    across_point, up_point = scales.a_point(axes)
    look: Look = {"color": style.INK, "markersize": 7.0, "clip_on": False, "zorder": 5}
    for value in across.now(plan.scenario, plan.policies[0]):
        if left <= across.number(value) <= right:
            below = low - _BESIDE * up_point
            style.draw(axes, [across.number(value)], [below], marker="^", **look)
    for value in upwards.now(plan.scenario, plan.policies[0]):
        if low <= upwards.number(value) <= high:
            beside = left - _BESIDE * across_point
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
