"""How far one player is from the ball over time, against how far that player reaches."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from sim.analyses.one_shot import OneShot, Response
from sim.analyses.shot_instants import Instants
from sim.analyses.shot_responses import IN_CONTROL, NOT_REACHED
from sim.court import Array
from sim.figures import style
from sim.figures.shot_side import DARK, LIGHT
from sim.figures.style import MARGIN, ROOM, SMALL, Look, Units
from sim.run_in import PLAYERS
from sim.texts.shot import player_words
from sim.texts.table import length
from sim.units import METRES_PER_FOOT

_SCALE: Final = 46.0
_HIGH: Final = 140.0
_DISTANCE: Final = "from feet to ball"
_LINE: Final = SMALL * style.LINE
_GAP: Final = 12.0
# Between words of events in one row (points).
_APART: Final = 8.0
# Words in a band stand where it is first nearly as high as anywhere, if that is enough (ft) and
# leaves room to the right (share of the time).
_NEARLY: Final = 0.9
_LEAST_ROOM: Final = 1.2
_LOW: Final = 0.35
_WORDS_WIDE: Final = 0.22
# Words this far (ft) from a line do not touch it.
_OFF_LINE: Final = 0.9
# Distances beyond this (ft) are cut off: no reach comes near them.
_FARTHEST: Final = 12.0
# The ball is followed so long (s) after the hit and both players' nearest.
_ONWARDS: Final = 0.2
_MOST_TICKS: Final = 8


@dataclass(frozen=True)
class Panel:
    """One player's diagram, with its words above it."""

    shot: OneShot
    answer: Response
    name: str
    units: Units

    @property
    def words(self) -> list[str]:
        """The player's name, and whether the ball is got to or why not."""
        told = player_words(self.shot, self.answer, self.name, self.units)
        return style.wrapped(f"{self.name.capitalize()}: {told}", ROOM, SMALL, bold=True, most=4)

    @property
    def height(self) -> float:
        """Points from the top of the words to the bottom of the time scale."""
        last = self.name == PLAYERS[-1]
        scale = (3.0 if last else 1.4) * SMALL
        return len(self.words) * _LINE + self._rows * _LINE + _HIGH + scale + _GAP

    @property
    def _rows(self) -> int:
        """Rows that the words of the events take."""
        return 1 + max(event.row for event in _events(self.shot, self.answer, self.name))

    def draw(self, figure: Figure, top: float) -> None:
        """Draw it ``top`` points below the figure's top edge."""
        colour = style.PLAYER_WORDS[self.name]
        for row, line in enumerate(self.words):
            below = top + (row + 1) * _LINE
            style.write(figure, MARGIN, below, line, SMALL, weight="bold", color=colour)
        top += len(self.words) * _LINE + 0.4 * SMALL
        high = _HIGH + self._rows * _LINE
        axes = style.add_axes(figure, MARGIN + _SCALE, top, ROOM - _SCALE, high)
        right = latest(self.shot, self.answer)
        axes.set(xlim=(0.0, right), ylim=(0.0, _FARTHEST * high / _HIGH))
        seen = self.answer.instants[self.name]
        since = seen.time - self.shot.contact_time
        unit, middle = "m" if self.units == "metric" else "ft", top + 0.5 * high
        name: Look = {"rotation": 90.0, "va": "center", "ha": "center", "color": style.QUIET}
        style.write(figure, MARGIN + 0.6 * SMALL, middle, f"{unit} {_DISTANCE}", SMALL, **name)
        _draw_scales(axes, self.units, named=self.name == PLAYERS[-1])
        crossed = [event.time for event in _events(self.shot, self.answer, self.name)]
        _draw_reach(axes, since, seen, self.name, crossed)
        near = seen.left <= _FARTHEST
        distance = np.where(near, seen.left, np.nan)
        style.draw(axes, since, distance, zorder=5, color=style.INK, linewidth=2.2)
        for event in _events(self.shot, self.answer, self.name):
            _draw_event(axes, event)
        _mark(axes, self, since, seen)


def latest(shot: OneShot, answer: Response) -> float:
    """Until when (s since the contact) the diagrams go."""
    ends = [0.0 if answer.hit is None else answer.hit[0]]
    for name, seen in answer.instants.items():
        if answer.gets[name] != IN_CONTROL:
            ends.append(float(seen.time[np.argmax(seen.stretch - seen.left)]))
    return min(max(ends) + _ONWARDS, shot.end[0]) - shot.contact_time


def _draw_scales(axes: Axes, units: Units, *, named: bool) -> None:
    """Feet or metres upwards, seconds to the right."""
    _, right = axes.get_xlim()
    marks = [0.0, 5.0, 10.0]
    if units == "metric":
        marks = [metres / METRES_PER_FOOT for metres in (0.0, 1.0, 2.0, 3.0)]
    for mark in marks:
        style.draw(axes, [0.0, right], [mark, mark], zorder=1, color=style.FAINT, linewidth=0.8)
        words = f"{mark * METRES_PER_FOOT if units == 'metric' else mark:.0f}"
        style.label(axes, -0.015 * right, mark, words, color=style.QUIET, ha="right")
    steps = np.array([0.1, 0.2, 0.25, 0.5, 1.0])
    step = float(steps[np.argmax(right / steps <= _MOST_TICKS)])
    digits = 2 if step == 0.25 else 1
    look: Look = {"color": style.QUIET, "va": "top"}
    for time in np.arange(0.0, right + 1e-9, step):
        style.label(axes, time, -0.6, f"{time:.{digits}f}", **look)
    if named:
        style.label(axes, 0.5 * right, -2.1, "seconds after it was struck", **look)


