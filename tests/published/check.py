"""An outside value beside what the program makes of it: stated once, tested once, shown once.

Modules of this folder state their numbers in a list ``CHECKS`` and what else they hold against the
outside in a list ``PROPERTIES``, next to the sources. `all_checks` has the lists in the order of
the game, `test_checks` holds the numbers, and ``python -m tests.validation`` writes the page
``sim/docs/validation.md`` from them.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

# How a source was seen, as `sim/docs/sources.md` says; or what was used in its place.
Certainty = Literal["read", "quoted", "from memory", "computed", "library", "no source"]
# Whether the program works a number out, or was given it: then the check says only that it arrived.
Origin = Literal["worked out", "taken over", "set to fit"]


@dataclass(frozen=True)
class Source:
    """Who says so; the full reference stands in ``sim/docs/sources.md``."""

    words: str
    certainty: Certainty

    def __str__(self) -> str:
        return f"{self.words} ({self.certainty})"


COMMON_PRACTICE = Source("Common practice", "no source")


@dataclass(frozen=True)
class Range:
    """A published range; an end that is left out is open."""

    low: float = -math.inf
    high: float = math.inf


@dataclass(frozen=True)
class Estimate:
    """A value with the ends of its interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Check:
    """One number held against the outside.

    ``published`` is a number, a range, or a function that works the number out with something that
    is not the program. An estimate is inside a range if its whole interval is. ``allowed`` is the
    greatest difference that passes, a part of the published value where it is ``relative``; ``why``
    says where it comes from. A number that is known not to agree says why in ``differs``; it must
    go on disagreeing, so that nobody is told of a fault that is mended.
    """

    quantity: str
    source: Source
    published: float | Range | Callable[[], float]
    ours: Callable[[], float | Estimate]
    allowed: float = 0.0
    relative: bool = False
    unit: str = ""
    decimals: int = 2
    why: str = ""
    differs: str = ""
    origin: Origin = "worked out"

    @cached_property
    def expected(self) -> float | Range:
        return self.published() if callable(self.published) else self.published

    @cached_property
    def found(self) -> Estimate:
        """Ours; a number without an interval has its ends at itself."""
        found = self.ours()
        return found if isinstance(found, Estimate) else Estimate(found, found, found)

    @cached_property
    def tolerance(self) -> float:
        if self.relative and not isinstance(self.expected, Range):
            return self.allowed * abs(self.expected)
        return self.allowed

    @cached_property
    def difference(self) -> float:
        """Ours less the published value; of a range, how far outside it ours goes."""
        if not isinstance(self.expected, Range):
            return self.found.value - self.expected
        if self.found.low < self.expected.low:
            return self.found.low - self.expected.low
        return max(self.found.high - self.expected.high, 0.0)

    @property
    def agrees(self) -> bool:
        numbers = (self.found.value, self.found.low, self.found.high)
        return all(map(math.isfinite, numbers)) and abs(self.difference) <= self.tolerance


@dataclass(frozen=True)
class Property:
    """A fact that is no single number, with the test that holds it against the outside."""

    statement: str
    source: Source
    test: Callable[..., None]

    @property
    def place(self) -> str:
        """Where the test stands, as pytest names it."""
        return f"{self.test.__module__.replace('.', '/')}.py::{self.test.__name__}"
