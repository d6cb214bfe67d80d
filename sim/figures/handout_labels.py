"""Distances on a court of the page for players: in paces and feet, from lines they can see."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from sim.analyses.handout_lessons import Lesson
from sim.court import BASELINE, HALF_WIDTH, NON_VOLLEY_ZONE
from sim.figures.handout_drawing import ASCENT, DESCENT, Line, Shape, Words
from sim.figures.handout_marks import GAP, MARK, View, label, measure
from sim.figures.letters import width_of
from sim.run_in import PLAYERS
from sim.texts.handout import CourtWords
from sim.texts.handout_places import BASELINE_NAME, CENTRE_LINE, Off, across, deep, measured

THEY_STRIKE: Final = "they strike here"
# Of the size of the words: from line to line, and what a label of two lines needs.
_LINE: Final = 1.15
_LINES: Final = 2.5
# So far (points) words keep from the middle of the net and of the sidelines.
_FROM_LINES: Final = 3.0
# To this part of their size words shrink at most for labels to stand side by side.
_LEAST_SIZE: Final = 0.8


def size_between_sidelines(words: Sequence[CourtWords], size: float, scale: float) -> float:
    """The size of the words on courts, so small that they fit between the sidelines.

    Labels of both players side by side, where that takes no much smaller words.
    """
    room = 2.0 * (HALF_WIDTH * scale - _FROM_LINES)
    size = min(size, size * room / width_of(THEY_STRIKE, size))
    labels = [sum(_widest(court.across[name], size) for name in PLAYERS) for court in words]
    side_by_side = min(size, size * (room - GAP) / max(labels))
    return side_by_side if side_by_side >= _LEAST_SIZE * size else size


def _widest(lines: Sequence[str], size: float) -> float:
    return max(width_of(line, size) for line in lines)


def across_labels(lesson: Lesson, words: CourtWords, view: View) -> list[Shape]:
    """How far each place is from the centre line or a sideline, above the place.

    Where there is no room between place and net, beyond the net; never over it or a sideline.
    """
    shapes: list[Shape] = []
    middles, rulers = {}, {}
    for name, standing in lesson.players.items():
        x, y = view.at(*standing.target)
        off, rulers[name] = across(standing.target[0]), y - MARK - GAP
        line = 0.0 if off.line == CENTRE_LINE else math.copysign(HALF_WIDTH, standing.target[0])
        from_ = view.at(line, 0.0)[0] if measured(words.across[name]) else x
        if from_ != x:
            shapes += measure((from_, rulers[name]), (x, rulers[name]))
        middles[name] = 0.5 * (from_ + x)
    half = {name: 0.5 * _widest(words.across[name], view.size) for name in PLAYERS}
    if abs(rulers["left"] - rulers["right"]) < _LINES * view.size:
        middles = _apart(middles, half, view)
    else:
        # The way to the ball between them leads inwards from the one behind.
        name, inwards = ("left", -1.0) if rulers["left"] > rulers["right"] else ("right", 1.0)
        middles[name] = view.at(*lesson.players[name].target)[0] + inwards * half[name]
    middles = {name: kept_inside(middles[name], half[name], view) for name in PLAYERS}
    for name, bottom in _above(rulers, middles, half, words, view).items():
        for row, text in enumerate(reversed(words.across[name])):
            baseline = bottom - row * _LINE * view.size
            told = Words(middles[name], baseline, text, view.size, "ink", "middle")
            shapes += label(told, _ground(told, view))
    return shapes


def _above(
    rulers: dict[str, float],
    middles: dict[str, float],
    half: dict[str, float],
    words: CourtWords,
    view: View,
) -> dict[str, float]:
    """Baselines of the last lines of both labels, above their rulers and clear of each other."""
    most = max(map(len, words.across.values()))
    bottoms = {name: _clear_of_the_net(rulers[name] - GAP, most, view) for name in PLAYERS}
    near = abs(bottoms["left"] - bottoms["right"]) < _LINES * view.size
    if near and middles["left"] + half["left"] > middles["right"] - half["right"]:
        higher = bottoms["left"] - _LINES * view.size
        return bottoms | {"right": _clear_of_the_net(higher, most, view)}
    return bottoms


def _clear_of_the_net(bottom: float, lines: int, view: View) -> float:
    """The baseline of so many lines' last one, raised beyond the net if they would cover it."""
    net = view.at(0.0, 0.0)[1]
    top = bottom - ((lines - 1) * _LINE + ASCENT) * view.size
    if top >= net + _FROM_LINES:
        return bottom
    return min(bottom, net - _FROM_LINES - DESCENT * view.size)