def _draw_reach(
    axes: Axes, since: Array, seen: Instants, name: str, crossed: Sequence[float]
) -> None:
    """Both reaches as bands from the ground line up; no band where no arm gets to the ball.

    Their words stand off the lines at the times ``crossed`` (s), where there is room for that.
    """
    control, stretch = (np.where(np.isfinite(r), r, 0.0) for r in (seen.control, seen.stretch))
    for reach, opacity in ((stretch, LIGHT), (control, DARK)):
        look: Look = {"color": style.PLAYERS[name], "alpha": opacity, "linewidth": 0.0}
        axes.fill_between(since, 0.0, reach, where=reach > 0.0, zorder=2, **look)
    _, right = axes.get_xlim()
    shown = np.where(since < (1.0 - _WORDS_WIDE) * right, control, 0.0)
    high = shown > _NEARLY * shown.max()
    for time in crossed:
        high &= (since > time) | (since < time - _WORDS_WIDE * right)
    if not high.any():
        high = shown > _NEARLY * shown.max()
    here = int(np.argmax(high))
    middle, top = float(shown[here]), float(stretch[here])
    for low, high, words in ((0.0, middle, "in control"), (middle, top, "full stretch")):
        if middle > 0.0 and high - low > _LEAST_ROOM:
            at = float(since[here]) + 0.01 * right
            # Low in the band, since the distance dips into it from above.
            style.label(axes, at, low + _LOW * (high - low), words, ha="left", zorder=6)


@dataclass(frozen=True)
class Event:
    """What happens at a ``time`` (s since the contact), its words at ``middle`` in a ``row``."""

    time: float
    words: str
    middle: float
    row: int


def _events(shot: OneShot, answer: Response, name: str) -> list[Event]:
    """What happens while the diagram lasts, each in the first row with room for its words."""
    times = {f"{name} reacts": answer.reacts_at[name], "second bounce": shot.end[0]}
    if shot.over_net is not None:
        times[shot.crossing] = shot.over_net[0]
    if shot.landing is not None:
        times["bounces"] = shot.landing[0]
    if answer.hit is not None:
        times["hit" if answer.player == name else f"{answer.player} hits"] = answer.hit[0]
    right = latest(shot, answer)
    a_point = right / (ROOM - _SCALE)
    taken: list[float] = []
    events = []
    for at, words in sorted((at - shot.contact_time, words) for words, at in times.items()):
        if at > right:
            continue
        half = 0.5 * a_point * style.width_of(words, SMALL)
        middle = min(max(at, half), right - half)
        row = next((row for row, end in enumerate(taken) if end < middle - half), len(taken))
        taken[row : row + 1] = [middle + half + _APART * a_point]
        events.append(Event(at, words, middle, row))
    return events


def _draw_event(axes: Axes, event: Event) -> None:
    """An upright line, and the words above it."""
    row = _FARTHEST * _LINE / _HIGH
    below = _FARTHEST + event.row * row
    words: Look = {"bbox": style.CLEAR, "zorder": 6}
    style.label(axes, event.middle, below + 0.5 * row, event.words, **words)
    look: Look = {"color": style.QUIET, "linewidth": 0.9, "linestyle": (0, (2.0, 2.0))}
    style.draw(axes, [event.time, event.time], [0.0, below], zorder=3, **look)


def _mark(axes: Axes, panel: Panel, since: Array, seen: Instants) -> None:
    """The hit, or what is lacking where it is least."""
    if panel.answer.player == panel.name and panel.answer.hit is not None:
        here = int(np.argmin(np.abs(seen.time - panel.answer.hit[0])))
        dot: Look = {"marker": "o", "markersize": 9.0, "color": style.INK}
        style.draw(axes, [since[here]], [seen.left[here]], zorder=7, **dot)
        return
    if panel.answer.gets[panel.name] != NOT_REACHED:
        return
    here = int(np.argmax(seen.stretch - seen.left))
    reach, left = float(seen.stretch[here]), float(seen.left[here])
    _, right = axes.get_xlim()
    look: Look = {"color": style.THROUGH, "zorder": 6}
    clear: Look = look | {"bbox": style.CLEAR}
    if left >= _FARTHEST:
        words = f"nearest: {length(left, panel.units)} away, off this scale"
        style.label(axes, 0.5 * right, 0.92 * _FARTHEST, words, **clear)
    elif math.isfinite(reach):
        style.draw(axes, [since[here]] * 2, [reach, left], linewidth=2.4, **look)
        words = f"{length(left - reach, panel.units)} short"
        # Beside a long gap; else over the line where it turns up again, or below it.
        if left - reach > 2.0 * _OFF_LINE:
            at = float(since[here]) - 0.01 * right
            style.label(axes, at, 0.5 * (reach + left), words, ha="right", **clear)
        elif since[here] < (1.0 - _WORDS_WIDE) * right:
            style.label(axes, since[here], left + _OFF_LINE, words, **clear)
        else:
            style.label(axes, right, reach - _OFF_LINE, words, ha="right", **look)
