"""The page for players as a sheet of paper: laid out by measuring its words, and as a PDF file."""

from __future__ import annotations

import io
from bisect import bisect_left
from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple

import matplotlib

from sim.analyses.handout import Handout
from sim.figures import style
from sim.figures.handout_court import court_drawing, view_of
from sim.figures.handout_drawing import (
    ASCENT,
    Area,
    Drawing,
    Shape,
    Words,
    box,
    moved,
    painted,
)
from sim.figures.handout_key import Entry, key
from sim.figures.letters import width_of, wrapped, writable
from sim.texts.handout import CourtWords, PageWords
from sim.texts.handout_words import Box

# Letter and A4 on their long side (points): three courts are tall, and stand side by side.
PAPER: Final = {"us": (792.0, 612.0), "metric": (841.89, 595.276)}
MARGIN: Final = 24.0
# Words are set in the largest of these sizes that leaves the courts so much height, with boxes of
# one of these widths beside them, as parts of the whole.
SIZES: Final = tuple(size / 4.0 for size in range(52, 23, -1))
_BOXES: Final = tuple(part / 100.0 for part in range(24, 46))
_LEAST_COURT: Final = 226.0
_MOST_COURT: Final = 400.0
# Words on the courts and the small print, as parts of the size of the others.
_ON_COURT: Final = 0.92
_SMALL: Final = 0.8
_LINE: Final = 1.16
# Headings of courts side by side take one line each.
_ONE_LINE: Final = 2.0
_GAP: Final = 9.0
_PADDING: Final = 6.0
_MOST_LINES: Final = 60
_MEASURED: Final = 10.0


class Paragraph(NamedTuple):
    """A text to be set at a size, with so much room above it (points)."""

    text: str
    size: float
    bold: bool = False
    above: float = 0.0
    colour: str = "ink"


class Laid(NamedTuple):
    """Shapes that are laid out, and where they end (points from the top)."""

    shapes: list[Shape]
    bottom: float


def handout_page(result: Handout, words: PageWords, units: str = "us") -> Drawing:
    """The page on Letter or A4, with words as large as go with courts of a fair size.

    Raises `ValueError` where even the smallest words do not fit.
    """

    def page_at(size: float) -> Drawing | None:
        pages = (_page(result, words, PAPER[units], size, part) for part in _BOXES)
        return next((page for page in pages if page is not None), None)

    # What fits at one size fits at smaller ones, or nearly so; what is found fits.
    first = bisect_left(SIZES, True, key=lambda size: page_at(size) is not None)
    page = page_at(SIZES[first]) if first < len(SIZES) else None
    if page is None:
        raise ValueError("the words do not fit on the page")
    return page


def pdf(page: Drawing, title: str) -> bytes:
    """A PDF file of one page, its words as words; the same bytes every time."""
    metadata = {"Title": writable(title), "Creator": "reachshare", "CreationDate": None}
    buffer = io.BytesIO()
    with style.own_settings(), matplotlib.rc_context({"pdf.fonttype": 42}):
        painted(page).savefig(buffer, format="pdf", metadata=metadata)
    return buffer.getvalue()


def _page(
    result: Handout, words: PageWords, paper: tuple[float, float], size: float, part: float
) -> Drawing | None:
    """The page with words of that size and boxes of that part of the width; nothing if too long."""
    width, height = paper[0] - 2.0 * MARGIN, paper[1] - 2.0 * MARGIN
    head = set_down(_head(words, size), width)
    small = set_down([Paragraph(words.small, _SMALL * size, colour="quiet")], width)
    top, end = head.bottom + _GAP, height - small.bottom - _GAP
    beside = part * width
    boxes = _set_boxes(words, beside, end - top, size)
    left = width - beside - 1.6 * _GAP
    marks = _set_key(key(result.lessons), left, size)
    walk = set_down(_box_texts(words.walk, size), left)
    below = marks.bottom + walk.bottom + 2.0 * _GAP
    courts = _set_courts(result, words, left, end - top - below, size)
    if boxes is None or courts is None:
        return None
    shapes = [
        *head.shapes,
        *moved(courts.shapes, 0.0, top),
        *moved(marks.shapes, 0.0, top + courts.bottom + _GAP),
        *moved(walk.shapes, 0.0, end - walk.bottom),
        *moved(boxes.shapes, width - beside, top),
        *moved(small.shapes, 0.0, height - small.bottom),
    ]
    return Drawing(*paper, tuple(moved(shapes, MARGIN, MARGIN)))


