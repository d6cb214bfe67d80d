"""Distances on a court of the page for players: in paces and feet, from lines they can see."""

from __future__ import annotations

import math
from typing import Final

from sim.analyses.handout_lessons import Lesson
from sim.court import BASELINE, HALF_WIDTH, NON_VOLLEY_ZONE
from sim.figures.handout_drawing import Line, Shape, Words
from sim.figures.handout_marks import GAP, MARK, View, label, measure
from sim.figures.letters import width_of
from sim.run_in import PLAYERS
from sim.texts.handout import CourtWords
from sim.texts.handout_places import BASELINE_NAME, CENTRE_LINE, Off, across, deep, paced

# Of the size of the words: from line to line, and what a label of two lines needs.
_LINE: Final = 1.15
_LINES: Final = 2.5


def across_labels(lesson: Lesson, words: CourtWords, view: View) -> list[Shape]:
    """How far each place is from the centre line or a sideline, above the place."""
    shapes: list[Shape] = []
    middles, heights = {}, {}
    for name, standing in lesson.players.items():
        x, y = view.at(*standing.target)
        off, heights[name] = across(standing.target[0]), y - MARK - GAP
        line = 0.0 if off.line == CENTRE_LINE else math.copysign(HALF_WIDTH, standing.target[0])
        from_ = view.at(line, 0.0)[0] if paced(words.across[name]) else x
        if from_ != x:
            shapes += measure((from_, heights[name]), (x, heights[name]))
        middles[name] = 0.5 * (from_ + x)
    half = {
        name: 0.5 * max(width_of(line, view.size) for line in words.across[name])
        for name in PLAYERS
    }
    if abs(heights["left"] - heights["right"]) < _LINES * view.size:
        middles = _apart(middles, half, view)
        if middles["left"] + half["left"] > middles["right"] - half["right"]:
            heights["right"] -= _LINES * view.size
    else:
        # The way to the ball between them leads inwards from the one behind.
        name, inwards = ("left", -1.0) if heights["left"] > heights["right"] else ("right", 1.0)
        middles[name] = view.at(*lesson.players[name].target)[0] + inwards * half[name]
    for name in PLAYERS:
        middle = min(max(middles[name], half[name]), _room(view) - half[name])
        for row, text in enumerate(reversed(words.across[name])):
            baseline = heights[name] - GAP - row * _LINE * view.size
            shapes += label(Words(middle, baseline, text, view.size, "ink", "middle"))
    return shapes


def _room(view: View) -> float:
    """Where labels across the court have to end, for those beside it."""
    return _ruler(view) - 0.5 * GAP


def _ruler(view: View) -> float:
    """Where distances along the court are measured, beside it."""
    return view.at(HALF_WIDTH, 0.0)[0] + 1.5 * GAP


def _apart(middles: dict[str, float], half: dict[str, float], view: View) -> dict[str, float]:
    """Middles of two labels that keep clear of each other, as far as there is room."""
    free = middles["right"] - half["right"] - middles["left"] - half["left"]
    more = 0.5 * max(GAP - free, 0.0)
    right = min(middles["right"] + more, _room(view) - half["right"])
    left = min(middles["left"] - more, right - half["right"] - GAP - half["left"])
    missing = max(half["left"] - left, 0.0)
    right = max(right, min(right + missing, _room(view) - half["right"]))
    return {"left": left + missing, "right": right}


def deep_labels(lesson: Lesson, words: CourtWords, view: View) -> list[Shape]:
    """How far each place is from the non-volley line or the baseline, beside the court."""
    shapes: list[Shape] = []
    ruler = _ruler(view)
    same = words.deep["left"] == words.deep["right"]
    middles = {}
    for name in ("right",) if same else PLAYERS:
        x, y = view.at(*lesson.players[name].target)
        line = view.at(0.0, _line_of(deep(lesson.players[name].target[1])))[1]
        first = view.at(*lesson.players["left"].target)[0] if same else x
        shapes.append(Line(((first, y), (ruler, y)), "quiet", 0.7, (1.4, 2.2)))
        middles[name] = y
        if paced(words.deep[name]):
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
