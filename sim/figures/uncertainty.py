"""What not knowing adds: every policy's difference with sampling alone, and with all doubt."""

from __future__ import annotations

from typing import Final

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from sim.analyses.uncertainty import Estimate, Uncertainty
from sim.figures import marks, scales, style
from sim.figures.style import MARGIN, ROOM, SMALL, TEXT, Look, Units
from sim.tables import Row
from sim.wording import TOLD, points

_HEADS: Final = {"in_control": "In control", "reached": "Reached"}
_WIDEST_NAME: Final = 104.0
_BESIDE_NAMES: Final = 8.0
_BESIDE_NUMBERS: Final = 16.0
_LEAST_ROW: Final = 27.0
_HEAD: Final = 3.4 * TEXT
_SCALE: Final = 1.8 * SMALL
_HALF_BOX: Final = 5.0
_MOST_STEPS: Final = 4
_EDGE: Final = 7.0


def uncertainty_figure(found: Uncertainty, units: Units = "us") -> Figure:
    """Differences to the baseline policy, of which there are some; a panel for each measure.

    Nothing on it has a unit; ``units`` is there because all figures take it.
    """
    lines = {measure: _differences(found, measure) for measure in _HEADS}
    names = [style.wrapped(each.policy, _WIDEST_NAME, TEXT) for each in lines["reached"]]
    numbers = {
        measure: [points(_in_points(each)) for each in each_policy]
        for measure, each_policy in lines.items()
    }
    widest = max(style.width_of(text, SMALL) for texts in numbers.values() for text in texts)
    left = MARGIN + marks.names_width(names) + _BESIDE_NAMES
    width = ROOM + MARGIN - left - widest - _BESIDE_NUMBERS
    row = marks.row_height(names, _LEAST_ROW)
    height = row * len(names)

    title = "With what you do not know"
    baseline = found.scenario.baseline.name
    subtitle = f"{found.scenario.name} · against {baseline}, of 100 balls in play"
    notes = style.wrapped(_note(found), ROOM, SMALL, most=7)
    key = style.head_height(title, subtitle) + 1.9 * TEXT
    bottom = key + len(lines) * (_HEAD + height + _SCALE) + 6.0
    with style.own_settings():
        figure = style.new_figure(bottom + style.foot_height(notes))
        style.head(figure, title, subtitle)
        _draw_key(figure, key)
        for place, (measure, estimates) in enumerate(lines.items()):
            top = key + place * (_HEAD + height + _SCALE) + _HEAD
            style.write(figure, MARGIN, top - 1.6 * TEXT, _HEADS[measure], weight="bold")
            marks.write_names(figure, names, left - _BESIDE_NAMES, top, row)
            axes = style.add_axes(figure, left, top, width, height)
            _draw_panel(axes, estimates, width)
            for number, text in enumerate(numbers[measure]):
                line = top + (number + 0.5) * row + 0.36 * SMALL
                style.write(figure, MARGIN + ROOM, line, text, SMALL, ha="right")
        style.foot(figure, bottom, notes)
    return figure


def _differences(found: Uncertainty, measure: str) -> list[Estimate]:
    wanted = measure, "difference"
    return [each for each in found.estimates if (each.measure, each.quantity) == wanted]


def _in_points(each: Estimate) -> Row:
    doubt = each.doubt
    ends = {"points": doubt.mean, "points_low": doubt.low, "points_high": doubt.high}
    return {name: 100.0 * value for name, value in ends.items()}


def _note(found: Uncertainty) -> str:
    return (
        "Boxes shrink with more shots; the lines beyond them only with measuring. "
        f"{found.settings:,} settings were drawn from what is known. In brackets and lines: 95 % "
        "intervals with all doubt. Filled: more or fewer, all comparisons together at 95 %; open: "
        "not told from 0. Every panel has a scale of its own."
    )


def _draw_panel(axes: Axes, estimates: list[Estimate], width: float) -> None:
    """A row for each policy, on a scale that holds zero and every interval."""
    rows = [_in_points(each) for each in estimates]
    low = min(0.0, *(row["points_low"] for row in rows))
    high = max(0.0, *(row["points_high"] for row in rows))
    ticks = scales.ticks(low, high, _MOST_STEPS)
    beyond = _EDGE / (width - 2.0 * _EDGE) * (ticks[-1] - ticks[0])
    limits = ticks[0] - beyond, ticks[-1] + beyond
    axes.set(xlim=limits, ylim=(len(estimates) - 0.5, -0.5))
    scales.draw_upright(axes, ticks, scales.signed(ticks))
    style.draw(axes, [0.0, 0.0], axes.get_ylim(), zorder=1, color=style.INK, linewidth=1.4)
    scales.write_sides(axes, "fewer", "more")
    _, up = scales.a_point(axes)
    for place, (each, row) in enumerate(zip(estimates, rows, strict=True)):
        ends = row["points_low"], row["points_high"]
        half = 100.0 * each.doubt.sampling
        _draw(
            axes,
            (row["points"], half),
            ends,
            place,
            abs(up),
            filled=each.verdict in TOLD,
        )


def _draw(
    on: Axes | Figure,
    sampling: tuple[float, float],
    ends: tuple[float, float],
    y: float,
    a_point: float,
    *,
    filled: bool,
) -> None:
    """A thin line with all doubt and a box on it with sampling alone (middle, half-width)."""
    marks.draw_interval(on, ends, y)
    middle, half = sampling
    look: Look = {"facecolor": style.INK if filled else "white", "edgecolor": style.INK}
    look |= {"linewidth": 1.6, "zorder": 5}
    if isinstance(on, Figure):
        look["transform"] = style.points(on)
    tall = _HALF_BOX * a_point
    on.add_artist(Rectangle((middle - half, y - tall), 2.0 * half, 2.0 * tall, **look))


def _draw_key(figure: Figure, line: float) -> None:
    """What boxes and lines mean, each beside its words."""
    middle = line - 0.36 * TEXT
    _draw(figure, (MARGIN + 25.0, 9.0), (MARGIN + 1.0, MARGIN + 49.0), middle, 1.0, filled=True)
    style.write(figure, MARGIN + 58.0, line, "box: sampling; line: and what you do not know")
