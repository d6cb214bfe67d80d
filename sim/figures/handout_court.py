"""One court of the page for players, to scale: where to stand, and what goes with it.

Lengths on the court are in ft, on the drawing in points.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from sim.analyses.handout_lessons import LANDS, Lesson, Opening
from sim.court import BASELINE, HALF_WIDTH, NON_VOLLEY_ZONE, POST
from sim.figures.handout_drawing import (
    ASCENT,
    Area,
    Drawing,
    Line,
    Point,
    Shape,
    Words,
    arrow,
    box,
    round_mark,
)
from sim.figures.handout_labels import (
    THEY_STRIKE,
    across_labels,
    deep_labels,
    kept_inside,
    size_between_sidelines,
)
from sim.figures.handout_marks import (
    BALL,
    FOUND,
    GAP,
    LEFT,
    MARK,
    STRIKE,
    THERE,
    View,
    ball,
    hatching,
    label,
    mark,
    ring,
    strike_mark,
)
from sim.figures.letters import width_of
from sim.run_in import PLAYERS
from sim.texts.handout import CourtWords

# What balls left open pass through is hatched at least so wide and deep (ft).
_LEAST: Final = 1.0
# And this far from the centre line (ft) at most: balls may pass beside the sideline.
_WIDEST: Final = 10.8


def view_of(
    lessons: Sequence[Lesson], words: Sequence[CourtWords], size: float, width: float, height: float
) -> View:
    """The largest view of these courts that fits into a width and a height (points)."""
    far = max(BASELINE, *(lesson.contact[1] for lesson in lessons))
    starts = [-each.start[1] for lesson in lessons for each in lesson.players.values()]
    near = max(BASELINE, *starts)
    lines = [line for court in words for lines in court.deep.values() for line in lines]
    aside = 3.0 * GAP + max(width_of(line, size) for line in lines)
    bare = View(0.0, far, near, size, aside)
    by_height = (height - bare.height) / (far + near)
    by_width = (width - aside) / (LEFT + HALF_WIDTH)
    scale = min(by_height, by_width)
    return View(scale, far, near, size_between_sidelines(words, size, scale), aside)


def court_drawing(lesson: Lesson, words: CourtWords, view: View) -> Drawing:
    """The court after returns in one direction."""
    shapes = [
        *_court(view),
        *_left_open(lesson, view),
        *_strike(lesson, view),
        *_middle(lesson, words, view),
        *_ways(lesson, view),
        *across_labels(lesson, words, view),
        *deep_labels(lesson, words, view),
        *_targets(lesson, view),
        *_found(lesson, view),
    ]
    return Drawing(view.width, view.height, tuple(shapes))


def _court(view: View) -> list[Shape]:
    """The non-volley zone, the lines, and the net from post to post."""
    side, zone = HALF_WIDTH, NON_VOLLEY_ZONE

    def line(*places: Point) -> Shape:
        return Line(tuple(view.at(*place) for place in places), "quiet", 0.9)

    ground = Area(box(*view.at(-side, zone), *view.at(side, -zone)), "ground")
    outline = Area(box(*view.at(-side, BASELINE), *view.at(side, -BASELINE)), "", "quiet", 0.9)
    lines = [
        shape
        for half in (1.0, -1.0)
        for shape in (
            line((-side, half * zone), (side, half * zone)),
            line((0.0, half * zone), (0.0, half * BASELINE)),
        )
    ]
    net = Line((view.at(-POST, 0.0), view.at(POST, 0.0)), "ink", 2.4)
    return [ground, outline, *lines, net]


def _strike(lesson: Lesson, view: View) -> list[Shape]:
    """Where the opponents strike from, in words as well: in their half, which is free for them."""
    x, y = view.at(*lesson.contact)
    middle = kept_inside(x, 0.5 * width_of(THEY_STRIKE, view.size), view)
    top = max(y + STRIKE, view.at(0.0, BASELINE)[1]) + 0.5 * GAP
    words = Words(middle, top + ASCENT * view.size, THEY_STRIKE, view.size, "ink", "middle")
    return [*label(words), *strike_mark(x, y)]


def _ways(lesson: Lesson, view: View) -> list[Shape]:
    """From the start to the target, thick as far as the shot usually lets the player come."""
    shapes: list[Shape] = []
    for name, standing in lesson.players.items():
        start, found = view.at(*standing.start), view.at(*standing.found)
        target = view.at(*standing.target)
        if standing.to_run > THERE:
            end = _towards(target, start, MARK)
            if standing.short_by > THERE:
                shapes.append(Line((start, _towards(found, start, FOUND)), name, 2.4))
                if _apart(found, target):
                    shapes += arrow(found, end, name, 1.3, 6.0)
            else:
                shapes += arrow(start, end, name, 2.4, 8.0)
            shapes.append(Area(round_mark(*start, 2.6), name))
        # Below the start, and below the target where that is hardly elsewhere.
        near = math.dist(start, target) < 3.0 * MARK + view.size
        below = max(start[1] + 3.0, target[1] + MARK if near else 0.0) + view.size
        middle = start[0]
        if below - ASCENT * view.size < view.at(0.0, -BASELINE)[1]:
            middle = kept_inside(middle, 0.5 * width_of(name, view.size, bold=True), view)
        words = Words(middle, below, name, view.size, f"{name}-words", "middle", bold=True)
        shapes += label(words)
    return shapes


def _targets(lesson: Lesson, view: View) -> list[Shape]:
    return [
        shape
        for name, standing in lesson.players.items()
        for shape in mark(name, *view.at(*standing.target), MARK)
    ]


def _found(lesson: Lesson, view: View) -> list[Shape]:
    """Where the shot usually finds those who have not arrived."""
    shapes: list[Shape] = []
    for name, standing in lesson.players.items():
        if standing.short_by > THERE < standing.to_run:
            found, target = view.at(*standing.found), view.at(*standing.target)
            if _apart(found, target):
                shapes += mark(name, *found, FOUND, filled=False)
            else:
                shapes += ring(name, *found, FOUND)
    return shapes


def _apart(found: Point, target: Point) -> bool:
    """Whether the marks of both places keep clear of each other on the drawing."""
    return math.dist(found, target) > MARK + FOUND


def _towards(here: Point, there: Point, by: float) -> Point:
    """A place so far (points) from here on the way there, at most half of it."""
    length = math.dist(here, there)
    part = min(by / length, 0.5) if length else 0.0
    return here[0] + part * (there[0] - here[0]), here[1] + part * (there[1] - here[1])


def _middle(lesson: Lesson, words: CourtWords, view: View) -> list[Shape]:
    """The ball between the two, and who takes it: both where neither clearly takes more."""
    left, right = (view.at(*lesson.players[name].target) for name in PLAYERS)
    middle = 0.5 * (left[0] + right[0]), 0.5 * (left[1] + right[1])
    shapes: list[Shape] = []
    for name, place in (("left", left), ("right", right)):
        if words.taker in ("", name):
            start, end = _towards(place, middle, MARK), _towards(middle, place, BALL)
            shapes += arrow(start, end, name, 2.0, 5.0)
    return [*shapes, *ball(*middle)]


def _left_open(lesson: Lesson, view: View) -> list[Shape]:
    """Where the balls go that are left open: part of the angle, or of the ground."""
    if lesson.opening is None:
        return []
    corners = _cut_to_court(_way_of(lesson.opening, lesson.contact))
    return hatching(tuple(view.at(*corner) for corner in corners)) if corners else []


def _way_of(opening: Opening, contact: Point) -> list[Point]:
    """The outline (ft) of where most of these balls go in the pair's court."""
    (left, right), (near, far) = (_widened(*edges) for edges in (opening.across, opening.deep))
    if opening.leak in LANDS:
        return [(left, near), (right, near), (right, far), (left, far)]
    depth = 0.5 * (near + far)

    def on_the_way(x: float, y: float) -> Point:
        return contact[0] + (x - contact[0]) * (y - contact[1]) / (depth - contact[1]), y

    return [
        on_the_way(left, 0.0),
        on_the_way(right, 0.0),
        on_the_way(right, -BASELINE),
        on_the_way(left, -BASELINE),
    ]


def _widened(low: float, high: float) -> tuple[float, float]:
    more = max(_LEAST - (high - low), 0.0) / 2.0
    return low - more, high + more


def _cut_to_court(corners: list[Point]) -> list[Point]:
    """A convex outline without what lies far beyond the sidelines.

    Source: I. E. Sutherland and G. W. Hodgman, Reentrant polygon clipping, Communications of the
    ACM 17 (1974) 32 (memory).
    """
    for side in (-1.0, 1.0):
        kept: list[Point] = []
        for (x1, y1), (x2, y2) in zip(corners, [*corners[1:], *corners[:1]], strict=True):
            first, second = _WIDEST - side * x1, _WIDEST - side * x2
            if first >= 0.0:
                kept.append((x1, y1))
            if (first >= 0.0) != (second >= 0.0):
                part = first / (first - second)
                kept.append((side * _WIDEST, y1 + part * (y2 - y1)))
        corners = kept
    return corners
