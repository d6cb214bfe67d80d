"""How often third shots fail, beside what is published."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from sim.figures import marks, scales, style
from sim.figures.style import MARGIN, ROOM, SMALL, Look
from sim.opponents import LEVELS
from tests.published.check import Estimate, Range
from tests.published.test_shot_shares import (
    DRIVES_LOST,
    DROPS_LOST,
    EXTRACT,
    FAILING_AT_4,
    FAILING_PROFESSIONALS,
    OTHER_IMPLEMENTATION_FAILING,
    failing,
    failing_by_shot,
    failing_of_all_levels,
    interval_of_the_finals,
    shots_of_levels,
)

_UNDER: Final = 2.2 * SMALL
_ROW: Final = 22.0
_GROUP: Final = 34.0
_NAMES: Final = 104.0


@dataclass(frozen=True)
class Row:
    """A share that fails (percent): ours, and what is published as a range or as a figure."""

    name: str
    ours: Estimate
    published: Range | float | None


def groups() -> list[tuple[str, list[Row]]]:
    """What is compared with what, each group with its heading."""
    ranges = {"4.0": FAILING_AT_4, "4.5": FAILING_AT_4, "professional": FAILING_PROFESSIONALS}
    kinds = (("drives", "drive", DRIVES_LOST), ("drops", "drop", DROPS_LOST))
    return [
        ("All third shots, and published ranges", [Row(*r) for r in _levels(ranges)]),
        (
            "After returns down the line, and another implementation",
            [Row(n, failing(n, ("line",)), OTHER_IMPLEMENTATION_FAILING[n]) for n in LEVELS],
        ),
        (
            "All levels together, and an unreviewed count",
            [Row(name, _of_all_levels(shot), at) for name, shot, at in kinds],
        ),
    ]


def _levels(ranges: dict[str, Range]) -> Iterable[tuple[str, Estimate, Range | None]]:
    return ((level, failing(level), ranges.get(level)) for level in LEVELS)


def _of_all_levels(shot: str) -> Estimate:
    """One kind of shot, the levels weighted as in the count, with the interval of that mean.

    Source: G. Y. Zou and A. Donner, Construction of confidence limits about effect measures: a
    general approach, Statistics in Medicine 27 (2008) 1693 (memory): the distances from independent
    estimates to their limits add up in squares.
    """
    weights = np.array(shots_of_levels(shot))
    found = [failing_by_shot(level, shot) for level in EXTRACT]
    value, low, high = np.array([(each.value, each.low, each.high) for each in found]).T
    part = weights / weights.sum()
    mean = failing_of_all_levels(shot)
    down, up = (float(np.linalg.norm(part * away)) for away in (value - low, high - value))
    return Estimate(mean, mean - down, mean + up)


def failures_figure() -> Figure:
    """Third shots into the net or out, ours beside what is published."""
    title = "How often third shots fail"
    subtitle = "of 100, into the net or out"
    finals = interval_of_the_finals()
    notes = style.wrapped(
        "Full marks: ours, with 99 % intervals. Grey: published ranges; for 3.0, 3.5 and 5.0 "
        "nothing was found. Thick stroke: the professionals' own figure with its 95 % "
        f"interval, {finals.low:.1f} to {finals.high:.1f}. Open marks: the other figures.",
        ROOM,
        SMALL,
        most=5,
    )
    start = style.head_height(title, subtitle) + 6.0
    found = groups()
    ticks = [0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0]
    bottom = start + sum(_GROUP + len(rows) * _ROW for _, rows in found) + _UNDER
    with style.own_settings():
        figure = style.new_figure(bottom + style.foot_height(notes))
        style.head(figure, title, subtitle)
        top = start
        for number, (heading, rows) in enumerate(found):
            style.write(figure, MARGIN, top + 24.0, heading, weight="bold")
            top += _GROUP
            height = len(rows) * _ROW
            axes = style.add_axes(figure, MARGIN + _NAMES, top, ROOM - _NAMES - 16.0, height)
            axes.set(xlim=(ticks[0], ticks[-1]), ylim=(height, 0.0))
            last = number == len(found) - 1
            scales.draw_upright(axes, ticks, scales.plain(ticks) if last else [])
            names = [[row.name] for row in rows]
            marks.write_names(figure, names, MARGIN + _NAMES - 10.0, top, _ROW)
            for place, row in enumerate(rows):
                _draw_row(axes, row, (place + 0.5) * _ROW)
            if number == 0:
                middle = (len(rows) - 0.5) * _ROW
                thick: Look = {"color": style.QUIET, "linewidth": 5.0, "zorder": 2}
                thick["solid_capstyle"] = "butt"
                style.draw(axes, [finals.low, finals.high], [middle, middle], **thick)
            top += height
        style.foot(figure, bottom, notes)
    return figure


def _draw_row(axes: Axes, row: Row, y: float) -> None:
    if isinstance(row.published, Range):
        half, wide = 0.34 * _ROW, row.published.high - row.published.low
        look: Look = {"color": style.FAINT, "linewidth": 0.0, "zorder": 1}
        axes.add_artist(Rectangle((row.published.low, y - half), wide, 2.0 * half, **look))
    elif row.published is not None:
        # Large enough to be seen around ours where they agree.
        ring: Look = {"marker": "o", "markersize": 11.0, "markerfacecolor": "white", "zorder": 3}
        style.draw(axes, [row.published], [y], color=style.INK, markeredgewidth=1.4, **ring)
    marks.draw_estimate(axes, (row.ours.value, row.ours.low, row.ours.high), y, filled=True)
