"""Random numbers: what every sampler must keep, and the points that fill the box evenly."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import kstest, qmc

from sim.draws import COLUMNS, REPLICATES, Sampling, draw, replicate_of
from sim.sobol import DIMENSIONS, digits, scrambled

SAMPLINGS: tuple[Sampling, ...] = ("quasi-random", "pseudo-random")


def test_unscrambled_points_are_those_of_the_published_table() -> None:
    # scipy carries the table of Joe and Kuo 2008; it lists the same points in another order.
    points = 1024
    nothing = np.zeros((1, DIMENSIONS, digits(points) + 1), np.uint64)
    ours = scrambled(nothing, points)[:, 0] / 2.0**64
    theirs = qmc.Sobol(DIMENSIONS, scramble=False).random(points).T
    in_order = [table[:, np.lexsort(table[::-1])] for table in (ours, theirs)]
    np.testing.assert_array_equal(*in_order)


@pytest.mark.parametrize("points", [1, 2, 3, 64, 100, 512])
def test_scrambled_points_keep_their_even_spread(points: int) -> None:
    bits = np.random.default_rng(0).integers(
        0, 2**64, (5, DIMENSIONS, digits(points) + 1), np.uint64
    )
    found = scrambled(bits, points)
    assert found.shape == (DIMENSIONS, 5, points)
    # The first 2^k points put one into each interval of length 2^-k, in every dimension.
    whole = 1 << (points.bit_length() - 1)
    cells = np.sort((found[:, :, :whole] / 2.0**64 * whole).astype(int), axis=2)
    assert np.all(cells == np.arange(whole))


def test_two_dimensions_are_spread_evenly_together() -> None:
    # The first two dimensions are a net: any box of 2^-a by 2^-b holds one of 2^(a+b) points.
    bits = np.random.default_rng(1).integers(0, 2**64, (1, 2, 9), np.uint64)
    first, second = scrambled(bits, 256)[:, 0] / 2.0**64
    for a in range(9):
        box = np.floor(first * 2**a) * 2 ** (8 - a) + np.floor(second * 2 ** (8 - a))
        assert sorted(box) == list(range(256))


@pytest.mark.parametrize("sampling", SAMPLINGS)
@given(st.integers(0, 2**63 - 1), st.integers(0, 2), st.integers(0, 5), st.integers(1, 200))
def test_draws_reproduce(sampling: Sampling, seed: int, stream: int, block: int, n: int) -> None:
    numbers, again = (draw(sampling, seed, stream, block, n) for _ in range(2))
    assert tuple(numbers) == COLUMNS
    for column in COLUMNS:
        assert numbers[column].shape == (n,)
        assert np.all((numbers[column] > 0.0) & (numbers[column] < 1.0))
        assert numbers[column].tolist() == again[column].tolist()


@pytest.mark.parametrize("sampling", SAMPLINGS)
def test_no_two_streams_share_numbers(sampling: Sampling) -> None:
    # 3 seeds, 3 return directions, 2 blocks and every input: all first numbers differ.
    first = [
        value[0]
        for seed in (0, 1, 2)
        for stream in range(3)
        for block in range(2)
        for value in draw(sampling, seed, stream, block, 1).values()
    ]
    assert len(set(first)) == 3 * 3 * 2 * len(COLUMNS)


@pytest.mark.parametrize("sampling", SAMPLINGS)
def test_every_column_is_uniform_and_none_follows_another(sampling: Sampling) -> None:
    # One point of each of many replicates: independent uniforms, whatever the sampler.
    blocks = [draw(sampling, 7, 0, block, REPLICATES) for block in range(64)]
    table = np.array([np.concatenate([block[column] for block in blocks]) for column in COLUMNS])
    for row in table:
        assert kstest(row, "uniform").pvalue > 1e-4
    off_diagonal = np.corrcoef(table) - np.eye(len(COLUMNS))
    # 1,024 independent pairs correlate by 1 / 32 on average; 4.5 times that in 136 pairs is 1e-3.
    assert np.abs(off_diagonal).max() < 4.5 / 32


def test_replicates_share_a_block_equally() -> None:
    assert np.bincount(replicate_of(8192)).tolist() == [512] * REPLICATES
    assert np.bincount(replicate_of(100)).tolist() == [7] * 14 + [2]
    assert replicate_of(1).tolist() == [0]
