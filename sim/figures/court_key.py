"""What colours and marks mean on the courts of a comparison."""

from __future__ import annotations

from typing import Final

from matplotlib.figure import Figure

from sim.figures import style
from sim.figures.court_through import WAYS
from sim.figures.courts import MARKS
from sim.figures.style import MARGIN, SMALL, Look

AT_FULL_STRETCH: Final = 0.2
IN_CONTROL: Final = 0.42
SINGLE: Final[Look] = {"marker": ".", "markersize": 4.2, "markeredgewidth": 0.0, "alpha": 0.6}
_LINE: Final = SMALL * style.LINE
_LINES: Final = 4
_BETWEEN: Final = 14.0


def key_height(ways: list[str]) -> float:
    """What `draw_key` needs (points), the margin included."""
    return (_LINES + len(ways)) * _LINE + MARGIN


def draw_key(figure: Figure, top: float, ways: list[str], *, beyond: bool) -> None:
    """Colours and marks, each beside its words.

    ``ways`` are those by which balls got through, ``beyond`` whether some did farther out.
    """
    lines = [top + (row + 1) * _LINE for row in range(_LINES + len(ways))]
    _draw_coverage(figure, lines[0])
    _draw_players(figure, lines[1], lines[2])
    left = _words(figure, MARGIN - 2.0, lines[3], "gap: ball too low, bouncing")
    if beyond:
        arrow: Look = {"marker": ">", "markersize": 5.0, "color": style.THROUGH}
        _words(figure, _mark(figure, left, lines[3], **arrow), lines[3], "past them, farther out")
    for line, way in zip(lines[_LINES:], ways, strict=True):
        look, words = WAYS[way]
        edge: Look = {"color": style.THROUGH, "markeredgewidth": 1.1}
        _words(figure, _mark(figure, MARGIN, line, **edge, **look), line, words)


def _draw_coverage(figure: Figure, line: float) -> None:
    left = MARGIN
    for opacities, text in (
        ((AT_FULL_STRETCH, IN_CONTROL), "in control"),
        ((AT_FULL_STRETCH,), "at full stretch"),
    ):
        for colour in style.PLAYERS.values():
            for opacity in opacities:
                square: Look = {"marker": "s", "markersize": 12.0, "markeredgewidth": 0.0}
                _mark(figure, left, line, color=colour, alpha=opacity, **square)
            left += 14.0
        left = _words(figure, left, line, text)
    _words(figure, left - 12.0, line, "(both: a typical drive)")


def _draw_players(figure: Figure, line: float, next_line: float) -> None:
    """Where the shot finds them, on average and each time; then targets and the widest drives."""
    left = MARGIN
    for name, colour in style.PLAYERS.items():
        left = _mark(figure, left, line, marker=MARKS[name], markersize=8.0, color=colour)
    left = _words(figure, left, line, "where the shot finds them, on average")
    for colour in style.PLAYERS.values():
        left = _mark(figure, left, line, color=colour, **SINGLE) - 6.0
    _words(figure, left + 6.0, line, "single balls")

    left = MARGIN
    for name, colour in style.PLAYERS.items():
        hollow: Look = {"marker": MARKS[name], "markersize": 6.5, "markerfacecolor": "white"}
        left = _mark(figure, left, next_line, color=colour, **hollow)
    left = _words(figure, left, next_line, "target")
    middle = next_line - 0.36 * SMALL
    drive: Look = {"color": style.FAINT, "linewidth": 1.3}
    style.draw(figure, [left, left + 20.0], [middle, middle], **drive)
    left = _words(figure, left + 22.0, next_line, "the widest drives")
    _words(figure, left, next_line, "( ): 95 % interval")


def _mark(figure: Figure, left: float, line: float, **look: object) -> float:
    """A mark on a line; gives where its words may begin."""
    style.draw(figure, [left + 5.0], [line - 0.36 * SMALL], **look)
    return left + 14.0


def _words(figure: Figure, left: float, line: float, text: str) -> float:
    """Words on a line; gives where the next mark may begin."""
    style.write(figure, left + 2.0, line, text, SMALL)
    return left + 2.0 + style.width_of(text, SMALL) + _BETWEEN
