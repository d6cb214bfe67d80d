"""Uniform random numbers: one named, independent stream for every random input.

A stream is keyed by seed, return direction, replicate and column name, so that no input shares
numbers with another and a result does not depend on what else is drawn, or where.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from sim.court import Array

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
_SMALLEST: Final = 2.0**-54


def draw(seed: int, stream: int, replicate: int, shots: int) -> dict[str, Array]:
    """Uniform numbers in (0, 1), shape (shots,), for every column of `COLUMNS`.

    ``stream`` numbers the return direction. The first numbers of a longer draw are those of a
    shorter one.

    >>> draw(0, 0, 0, 4)["pace"].round(3) == draw(0, 0, 0, 2)["pace"][[0, 1, 1, 1]].round(3)
    array([ True,  True, False, False])
    """
    numbers = {}
    for index, column in enumerate(COLUMNS):
        keys = np.random.SeedSequence(entropy=seed, spawn_key=(stream, replicate, index))
        uniform = np.random.Generator(np.random.PCG64(keys)).random(shots)
        numbers[column] = np.maximum(uniform, _SMALLEST)
    return numbers
