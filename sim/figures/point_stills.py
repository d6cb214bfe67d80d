"""A point in five pictures below each other, for paper and telephone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from matplotlib.figure import Figure

from sim.analyses.points import Point, end_of
from sim.figures import moving_court, style
from sim.figures.moving_court import View
from sim.figures.point_words import beside, notes_of, phase_of, subtitle_of, title_of
from sim.figures.style import MARGIN, SMALL, TEXT, Units

_GAP: Final = 14.0
_PANEL: Final = (style.ROOM - _GAP) / 2.0
_COURT: Final = 98.0
_ASIDE: Final = _COURT + 8.0
_WORDS: Final = _PANEL - _ASIDE
_LINE: Final = SMALL * style.LINE
_HEADING: Final = TEXT * 1.9
_RULE: Final = 3.0
_BELOW: Final = 8.0
_NAME_LINES: Final = 3
_MARKS: Final = 0.62
_KEY: Final = (
    "Circle: left player, square: right; open: where the policy wants them. At the end: filled "
    "ring in control, open ring at full stretch, cross got through. A model's point, not advice."
)


@dataclass(frozen=True)
class Row:
    """One moment (s since the return was struck) with its heading, and the words for each policy.

    A panel is so many points high.
    """

    heading: str
    time: float
    names: tuple[list[str], list[str]]
    words: tuple[list[str], list[str]]
    view: View

    @property
    def panel(self) -> float:
        """Of the court, or of the words above the view from the side if they need more."""
        lines = max(
            len(name) + len(words) for name, words in zip(self.names, self.words, strict=True)
        )
        return max(self.view.height(_COURT), lines * _LINE + self.view.side_height(_WORDS) + _BELOW)

    @property
    def height(self) -> float:
        """With the heading (points)."""
        return _HEADING + self.panel + _BELOW


def moments_of(point: Point) -> list[tuple[str, float]]:
    """Five moments (s since the return was struck) with what they are called."""
    shot, struck = point.shot, point.shot.contact_time
    ends = [end_of(shot, response) for response in point.responses]
    flying = "on its way", 0.5 * (struck + min(ends))
    if shot.over_net is not None and shot.over_net[0] < min(ends):
        flying = shot.crossing, shot.over_net[0]
    return [
        ("return struck", 0.0),
        ("half-way to their shot", 0.5 * struck),
        ("opponents strike", struck),
        flying,
        ("how it ends", max(ends)),
    ]


def stills_figure(point: Point, units: Units = "us") -> Figure:
    """Five moments of a point, both policies beside each other."""
    title, subtitle = title_of(point), subtitle_of(point)
    rows = _rows(point, units)
    notes = notes_of(point, _KEY)
    top = style.head_height(title, subtitle) + _BELOW
    height = top + sum(row.height for row in rows) + style.foot_height(notes)
    with style.own_settings():
        figure = style.new_figure(height)
        style.head(figure, title, subtitle)
        for row in rows:
            _draw_row(figure, point, row, top)
            top += row.height
        style.foot(figure, top, notes)
    return figure


def _rows(point: Point, units: Units) -> list[Row]:
    view = moving_court.view_of(point)
    first, second = (
        style.wrapped(name, _WORDS, SMALL, bold=True, most=_NAME_LINES) for name in point.policies
    )
    moments = moments_of(point)
    rows = []
    for words, time in moments:
        last = (words, time) == moments[-1]
        heading = words.capitalize() if last else f"{time:.2f} s  {words}"
        left, right = (_words(point, place, time, units) for place in (0, 1))
        rows.append(Row(heading, time, (first, second), (left, right), view))
    return rows


def _words(point: Point, place: int, time: float, units: Units) -> list[str]:
    """Lines beside a court: the phase, and more on it; at the end, when that is."""
    shot, response = point.shot, point.responses[place]
    end = end_of(shot, response)
    time = min(time, end)
    parts = [f"{time:.2f} s"] if time == end else []
    parts += [phase_of(shot, response, time), *beside(shot, response, time, units)]
    return [line for part in parts if part for line in style.wrapped(part, _WORDS, SMALL)]


def _draw_row(figure: Figure, point: Point, row: Row, top: float) -> None:
    """A heading, and for each policy the court, the words and the view from the side."""
    rule = [MARGIN, style.WIDTH - MARGIN], [top + _RULE, top + _RULE]
    style.draw(figure, *rule, color=style.FAINT, linewidth=1.0)
    style.write(figure, MARGIN, top + 0.8 * _HEADING, row.heading, TEXT, weight="bold")
    shot, view = point.shot, row.view
    high, low = view.height(_COURT), view.side_height(_WORDS)
    top += _HEADING
    for place, response in enumerate(point.responses):
        left = MARGIN + place * (_PANEL + _GAP)
        court = style.add_axes(figure, left, top, _COURT, high)
        moving_court.show_ground(court, view)
        moving_court.draw_ground(court, shot, response, _MARKS)
        moving_court.draw_moment(court, shot, response, row.time, _MARKS)
        side = style.add_axes(figure, left + _ASIDE, top + row.panel - low, _WORDS, low)
        moving_court.show_side(side, view)
        moving_court.draw_side_ground(side, view)
        moving_court.draw_side_moment(side, shot, response, row.time, _MARKS)
        names = row.names[place]
        for number, text in enumerate([*names, *row.words[place]]):
            below, weight = (
                top + (number + 0.8) * _LINE,
                "bold" if number < len(names) else "normal",
            )
            style.write(figure, left + _ASIDE, below, text, SMALL, weight=weight)
