"""Fits against published values, closed forms and a reference library."""

from __future__ import annotations

import math
from functools import cache, partial

import numpy as np
import pytest
import scipy.special
import scipy.stats

from sim.analyses.fit_runs import Dashes, RunFit, dash_time, fit_player
from sim.analyses.posteriors import (
    mean_and_variance_draws,
    share_draws,
    share_means,
    share_quantiles_between,
    share_range,
)
from sim.fitted import range_of, stream
from sim.players import Player
from sim.units import METRES_PER_FOOT
from tests.published.check import Check, Property, Range, Source
from tests.published.test_running import (
    BERLIN,
    CLARK_AND_RYAN,
    SPLIT_MARKS,
    SPLITS,
    SPRINTER_REACTION,
)


def test_jeffreys_prior_is_the_arcsine_law() -> None:
    """Without any shots the posterior is the prior, whose quantiles are sin(pi u / 2) squared."""
    u = np.linspace(0.01, 0.99, 25)
    found, outside = share_quantiles_between(0, 0, 0.0, 1.0, u)
    assert found == pytest.approx(np.sin(0.5 * np.pi * u) ** 2, rel=1e-10)
    assert outside == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(
    ("hits", "misses", "kinds"), [(8, 32, 2), (3, 77, 3), (1, 0, 2), (0, 9, 3)]
)
def test_ranges_of_shares_are_those_of_a_reference_library(
    hits: int, misses: int, kinds: int
) -> None:
    low, high = share_range(hits, misses, kinds)
    beta = scipy.stats.beta(hits + 0.5, misses + 0.5 * (kinds - 1))
    assert low == (pytest.approx(beta.ppf(0.025), rel=1e-9) if hits else 0.0)
    assert high == (pytest.approx(beta.ppf(0.975), rel=1e-9) if misses else 1.0)


def coverage(p: float, ranges: list[tuple[float, float]]) -> float:
    """Chance that a share's range holds it, summed over all counts (exact)."""
    size = len(ranges) - 1
    held = [low <= p <= high for low, high in ranges]
    return float(scipy.stats.binom.pmf(np.arange(size + 1), size, p)[held].sum())


def test_the_sums_above_are_those_published() -> None:
    # The standard interval holds a share of 0.2 in 94.6 % of samples of 30, but in 92.8 % of
    # samples of 98.
    for size, published in ((30, 0.946), (98, 0.928)):
        shares = np.arange(size + 1) / size
        half = 1.959964 * np.sqrt(shares * (1.0 - shares) / size)
        standard = list(zip(shares - half, shares + half, strict=True))
        assert coverage(0.2, standard) == pytest.approx(published, abs=5e-4)


def coverage_of_jeffreys(size: int) -> float:
    """How many of 100 samples' ranges hold the share, on average over shares."""
    ranges = [share_range(hits, size - hits) for hits in range(size + 1)]
    return 100.0 * float(np.mean([coverage(p, ranges) for p in np.linspace(0.005, 0.995, 199)]))


def test_shares_of_a_poll() -> None:
    # Gelman et al., Bayesian Data Analysis, section 3.4 (memory): of 1447 voters 727, 583 and 137;
    # all of 1000 draws have the first ahead of the second.
    counts = np.array([727.0, 583.0, 137.0])
    draws = share_draws(counts, 4000, stream(1, 5))
    assert (draws[:, 0] > draws[:, 1]).all()
    assert draws.sum(axis=1) == pytest.approx(1.0)
    # Four standard errors of a mean of 4000 draws; each has one of about 0.013.
    assert draws.mean(axis=0) == pytest.approx(share_means(counts), abs=4 * 0.013 / 63)
    low, high = range_of(draws[:, 0])
    assert (low, high) == pytest.approx(share_range(727, 720, 3), abs=0.003)


# Student 1908: the hours of sleep gained by ten patients.
SLEEP_GAINED = np.array([1.2, 2.4, 1.3, 1.3, 0.0, 1.0, 1.8, 0.8, 4.6, 1.4])


@cache
def sleep_gained() -> tuple[tuple[float, float], tuple[float, float]]:
    """Posterior ranges of mean and variance; with the prior 1 / variance the classical ones."""
    means, variances = mean_and_variance_draws(SLEEP_GAINED, 200_000, stream(1, 5))
    return range_of(means), range_of(variances)


def test_range_of_a_variance_is_the_classical_one() -> None:
    sum_of_squares = 9.0 * SLEEP_GAINED.var(ddof=1)
    classical = sum_of_squares / scipy.stats.chi2(9).ppf([0.975, 0.025])
    assert sleep_gained()[1] == pytest.approx(tuple(classical), rel=0.02)


def test_mean_and_variance_go_up_together_where_values_are_skewed() -> None:
    # Many exponential values (skewness 2, kurtosis 9) have the correlation 2 / sqrt(8) = 0.71. With
    # the kurtosis of normal values the posterior makes it larger, here as large as it may be.
    values = -np.log(1.0 - (np.arange(60) + 0.5) / 60.0)
    means, variances = mean_and_variance_draws(values, 20_000, stream(1, 5))
    assert np.corrcoef(means, np.log(variances))[0, 1] == pytest.approx(0.9, abs=0.02)
    even = np.concatenate((values, -values))
    means, variances = mean_and_variance_draws(even, 20_000, stream(1, 5))
    assert np.corrcoef(means, np.log(variances))[0, 1] == pytest.approx(0.0, abs=0.03)
    # What each scatters by itself stays: s2 / n, and 2 / n of the logarithm squared.
    assert means.var() == pytest.approx(even.var() / 120, rel=0.05)
    assert np.log(variances).var() == pytest.approx(2.0 / 120, rel=0.05)


