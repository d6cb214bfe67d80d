"""Zero-sum games: what two sides should do who choose at the same moment, against each other.

A game is a matrix of payoffs, shape (rows, columns): what the side that chooses the row gets of the
side that chooses the column. The first wants it large, the second small.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from sim.court import Array

# The two mixes prove each other right: what one guarantees is what the other concedes, but for
# rounding. As a share of the span of the payoffs.
_LARGEST_GAP: Final = 1e-6


@dataclass(frozen=True)
class Equilibrium:
    """A pair of mixes from which neither side gains by departing, and what it is worth.

    ``rows`` and ``columns`` are probabilities, shape (rows,) and (columns,). The ``value`` is
    unique; mixes need not be: others may do as well.
    """

    value: float
    rows: Array
    columns: Array


def equilibrium(payoffs: Array) -> Equilibrium:
    """Solve a game exactly, as a linear program.

    The rows' mix has the largest guaranteed payoff, the columns' mix (the program's dual) the
    smallest one that it concedes. Raises `ValueError` where the payoffs are no matrix of numbers.

    Source: J. von Neumann, Zur Theorie der Gesellschaftsspiele, Math. Ann. 100 (1928) 295; G. B.
    Dantzig, A proof of the equivalence of the programming problem and the game problem, in:
    T. C. Koopmans (ed.), Activity Analysis of Production and Allocation (1951) (memory).

    >>> found = equilibrium(np.array([[-2.0, 3.0], [3.0, -4.0]]))
    >>> round(12 * found.value, 6), [round(12 * float(share), 6) for share in found.rows]
    (1.0, [7.0, 5.0])
    """
    from scipy.optimize import linprog

    if payoffs.ndim != 2 or not payoffs.size or not np.isfinite(payoffs).all():
        raise ValueError("payoffs: a game is a matrix of finite numbers, with a row and a column")
    rows, columns = payoffs.shape
    least, span = float(payoffs.min()), float(np.ptp(payoffs))
    if span == 0.0:
        return Equilibrium(least, np.full(rows, 1.0 / rows), np.full(columns, 1.0 / columns))
    # From 0 to 1, so that the solver's tolerances mean the same in every game.
    scaled = (payoffs - least) / span
    # Unknowns: the probability of every row, and the payoff guaranteed; the latter is maximised.
    program = linprog(
        c=np.append(np.zeros(rows), -1.0),
        A_ub=np.column_stack((-scaled.T, np.ones(columns))),
        b_ub=np.zeros(columns),
        A_eq=np.append(np.ones(rows), 0.0)[None, :],
        b_eq=[1.0],
        # No bounds from above: at one of them the multipliers below would not be the other mix.
        bounds=[(0.0, None)] * rows + [(None, None)],
        method="highs",
    )
    if program.x is None or not program.success:
        raise ArithmeticError(f"the linear program of a game was not solved: {program.message}")
    mine, theirs = _mix(program.x[:-1]), _mix(-program.ineqlin.marginals)
    low, high = guaranteed(scaled, mine), conceded(scaled, theirs)
    if high - low > _LARGEST_GAP:
        raise ArithmeticError(f"the mixes of a game leave a gap of {high - low:.1e} of its span")
    return Equilibrium(least + span * 0.5 * (low + high), mine, theirs)


def guaranteed(payoffs: Array, rows: Array) -> float:
    """What a mix of rows gets at least, whatever the column."""
    return float((rows @ payoffs).min())


def conceded(payoffs: Array, columns: Array) -> float:
    """What a mix of columns lets the other side get at most, whatever the row."""
    return float((payoffs @ columns).max())


def _mix(weights: Array) -> Array:
    """Probabilities from what the solver gives, which may be off by rounding."""
    weights = np.maximum(weights, 0.0)
    return np.asarray(weights / weights.sum())
