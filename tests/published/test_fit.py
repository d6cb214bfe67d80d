"""Fits against published values, closed forms and a reference library."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.special
import scipy.stats

from sim.analyses.fit_runs import Dashes, dash_time, fit_player
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


def test_jeffreys_ranges_hold_as_often_as_published() -> None:
    # Brown, Cai and DasGupta 2001, Statistical Science 16:101 (memory): the standard interval holds
    # a share of 0.2 in 94.6 % of samples of 30, but in 92.8 % of samples of 98; Jeffreys' comes
    # close to 95 % on average already for small samples. The first checks the sums here.
    for size, published in ((30, 0.946), (98, 0.928)):
        shares = np.arange(size + 1) / size
        half = 1.959964 * np.sqrt(shares * (1.0 - shares) / size)
        standard = list(zip(shares - half, shares + half, strict=True))
        assert coverage(0.2, standard) == pytest.approx(published, abs=5e-4)
    for size in (10, 25, 50):
        ranges = [share_range(hits, size - hits) for hits in range(size + 1)]
        held = [coverage(p, ranges) for p in np.linspace(0.005, 0.995, 199)]
        assert np.mean(held) == pytest.approx(0.95, abs=0.01)


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


def test_few_values_have_the_classical_ranges() -> None:
    # Student 1908, Biometrika 6:1, the hours of sleep gained by ten patients (memory): mean 1.58,
    # 95 % interval 0.70 to 2.46. With the prior 1 / variance the posterior range is the same.
    gained = np.array([1.2, 2.4, 1.3, 1.3, 0.0, 1.0, 1.8, 0.8, 4.6, 1.4])
    means, variances = mean_and_variance_draws(gained, 200_000, stream(1, 5))
    assert range_of(means) == pytest.approx((0.70, 2.46), abs=0.01)
    sum_of_squares = 9.0 * gained.var(ddof=1)
    classical = sum_of_squares / scipy.stats.chi2(9).ppf([0.975, 0.025])
    assert range_of(variances) == pytest.approx(tuple(classical), rel=0.02)


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


def test_an_elite_sprint() -> None:
    # 100 m final, Berlin 2009, the winner's splits: 2.89, 4.64, 6.31, 7.92, 9.58 s at 20, 40, 60,
    # 80, 100 m with a reaction of 0.146 s included (memory). He ran the fastest 20 m, from 60 to
    # 80 m, in 1.61 s: 12.4 m/s on average, and less before and after.
    metres = np.array([20.0, 40.0, 60.0, 80.0, 100.0])
    splits = np.array([2.89, 4.64, 6.31, 7.92, 9.58]) - 0.146
    fit = fit_player(
        Dashes(metres / METRES_PER_FOOT, splits, np.zeros(5, int)), Player(), stream(1, 5)
    )
    speed, lag = float(np.median(fit.top_speed)), float(np.median(fit.time_constant))
    assert 12.0 < speed * METRES_PER_FOOT < 12.5
    assert 1.1 < lag < 1.4
    late = dash_time(metres / METRES_PER_FOOT, np.array(speed), np.array(lag)) - splits
    # The equation knows no slowing down at the end: a few hundredths are left.
    assert np.abs(late).max() < 0.03
    # Five splits by an electronic clock tell the time constant, though hand timing is assumed.
    assert fit.learnt < 0.7


def test_one_second_is_the_time_constant_before_any_dash() -> None:
    # Clark and Ryan 2022 (quoted): about 1 s across levels. One dash cannot move it far.
    one = Dashes(np.array([15.0]), np.array([2.02]), np.zeros(1, int))
    fit = fit_player(one, Player(), stream(1, 5))
    assert np.median(fit.time_constant) == pytest.approx(1.0, abs=0.03)
    assert fit.learnt == pytest.approx(1.0, abs=0.05)
    assert math.log(range_of(fit.time_constant)[1]) == pytest.approx(1.96 * 0.25, abs=0.04)