def test_time_of_a_dash_is_that_of_the_closed_form() -> None:
    # u + exp(-u) - 1 = q has the solution u = 1 + q + W(-exp(-1 - q)), W the principal branch of
    # Lambert's function; scipy has it.
    distance, speed, lag = np.meshgrid([0.5, 15.0, 300.0], [3.0, 13.0, 40.0], [0.2, 1.0, 3.0])
    q = distance / (speed * lag)
    exact = lag * (1.0 + q + scipy.special.lambertw(-np.exp(-1.0 - q)).real)
    assert dash_time(distance, speed, lag) == pytest.approx(exact, rel=1e-7)


@cache
def fitted_sprinter() -> RunFit:
    times = SPLITS - SPRINTER_REACTION
    dashes = Dashes(SPLIT_MARKS / METRES_PER_FOOT, times, np.zeros(5, int))
    return fit_player(dashes, Player(), stream(1, 5))


def fitted_legs() -> tuple[float, float]:
    """Top speed (ft/s) and time constant (s): the middles of what is plausible."""
    fit = fitted_sprinter()
    return float(np.median(fit.top_speed)), float(np.median(fit.time_constant))


def worst_fitted_split() -> float:
    speed, lag = fitted_legs()
    times = dash_time(SPLIT_MARKS / METRES_PER_FOOT, np.array(speed), np.array(lag))
    return float(np.abs(times + SPRINTER_REACTION - SPLITS).max())


def test_electronic_splits_tell_the_time_constant() -> None:
    # Though the fit assumes that dashes are timed by hand.
    assert fitted_sprinter().learnt < 0.7


def test_one_second_is_the_time_constant_before_any_dash() -> None:
    # Clark and Ryan 2022 (quoted): about 1 s across levels. One dash cannot move it far.
    one = Dashes(np.array([15.0]), np.array([2.02]), np.zeros(1, int))
    fit = fit_player(one, Player(), stream(1, 5))
    assert np.median(fit.time_constant) == pytest.approx(1.0, abs=0.03)
    assert fit.learnt == pytest.approx(1.0, abs=0.05)
    assert math.log(range_of(fit.time_constant)[1]) == pytest.approx(1.96 * 0.25, abs=0.04)


JEFFREYS = Source("Brown, Cai and DasGupta 2001", "from memory")
STUDENT = Source("Student 1908, hours of sleep", "from memory")
ARCSINE = Source("Arcsine law", "computed")
BETA = Source("scipy.stats.beta", "library")
LAMBERT = Source("Run equation solved with Lambert's W (scipy)", "computed")
CHI_SQUARED = Source("Classical range of a variance (scipy.stats)", "library")
CHECKS = [
    *(
        Check(
            f"fit of shots: ranges that hold, samples of {size}",
            JEFFREYS,
            95.0,
            partial(coverage_of_jeffreys, size),
            allowed=1.0,
            why="“close to 95 % on average already for small samples”",
            unit="%",
            decimals=1,
        )
        for size in (10, 25, 50)
    ),
    *(
        Check(
            f"range of a mean of ten values, {end} end",
            STUDENT,
            published,
            partial(lambda place: sleep_gained()[0][place], place),
            allowed=0.01,
            why="two decimals, and 200,000 draws",
            unit="h",
            decimals=2,
        )
        for place, (end, published) in enumerate((("low", 0.70), ("high", 2.46)))
    ),
    Check(
        "fit of runs, an elite sprint: top speed",
        BERLIN,
        Range(12.0, 12.5),
        lambda: fitted_legs()[0] * METRES_PER_FOOT,
        why="20 m at 12.4 m/s on average; the range is ours",
        unit="m/s",
    ),
    Check(
        "fit of runs, an elite sprint: time constant",
        CLARK_AND_RYAN,
        Range(1.1, 1.4),
        lambda: fitted_legs()[1],
        why="“about 1 s across levels”; the range is ours",
        unit="s",
    ),
    Check(
        "fit of runs, an elite sprint: farthest from a split",
        BERLIN,
        0.0,
        worst_fitted_split,
        allowed=0.03,
        why="the equation knows no slowing down at the end",
        unit="s",
        decimals=3,
    ),
]
PROPERTIES = [
    Property(
        "Without any shots the range of a share is that of the prior.",
        ARCSINE,
        test_jeffreys_prior_is_the_arcsine_law,
    ),
    Property(
        "Ranges of shares are the library's.",
        BETA,
        test_ranges_of_shares_are_those_of_a_reference_library,
    ),
    Property(
        "The range of a variance is the classical one.",
        CHI_SQUARED,
        test_range_of_a_variance_is_the_classical_one,
    ),
    Property(
        "The time of a dash is that of the closed form.",
        LAMBERT,
        test_time_of_a_dash_is_that_of_the_closed_form,
    ),
]
