"""Words as the figures' fonts set them: how wide they are, where lines break, letters we lack."""

from __future__ import annotations

import re
import unicodedata
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from typing import Final

from matplotlib.font_manager import FontProperties, findfont, fontManager, get_font
from matplotlib.textpath import text_to_path

# Comes with matplotlib: figures look the same wherever they are made.
OUR_FONT: Final = "DejaVu Sans"
# Where ours lacks a letter of a name, those of these that are installed are asked in this order.
OTHER_SCRIPTS: Final = (
    "Noto Sans",
    "Noto Sans CJK SC",
    "Noto Sans CJK JP",
    "Hiragino Sans",
    "Yu Gothic",
    "Microsoft YaHei",
    "PingFang SC",
    "Malgun Gothic",
    "Apple SD Gothic Neo",
    "Nirmala UI",
    "Kohinoor Devanagari",
    "Noto Emoji",
    "Segoe UI Symbol",
    "Symbola",
)
_NOT_FOR_FILES: Final = ("Cc", "Cn", "Cs")
# A number and what it counts stay on one line.
_NUMBER_AND_UNIT: Final = re.compile(r"(?<=\d) (?=(?:%|ft|m|in|cm|s|mph|points?|of 100)(?:\W|$))")
_JOINT: Final = "\u2060"


@contextmanager
def boxes_for_letters_without_glyph() -> Iterator[None]:
    """No warning where no font at hand has a letter: a box in the picture says it all."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message=r"Glyph .* missing from")
        yield


def writable(text: str) -> str:
    """Text without the few characters that no XML file may hold; line breaks stay."""
    return "".join(
        "\ufffd" if letter != "\n" and unicodedata.category(letter) in _NOT_FOR_FILES else letter
        for letter in text
    )


def families(text: str) -> list[str]:
    """Fonts to set a text in: those for other scripts only where ours lacks a letter.

    SVG files keep the letters as they are, so that a reader's own fonts can show them.

    >>> families("follow")
    ['sans-serif']
    """
    if all(ord(letter) in _our_letters() for letter in text if letter != "\n"):
        return ["sans-serif"]
    installed = set(fontManager.get_font_names())
    return ["sans-serif", *(name for name in OTHER_SCRIPTS if name in installed)]


@lru_cache(maxsize=1)
def _our_letters() -> frozenset[int]:
    return frozenset(get_font(findfont(OUR_FONT)).get_charmap())


@lru_cache(maxsize=4096)
def width_of(text: str, size: float, *, bold: bool = False) -> float:
    """Width (points) of a line of text."""
    fonts = [OUR_FONT, *families(text)[1:]]
    font = FontProperties(family=fonts, size=size, weight="bold" if bold else "normal")
    with boxes_for_letters_without_glyph():
        width, _, _ = text_to_path.get_text_width_height_descent(writable(text), font, ismath=False)
    return float(width)


def wrapped(text: str, room: float, size: float, *, bold: bool = False, most: int = 3) -> list[str]:
    """Break a text into lines no wider than ``room`` points.

    A number stays with its unit. A word that is too long is broken, and the ``most``-th line ends
    in dots if there is more.

    >>> wrapped("intervals of 95 %", 100.0, 13.0)
    ['intervals of', '95 %']
    """
    lines = [""]
    for joint in _NUMBER_AND_UNIT.sub(_JOINT, text).split():
        word = joint.replace(_JOINT, " ")
        longer = f"{lines[-1]} {word}".strip()
        if width_of(longer, size, bold=bold) <= room:
            lines[-1] = longer
            continue
        if lines[-1]:
            lines.append("")
        for letter in word:
            if lines[-1] and width_of(lines[-1] + letter, size, bold=bold) > room:
                lines.append("")
            lines[-1] += letter
    if len(lines) <= most:
        return lines
    last = lines[most - 1]
    while last and width_of(f"{last}…", size, bold=bold) > room:
        last = last[:-1]
    return [*lines[: most - 1], f"{last.rstrip()}…"]
