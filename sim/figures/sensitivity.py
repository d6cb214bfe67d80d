"""The tornado: what each doubtful input alone makes of the difference between two policies."""

from __future__ import annotations

from typing import Final

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from sim.analyses.sensitivity import TIMES_AT_ENDS, Difference, Sensitivity
from sim.figures import marks, scales, style
from sim.figures.style import MARGIN, ROOM, SMALL, TEXT, WIDTH, Look
from sim.texts.input_values import in_words
from sim.texts.sensitivity import part_alone

# Points of the figure's height, from a row's top to the baseline of its name and to its bar.
_ROW: Final = 46.0
_NAME: Final = 14.0
_BAR: Final = 29.0
_HALF_BAR: Final = 6.0
_SIDES: Final = 26.0
_SCALE: Final = 2.1 * SMALL
_BESIDE: Final = 9.0
# Bold words are wider than plain ones of the same size, by no more than this.
_BOLD: Final = 1.2
_GETS: Final = {"in_control": "gets in control", "reached": "reaches"}
_MOST_STEPS: Final = 6
# A part of the doubt that is surely less would be written as 0 % from 0 to 0.
_NEXT_TO_NOTHING: Final = 0.005


def tornado_figure(result: Sensitivity, units: str = "us") -> Figure:
    """A bar for each input from its low to its high end, the widest on top; its own part beside.

    The labels at the ends are the input's values there.
    """
    title = "What the difference hangs on"
    first, second = result.policy.name, result.scenario.baseline.name
    words = f"how many more of 100 balls in play {first} {_GETS[result.measure]} than {second}"
    subtitle = f"{result.scenario.name} · {words}"
    notes = _notes(result)
    top = style.head_height(title, subtitle) + 2.4 * TEXT
    rows = len(result.inputs)
    bottom = top + _SIDES + rows * _ROW + _SCALE
    with style.own_settings():
        figure = style.new_figure(bottom + style.foot_height(notes))
        style.head(figure, title, subtitle)
        _draw_key(figure, top - 0.9 * TEXT)
        axes = style.add_axes(figure, MARGIN, top + _SIDES, ROOM, rows * _ROW)
        low, high, ticks = _scale(result, units)
        axes.set(xlim=(low, high), ylim=(rows * _ROW, 0.0))
        _draw_scale(axes, ticks, result.usual)
        scales.write_sides(axes, f"{second} ahead", f"{first} ahead")
        for place, k in enumerate(result.order):
            _draw_input(axes, result, k, place * _ROW, units)
        style.foot(figure, bottom, notes)
    return figure


def _notes(result: Sensitivity) -> list[str]:
    shots = TIMES_AT_ENDS * result.scenario.run.shots
    text = (
        f"Dashed: at the scenario's own values. One input is moved at a time, {shots:,} shots for "
        "each return direction; thin lines and brackets: 95 % intervals. In %: the part of the "
        "doubt that the input makes by itself; together with others it may make more."
    )
    return style.wrapped(text, ROOM, SMALL, most=5)


def _scale(result: Sensitivity, units: str) -> tuple[float, float, list[float]]:
    """Both ends of the scale, with room for the words beside the bars, and its ticks (points)."""
    found = [end for ends in result.ends for end in ends]
    least = min(0.0, *(end.low for end in found))
    most = max(0.0, *(end.high for end in found))
    ticks = scales.ticks(least, most, _MOST_STEPS)
    words = [
        style.width_of(in_words(result.scenario, each, along, units), SMALL)
        for each in result.inputs
        for along in (0.0, 1.0)
    ]
    room = min(max(words) + _BESIDE, 0.3 * ROOM)
    beyond = room / (ROOM - 2.0 * room) * (most - least or ticks[1] - ticks[0])
    shown = least - beyond, most + beyond
    return *shown, [tick for tick in ticks if shown[0] <= tick <= shown[1]]


def _draw_scale(axes: Axes, ticks: list[float], usual: Difference) -> None:
    scales.draw_upright(axes, ticks, scales.signed(ticks))
    ends = axes.get_ylim()
    style.draw(axes, [0.0, 0.0], ends, zorder=1, color=style.INK, linewidth=1.4)
    style.draw(axes, [usual.points] * 2, ends, zorder=1, **marks.DASHED)


def _draw_input(axes: Axes, result: Sensitivity, k: int, top: float, units: str) -> None:
    """Name and its own part of the doubt above, then the bar with its values at both ends."""
    each, ends = result.inputs[k], result.ends[k]
    start, stop = axes.get_xlim()
    per_point = (stop - start) / ROOM
    shown = _part_in_words(result, k)
    room = ROOM - 2.0 * _BESIDE - _BOLD * style.width_of(shown, TEXT)
    name = style.wrapped(each.label, room, TEXT, most=1)[0]
    pad: Look = {"bbox": style.CLEAR}
    style.label(axes, start, top + _NAME, name, size=TEXT, ha="left", va="baseline", **pad)
    style.label(
        axes, stop, top + _NAME, shown, size=TEXT, ha="right", va="baseline", weight="bold", **pad
    )
    y = top + _BAR
    left, right = sorted(end.points for end in ends)
    bar = Rectangle((left, y - _HALF_BAR), right - left, 2.0 * _HALF_BAR, zorder=2)
    bar.set(facecolor=style.FAINT, edgecolor="none")
    axes.add_artist(bar)
    for filled, end in enumerate(ends):
        marks.draw_estimate(axes, (end.points, end.low, end.high), y, filled=bool(filled))
    low_is_left = ends[0].points <= ends[1].points
    outermost = min(end.low for end in ends), max(end.high for end in ends)
    for at, along, align, away in (
        (outermost[0], 0.0 if low_is_left else 1.0, "right", -_BESIDE),
        (outermost[1], 1.0 if low_is_left else 0.0, "left", _BESIDE),
    ):
        value = in_words(result.scenario, each, along, units)
        style.label(axes, at + away * per_point, y, value, ha=align, **pad)


def _part_in_words(result: Sensitivity, k: int) -> str:
    """What input ``k`` makes of the doubt by itself; hardly any is told as that."""
    _, high = result.indices.interval(result.indices.first_resampled)
    if 0.0 <= high[k] < _NEXT_TO_NOTHING:
        return "under 1 %"
    return part_alone(result, k)


def _draw_key(figure: Figure, line: float) -> None:
    """What open and filled marks mean, and the numbers on the right."""
    marks.draw_key(figure, line, {False: "low end", True: "high end"})
    look: Look = {"ha": "right", "weight": "bold"}
    style.write(figure, WIDTH - MARGIN, line, "part of the doubt, alone", **look)
