"""What the marks on the courts mean: symbols with words beside them, those that occur."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

from sim.analyses.handout_lessons import Lesson
from sim.figures.handout_drawing import Drawing, Shape, arrow, box
from sim.figures.handout_marks import BALL, FOUND, MARK, THERE, ball, hatching, mark
from sim.run_in import PLAYERS

_HEIGHT: Final = 2.0 * MARK + 1.0


class Entry(NamedTuple):
    """A symbol and what it means."""

    symbol: Drawing
    words: str


def key(lessons: Sequence[Lesson]) -> list[Entry]:
    """The marks on these courts."""
    entries = [Entry(_pair(MARK, filled=True), "run towards these")]
    late = (
        standing.short_by > THERE < standing.to_run
        for lesson in lessons
        for standing in lesson.players.values()
    )
    if any(late):
        entries.append(Entry(_pair(FOUND, filled=False), "where you usually are as they strike"))
    entries.append(Entry(_taken(), "takes the middle"))
    if any(lesson.opening for lesson in lessons):
        corners = box(0.5, 0.5, 3.0 * MARK, _HEIGHT - 0.5)
        entries.append(Entry(_symbol(3.0 * MARK + 0.5, hatching(corners)), "left open"))
    return entries


def _symbol(width: float, shapes: Sequence[Shape]) -> Drawing:
    return Drawing(width, _HEIGHT, tuple(shapes))


def _pair(radius: float, *, filled: bool) -> Drawing:
    """Both players' marks side by side."""
    middle = 0.5 * _HEIGHT
    apart = 2.0 * radius + 2.5
    shapes = [
        shape
        for place, name in enumerate(PLAYERS)
        for shape in mark(name, radius + 1.0 + place * apart, middle, radius, filled=filled)
    ]
    return _symbol(apart + 2.0 * radius + 2.0, shapes)


def _taken() -> Drawing:
    """An arrow to the ball."""
    middle, end = 0.5 * _HEIGHT, 2.4 * MARK
    way = arrow((0.5, middle), (end - BALL, middle), "ink", 2.0, 5.0)
    return _symbol(end + BALL + 1.0, [*way, *ball(end, middle)])
