"""What share is reached by where the ball passes across the court."""

from __future__ import annotations

import math
from itertools import groupby
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from sim.comparison import Comparison
from sim.court import HALF_WIDTH, Array
from sim.figures import marks, rows, scales, style
from sim.figures.style import MARGIN, ROOM, SMALL, TEXT, Look, Units
from sim.tables import Row
from sim.tally import LATERAL_EDGES, PASSING_DEPTH

_COLUMNS: Final = 2
_GAP: Final = 14.0
_SCALE_WIDTH: Final = 40.0
_HEIGHT: Final = 124.0
_NAME_LINE: Final = TEXT * 1.25
_FOOT: Final = 2.0 * SMALL
_HALF_VIEW: Final = HALF_WIDTH + 0.4
_CENTRES: Final = 0.5 * (LATERAL_EDGES[:-1] + LATERAL_EDGES[1:])
# Where names are looked for, and the lines they must not touch.
_AT: Final = np.linspace(_CENTRES[0], _CENTRES[-1], 4 * (_CENTRES.size - 1) + 1)
_MOST_PANELS: Final = 24
# Fewer balls than this say next to nothing: where all of so many are in control, the interval goes
# down to 89 %.
_LEAST_BALLS: Final = 30
_MOST_STEPS: Final = 4
# Room (ft) beside a name, and how many points of a dip a foot away from it counts.
_BESIDE: Final = 0.3
_PER_FOOT: Final = 0.05
# So far (ft) from the centre names may reach, clear of the sidelines.
_INSIDE: Final = HALF_WIDTH - 0.4

# A policy's rows by return direction, each from the left sideline to the right one.
_Lines = dict[str, list[Row]]


def lateral_figure(comparison: Comparison, units: Units = "us") -> Figure:
    """Share in control, and reached, by where the ball passes; a panel for each policy."""
    scenario = comparison.scenario
    policies = scenario.policies[:_MOST_PANELS]
    lines = _lines_by_policy(comparison, [policy.name for policy in policies])
    columns = min(_COLUMNS, len(policies))
    width = (ROOM - _SCALE_WIDTH - (columns - 1) * _GAP) / columns
    names = [style.wrapped(_title(comparison, name), width, TEXT, bold=True) for name in lines]
    head = max(map(len, names)) * _NAME_LINE + 10.0
    ticks = _ticks(lines)

    title = "In control, by where the ball passes"
    depth = style.length(PASSING_DEPTH, units)
    subtitle = f"{scenario.name} · as the ball passes {depth} from the net"
    notes = _notes(len(scenario.policies), units, ticks[0])
    start, step = style.head_height(title, subtitle) + 4.0, head + _HEIGHT + _FOOT
    bottom = start + math.ceil(len(policies) / columns) * step
    with style.own_settings():
        figure = style.new_figure(bottom + style.foot_height(notes))
        style.head(figure, title, subtitle)
        for place, (policy, name) in enumerate(zip(policies, names, strict=True)):
            row, column = divmod(place, columns)
            left, top = MARGIN + _SCALE_WIDTH + column * (width + _GAP), start + row * step + head
            _write_name(figure, name, left + 0.5 * width * (1.0 - HALF_WIDTH / _HALF_VIEW), top)
            axes = style.add_axes(figure, left, top, width, _HEIGHT)
            axes.set(xlim=(-_HALF_VIEW, _HALF_VIEW), ylim=(ticks[0], ticks[-1]))
            _draw_ground(axes, ticks, scale=column == 0, sides=place + columns >= len(policies))
            _draw_lines(axes, lines[policy.name])
            _write_directions(axes, lines[policy.name], width)
        style.foot(figure, bottom, notes)
    return figure


def _lines_by_policy(comparison: Comparison, names: list[str]) -> dict[str, _Lines]:
    directions = comparison.scenario.return_of_serve.directions
    lines: dict[str, _Lines] = {name: {each: [] for each in directions} for name in names}
    for row in comparison.lateral_rows:
        if row["policy"] in lines and row["return_direction"] in directions:
            lines[row["policy"]][row["return_direction"]].append(row)
    return lines


def _title(comparison: Comparison, name: str) -> str:
    return f"{name} (baseline policy)" if name == comparison.scenario.baseline.name else name


def _write_name(figure: Figure, lines: list[str], left: float, top: float) -> None:
    for number, line in enumerate(reversed(lines)):
        style.write(figure, left, top - 8.0 - number * _NAME_LINE, line, weight="bold")


def _notes(policies: int, units: Units, least: float) -> list[str]:
    text = (
        "A line for each return of serve: down the line, to the middle, cross-court. Thick: in "
        "control; thin: reached, in % of the balls that pass there; bands: 95 % intervals. Not "
        f"drawn where fewer than {_LEAST_BALLS} balls pass. From sideline to sideline it is "
        f"{style.length(2 * HALF_WIDTH, units)}; the outermost values hold the balls passing "
        "wider, too."
    )
    if least > 0.0:
        text += f" {scales.CUT}"
    if policies > _MOST_PANELS:
        text += f" The first {_MOST_PANELS} of {policies} policies."
    return style.wrapped(text, ROOM, SMALL, most=6)


