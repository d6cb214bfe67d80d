"""Uniform random numbers: one named column for every random input of the model.

Shots come in blocks, and a block in replicates: independent samples of equal standing, from whose
scatter the intervals are made. A replicate is keyed by seed, return direction and its number, so
that a result does not depend on what else is drawn, where, or in which order. A column added to
`COLUMNS` goes last: those before it keep their numbers.
"""

from __future__ import annotations

import math
from typing import Final, Literal

import numpy as np

from sim.court import Array
from sim.sobol import digits, scrambled

COLUMNS: Final = (
    "return_side",
    "return_depth",
    "return_top",
    "contact_height",
    "shot",
    "lane",
    "landing_side",
    "pace",
    "net_clearance",
    "landing_depth",
    "top",
    "azimuth",
    "error_speed",
    "error_elevation",
    "error_azimuth",
    "reaction_left",
    "reaction_right",
)
Sampling = Literal["quasi-random", "pseudo-random"]
# Shots of a full block, and the replicates of any block.
BLOCK: Final = 8192
REPLICATES: Final = 16


def replicate_of(shots: int) -> np.ndarray:
    """Which of its block's replicates each shot belongs to, shape (shots,)."""
    return np.arange(shots) // _points(shots)


def draw(sampling: Sampling, seed: int, stream: int, block: int, shots: int) -> dict[str, Array]:
    """Uniform numbers in (0, 1), shape (shots,), for every column of `COLUMNS`.

    ``stream`` numbers the return direction. Quasi-random replicates are independently scrambled
    Sobol points, pseudo-random ones are drawn by PCG64.

    >>> numbers = draw("quasi-random", 0, 0, 0, 64)["pace"]
    >>> [int(count) for count in np.bincount((4 * numbers).astype(int))]
    [16, 16, 16, 16]
    """
    points = _points(shots)
    count = len(COLUMNS)
    words = digits(points) + 1 if sampling == "quasi-random" else points
    bits = np.stack([_bits(seed, stream, block * REPLICATES + k, words) for k in range(REPLICATES)])
    fractions = scrambled(bits, points) if sampling == "quasi-random" else bits.transpose(1, 0, 2)
    # 52 of the 64 bits and a half of the last: exact, and neither 0 nor 1.
    uniform = ((fractions.reshape(count, -1)[:, :shots] >> np.uint64(12)) + 0.5) * 2.0**-52
    return dict(zip(COLUMNS, uniform, strict=True))


def _points(shots: int) -> int:
    return math.ceil(shots / REPLICATES)


def _bits(seed: int, stream: int, replicate: int, words: int) -> np.ndarray:
    """Random 64-bit words of one replicate, shape (columns, words)."""
    keys = np.random.SeedSequence(entropy=seed, spawn_key=(stream, replicate))
    raw = np.random.PCG64(keys).random_raw(len(COLUMNS) * words)
    return raw.reshape(len(COLUMNS), words)
