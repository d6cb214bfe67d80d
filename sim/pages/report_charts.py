"""The report's small charts: scales in percent of a picture's width, for inline SVG."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

# Steps (points) between the ticks of a scale, and how many ticks are enough.
_STEPS: Final = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0)
_MOST_TICKS: Final = 5
# Marks at the very end of a scale would be cut off.
_INSET: Final = 4.0


@dataclass(frozen=True)
class Scale:
    """A scale from its first to its last tick; values become percent of the width."""

    ticks: tuple[float, ...]

    def at(self, value: float) -> str:
        """Where a value stands, in percent of the width.

        >>> Scale((80.0, 90.0, 100.0)).at(90.0)
        '50.0%'
        """
        low, high = self.ticks[0], self.ticks[-1]
        return f"{_INSET + (100.0 - 2 * _INSET) * (value - low) / (high - low):.1f}%"


def scale_of(values: Iterable[float], *, limits: Sequence[float] = (-math.inf, math.inf)) -> Scale:
    """Round ticks around all values, within ``limits``; values that are no numbers do not count.

    >>> scale_of([89.3, 92.5], limits=(0.0, 100.0)).ticks
    (89.0, 90.0, 91.0, 92.0, 93.0)
    """
    finite = [value for value in values if math.isfinite(value)] or [0.0, 1.0]
    for step in _STEPS:
        low, high = math.floor(min(finite) / step), math.ceil(max(finite) / step)
        if high == low:
            low, high = (low - 1, high) if high * step >= limits[1] else (low, high + 1)
        if high - low < _MOST_TICKS:
            break
    return Scale(tuple(step * tick for tick in range(low, high + 1)))


@dataclass(frozen=True)
class Dot:
    """A value with its interval on a scale, and the same in words."""

    at: str
    low: str
    high: str
    words: str


def dot(scale: Scale, estimate: Sequence[float], words: str) -> Dot:
    """The mark of a value with the ends of its interval."""
    at, low, high = map(scale.at, estimate)
    return Dot(at, low, high, words)


@dataclass(frozen=True)
class Icons:
    """A hundred balls, told apart by shape and lightness; ``kinds`` in the order of the rows."""

    name: str
    title: str
    words: str
    kinds: tuple[str, ...]


KINDS: Final = ("in-control", "at-full-stretch", "through")


def icons(name: str, counts: Sequence[int], words: str) -> Icons:
    """A hundred balls of a policy (none where none is in play)."""
    kinds = [kind for kind, count in zip(KINDS, counts, strict=True) for _ in range(count)]
    return Icons(name, f"Of 100 balls in play with {name}: {words}.", words, tuple(kinds))
