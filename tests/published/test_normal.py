"""Normal quantiles against `scipy.special`, an implementation of its own (Cephes)."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtr, ndtri

from sim.normal import normal_quantile, normal_share_below
from tests.published.check import Check, Property, Source


def worst_quantile() -> float:
    """Greatest difference from scipy's, as a part of it; far tails included."""
    tails = 10.0 ** -np.linspace(0.3, 300.0, 20_001)
    u = np.concatenate((np.random.default_rng(3).random(200_000), tails, 1.0 - tails[:1000]))
    u = u[(u < 1.0) & (u != 0.5)]
    return float(np.abs(normal_quantile(u) / ndtri(u) - 1.0).max())


def test_quantiles_at_the_ends_are_finite() -> None:
    low, middle, high = normal_quantile(np.array([0.0, 0.5, 1.0]))
    assert -39.0 < low < -38.0
    assert middle == 0.0
    assert high == -low


def test_quantiles_keep_the_shape() -> None:
    u = np.array([[0.01, 0.3], [0.5, 0.9999999]])
    assert normal_quantile(u).tolist() == [normal_quantile(row).tolist() for row in u]


@pytest.mark.parametrize("value", [-8.0, -1.0, 0.0, 0.3, 9.0])
def test_share_below(value: float) -> None:
    assert normal_share_below(value) == pytest.approx(ndtr(value), rel=1e-13)


CEPHES = Source("scipy.special.ndtri", "library")
CHECKS = [
    Check(
        "normal quantiles: greatest difference, in parts of 10¹⁵",
        CEPHES,
        0.0,
        lambda: 1e15 * worst_quantile(),
        allowed=2.0,
        why="ten rounding errors",
        decimals=1,
    )
]
PROPERTIES = [
    Property("Normal shares below a value are the library's.", CEPHES, test_share_below),
]
