"""Estimates and their ranges in words, for all fits."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from sim.fitted import Estimate, range_of
from sim.units import SHOWN_UNIT, in_unit
from sim.wording import counted

RANGES: Final = "Ranges are 95 %: nineteen of twenty such charts would have the truth in theirs."
_HALVING: Final = 3


def more_counting(size: int, noun: str) -> str:
    """What more counting would give: ranges narrow with the root of the number."""
    more = counted(_HALVING * size, noun)
    return f"About {more} more, three times as many again, would halve most of these ranges."


def estimate_of(words: str, draws: np.ndarray, dimension: str) -> Estimate:
    """The middle and range of draws that go into no setting."""
    return Estimate(words, "", float(np.median(draws)), *range_of(draws), 0, "", dimension)


def with_value(estimate: Estimate, value: float) -> Estimate:
    """Another value of the same quantity, shown no finer than the estimate."""
    return Estimate(
        estimate.quantity, "", value, estimate.low, estimate.high, 0, "", estimate.dimension
    )


def quantity(estimate: Estimate, units: str) -> str:
    """A value with its unit, no finer than its range."""
    value, low, high, unit = _shown(estimate, units)
    return f"{digits(value, low, high)} {unit}".rstrip()


def range_words(estimate: Estimate, units: str) -> str:
    """A range with its unit."""
    _, low, high, unit = _shown(estimate, units)
    return f"{ends(low, high)} {unit}".rstrip()


def _shown(estimate: Estimate, units: str) -> tuple[float, float, float, str]:
    numbers = estimate.value, estimate.low, estimate.high
    if estimate.dimension is None:
        return *numbers, ""
    unit = SHOWN_UNIT[units][estimate.dimension]
    value, low, high = (in_unit(number, estimate.dimension, unit) for number in numbers)
    return value, low, high, unit


def _places(low: float, high: float) -> int:
    """Decimals so that the range reaches two or more of the last place to either side."""
    half = 0.5 * (high - low)
    return max(0, -math.floor(math.log10(0.5 * half))) if half > 0.0 else 2


def digits(value: float, low: float, high: float) -> str:
    """A number no finer than its range."""
    return f"{value:.{_places(low, high)}f}"


def ends(low: float, high: float) -> str:
    """Both ends of a range, no finer than it is wide."""
    places = _places(low, high)
    return f"{low:.{places}f} to {high:.{places}f}"