def _set_courts(
    result: Handout, words: PageWords, width: float, room: float, size: float
) -> Laid | None:
    """Courts side by side, each with its heading above and its words below, in so much room.

    Nothing where that is too little for the courts to be read.
    """
    if len(words.courts) == 1:
        return _set_one_court(result, words, width, room, size)
    apart = 1.4 * _GAP
    column = (width + apart) / len(words.courts) - apart
    heads = [set_down([_heading(court, size)], column) for court in words.courts]
    texts = [set_down(_court_texts(court, size), column) for court in words.courts]
    head = max(laid.bottom for laid in heads)
    below = 0.5 * _GAP + max(laid.bottom for laid in texts)
    view = view_of(
        result.lessons,
        words.courts,
        _ON_COURT * size,
        column,
        min(max(room - head - below, 1.0), _MOST_COURT),
    )
    if view.height < _LEAST_COURT or head > _ONE_LINE * size:
        return None
    shapes: list[Shape] = []
    for place, (lesson, court) in enumerate(zip(result.lessons, words.courts, strict=True)):
        left = place * (column + apart)
        shapes += moved(heads[place].shapes, left, 0.0)
        shapes += moved(court_drawing(lesson, court, view).shapes, left, head)
        shapes += moved(texts[place].shapes, left, head + view.height + 0.5 * _GAP)
    return Laid(shapes, head + view.height + below)


def _set_one_court(
    result: Handout, words: PageWords, width: float, room: float, size: float
) -> Laid | None:
    """A single court, larger, with its words beside it."""
    (court,), (lesson,) = words.courts, result.lessons
    column = 0.5 * width - _GAP
    view = view_of(result.lessons, words.courts, _ON_COURT * size, column, min(room, _MOST_COURT))
    text = set_down([_heading(court, size), *_court_texts(court, size)], column)
    if view.height < _LEAST_COURT or text.bottom > room:
        return None
    shapes = [
        *court_drawing(lesson, court, view).shapes,
        *moved(text.shapes, width - column, 0.0),
    ]
    return Laid(shapes, max(view.height, text.bottom))


def set_down(paragraphs: Iterable[Paragraph], width: float) -> Laid:
    """Paragraphs one below the other in a column of that width, from its top left corner."""
    shapes: list[Shape] = []
    top = 0.0
    for text, size, bold, above, colour in paragraphs:
        top += above
        # Widths are in proportion to the size: measured at one, they need be measured only once.
        room = width * _MEASURED / size
        for line in wrapped(text, room, _MEASURED, bold=bold, most=_MOST_LINES):
            shapes.append(Words(0.0, top + ASCENT * size, line, size, colour, bold=bold))
            top += _LINE * size
    return Laid(shapes, top)


def _head(words: PageWords, size: float) -> list[Paragraph]:
    return [
        Paragraph(words.title, 1.5 * size, bold=True),
        Paragraph(words.plan, 1.1 * size, bold=True, above=1.0),
        *([Paragraph(words.as_good, size, above=1.0)] if words.as_good else []),
    ]


def _heading(court: CourtWords, size: float) -> Paragraph:
    return Paragraph(court.heading, 1.1 * size, bold=True)


def _court_texts(court: CourtWords, size: float) -> list[Paragraph]:
    return [
        Paragraph(court.control, size, bold=True),
        *(Paragraph(sentence, size, above=0.35 * size) for sentence in court.sentences),
    ]


def _box_texts(box: Box, size: float) -> list[Paragraph]:
    return [
        Paragraph(box.heading, 1.1 * size, bold=True),
        *(Paragraph(line, size, above=0.25 * size) for line in box.lines),
    ]


def _set_key(entries: Sequence[Entry], width: float, size: float) -> Laid:
    """Symbols with their words, side by side as far as there is room."""
    shapes: list[Shape] = []
    left, top = 0.0, 0.0
    line = max(entry.symbol.height for entry in entries) + 2.0
    for symbol, words in entries:
        needed = symbol.width + 4.0 + width_of(words, _ON_COURT * size)
        if left and left + needed > width:
            left, top = 0.0, top + line
        shapes += moved(symbol.shapes, left, top)
        baseline = top + 0.5 * symbol.height + 0.36 * _ON_COURT * size
        shapes.append(Words(left + symbol.width + 4.0, baseline, words, _ON_COURT * size))
        left += needed + 1.4 * _GAP
    return Laid(shapes, top + line)


def _set_boxes(words: PageWords, width: float, room: float, size: float) -> Laid | None:
    """The boxes one below the other, the cautions framed; nothing where they are too long."""
    texts = [set_down(_box_texts(each, size), width) for each in (words.way_in, words.drill)]
    care = set_down(_box_texts(words.cautions, size), width - 2.0 * _PADDING)
    framed = care.bottom + 2.0 * _PADDING
    # What room is left goes between them.
    between = (room - framed - sum(text.bottom for text in texts)) / len(texts)
    if between < _GAP:
        return None
    shapes: list[Shape] = []
    top = 0.0
    for text in texts:
        shapes += moved(text.shapes, 0.0, top)
        top += text.bottom + between
    shapes += [
        Area(box(0.0, top, width, room), "", "through", 1.6),
        *moved(care.shapes, _PADDING, top + _PADDING),
    ]
    return Laid(shapes, room)
