"""One look for all figures: colours, words that fit, numbers no finer than their interval, files.

Lengths are in points (1/72 in) on figures 7 in wide. On a telephone, shown 320 px wide, a point
becomes 0.63 px: no word is set smaller than `SMALL`.
"""

from __future__ import annotations

import io
import math
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final, Literal

import matplotlib
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.image import AxesImage
from matplotlib.lines import Line2D
from matplotlib.text import Text
from matplotlib.transforms import Affine2D, Transform
from PIL import Image

from sim import palette, wording
from sim.figures.letters import OUR_FONT, boxes_for_letters_without_glyph, families, writable

# Asked for by all figures, as style.wrapped and style.width_of.
from sim.figures.letters import width_of as width_of
from sim.figures.letters import wrapped as wrapped
from sim.units import METRES_PER_FOOT

Units = Literal["us", "metric"]
Look = dict[str, Any]

WIDTH: Final = 504.0
MARGIN: Final = 12.0
ROOM: Final = WIDTH - 2.0 * MARGIN
SMALL: Final = 13.0
TEXT: Final = 14.0
TITLE: Final = 19.0
LINE: Final = 1.35
_TITLE_LINE: Final = 1.2
_DOTS_PER_INCH: Final = 180
_MOST_PIXELS_HIGH: Final = 30_000
_COLOURS: Final = 256
_NEARLY_WHITE: Final = 252

INK: Final = palette.INK
QUIET: Final = palette.QUIET
FAINT: Final = palette.FAINT
GROUND: Final = palette.GROUND
PLAYERS: Final = palette.PLAYERS
PLAYER_WORDS: Final = palette.PLAYER_WORDS
THROUGH: Final = palette.THROUGH
DIRECTIONS: Final = palette.DIRECTIONS
DIRECTION_WORDS: Final = palette.DIRECTION_WORDS
DASHES: Final[dict[str, Any]] = {"line": "-", "middle": (0, (4.0, 1.5)), "cross": (0, (1.3, 1.3))}
RETURNS: Final = wording.DIRECTIONS
# Room around a word, so that no line of the grid runs through it.
CLEAR: Final[Look] = {"facecolor": "white", "edgecolor": "none", "pad": 1.0}

_OURS: Final[Any] = {
    "font.family": ["sans-serif"],
    # The first comes with matplotlib; the others are for pages that show the text as text.
    "font.sans-serif": [OUR_FONT, "Verdana", "Arial", "Helvetica"],
    "text.hinting": "no_hinting",
    "svg.fonttype": "none",
    "svg.hashsalt": "reachshare",
}
_THAT_MATTER: Final = re.compile(
    r"(agg|axes|figure|font|lines|markers|patch|path|savefig|svg|text)\."
)
_SETTINGS: Final[Any] = {
    key: value for key, value in matplotlib.rcParamsDefault.items() if _THAT_MATTER.match(key)
} | _OURS
UNDER: Final = "under"
_NO_DATE: Final = {"Date": None, "Creator": None}


@contextmanager
def own_settings() -> Iterator[None]:
    """Our settings, whatever the caller's are, and the caller's again afterwards."""
    with matplotlib.rc_context(_SETTINGS), boxes_for_letters_without_glyph():
        yield


def new_figure(height: float) -> Figure:
    """An empty figure of full width and the given height (points)."""
    size = WIDTH / 72.0, height / 72.0
    dots = min(_DOTS_PER_INCH, int(_MOST_PIXELS_HIGH / size[1]))
    return Figure(figsize=size, dpi=dots, facecolor="white", edgecolor="white")


def points(figure: Figure) -> Transform:
    """Points to the right of and below the figure's top left corner, as a transform."""
    inches = Affine2D().scale(1.0 / 72.0, -1.0 / 72.0).translate(0.0, figure.get_figheight())
    return inches + figure.dpi_scale_trans


def height_of(axes: Axes) -> float:
    """Height (points) of the figure that axes belong to."""
    return float(axes.figure.bbox.height / axes.figure.dpi * 72.0)


def add_axes(figure: Figure, left: float, top: float, width: float, height: float) -> Axes:
    """Bare axes, placed in points from the figure's top left corner."""
    total = figure.get_figheight() * 72.0
    place = left / WIDTH, 1.0 - (top + height) / total, width / WIDTH, height / total
    axes = figure.add_axes(place)
    axes.set_axis_off()
    return axes


def write(
    figure: Figure, left: float, top: float, text: str, size: float = TEXT, **look: Any
) -> Text:
    """Write a line with its baseline ``top`` points below the figure's top edge."""
    usual: Look = {"color": INK, "va": "baseline", "transform": points(figure)}
    look = usual | {"size": size, "parse_math": False, "family": families(text)} | look
    return figure.text(left, top, writable(text), **look)


def label(axes: Axes, x: float, y: float, text: str, **look: Any) -> Text:
    """Write a word at a place given in the axes' data units."""
    usual: Look = {"color": INK, "va": "center", "ha": "center", "size": SMALL}
    look = usual | {"parse_math": False, "family": families(text)} | look
    return axes.text(x, y, writable(text), **look)


def draw(on: Axes | Figure, x: Any, y: Any, **look: Any) -> None:
    """Draw a line, or bare marks where a ``marker`` is given; on a figure in points."""
    if "marker" in look:
        look["linestyle"] = "none"
    if isinstance(on, Figure):
        look["transform"] = points(on)
    # As a plain artist: the views are fixed, so that nobody needs to collect its limits.
    on.add_artist(Line2D(x, y, **look))


