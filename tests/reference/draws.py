"""Sections 8 and 9 of the model page: what is drawn, each from one uniform number.

Each of them can be normal, truncated normal, uniform, triangular, a weighted list, a constant or a
measured sample from a CSV file, which lies beside the scenario or in a folder below it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from scipy import stats


def drawn(shape: Mapping[str, Any], u: float) -> float:
    """The value of a distribution below which a share ``u`` of it lies; one bundled scenarios use.

    Args:
        shape: ``kind`` and the numbers that go with it, as in a scenario file.
        u: a uniform number between 0 and 1.
    """
    kind = shape["kind"]
    if kind == "constant":
        return float(shape["value"])
    if kind == "normal":
        return float(stats.norm.ppf(u, shape["mean"], shape["sd"]))
    if kind == "uniform":
        return float(stats.uniform.ppf(u, shape["low"], shape["high"] - shape["low"]))
    if kind == "truncated":
        mean, sd = shape["mean"], shape["sd"]
        low, high = (shape["low"] - mean) / sd, (shape["high"] - mean) / sd
        return float(stats.truncnorm.ppf(u, low, high, mean, sd))
    raise ValueError(f"no bundled scenario has a distribution of kind {kind!r}")


def one_of(names: Sequence[str], weights: Mapping[str, float], u: float) -> str:
    """One of several names, drawn by weight."""
    left = u * sum(weights[name] for name in names)
    for name in names:
        left -= weights[name]
        if left < 0.0:
            return name
    return names[-1]
