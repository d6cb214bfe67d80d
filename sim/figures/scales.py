"""Scales of round numbers, drawn alike along every axis."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from matplotlib.axes import Axes

from sim.figures import style
from sim.figures.style import SMALL, Look
from sim.wording import MINUS

_STEPS: Final = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0, 100.0)
# A hair below or above a round number is that number.
_SLACK: Final = 1e-9
# Points between an axis and the words beside it.
_BESIDE: Final = 4.0
# Points from zero, and from the top of the axes, to words about either side.
_ASIDE: Final = 9.0
_ABOVE: Final = 12.0
_LINE: Final[Look] = {"zorder": 1, "color": style.FAINT, "linewidth": 0.8}
CUT: Final = "The scale does not start at 0."


def ticks(low: float, high: float, most: int, least: float = 0.1) -> list[float]:
    """Round numbers from below ``low`` to above ``high``, in at most so many steps.

    The steps are no smaller than ``least``.

    >>> ticks(71.0, 98.0, 4)
    [70.0, 80.0, 90.0, 100.0]
    """
    steps = [step for step in _STEPS if step >= least]
    for step in steps:
        first, last = math.floor(low / step + _SLACK), math.ceil(high / step - _SLACK)
        if last - first <= most:
            break
    return [step * number for number in range(first, max(last, first + 1) + 1)]


def a_point(axes: Axes) -> tuple[float, float]:
    """A point to the right, and one upwards, in the data units of axes with linear scales.

    Upwards is negative where the scale runs downwards.
    """
    (left, right), (bottom, top) = axes.get_xlim(), axes.get_ylim()
    place, height = axes.get_position(), style.height_of(axes)
    across, along = place.width * style.WIDTH, place.height * height
    return (right - left) / across, (top - bottom) / along


def draw_upright(axes: Axes, at: Sequence[float], words: Sequence[str]) -> None:
    """A faint line at every place from bottom to top, with its words below, if there are any."""
    ends, (_, up) = axes.get_ylim(), a_point(axes)
    for x in at:
        style.draw(axes, [x, x], ends, **_LINE)
    for x, text in zip(at, words, strict=bool(words)):
        style.label(axes, x, ends[0] - _BESIDE * up, text, color=style.QUIET, va="top")


def draw_level(axes: Axes, at: Sequence[float], words: Sequence[str]) -> None:
    """A faint line at every height from left to right, with its words on the left, if any."""
    ends, (right, _) = axes.get_xlim(), a_point(axes)
    for y in at:
        style.draw(axes, ends, [y, y], **_LINE)
    for y, text in zip(at, words, strict=bool(words)):
        style.label(axes, ends[0] - 2.0 * _BESIDE * right, y, text, color=style.QUIET, ha="right")


def plain(values: Sequence[float]) -> list[str]:
    """Numbers as they are written along a scale.

    >>> plain([-2.0, 0.0, 2.5])
    ['−2', '0', '2.5']
    """
    return [f"{value + 0.0:.6g}".replace("-", MINUS) for value in values]


def signed(values: Sequence[float]) -> list[str]:
    """The same of differences, with a plus for what is more.

    >>> signed([-2.0, 0.0, 2.5])
    ['−2', '0', '+2.5']
    """
    pairs = zip(values, plain(values), strict=True)
    return [f"{'+' if value > 0.0 else ''}{words}" for value, words in pairs]


def write_sides(axes: Axes, left: str, right: str) -> None:
    """What lies on either side of zero, above the axes; left out where there is no room."""
    (low, high), (across, up) = axes.get_xlim(), a_point(axes)
    for words, room, sign, align in ((left, -low, -1.0, "right"), (right, high, 1.0, "left")):
        if style.width_of(words, SMALL, bold=True) + 2.0 * _ASIDE > room / across:
            continue
        look: Look = {"color": style.QUIET, "weight": "bold", "ha": align}
        at = sign * _ASIDE * across, axes.get_ylim()[1] + _ABOVE * up
        style.label(axes, *at, words, **look)


def spread(wanted: Sequence[float], apart: float, low: float, high: float) -> list[float]:
    """Ascending places moved at least so far apart, about the same middle as far as there is room.

    >>> spread([1.0, 1.0], 2.0, 0.0, 10.0)
    [0.0, 2.0]
    """
    at = list(wanted)
    for k in range(1, len(at)):
        at[k] = max(at[k], at[k - 1] + apart)
    if not at:
        return []
    shift = (sum(wanted) - sum(at)) / len(at)
    shift = min(max(shift, low - at[0]), high - at[-1])
    return [place + shift for place in at]
