"""Sobol indices against functions whose indices are known in closed form.

T. Ishigami and T. Homma, An importance quantification technique in uncertainty analysis for
computer models (1990): ``sin x1 + a sin^2 x2 + b x3^4 sin x1`` on (-pi, pi). The indices follow
from its variances, worked out below from the formulas; the method is that of A. Saltelli et al.,
Comput. Phys. Commun. 181 (2010) 259.
"""

from __future__ import annotations

from functools import cache, partial

import numpy as np
import pytest

from sim.analyses.sobol_indices import Indices, design, indices
from sim.court import Array
from tests.published.check import Check, Property, Source

A, B = 7.0, 0.1


def ishigami(points: Array) -> Array:
    x = np.pi * (2.0 * points - 1.0)
    wave = np.sin(x[..., 0])
    return wave + A * np.sin(x[..., 1]) ** 2 + B * x[..., 2] ** 4 * wave


def closed_form() -> tuple[list[float], list[float]]:
    """First-order and total indices from the integrals of sines and powers."""
    fourth, eighth = np.pi**4 / 5.0, np.pi**8 / 9.0
    alone_1 = 0.5 * (1.0 + B * fourth) ** 2
    alone_2 = A**2 / 8.0
    together_13 = 0.5 * B**2 * (eighth - fourth**2)
    whole = alone_1 + alone_2 + together_13
    first = [alone_1 / whole, alone_2 / whole, 0.0]
    total = [(alone_1 + together_13) / whole, alone_2 / whole, together_13 / whole]
    return first, total


FIRST, TOTAL = [0.31391, 0.44241, 0.0], [0.55759, 0.44241, 0.24368]


def test_the_closed_form_is_the_published_one() -> None:
    first, total = closed_form()
    assert first == pytest.approx(FIRST, abs=5e-6)
    assert total == pytest.approx(TOTAL, abs=5e-6)


@cache
def found_indices() -> Indices:
    return indices(ishigami(design(3, 8192, seed=1))[..., None], seed=1)


def test_the_same_as_scipy_where_nothing_is_noisy() -> None:
    from scipy.stats import sobol_indices

    values = ishigami(design(3, 256, seed=5))
    pages = {"f_A": values[:1], "f_B": values[1:2], "f_AB": values[2:, None]}
    theirs = sobol_indices(func=pages, n=256)
    found = indices(values[..., None], seed=5)
    # They take each page's own mean off the variance, we that of both pages.
    assert found.first == pytest.approx(theirs.first_order, abs=0.005)
    assert found.total == pytest.approx(theirs.total_order, abs=0.005)


@pytest.mark.parametrize("common", [0.0, 3.0])
def test_noise_counts_in_no_index(common: float) -> None:
    """Replicates with as much noise as signal, some of it common to a row of settings."""
    first, total = closed_form()
    chance = np.random.default_rng(2)
    values = ishigami(design(3, 4096, seed=2))[..., None]
    rows = common * chance.normal(size=(1, 4096, 16))
    noisy = values + rows + 12.0 * chance.normal(size=(5, 4096, 16))
    found = indices(noisy, seed=2)
    # Measured over ten seeds the error's standard deviation is 0.022: four of them.
    assert found.first == pytest.approx(first, abs=0.09)
    assert found.total == pytest.approx(total, abs=0.09)
    naive = indices(noisy.mean(axis=-1, keepdims=True), seed=2)
    assert naive.total[2] > total[2] + 0.15


def test_intervals_hold_the_closed_form_nineteen_times_in_twenty() -> None:
    first, total = closed_form()
    held = []
    for seed in range(60):
        values = ishigami(design(3, 256, seed))[..., None]
        chance = np.random.default_rng(seed)
        found = indices(values + 6.0 * chance.normal(size=(5, 256, 16)), seed)
        for truth, resampled in ((first, found.first_resampled), (total, found.total_resampled)):
            low, high = found.interval(resampled)
            held += [bool(a <= x <= b) for a, x, b in zip(low, truth, high, strict=True)]
    # 342 of 360 are expected; the points are spread more evenly than resampling knows.
    assert np.mean(held) >= 0.92


ISHIGAMI = Source("Ishigami and Homma 1990", "computed")
SALTELLI = Source("scipy.stats.sobol_indices", "library")
CHECKS = [
    Check(
        f"Ishigami's function: {kind} share of input {place + 1}",
        ISHIGAMI,
        published,
        partial(lambda part, place: getattr(found_indices(), part)[place], part, place),
        allowed=0.01,
        why="four standard deviations of the error with 8192 points",
        decimals=4,
    )
    for kind, part, values in (("own", "first", FIRST), ("whole", "total", TOTAL))
    for place, published in enumerate(values)
]
PROPERTIES = [
    Property(
        "Where nothing is noisy the shares are the library's.",
        SALTELLI,
        test_the_same_as_scipy_where_nothing_is_noisy,
    ),
    Property("Noise counts in no share.", ISHIGAMI, test_noise_counts_in_no_index),
    Property(
        "Intervals of shares hold the closed form nineteen times in twenty.",
        ISHIGAMI,
        test_intervals_hold_the_closed_form_nineteen_times_in_twenty,
    ),
]