def _ground(words: Words, view: View) -> str:
    """The colour of the ground that words stand on: of the non-volley zone, or of the court."""
    far, near = (view.at(0.0, side * NON_VOLLEY_ZONE)[1] for side in (1.0, -1.0))
    _, top, _, bottom = words.box
    return "ground" if far < top and bottom < near else "paper"


def kept_inside(middle: float, half: float, view: View) -> float:
    """The middle of words so wide to either side, moved where they would cover a sideline."""
    left, right = _inside(view)
    return max(min(middle, right - half), left + half)


def _inside(view: View) -> tuple[float, float]:
    """From where to where words on the court leave the sidelines free."""
    left, right = (view.at(side * HALF_WIDTH, 0.0)[0] for side in (-1.0, 1.0))
    return left + _FROM_LINES, right - _FROM_LINES


def _apart(middles: dict[str, float], half: dict[str, float], view: View) -> dict[str, float]:
    """Middles of two labels that keep clear of each other, as far as there is room."""
    first, last = _inside(view)
    free = middles["right"] - half["right"] - middles["left"] - half["left"]
    more = 0.5 * max(GAP - free, 0.0)
    right = min(middles["right"] + more, last - half["right"])
    left = min(middles["left"] - more, right - half["right"] - GAP - half["left"])
    missing = max(first + half["left"] - left, 0.0)
    right = max(right, min(right + missing, last - half["right"]))
    return {"left": left + missing, "right": right}


def deep_labels(lesson: Lesson, words: CourtWords, view: View) -> list[Shape]:
    """How far each place is from the non-volley line or the baseline, beside the court."""
    shapes: list[Shape] = []
    # Beside the court, and beside the posts of the net.
    ruler = view.at(HALF_WIDTH, 0.0)[0] + 1.5 * GAP
    same = words.deep["left"] == words.deep["right"]
    middles = {}
    for name in ("right",) if same else PLAYERS:
        x, y = view.at(*lesson.players[name].target)
        line = view.at(0.0, _line_of(deep(lesson.players[name].target[1])))[1]
        first = view.at(*lesson.players["left"].target)[0] if same else x
        shapes.append(Line(((first, y), (ruler, y)), "quiet", 0.7, (1.4, 2.2)))
        middles[name] = y
        if measured(words.deep[name]):
            shapes += measure((ruler, line), (ruler, y))
            middles[name] = 0.5 * (line + y)
    for name, middle in _one_below_the_other(middles, view).items():
        for row, text in enumerate(words.deep[name]):
            baseline = middle + (row - 0.15) * _LINE * view.size
            shapes.append(Words(ruler + GAP + 1.0, baseline, text, view.size))
    return shapes


def _one_below_the_other(middles: dict[str, float], view: View) -> dict[str, float]:
    """Heights of labels that keep clear of each other, and of what is below the court."""
    if len(middles) == 1:
        return middles
    upper, lower = sorted(middles, key=lambda name: middles[name])
    least = _LINES * view.size
    missing = max(least - (middles[lower] - middles[upper]), 0.0)
    down = min(middles[lower] + 0.5 * missing, view.height - 1.1 * view.size)
    return {upper: min(middles[upper], down - least), lower: down}


def _line_of(off: Off) -> float:
    """Where the line is (y, ft) that a depth is told from."""
    return -BASELINE if off.line == BASELINE_NAME else -NON_VOLLEY_ZONE
