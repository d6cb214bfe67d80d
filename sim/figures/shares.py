"""What share of the balls in play each policy reaches, with intervals."""

from __future__ import annotations

import math
from typing import Final

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from sim.comparison import Comparison
from sim.figures import marks, rows, scales, style
from sim.figures.style import MARGIN, SMALL, TEXT, WIDTH, Units
from sim.tables import ALL, Row

_MEASURES: Final = ("in_control", "reached")
_PANEL_NAMES: Final = {ALL: "all returns"} | style.RETURNS
_BASELINE_WORDS: Final = "baseline policy"
_COLUMNS: Final = 2
_GAP: Final = 46.0
_BESIDE_NAMES: Final = 8.0
_WIDEST_NAME: Final = 150.0
_LEAST_ROW: Final = 25.0
_HEAD: Final = 2.1 * TEXT
_SCALE: Final = 1.8 * SMALL
_MOST_STEPS: Final = 4
# Half the width (points) of a mark, for which the ends of the scale leave room.
_HALF_MARK: Final = 6.0


def shares_figure(comparison: Comparison, units: Units = "us") -> Figure:
    """Share reached and share in control of every policy, a panel for each return direction.

    Nothing on it has a unit; ``units`` is there because all figures take it.
    """
    scenario = comparison.scenario
    directions = list(scenario.return_of_serve.directions)
    panels = [ALL, *directions] if len(directions) > 1 else directions
    names = {policy.name: _name_lines(comparison, policy.name) for policy in scenario.policies}
    columns = min(_COLUMNS, len(panels))
    left = MARGIN + marks.names_width(names.values()) + _BESIDE_NAMES
    width = (WIDTH - left - 1.5 * MARGIN - (columns - 1) * _GAP) / columns
    row = marks.row_height(names.values(), _LEAST_ROW)
    height, found = row * len(names), rows.overall(comparison)
    low, high, ticks = _scale(list(found.values()), width)

    title = "Third shots reached, and reached in control"
    subtitle = f"{scenario.name} · by return of serve"
    notes = _notes(low)
    key = style.head_height(title, subtitle) + 1.9 * TEXT
    bottom = key + math.ceil(len(panels) / columns) * (_HEAD + height + _SCALE) + 4.0
    with style.own_settings():
        figure = style.new_figure(bottom + style.foot_height(notes))
        style.head(figure, title, subtitle)
        ends = marks.draw_key(figure, key, {True: "reached", False: "in control"})
        style.write(figure, ends - 12.0, key, "with 95 % intervals")
        for place, panel in enumerate(panels):
            down, across = divmod(place, columns)
            at = left + across * (width + _GAP)
            top = key + down * (_HEAD + height + _SCALE) + _HEAD
            style.write(figure, at, top - 7.0, _PANEL_NAMES[panel], weight="bold")
            axes = style.add_axes(figure, at, top, width, height)
            axes.set(xlim=(low, high), ylim=(len(names) - 0.5, -0.5))
            scales.draw_upright(axes, ticks, scales.plain(ticks))
            shown = [found[name, panel] for name in names]
            _draw_panel(axes, shown, list(names).index(scenario.baseline.name))
            if across == 0:
                right = left - _BESIDE_NAMES
                marks.write_names(figure, names.values(), right, top, row, _BASELINE_WORDS)
        style.foot(figure, bottom, notes)
    return figure


def _notes(low: float) -> list[str]:
    cut = "" if low <= 0.0 else f" {scales.CUT}"
    text = (
        f"In % of the balls in play.{cut} Dashed: the baseline policy. All face the same shots: "
        "how sure a difference is stands in the tables."
    )
    return style.wrapped(text, style.ROOM, SMALL)


def _name_lines(comparison: Comparison, name: str) -> list[str]:
    lines = style.wrapped(name, _WIDEST_NAME, TEXT)
    return [*lines, _BASELINE_WORDS] if name == comparison.scenario.baseline.name else lines


def _scale(found: list[Row], width: float) -> tuple[float, float, list[float]]:
    """Both ends of the scale and its ticks, in percent, with every interval inside."""
    known = [row for row in found if row["in_play"]]
    least = 100.0 * min((row["in_control_low"] for row in known), default=0.0)
    most = 100.0 * max((row["reached_high"] for row in known), default=1.0)
    ticks = scales.ticks(least, most, _MOST_STEPS)
    beyond = _HALF_MARK / (width - 2 * _HALF_MARK) * (ticks[-1] - ticks[0])
    return ticks[0] - beyond, ticks[-1] + beyond, ticks


def _draw_panel(axes: Axes, shown: list[Row], baseline: int) -> None:
    """A row of marks for each policy, and where the baseline policy stands through all of them."""
    for measure in _MEASURES:
        for place, row in enumerate(shown):
            if not row["in_play"]:
                continue
            share, low, high = (100.0 * value for value in rows.estimate(row, measure))
            if place == baseline:
                style.draw(axes, [share, share], axes.get_ylim(), zorder=1, **marks.DASHED)
            marks.draw_estimate(axes, (share, low, high), place, filled=measure == "reached")
