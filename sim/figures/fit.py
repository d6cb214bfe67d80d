"""What the fits found, beside what the scenario had until now."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from sim.analyses.fit_reach import ReachFit
from sim.analyses.fit_runs import DIRECTIONS, RunFit, RunsFit, dash_time
from sim.analyses.fit_shots import ShotsFit
from sim.analyses.shot_match import FACTORS
from sim.court import Array
from sim.figures import marks, scales, style
from sim.figures.style import MARGIN, ROOM, SMALL, TEXT, WIDTH, Look
from sim.fitted import Estimate
from sim.opponents import LANES, SHOTS
from sim.units import SHOWN_UNIT, in_unit

_ROW: Final = 24.0
_GROUP_GAP: Final = 12.0
_NAMES: Final = 120.0
_VALUES: Final = 44.0
_BAR: Final = 0.62
_SCALE: Final = 2.0 * SMALL
_CURVE: Final = 190.0
# Parts of an axis: a word beside the start of a curve, a value beside a bar, a strip's edges.
_OFF_THE_CURVE: Final = 0.06
_VALUE: Final = 0.14
_EDGE: Final = 0.03
_WORDS: Final = {
    "drive": "drives",
    "drop": "drops",
    "lob": "lobs",
    "line": "down the line",
    "middle": "to the middle",
    "cross": "cross-court",
}
_MOST_STEPS: Final = 6
_TIMES: Final = (0.25, 0.5, 1.0, 2.0, 4.0)
_UNTIL_NOW: Final[Look] = {"color": style.QUIET, "linewidth": 3.0}
_MARKS: Final = {"forward": "o", "sideways": "s", "backwards": "^"}
_LINES: Final = {"forward": "line", "sideways": "middle", "backwards": "cross"}
_CURVE_POINTS: Final = 40
_CURVE_DRAWS: Final = 400
_STRIP: Final = 74.0
# Room (points) for the name of a direction beside the axes.
_DIRECTION_NAME: Final = 92.0


def shots_figure(fit: ShotsFit, units: str = "us") -> Figure:
    """Shot mix, lanes and failures as bars, and the errors that make so many fail.

    Nothing on it has a unit; ``units`` is there because all figures take it.
    """
    known = {estimate.key: estimate for estimate in fit.posterior.estimates}
    groups = [
        [(_WORDS[kind], known[f"opponents.{place}.{kind}"]) for kind in kinds]
        for place, kinds in (("shots", SHOTS), ("lanes", LANES))
        if f"opponents.{place}.{kinds[0]}" in known
    ]
    groups.append([("net or out", fit.failing)])
    title = "Third shots, as charted"
    subtitle = f"{fit.like.name} · {fit.chart.size:,} shots"
    notes = style.wrapped(
        "Bars: estimates, with 95 % ranges. Thick strokes: what the scenario has until now. "
        "Curve: played by the program with the fitted aims. Grey: the 95 % ranges of charted "
        "failures, and of the errors that fit them and where balls landed.",
        ROOM,
        SMALL,
        most=5,
    )
    heading = style.head_height(title, subtitle) + 1.9 * TEXT
    top = heading + 8.0
    bars = sum(map(len, groups)) * _ROW + (len(groups) - 1) * _GROUP_GAP
    curve = top + bars + _SCALE + 2.6 * TEXT
    bottom = curve + _CURVE + _SCALE
    with style.own_settings():
        figure = style.new_figure(bottom + style.foot_height(notes))
        style.head(figure, title, subtitle)
        style.write(figure, MARGIN, heading, "Of 100 third shots", weight="bold")
        _draw_bars(figure, groups, top, bars)
        words = "Of 100, net or out with errors of so many times the usual"
        style.write(figure, MARGIN, curve - 14.0, words, weight="bold")
        axes = style.add_axes(figure, MARGIN + 30.0, curve, ROOM - 40.0, _CURVE)
        _draw_curve(axes, fit)
        style.foot(figure, bottom, notes)
    return figure


def _draw_bars(
    figure: Figure, groups: Sequence[Sequence[tuple[str, Estimate]]], top: float, height: float
) -> None:
    left = MARGIN + _NAMES + 8.0
    axes = style.add_axes(figure, left, top, ROOM - _NAMES - _VALUES, height)
    most = max(each.high for group in groups for _, each in group)
    ticks = _round(0.0, min(most, 100.0))
    axes.set(xlim=(0.0, ticks[-1]), ylim=(height, 0.0))
    scales.draw_upright(axes, ticks, scales.plain(ticks))
    middle = 0.5 * _ROW
    for group in groups:
        for name, estimate in group:
            below = top + middle + 0.36 * TEXT
            style.write(figure, left - 8.0, below, name, ha="right")
            _draw_bar(axes, estimate, middle, ticks[-1])
            middle += _ROW
        middle += _GROUP_GAP


def _draw_bar(axes: Axes, estimate: Estimate, y: float, most: float) -> None:
    half = 0.5 * _BAR * _ROW
    look: Look = {"color": style.FAINT, "linewidth": 0.0, "zorder": 2}
    axes.add_artist(Rectangle((0.0, y - half), estimate.value, 2.0 * half, **look))
    marks.draw_interval(axes, [estimate.low, estimate.high], y)
    usual = [estimate.usual, estimate.usual]
    style.draw(axes, usual, [y - half - 3.0, y + half + 3.0], zorder=3, **_UNTIL_NOW)
    words: Look = {"ha": "left", "size": TEXT}
    # Beside its own bar, unless the stroke would cross it: not beside a stroke far off.
    crossed = estimate.usual < estimate.high + _VALUE * most
    beyond = (max(estimate.high, estimate.usual) if crossed else estimate.high) + 0.02 * most
    style.label(axes, beyond, y, f"{estimate.value:.0f}", **words)


def _draw_curve(axes: Axes, fit: ShotsFit) -> None:
    curve, factor = 100.0 * fit.match.curve, fit.factor
    charted = fit.failing
    ticks = _round(0.0, max(float(curve[-1]), charted.high))
    low, high = math.log(FACTORS[0]), math.log(FACTORS[-1])
    axes.set(xlim=(low, high), ylim=(0.0, ticks[-1]))
    scales.draw_level(axes, ticks, scales.plain(ticks))
    scales.draw_upright(axes, [math.log(each) for each in _TIMES], scales.plain(_TIMES))
    look: Look = {"color": style.FAINT, "linewidth": 0.0, "zorder": 0}
    ends = math.log(factor.low), math.log(factor.high)
    axes.add_artist(
        Rectangle((low, charted.low), ends[1] - low, charted.high - charted.low, **look)
    )
    axes.add_artist(Rectangle((ends[0], 0.0), ends[1] - ends[0], charted.low, **look))
    style.draw(axes, np.log(FACTORS), curve, zorder=4, color=style.INK, linewidth=2.2)
    middle = math.log(factor.value)
    point = [middle], [float(np.interp(middle, np.log(FACTORS), curve))]
    face: Look = {"marker": "o", "markersize": 7.0, "markerfacecolor": "white"}
    style.draw(axes, *point, zorder=5, color=style.INK, markeredgewidth=1.6, **face)
    bold: Look = {"ha": "left", "weight": "bold", "zorder": 6}
    # Never on the lowest part of the curve.
    height = max(0.5 * (charted.low + charted.high), _OFF_THE_CURVE * ticks[-1])
    style.label(axes, low + 0.08, height, f"charted {charted.value:.0f} %", **bold)


def runs_figure(fit: RunsFit, units: str = "us") -> Figure:
    """Each player's dashes, and the fitted run with its band: distance over time."""
    title = "Dashes from a standing start"
    subtitle = "distance over time, and the fitted run"
    unit = SHOWN_UNIT[units]["length"]
    notes = style.wrapped(
        "Marks: dashes as timed, reaction taken off. Lines: the fitted runs, bands: their 95 % "
        "ranges; the times of single dashes scatter around them.",
        ROOM,
        SMALL,
    )
    start, head, height = style.head_height(title, subtitle) + 6.0, 2.6 * TEXT, 210.0
    step = head + height + 1.3 * _SCALE
    bottom = start + len(fit.players) * step + 8.0
    with style.own_settings():
        figure = style.new_figure(bottom + style.foot_height(notes))
        style.head(figure, title, subtitle)
        for place, (name, run) in enumerate(fit.players.items()):
            top = start + place * step + head
            style.write(figure, MARGIN, top - 14.0, f"{name} player, {unit}", weight="bold")
            axes = style.add_axes(figure, MARGIN + 34.0, top, ROOM - 34.0 - _DIRECTION_NAME, height)
            _draw_run(axes, run, unit)
        style.foot(figure, bottom, notes)
    return figure


