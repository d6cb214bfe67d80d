"""The normal distribution: its quantiles for arrays, and its share below one value.

Source: M. J. Wichura, "Algorithm AS 241: The Percentage Points of the Normal Distribution", Applied
Statistics 37 (1988) 477, routine PPND16 (coefficients from memory; a test holds the result against
another implementation, to 1e-15 of it).
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from sim.court import Array

# A uniform number so far from a half, or farther, lies in a tail.
_CENTRE: Final = 0.425
_FAR_TAIL: Final = 5.0
_SMALLEST: Final = 5e-324

_Rational = tuple[tuple[float, ...], tuple[float, ...]]

# Numerators and denominators, highest power first.
_IN_CENTRE: Final[_Rational] = (
    (
        2.5090809287301226727e3,
        3.3430575583588128105e4,
        6.7265770927008700853e4,
        4.5921953931549871457e4,
        1.3731693765509461125e4,
        1.9715909503065514427e3,
        1.3314166789178437745e2,
        3.3871328727963666080e0,
    ),
    (
        5.2264952788528545610e3,
        2.8729085735721942674e4,
        3.9307895800092710610e4,
        2.1213794301586595867e4,
        5.3941960214247511077e3,
        6.8718700749205790830e2,
        4.2313330701600911252e1,
        1.0,
    ),
)
_IN_TAIL: Final[_Rational] = (
    (
        7.74545014278341407640e-4,
        2.27238449892691845833e-2,
        2.41780725177450611770e-1,
        1.27045825245236838258e0,
        3.64784832476320460504e0,
        5.76949722146069140550e0,
        4.63033784615654529590e0,
        1.42343711074968357734e0,
    ),
    (
        1.05075007164441684324e-9,
        5.47593808499534494600e-4,
        1.51986665636164571966e-2,
        1.48103976427480074590e-1,
        6.89767334985100004550e-1,
        1.67638483018380384940e0,
        2.05319162663775882187e0,
        1.0,
    ),
)
_IN_FAR_TAIL: Final[_Rational] = (
    (
        2.01033439929228813265e-7,
        2.71155556874348757815e-5,
        1.24266094738807843860e-3,
        2.65321895265761230930e-2,
        2.96560571828504891230e-1,
        1.78482653991729133580e0,
        5.46378491116411436990e0,
        6.65790464350110377720e0,
    ),
    (
        2.04426310338993978564e-15,
        1.42151175831644588870e-7,
        1.84631831751005468180e-5,
        7.86869131145613259100e-4,
        1.48753612908506148525e-2,
        1.36929880922735805310e-1,
        5.99832206555887937690e-1,
        1.0,
    ),
)


def normal_quantile(u: Array) -> Array:
    """Quantiles of the standard normal distribution at ``u`` in (0, 1), of any shape.

    0 and 1 count as the numbers next to them.

    >>> normal_quantile(np.array([0.5, 0.975, 1e-9])).round(6)
    array([ 0.      ,  1.959964, -5.997807])
    """
    away = u - 0.5
    quantile = away * _ratio(_IN_CENTRE, _CENTRE * _CENTRE - away * away)
    tail = np.nonzero(np.abs(away) > _CENTRE)
    quantile[tail] = _tail_quantile(u[tail])
    return quantile


def normal_share_below(value: float) -> float:
    """Share of the standard normal distribution below ``value``."""
    return 0.5 * math.erfc(-value / math.sqrt(2.0))


def _tail_quantile(u: Array) -> Array:
    outside = np.maximum(np.minimum(u, 1.0 - u), _SMALLEST)
    root = np.sqrt(-np.log(outside))
    size = _ratio(_IN_TAIL, root - 1.6)
    far = np.nonzero(root > _FAR_TAIL)
    size[far] = _ratio(_IN_FAR_TAIL, root[far] - _FAR_TAIL)
    return np.where(u < 0.5, -size, size)


def _ratio(rational: _Rational, variable: Array) -> Array:
    above, below = (np.full(variable.shape, coefficients[0]) for coefficients in rational)
    for numerator, denominator in zip(rational[0][1:], rational[1][1:], strict=True):
        above *= variable
        above += numerator
        below *= variable
        below += denominator
    above /= below
    return above