def head(figure: Figure, title: str, subtitle: str) -> None:
    """Write title and subtitle at the top, wrapped; they end at `head_height`."""
    top = 4.0
    for line in wrapped(title, ROOM, TITLE, bold=True):
        top += TITLE * _TITLE_LINE
        write(figure, MARGIN, top, line, TITLE, weight="bold")
    for line in wrapped(subtitle, ROOM, TEXT):
        top += TEXT * LINE
        write(figure, MARGIN, top, line, color=QUIET)


def head_height(title: str, subtitle: str) -> float:
    """Where `head` ends (points)."""
    titles, subtitles = wrapped(title, ROOM, TITLE, bold=True), wrapped(subtitle, ROOM, TEXT)
    return 4.0 + len(titles) * TITLE * _TITLE_LINE + len(subtitles) * TEXT * LINE


def foot(figure: Figure, top: float, notes: list[str]) -> None:
    """Write the lines of the notes below ``top`` (points)."""
    for number, line in enumerate(notes):
        write(figure, MARGIN, top + (number + 1) * SMALL * LINE, line, SMALL, color=QUIET)


def foot_height(notes: list[str]) -> float:
    """What `foot` needs (points), the margin included."""
    return len(notes) * SMALL * LINE + MARGIN


def decimals(low: float, high: float) -> int:
    """Decimals of a percentage with this interval (of shares): whole percent, or tenths.

    Whole ones from a point to either side on: with less, both ends could be told as the estimate.

    >>> decimals(0.90, 0.93), decimals(0.979, 0.984)
    (0, 1)
    """
    return 0 if 50.0 * (high - low) >= 1.0 else 1


def percent(share: float, low: float, high: float) -> str:
    """A share in percent, no finer than its interval.

    What is neither none nor all never looks as if it were.

    >>> percent(0.917, 0.905, 0.930), percent(0.9815, 0.9790, 0.9839)
    ('92 %', '98.2 %')
    >>> percent(0.0002, 0.0001, 0.0011), percent(0.0, 0.0, 0.0006)
    ('under 0.1 %', '0.0 %')
    """
    digits = decimals(low, high)
    text, least = wording.rounded(100.0 * share, digits), 10.0**-digits
    if share > 0.0 and float(text) == 0.0:
        return f"{UNDER} {least:.{digits}f} %"
    if share < 1.0 and float(text) == 100.0:
        return f"over {100.0 - least:.{digits}f} %"
    return f"{text} %"


def interval(low: float, high: float) -> str:
    """The interval of a share as it is written below it.

    >>> interval(0.901, 0.932), interval(0.9790, 0.9839)
    ('(90 to 93 %)', '(97.9 to 98.4 %)')
    """
    digits = decimals(low, high)
    return f"({wording.rounded(100.0 * low, digits)} to {wording.rounded(100.0 * high, digits)} %)"


def give_or_take(half_width: float) -> str:
    """How well numbers of 100 are known: half the widest interval (points), rounded up.

    >>> give_or_take(0.058), give_or_take(0.38), give_or_take(3.2)
    ('±0.1', '±0.4', '±4')
    """
    places = 1 if half_width <= 3.0 else 0
    return f"±{math.ceil(half_width * 10**places - 1e-9) / 10**places:.{places}f}"


def length(feet: float, units: Units) -> str:
    """A length to be read at a glance: whole feet, or tenths of a metre.

    >>> length(8.0, "us"), length(8.0, "metric")
    ('8 ft', '2.4 m')
    """
    return f"{feet:.0f} ft" if units == "us" else f"{feet * METRES_PER_FOOT:.1f} m"


def to_png(figure: Figure) -> bytes:
    """The figure for screens, 1260 px wide, in a palette of its own."""
    with own_settings():
        canvas: Any = FigureCanvasAgg(figure)
        canvas.draw()
    pixels = canvas.buffer_rgba()
    height, width, _ = pixels.shape
    picture = Image.frombuffer("RGBA", (width, height), pixels, "raw", "RGBA", 0, 1)
    # A palette takes a third of the room, and less time than packing all colours would.
    picture = picture.convert("RGB").quantize(
        _COLOURS, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE
    )
    palette = picture.getpalette() or []
    # This palette leaves white a shade short of it.
    picture.putpalette([255 if value >= _NEARLY_WHITE else value for value in palette])
    buffer = io.BytesIO()
    picture.save(buffer, format="png", compress_level=4, dpi=(figure.dpi, figure.dpi))
    return buffer.getvalue()


def to_svg(figure: Figure) -> bytes:
    """The figure for print and for pages, with its text as text."""
    buffer = io.BytesIO()
    for image in figure.findobj(AxesImage):
        # Before 3.11 matplotlib would take the pixels it has drawn for another resolution.
        image.changed()
    with own_settings():
        figure.savefig(buffer, format="svg", metadata=_NO_DATE)
    return buffer.getvalue()


def save(figure: Figure, stem_path: str | Path) -> list[Path]:
    """Write a figure as ``<stem_path>.png`` and ``<stem_path>.svg``; returns both paths."""
    stem = Path(stem_path)
    paths = [stem.with_name(f"{stem.name}{ending}") for ending in (".png", ".svg")]
    for path, made in zip(paths, (to_png(figure), to_svg(figure)), strict=True):
        path.write_bytes(made)
    return paths