def _draw_run(axes: Axes, run: RunFit, unit: str) -> None:
    bands = {name: _band(run, name) for name in DIRECTIONS if run.dashes.all_from(name).any()}
    farthest = max(float(distance[-1]) for distance, _ in bands.values()) / _size(unit)
    slowest = max(float(times[2, -1]) for _, times in bands.values())
    far = _round(0.0, farthest)
    times = _round(0.0, max(slowest, float(run.dashes.seconds.max())))
    axes.set(xlim=(0.0, times[-1]), ylim=(0.0, far[-1]))
    scales.draw_level(axes, far, scales.plain(far))
    scales.draw_upright(axes, times, [*scales.plain(times[:-1]), f"{times[-1]:g} s"])
    for direction, band in bands.items():
        _draw_direction(axes, run, direction, band, unit)
    _write_directions(axes, run, bands, unit)


def _band(run: RunFit, direction: str) -> tuple[Array, Array]:
    """Distances (ft) to beyond the longest dash; low, middle and high times (3, distances)."""
    end = 1.04 * float(run.dashes.distance[run.dashes.all_from(direction)].max())
    # Closer together at the start, where the run is most bent.
    distance = end * np.linspace(0.0, 1.0, _CURVE_POINTS) ** 2
    few = slice(0, _CURVE_DRAWS)
    ahead = distance[:, None] / run.factor(direction)[few]
    time = dash_time(ahead, run.top_speed[few], run.time_constant[few])
    return distance, np.quantile(time, (0.025, 0.5, 0.975), axis=1)


