"""What tests need to know about a figure: where its words are, on what ground, in which colours."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.image import AxesImage
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.text import Text

from sim.figures import style

# sRGB, IEC 61966-2-1 (memory).
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
# G. M. Machado, M. M. Oliveira and L. A. F. Fernandes, A Physiologically-based Model for Simulation
# of Color Vision Deficiency, IEEE Trans. Vis. Comput. Graph. 15 (2009) 1291: severity 1.0, on
# linear RGB (memory; each row adds up to 1, white stays white).
EYES = {
    "usual": np.eye(3),
    "protanopia": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deuteranopia": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
}


def linear(colour: str) -> np.ndarray:
    """Linear RGB of a colour written as #rrggbb."""
    value = np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)]) / 255.0
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def lab(colour: np.ndarray) -> np.ndarray:
    """A linear RGB colour in CIE 1976 L*a*b* (memory)."""
    xyz = TO_XYZ @ np.clip(colour, 0.0, 1.0) / (TO_XYZ @ np.ones(3))
    f = np.where(xyz > (6 / 29) ** 3, np.cbrt(xyz), xyz * (29 / 6) ** 2 / 3 + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def difference(first: np.ndarray, second: np.ndarray) -> float:
    """Distance of two linear RGB colours in CIE 1976 L*a*b*."""
    return float(np.linalg.norm(lab(first) - lab(second)))


def lightness(colour: str) -> float:
    """From 0 for black to 100 for white: what grey print keeps of a colour."""
    return float(lab(np.full(3, TO_XYZ[1] @ linear(colour)))[0])


def contrast(first: str, second: str) -> float:
    """Contrast of words and ground: W3C, Web Content Accessibility Guidelines 2.1 (memory)."""
    lights = [float(TO_XYZ[1] @ linear(colour)) for colour in (first, second)]
    return (max(lights) + 0.05) / (min(lights) + 0.05)


def words(figure: Figure) -> list[str]:
    return [text.get_text() for text in texts(figure)]


def texts(figure: Figure) -> list[Text]:
    return [text for text in figure.findobj(Text) if text.get_text().strip()]


Boxes = list[tuple[str, Any]]


def boxes(figure: Figure) -> Boxes:
    """Every text with its box in pixels."""
    with style.own_settings():
        FigureCanvasAgg(figure).draw()
        return [(text.get_text(), text.get_window_extent()) for text in texts(figure)]


def cut_off(figure: Figure, found: Boxes) -> list[str]:
    """Words that leave the figure; ``found`` are its `boxes`."""
    width, height = figure.get_size_inches() * figure.dpi
    return [
        text
        for text, box in found
        if box.x0 < 0.0 or box.y0 < 0.0 or box.x1 > width or box.y1 > height
    ]


def overlapping(figure: Figure, found: Boxes) -> list[tuple[str, str]]:
    """Words that lie on each other; ``found`` are the figure's `boxes`."""
    ends = np.array([box.extents for _, box in found]).reshape(-1, 4)
    across = np.minimum(ends[:, None, 2], ends[:, 2]) - np.maximum(ends[:, None, 0], ends[:, 0])
    down = np.minimum(ends[:, None, 3], ends[:, 3]) - np.maximum(ends[:, None, 1], ends[:, 1])
    # Boxes hold room for accents and descenders: an eighth of a line may touch.
    slack = style.SMALL / 8.0 * figure.dpi / 72.0
    pairs = np.argwhere(np.triu((across > 0.0) & (down > slack), 1))
    return [(found[first][0], found[second][0]) for first, second in pairs]


def grounds(figure: Figure, found: Boxes) -> Iterator[tuple[Text, str, float]]:
    """Every text with the colour that most of its box has without words, and how much has it."""
    with hidden(texts(figure)), style.own_settings():
        canvas = FigureCanvasAgg(figure)
        canvas.draw()
        pixels = np.asarray(canvas.buffer_rgba())[::-1, :, :3]
    for text, (_, box) in zip(texts(figure), found, strict=True):
        left, low, right, high = (round(value) for value in box.extents)
        inside = pixels[max(low, 0) : high, max(left, 0) : right].reshape(-1, 3)
        paper = text.get_bbox_patch()
        if paper is not None:
            yield text, to_hex(paper.get_facecolor()), 1.0
            continue
        codes = inside.astype(int) @ (65536, 256, 1)
        found_codes, counts = np.unique(codes, return_counts=True)
        part = float(counts.max() / counts.sum())
        yield text, f"#{found_codes[counts.argmax()]:06x}", part


@contextmanager
def hidden(artists: list[Text]) -> Iterator[None]:
    for artist in artists:
        artist.set_visible(False)
    yield
    for artist in artists:
        artist.set_visible(True)


def colours(figure: Figure) -> set[str]:
    """The colours of all that is drawn, before any of it shines through."""
    return {
        to_hex(colour)
        for artist in figure.findobj(Artist)
        if artist.get_visible()
        for colour in _colours_of(artist)
    }


def _colours_of(artist: Artist) -> list[Any]:
    if isinstance(artist, Text):
        return [artist.get_color()] if artist.get_text().strip() else []
    if isinstance(artist, Line2D):
        found = [artist.get_color()] if artist.get_linestyle() != "None" else []
        if artist.get_marker() != "None":
            found += [artist.get_markerfacecolor(), artist.get_markeredgecolor()]
        return found
    if isinstance(artist, Patch):
        found = [artist.get_facecolor()] if artist.get_fill() else []
        found += [artist.get_edgecolor()] if artist.get_linewidth() > 0.0 else []
        return [colour for colour in found if colour[3] > 0.0]
    if isinstance(artist, AxesImage):
        return [*artist.get_cmap().colors]
    return []
