"""A point for two policies side by side, drawn for any moment of it: the frames of an animation."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from sim.analyses.points import Point, end_of
from sim.figures import moving_court, style
from sim.figures.moving_court import View
from sim.figures.point_words import beside, mark_of, notes_of, phase_of, subtitle_of, title_of
from sim.figures.style import MARGIN, SMALL, TEXT, TITLE, Units

_GAP: Final = 14.0
_WIDTH: Final = (style.ROOM - _GAP) / 2.0
_LINE: Final = SMALL * style.LINE
_NAME_LINE: Final = TEXT * 1.2
_CLOCK: Final = TITLE * 1.5
_WORD_LINES: Final = 3
_SIDE_WORDS: Final = SMALL
_DURING: Final = (
    "Circle: left, square: right; open: where the policy wants them.",
    "Thin grey line: the return of serve; thick: the third shot.",
)
_KEY: Final = (
    "Thin grey line: the return of serve. Only who goes for the ball is drawn running. "
    "A model's point, not advice."
)


@dataclass(frozen=True)
class Layout:
    """Where everything of a frame is, in points from its top, and what it says all the time."""

    view: View
    title: str
    subtitle: str
    names: tuple[list[str], list[str]]
    notes: list[str]

    @property
    def clock(self) -> float:
        """Baseline of the clock."""
        return style.head_height(self.title, self.subtitle) + _CLOCK

    @property
    def court(self) -> float:
        """Top of the courts; the policies' names stand above."""
        return self.clock + 8.0 + max(map(len, self.names)) * _NAME_LINE + 4.0

    @property
    def side(self) -> float:
        """Top of the views from the side."""
        return self.court + self.view.height(_WIDTH) + 4.0

    @property
    def side_names(self) -> float:
        """Top of the names of lines and net below these."""
        return self.side + self.view.side_height(_WIDTH)

    @property
    def words(self) -> float:
        """Top of the words on the phase."""
        return self.side_names + moving_court.SIDE_NAMES

    @property
    def notes_top(self) -> float:
        """Top of the notes."""
        return self.words + _WORD_LINES * _LINE + 8.0

    @property
    def height(self) -> float:
        """Of the whole frame."""
        return self.notes_top + style.foot_height(self.notes)

    def left(self, place: int) -> float:
        """Left edge of a panel."""
        return MARGIN + place * (_WIDTH + _GAP)


class Frames:
    """Draws a point's frames, so many pixels wide; heights and widths are even, as films ask."""

    def __init__(self, point: Point, units: Units, width: int) -> None:
        self.point, self.units = point, units
        self.layout = layout_of(point)
        with style.own_settings():
            self._still, self._moving = self._figure(width), self._figure(width)
            # Drawn over the still figure, in the same picture.
            self._moving.patch.set_visible(False)
            self._axes = [self._panel(self._moving, place) for place in (0, 1)]
            self._draw_what_stands_still()
            self._canvas: Any = FigureCanvasAgg(self._still)
            self._canvas.draw()
            self._ground = self._canvas.copy_from_bbox(self._still.bbox)

    @property
    def size(self) -> tuple[int, int]:
        """Width and height (pixels)."""
        width, height = self._canvas.get_width_height()
        return width - width % 2, height - height % 2

    def at(self, time: float, speed: float) -> np.ndarray:
        """The frame ``time`` s after the return was struck, shape (height, width, 3).

        ``speed`` is how fast it is shown, of real speed.
        """
        _clear(self._moving)
        with style.own_settings():
            self._draw_what_moves(time, speed)
            self._canvas.restore_region(self._ground)
            self._moving.draw(self._canvas.get_renderer())
        width, height = self.size
        return np.array(self._canvas.buffer_rgba())[:height, :width, :3]

    def place(self, panel: int, x: float, y: float) -> tuple[float, float]:
        """Column and row of pixels at a place on a panel's court (ft)."""
        court, _ = self._axes[panel]
        across, up = court.transData.transform((x, y))
        return float(across), float(self._canvas.get_width_height()[1] - up)

    def _figure(self, width: int) -> Figure:
        figure = style.new_figure(self.layout.height)
        figure.set_dpi(width * 72.0 / style.WIDTH)
        return figure

    def _panel(self, figure: Figure, place: int) -> tuple[Axes, Axes]:
        """Axes of a panel's court and of its view from the side."""
        layout, left = self.layout, self.layout.left(place)
        court = style.add_axes(figure, left, layout.court, _WIDTH, layout.view.height(_WIDTH))
        moving_court.show_ground(court, layout.view)
        side = style.add_axes(figure, left, layout.side, _WIDTH, layout.view.side_height(_WIDTH))
        moving_court.show_side(side, layout.view)
        return court, side

    def _draw_what_stands_still(self) -> None:
        figure, layout = self._still, self.layout
        style.head(figure, layout.title, layout.subtitle)
        for place, response in enumerate(self.point.responses):
            court, side = self._panel(figure, place)
            moving_court.draw_ground(court, self.point.shot, response)
            moving_court.draw_side_ground(side, layout.view)
            left, first = layout.left(place), layout.court - 4.0
            names = layout.names[place]
            for row, line in enumerate(reversed(names)):
                below = first - row * _NAME_LINE
                style.write(figure, left + 0.5 * _WIDTH, below, line, weight="bold", ha="center")
            below = layout.side + _SIDE_WORDS
            style.write(figure, left, below, "from the side", SMALL, color=style.QUIET)
            moving_court.name_side(figure, layout.view, left, layout.side_names, _WIDTH)

    def _draw_what_moves(self, time: float, speed: float) -> None:
        figure, layout, shot = self._moving, self.layout, self.point.shot
        style.write(figure, MARGIN, layout.clock, f"{time:.2f} s", TITLE, weight="bold")
        words = f"after the return, at {speed:g} of real speed"
        style.write(figure, MARGIN + 74.0, layout.clock, words, TEXT, color=style.QUIET)
        over = time >= max(end_of(shot, response) for response in self.point.responses)
        style.foot(figure, layout.notes_top, layout.notes if over else list(_DURING))
        for place, response in enumerate(self.point.responses):
            court, side = self._axes[place]
            moving_court.draw_moment(court, shot, response, time)
            moving_court.draw_side_moment(side, shot, response, time)
            phase = phase_of(shot, response, time) + mark_of(shot, response, time)
            lines = [phase, *beside(shot, response, time, self.units)]
            for row, line in enumerate(lines):
                below, weight = layout.words + (row + 1) * _LINE, "normal" if row else "bold"
                style.write(figure, layout.left(place), below, line, SMALL, weight=weight)


def layout_of(point: Point) -> Layout:
    """The layout of a point's frames."""
    first, second = (
        style.wrapped(name, _WIDTH, TEXT, bold=True, most=2) for name in point.policies
    )
    view = moving_court.view_of(point)
    return Layout(view, title_of(point), subtitle_of(point), (first, second), notes_of(point, _KEY))


def _clear(figure: Figure) -> None:
    """Take all words, lines and patches off a figure, not its axes."""
    for artist in [*figure.texts, *figure.artists]:
        artist.remove()
    for axes in figure.axes:
        for artist in [*axes.lines, *axes.texts, *axes.patches]:
            artist.remove()