def _draw_direction(
    axes: Axes, run: RunFit, direction: str, band: tuple[Array, Array], unit: str
) -> None:
    """One direction's band, line and dashes."""
    colour = style.DIRECTIONS[_LINES[direction]]
    distance, (low, middle, high) = band
    shown = distance / _size(unit)
    marks.draw_band(axes, (low, shown), (high, shown), colour)
    line: Look = {"color": colour, "linewidth": 2.0, "linestyle": style.DASHES[_LINES[direction]]}
    style.draw(axes, middle, shown, zorder=3, **line)
    face: Look = {"marker": _MARKS[direction], "markersize": 7.0, "markerfacecolor": "white"}
    chosen = run.dashes.all_from(direction)
    seconds, far = run.dashes.seconds[chosen], run.dashes.distance[chosen] / _size(unit)
    style.draw(axes, seconds, far, zorder=5, color=colour, markeredgewidth=1.6, **face)


def _write_directions(
    axes: Axes, run: RunFit, bands: dict[str, tuple[Array, Array]], unit: str
) -> None:
    """Every direction's name right of the end of its line, the slower one below where two meet."""
    ends = {}
    for direction, (distance, times) in bands.items():
        latest = float(run.dashes.seconds[run.dashes.all_from(direction)].max())
        ends[direction] = max(float(times[2, -1]), latest), float(distance[-1]) / _size(unit)
    order = sorted(ends, key=lambda direction: (ends[direction][1], -ends[direction][0]))
    (right, up), (low, high) = scales.a_point(axes), axes.get_ylim()
    wanted = [ends[direction][1] for direction in order]
    heights = scales.spread(wanted, 1.2 * SMALL * up, low, high)
    for direction, height in zip(order, heights, strict=True):
        words: Look = {"color": style.DIRECTION_WORDS[_LINES[direction]], "weight": "bold"}
        # Beside what ends farthest right of all that is as high.
        beside = max(time for time, far in ends.values() if abs(far - height) < 2.0 * SMALL * up)
        style.label(axes, beside + 10.0 * right, height, direction, ha="left", zorder=6, **words)


def reach_figure(fit: ReachFit, units: str = "us") -> Figure:
    """Marks on one strip, with the full stretch they give and the one assumed for the height."""
    unit = "in" if units == "us" else "cm"
    title = f"Full stretch of the {fit.player} player"
    subtitle = "from the middle of the stand to the paddle's tip"
    size = _size(unit)
    tries, assumed = fit.marks / size, fit.assumed / size
    value, low, high = (
        each / size for each in (fit.stretch.value, fit.stretch.low, fit.stretch.high)
    )
    ends = min(low, assumed, *tries), max(high, assumed, *tries)
    ticks = _round(*ends)
    notes = style.wrapped(
        "Open marks: each try. Full: their mean with its 95 % range. Thick stroke: what is "
        "assumed for a player of this height.",
        ROOM,
        SMALL,
    )
    top = style.head_height(title, subtitle) + 2.0 * TEXT
    bottom = top + _STRIP + _SCALE
    with style.own_settings():
        figure = style.new_figure(bottom + style.foot_height(notes))
        style.head(figure, title, subtitle)
        axes = style.add_axes(figure, 2.0 * MARGIN, top, WIDTH - 5.0 * MARGIN, _STRIP)
        edge = _EDGE * (ticks[-1] - ticks[0])
        axes.set(xlim=(ticks[0] - edge, ticks[-1] + edge), ylim=(0.0, 1.0))
        scales.draw_upright(axes, ticks, [*scales.plain(ticks[:-1]), f"{ticks[-1]:g} {unit}"])
        style.draw(axes, [assumed, assumed], [0.0, 1.0], zorder=2, **_UNTIL_NOW)
        right = assumed > 0.5 * (ticks[0] + ticks[-1])
        beside: Look = {"ha": "right" if right else "left"}
        style.label(axes, assumed, 1.12, f"assumed {assumed:.0f} {unit}", **beside)
        marks.draw_estimate(axes, (value, low, high), 0.32, filled=True)
        for each in tries:
            marks.draw_mark(axes, each, 0.72, filled=False)
        style.foot(figure, bottom, notes)
    return figure


def _round(low: float, high: float) -> list[float]:
    return scales.ticks(low, high, _MOST_STEPS, least=0.2)


def _size(unit: str) -> float:
    """A unit of length in ft."""
    return 1.0 / in_unit(1.0, "length", unit)
