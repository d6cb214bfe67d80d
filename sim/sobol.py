"""Scrambled Sobol points: uniform numbers that fill a many-dimensional box more evenly than chance.

Direction numbers: S. Joe and F. Y. Kuo, Constructing Sobol sequences with better two-dimensional
projections, SIAM J. Sci. Comput. 30 (2008) 2635, file new-joe-kuo-6. Scrambling: a random linear
map of the binary digits and a random digital shift, J. Matoušek, On the L2-discrepancy for anchored
boxes, J. Complexity 14 (1998) 527. Every scrambled point is uniform on its own; all of one scramble
share its random bits, so that errors are estimated from independent scrambles.
"""

from __future__ import annotations

from typing import Final

import numpy as np

WORD: Final = 64
# A primitive polynomial by its bits, and the first direction integers, for each dimension.
_DIRECTIONS: Final = (
    (1, (1,)),
    (3, (1,)),
    (7, (1, 3)),
    (11, (1, 3, 1)),
    (13, (1, 1, 1)),
    (19, (1, 1, 3, 3)),
    (25, (1, 3, 5, 13)),
    (37, (1, 1, 5, 5, 17)),
    (41, (1, 1, 5, 5, 5)),
    (47, (1, 1, 7, 11, 19)),
    (55, (1, 1, 5, 1, 1)),
    (59, (1, 1, 1, 3, 11)),
    (61, (1, 3, 5, 5, 31)),
    (67, (1, 3, 3, 9, 7, 49)),
    (91, (1, 1, 1, 15, 21, 21)),
    (97, (1, 3, 1, 13, 27, 49)),
    (103, (1, 1, 1, 15, 7, 5)),
    (109, (1, 3, 1, 15, 13, 25)),
    (115, (1, 1, 5, 5, 19, 61)),
    (131, (1, 3, 7, 11, 23, 15, 103)),
)
DIMENSIONS: Final = len(_DIRECTIONS)


def digits(points: int) -> int:
    """How many direction numbers so many points use."""
    return (points - 1).bit_length()


def direction_integers(dimension: int, count: int) -> list[int]:
    """The integers ``m_1, m_2, ...`` of a dimension (from 0); direction number k is m_k / 2^k."""
    polynomial, first = _DIRECTIONS[dimension]
    degree = polynomial.bit_length() - 1
    if degree == 0:
        return [1] * count
    found = list(first[:count])
    for k in range(len(found), count):
        value = found[k - degree] ^ (found[k - degree] << degree)
        for j in range(1, degree):
            if polynomial >> (degree - j) & 1:
                value ^= found[k - j] << j
        found.append(value)
    return found


def scrambled(random_bits: np.ndarray, points: int) -> np.ndarray:
    """The first Sobol points under random scrambles, as 64-bit fractions (value / 2^64).

    ``random_bits`` (uint64) has shape (scrambles, dimensions, `digits` (points) + 1): for every
    digit a column of the random map, and the shift. The result has shape (dimensions, scrambles,
    points).
    """
    scrambles, dimensions, _ = random_bits.shape
    count = digits(points)
    # Column i of a lower triangular map: nothing above digit i, one in it, chance below.
    place = np.arange(count, dtype=np.uint64)
    columns = random_bits[:, :, :count] >> place | np.uint64(1 << (WORD - 1)) >> place
    found = np.empty((dimensions, scrambles, points), np.uint64)
    found[:, :, 0] = random_bits[:, :, count].T
    integers = [direction_integers(dimension, count) for dimension in range(dimensions)]
    for k in range(count):
        direction = np.zeros((dimensions, scrambles), np.uint64)
        for i in range(k + 1):
            has_digit = [integers[dimension][k] >> (k - i) & 1 for dimension in range(dimensions)]
            direction ^= np.where(has_digit, columns[:, :, i], np.uint64(0)).T
        first, last = 1 << k, min(2 << k, points)
        found[:, :, first:last] = found[:, :, : last - first] ^ direction[:, :, None]
    return found
