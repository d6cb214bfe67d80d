"""A point in three pictures below each other, for paper and telephone."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from matplotlib.figure import Figure

from sim.analyses.points import Point, end_of
from sim.figures import moving_court, style
from sim.figures.moving_court import View
from sim.figures.point_words import beside, mark_of, notes_of, phase_of, subtitle_of, title_of
from sim.figures.style import MARGIN, SMALL, TEXT, Units

_GAP: Final = 14.0
_PANEL: Final = (style.ROOM - _GAP) / 2.0
_COURT: Final = 200.0
_LINE: Final = SMALL * style.LINE
_HEADING: Final = TEXT * 1.9
_RULE: Final = 3.0
_BELOW: Final = 8.0
_NAME_LINES: Final = 3
_MARKS: Final = 0.9
# Shown of the opponents' half (ft): no more than that it begins there.
_BEYOND_NET: Final = 3.0
_KEY: Final = (
    "The pair's half and the net. Circle: left player, square: right; open: where the policy wants "
    "them. Thin grey line: the return of serve; thick: the third shot. Only who goes for the ball "
    "is drawn running. A model's point, not advice."
)


@dataclass(frozen=True)
class Row:
    """One moment (s since the return was struck) with its heading, and the words for each policy.

    Below the courts of the ``last`` the pair's half is seen from the side.
    """

    heading: str
    time: float
    last: bool
    names: tuple[list[str], list[str]]
    words: tuple[list[str], list[str]]
    view: View

    @property
    def court(self) -> float:
        """From the row's top to that of the courts (points): the heading and the names."""
        return _HEADING + max(map(len, self.names)) * _LINE + 0.4 * SMALL

    @property
    def below(self) -> float:
        """From the row's top to that of the words."""
        return self.court + self.view.height(_COURT) + 2.0

    @property
    def side(self) -> float:
        """From the row's top to that of the views from the side, below the words that say so."""
        return self.below + (max(map(len, self.words)) + 1) * _LINE + _BELOW

    @property
    def height(self) -> float:
        """Of the whole row."""
        if not self.last:
            return self.side - _LINE
        return self.side + self.view.side_height(_COURT) + moving_court.SIDE_NAMES + _BELOW


def moments_of(point: Point) -> list[tuple[str, float]]:
    """Three moments (s since the return was struck) with what they are called."""
    shot, struck = point.shot, point.shot.contact_time
    ends = [end_of(shot, response) for response in point.responses]
    flying = "on its way", 0.5 * (struck + min(ends))
    if shot.over_net is not None and shot.over_net[0] < min(ends):
        flying = shot.crossing, shot.over_net[0]
    return [("opponents strike", struck), flying, ("how it ends", max(ends))]


def stills_figure(point: Point, units: Units = "us") -> Figure:
    """Three moments of a point, both policies beside each other."""
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
    view = replace(moving_court.view_of(point), farthest=_BEYOND_NET)
    first, second = (
        style.wrapped(name, _PANEL, SMALL, bold=True, most=_NAME_LINES) for name in point.policies
    )
    moments = moments_of(point)
    rows = []
    for words, time in moments:
        last = (words, time) == moments[-1]
        heading = words.capitalize() if last else f"{time:.2f} s  {words}"
        left, right = (_words(point, place, time, units) for place in (0, 1))
        rows.append(Row(heading, time, last, (first, second), (left, right), view))
    return rows


def _words(point: Point, place: int, time: float, units: Units) -> list[str]:
    """Lines below a court: where the two are; once it is over, when that was, and how."""
    shot, response = point.shot, point.responses[place]
    end, parts = end_of(shot, response), beside(shot, response, time, units)
    if time >= end:
        ends = phase_of(shot, response, time) + mark_of(shot, response, time)
        parts = [f"{end:.2f} s  {ends}", *parts]
    return [line for part in parts if part for line in style.wrapped(part, _PANEL, SMALL)]


def _draw_row(figure: Figure, point: Point, row: Row, top: float) -> None:
    """A heading, and for each policy its name, the court and the words, at the end the side."""
    rule = [MARGIN, style.WIDTH - MARGIN], [top + _RULE, top + _RULE]
    style.draw(figure, *rule, color=style.FAINT, linewidth=1.0)
    style.write(figure, MARGIN, top + 0.8 * _HEADING, row.heading, TEXT, weight="bold")
    shot, view = point.shot, row.view
    for place, response in enumerate(point.responses):
        left = MARGIN + place * (_PANEL + _GAP)
        for number, text in enumerate(row.names[place]):
            below = top + _HEADING + (number + 0.8) * _LINE
            style.write(figure, left, below, text, SMALL, weight="bold")
        court = style.add_axes(figure, left, top + row.court, _COURT, view.height(_COURT))
        moving_court.show_ground(court, view)
        moving_court.draw_ground(court, shot, response, _MARKS)
        moving_court.draw_moment(court, shot, response, row.time, _MARKS)
        for number, text in enumerate(row.words[place]):
            style.write(figure, left, top + row.below + (number + 0.8) * _LINE, text, SMALL)
        if row.last:
            high = view.side_height(_COURT)
            side = style.add_axes(figure, left, top + row.side, _COURT, high)
            moving_court.show_side(side, view)
            moving_court.draw_side_ground(side, view)
            moving_court.draw_side_moment(side, shot, response, row.time, _MARKS)
            moving_court.name_side(figure, view, left, top + row.side + high, _COURT)
            words, above = "from the side", top + row.side - 0.3 * _LINE
            style.write(figure, left, above, words, SMALL, color=style.QUIET)