def _is_known(row: Row) -> bool:
    """Whether so many balls passed there that a share is worth drawing."""
    return bool(row["in_play"] >= _LEAST_BALLS)


def _ticks(lines: dict[str, _Lines]) -> list[float]:
    """Ticks of the scale, in percent, from below all intervals to 100."""
    lows = [
        100.0 * row["in_control_low"]
        for policy in lines.values()
        for places in policy.values()
        for row in places
        if _is_known(row)
    ]
    return scales.ticks(min(lows, default=0.0), 100.0, _MOST_STEPS, least=1.0)


def _draw_ground(axes: Axes, ticks: list[float], *, scale: bool, sides: bool) -> None:
    """Grid, both sidelines and the centre."""
    low, high = ticks[0], ticks[-1]
    scales.draw_level(axes, ticks, scales.plain(ticks) if scale else ())
    below = low - 0.06 * (high - low)
    for x, words, align in (
        (-HALF_WIDTH, "left", "left"),
        (0.0, "centre", "center"),
        (HALF_WIDTH, "right", "right"),
    ):
        style.draw(axes, [x, x], [low, high], zorder=1, color=style.QUIET, linewidth=1.0)
        if sides:
            style.label(axes, x, below, words, color=style.QUIET, ha=align, va="top")


def _draw_lines(axes: Axes, lines: _Lines) -> None:
    """Lines and bands, interrupted where hardly a ball passes."""
    for direction, places in lines.items():
        colour, dashes = style.DIRECTIONS[direction], style.DASHES[direction]
        for known, group in groupby(places, key=_is_known):
            if not known:
                continue
            run = list(group)
            x = [0.5 * (row["x_from_ft"] + row["x_to_ft"]) for row in run]
            if len(run) == 1:
                # From edge to edge: a single point would not be seen.
                run, x = run * 3, [run[0]["x_from_ft"], *x, run[0]["x_to_ft"]]
            at = np.array(x)
            for measure, width in (("reached", 1.0), ("in_control", 2.4)):
                found = [rows.estimate(row, measure) for row in run]
                share, low, high = (100.0 * np.array(part) for part in zip(*found, strict=True))
                marks.draw_band(axes, (at, low), (at, high), colour)
                style.draw(
                    axes, at, share, zorder=3, color=colour, linewidth=width, linestyle=dashes
                )


def _write_directions(axes: Axes, lines: _Lines, width: float) -> None:
    """Name each line just below it, near its dip, where no other line or name is in the way."""
    lines = {each: places for each, places in lines.items() if any(map(_is_known, places))}
    if not lines:
        style.label(axes, 0.0, 50.0, "too few balls")
        return
    bottom, _ = axes.get_ylim()
    per_point = (100.0 - bottom) / _HEIGHT
    high, pad = 1.15 * SMALL * per_point, 2.0 * per_point
    floors = {direction: _floor(places) for direction, places in lines.items()}
    lowest = np.min(list(floors.values()), axis=0)
    taken: list[tuple[float, float, float]] = []
    # The line with the deepest dip has the best place to offer: it comes first.
    for direction in sorted(lines, key=lambda name: float(floors[name].min())):
        half = style.width_of(direction, SMALL, bold=True) / width * _HALF_VIEW
        deep, dip = _dip(floors[direction])
        best = math.inf, 0.0, bottom + high
        for x in np.clip(_AT, half - _INSIDE, _INSIDE - half):
            under = np.abs(_AT - x) <= half + _BESIDE
            top = float(lowest[under].min()) - pad
            blocked = top - high < bottom - per_point or any(
                abs(x - other) < half + other_half + _BESIDE and abs(top - other_top) < high
                for other, other_half, other_top in taken
            )
            away = float(floors[direction][under].min()) - top
            away += _PER_FOOT * deep * abs(x - dip)
            if not blocked and away < best[0]:
                best = away, float(x), top
        _, x, top = best
        taken.append((x, half, top))
        look: Look = {"color": style.DIRECTION_WORDS[direction], "weight": "bold", "zorder": 5}
        look["bbox"] = style.CLEAR | {"pad": 0.0}
        style.label(axes, x, top - 0.5 * high, direction, **look)


def _dip(floor: Array) -> tuple[float, float]:
    """How many points below 100 a line goes at its lowest, and where (ft from the centre)."""
    lowest = int(np.argmin(floor))
    return 100.0 - float(floor[lowest]), float(_AT[lowest])


def _floor(places: list[Row]) -> Array:
    """The lower edge of a line's band along the court, in percent; 100 where there is no line."""
    lows = [100.0 * row["in_control_low"] if _is_known(row) else 100.0 for row in places]
    return np.interp(_AT, _CENTRES, lows)
