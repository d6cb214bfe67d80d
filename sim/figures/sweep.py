"""Curves of a sweep of one key: shares by value, and differences to the baseline policy."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from itertools import groupby
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from sim.analyses.sweep import MEASURE_WORDS, Sweep
from sim.analyses.sweep_axes import Axis, runs
from sim.analyses.sweep_tables import difference_rows, share_rows
from sim.figures import marks, scales, style
from sim.figures.style import MARGIN, ROOM, SMALL, TEXT, WIDTH, Look
from sim.tables import Row
from sim.tally import MEASURES
from sim.wording import TOLD

_COLUMNS: Final = 2
_GAP: Final = 8.0
_SCALE_WIDTH: Final = 38.0
_HEIGHT: Final = 150.0
_NAME_LINE: Final = TEXT * 1.25
_FOOT: Final = 2.0 * SMALL
_MOST_PANELS: Final = 24
_MOST_STEPS: Final = 4
_MOST_TICKS_ACROSS: Final = 5
_LINE: Final = 1.3
_LINES: Final[dict[str, Any]] = {"in_control": "-", "reached": (0, (1.5, 1.0))}
_RING: Final[Look] = {
    "marker": "o",
    "markersize": 9.0,
    "markeredgewidth": 2.4,
    "color": style.INK,
    "markerfacecolor": "white",
}
_BAR: Final[Look] = {"color": style.INK, "linewidth": 5.0, "solid_capstyle": "butt"}
_KEY: Final = ("in control", "reached", "now", "best", "cannot be told from it")
_KEY_COLUMNS: Final = 3
_KEY_WIDTH: Final = 160.0
_KEY_LINE: Final = 1.5 * SMALL
_SAMPLE: Final = 26.0
# Of many values only the line is drawn, without a mark for each.
_MOST_MARKS: Final = 25

_Draw = Callable[[Axes, int], None]
# Rows of all returns, by policy and measure, in the order of the values.
_Lines = dict[tuple[str, str], list[Row]]


def sweep_figure(sweep: Sweep) -> Figure:
    """Shares reached and in control by value, a panel for each policy; the best and now."""
    plan, (axis,) = sweep.plan, sweep.plan.axes
    rows = _by_policy(share_rows(sweep))
    policies = plan.policies[:_MOST_PANELS]
    known = [
        (100.0 * row["low"], 100.0 * row["high"])
        for policy in policies
        for measure in MEASURES
        for row in rows[policy.name, measure]
        if not math.isnan(row["low"])
    ]
    ticks = scales.ticks(min((low for low, _ in known), default=0.0), 100.0, _MOST_STEPS)

    def draw(axes: Axes, place: int) -> None:
        for now in axis.now(plan.scenario, plan.policies[place]):
            _draw_now(axes, axis.number(now))
        for measure, dashes in _LINES.items():
            line = rows[policies[place].name, measure]
            _draw_line(axes, axis, line, ("share", "low", "high"), 100.0, dashes)
        if not plan.of_scenario:
            _draw_best(axes, sweep, place)

    words = f"In control and reached, by {axis.words}", f"{plan.scenario.name} · after all returns"
    notes = f"In % of the balls in play; bands: 95 % intervals{_at_most(known)}."
    if not plan.of_scenario:
        notes += f" Best is the value with most {MEASURE_WORDS[plan.measure]}."
    if ticks[0] > 0.0:
        notes += f" {scales.CUT}"
    names = [policy.name for policy in policies]
    key = _KEY[: None if not plan.of_scenario else 3]
    return _panels((*words, notes), axis, key, names, [ticks] * len(names), draw)


def differences_figure(sweep: Sweep) -> Figure:
    """Paired differences to the baseline policy by value, a panel for each other policy."""
    plan, (axis,) = sweep.plan, sweep.plan.axes
    found = _by_policy(difference_rows(sweep))
    names = [name for name, measure in found if measure == plan.measure][:_MOST_PANELS]
    lines = [found[name, plan.measure] for name in names]

    def draw(axes: Axes, place: int) -> None:
        style.draw(axes, axes.get_xlim(), [0.0, 0.0], zorder=2, color=style.QUIET, linewidth=1.6)
        for now in axis.now(plan.scenario, plan.scenario.baseline):
            _draw_now(axes, axis.number(now))
        keys = "points", "points_low", "points_high"
        _draw_line(axes, axis, lines[place], keys, 1.0, "-")
        for row in lines[place] if len(axis.values) <= _MOST_MARKS else []:
            if not math.isnan(row["points"]):
                told = row["verdict"] in TOLD
                marks.draw_mark(axes, row[axis.column], row["points"], filled=told)

    measure, baseline = MEASURE_WORDS[plan.measure], plan.scenario.baseline.name
    words = (
        f"{measure.capitalize()} against {baseline}, by {axis.words}",
        f"{plan.scenario.name} · after all returns",
    )
    known = [
        (row["points_low"], row["points_high"])
        for line in lines
        for row in line
        if not math.isnan(row["points"])
    ]
    notes = (
        f"More (above 0) or fewer balls {measure} of 100 in play than {baseline}; bands: 95 % "
        f"intervals of the differences{_at_most(known)}. Every panel has a scale of its own."
    )
    if len(axis.values) <= _MOST_MARKS:
        notes += " Filled: told from 0, all together at 95 %; open: not told."
    ticks = [_ticks_of_differences(line) for line in lines]
    return _panels((*words, notes), axis, _KEY[2:3], names, ticks, draw)


def _at_most(intervals: list[tuple[float, float]]) -> str:
    """How wide the bands are (points), since many are no wider than the lines."""
    if not intervals:
        return ""
    return f", at most {style.give_or_take(max(0.5 * (high - low) for low, high in intervals))}"


def _ticks_of_differences(rows: list[Row]) -> list[float]:
    known = [row for row in rows if not math.isnan(row["points"])]
    least = min((row["points_low"] for row in known), default=0.0)
    most = max((row["points_high"] for row in known), default=0.0)
    return scales.ticks(min(least, 0.0), max(most, 0.0), _MOST_STEPS)


def _by_policy(rows: Iterable[Row]) -> _Lines:
    found: _Lines = {}
    for row in rows:
        if row["return_direction"] == "all":
            found.setdefault((row["policy"], row["measure"]), []).append(row)
    return found


def _panels(
    words: tuple[str, str, str],
    axis: Axis,
    key: Sequence[str],
    names: list[str],
    ticks: list[list[float]],
    draw: _Draw,
) -> Figure:
    """A figure of panels side by side; ``words`` are title, subtitle and notes."""
    title, subtitle, text = words
    columns = min(_COLUMNS, len(names))
    width = (ROOM - columns * _SCALE_WIDTH - (columns - 1) * _GAP) / columns
    lines = [style.wrapped(name, width, TEXT, bold=True) for name in names]
    head = max(map(len, lines)) * _NAME_LINE + 8.0
    notes = style.wrapped(text, ROOM, SMALL, most=6)
    top_of_key = style.head_height(title, subtitle)
    start, step = top_of_key + _key_height(key), head + _HEIGHT + _FOOT
    bottom = start + math.ceil(len(names) / columns) * step + 1.4 * SMALL
    first, last = axis.number(axis.values[0]), axis.number(axis.values[-1])
    beyond = 0.04 * (last - first)
    with style.own_settings():
        figure = style.new_figure(bottom + style.foot_height(notes))
        style.head(figure, title, subtitle)
        _draw_key(figure, top_of_key, key)
        for place, name in enumerate(lines):
            row, column = divmod(place, columns)
            left = MARGIN + _SCALE_WIDTH + column * (width + _GAP + _SCALE_WIDTH)
            top = start + row * step + head
            for number, line in enumerate(reversed(name)):
                style.write(figure, left, top - 8.0 - number * _NAME_LINE, line, weight="bold")
            axes = style.add_axes(figure, left, top, width, _HEIGHT)
            above = 0.03 * (ticks[place][-1] - ticks[place][0])
            limits = ticks[place][0] - above, ticks[place][-1] + above
            axes.set(xlim=(first - beyond, last + beyond), ylim=limits)
            _draw_ground(axes, axis, ticks[place])
            draw(axes, place)
        across = style.wrapped(_across(axis), ROOM, SMALL, most=1)[0]
        style.write(figure, WIDTH - MARGIN, bottom - 4.0, across, SMALL, ha="right")
        style.foot(figure, bottom, notes)
    return figure


def _key_height(key: Sequence[str]) -> float:
    return 6.0 + math.ceil(len(key) / _KEY_COLUMNS) * _KEY_LINE


def _draw_key(figure: Figure, top: float, key: Sequence[str]) -> None:
    """What lines and marks mean, three to a line."""
    for number, words in enumerate(key):
        row, column = divmod(number, _KEY_COLUMNS)
        left, line = MARGIN + column * _KEY_WIDTH, top + 4.0 + (row + 1) * _KEY_LINE - 6.0
        middle, ends = line - 0.36 * SMALL, [left, left + _SAMPLE]
        if words == "best":
            style.draw(figure, [left + 0.5 * _SAMPLE], [middle], **_RING)
        elif words == "cannot be told from it":
            style.draw(figure, ends, [middle, middle], **_BAR)
        elif words == "now":
            style.draw(figure, ends, [middle, middle], **marks.DASHED)
        else:
            dashes = _LINES["reached" if words == "reached" else "in_control"]
            look: Look = {"color": style.INK, "linewidth": _LINE, "linestyle": dashes}
            style.draw(figure, ends, [middle, middle], **look)
        style.write(figure, left + _SAMPLE + 8.0, line, words, SMALL)


def _across(axis: Axis) -> str:
    return f"{axis.words}, {axis.unit}" if axis.unit else axis.words


def ticks_across(axis: Axis) -> list[float]:
    """A few round numbers within the values of an axis, in its unit."""
    first, last = axis.number(axis.values[0]), axis.number(axis.values[-1])
    slack = 1e-9 * (last - first)
    found = MaxNLocator(_MOST_TICKS_ACROSS, steps=[1, 2, 5, 10]).tick_values(first, last)
    return [float(tick) + 0.0 for tick in found if first - slack <= tick <= last + slack]


def _draw_ground(axes: Axes, axis: Axis, ticks: list[float]) -> None:
    """Grid, and the numbers on both scales."""
    scales.draw_level(axes, ticks, scales.plain(ticks))
    (low, _), (_, up) = axes.get_ylim(), scales.a_point(axes)
    values = ticks_across(axis)
    for value, words in zip(values, scales.plain(values), strict=True):
        look: Look = {"color": style.QUIET, "linewidth": 0.8, "clip_on": False}
        style.draw(axes, [value, value], [low - 3.0 * up, low], **look)
        style.label(axes, value, low - 6.0 * up, words, color=style.QUIET, va="top")


def _draw_line(
    axes: Axes, axis: Axis, rows: list[Row], keys: tuple[str, str, str], scale: float, dashes: Any
) -> None:
    """A line with the band of its intervals, interrupted where nothing was in play."""
    for known, group in groupby(rows, key=lambda row: not math.isnan(row[keys[0]])):
        if not known:
            continue
        run = list(group)
        x = np.array([row[axis.column] for row in run])
        middle, low, high = (scale * np.array([row[key] for row in run]) for key in keys)
        marks.draw_band(axes, (x, low), (x, high))
        style.draw(axes, x, middle, zorder=3, color=style.INK, linewidth=_LINE, linestyle=dashes)


def _draw_now(axes: Axes, x: float) -> None:
    """Where the scenario stands, if that is on the scale."""
    left, right = axes.get_xlim()
    if left <= x <= right:
        style.draw(axes, [x, x], axes.get_ylim(), zorder=1, **marks.DASHED)


def _draw_best(axes: Axes, sweep: Sweep, policy: int) -> None:
    """A ring at the best value, named, and a bar below all that cannot be told from it."""
    plan, (axis,) = sweep.plan, sweep.plan.axes
    best = sweep.best(policy)
    if best.best is None:
        return
    x = np.array([axis.number(value) for value in axis.values])
    hits, balls = sweep.counts[policy][best.best].of(plan.measure)
    share = 100.0 * hits.sum() / balls.sum()
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    style.draw(axes, [x[best.best]], [share], zorder=5, **_RING)
    # Half a step to either side, so that a lone value has a bar, too.
    half, base = 0.5 * (x[1] - x[0]), low + 0.03 * (high - low)
    for run in runs(best.tied):
        ends = np.clip([x[run[0]] - half, x[run[-1]] + half], left, right)
        style.draw(axes, ends, [base, base], zorder=4, **_BAR)
    words = axis.shown(axis.values[best.best])
    panel = axes.get_position().width * WIDTH
    half = 0.5 * style.width_of(words, SMALL, bold=True) / panel * (right - left)
    middle = float(np.clip(x[best.best], left + half, right - half))
    look: Look = {"weight": "bold", "zorder": 4, "bbox": style.CLEAR}
    style.label(axes, middle, _beside(share, low, high), words, **look)


def _beside(share: float, low: float, high: float) -> float:
    """Below a curve, or above it where it runs close to the bottom."""
    away = 0.13 * (high - low)
    return share - away if share - 2.2 * away > low else share + away
