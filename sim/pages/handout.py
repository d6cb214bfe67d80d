"""The page for players as HTML: the words and courts of the sheet of paper, for any screen."""

from __future__ import annotations

from typing import Final

from sim.analyses.handout import Handout
from sim.figures import style
from sim.figures.handout_court import court_drawing, view_of
from sim.figures.handout_drawing import Drawing
from sim.figures.handout_key import key
from sim.pages import page
from sim.texts.handout import PageWords

# Of a court's drawing in points; the page shows it larger or smaller.
_SIZE: Final = 10.0
_WIDTH: Final = 180.0
_HEIGHT: Final = 400.0


def handout_html(result: Handout, words: PageWords) -> str:
    """The page: what is printed, in the order in which it is read, with courts as inline SVG."""
    with style.own_settings():
        courts = list(zip(words.courts, courts_on_screen(result, words), strict=True))
        entries = key(result.lessons)
    boxes = {"way-in": words.way_in, "walk": words.walk, "care": words.cautions}
    return page(
        "handout.html.j2",
        words=words,
        courts=courts,
        key=entries,
        boxes=boxes | {"drill": words.drill},
    )


def courts_on_screen(result: Handout, words: PageWords) -> list[Drawing]:
    """The page's courts, one for each return direction."""
    view = view_of(result.lessons, words.courts, _SIZE, _WIDTH, _HEIGHT)
    return [
        court_drawing(lesson, court, view)
        for lesson, court in zip(result.lessons, words.courts, strict=True)
    ]
