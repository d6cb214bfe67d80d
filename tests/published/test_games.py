"""Solved games against published ones, and against what the theory of games says of all of them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from sim.games import Equilibrium, conceded, equilibrium, guaranteed
from tests.published.check import Check, Property, Source
from tests.published.test_ball_and_air import ROUNDED

# The solver is exact up to its own tolerance, 1e-7 of the span of the payoffs; payoffs here span up
# to 200.
CLOSE = 1e-5

matrices = arrays(
    float,
    st.tuples(st.integers(1, 6), st.integers(1, 6)),
    elements=st.integers(-100, 100).map(float),
)


# Scoring in % by the kicker's side (rows) and the keeper's (columns), left and right.
PENALTY_KICKS = np.array([[58.30, 94.97], [92.91, 69.92]])
ODD_OR_EVEN = np.array([[-2.0, 3.0], [3.0, -4.0]])


def test_rock_paper_scissors() -> None:
    """By symmetry, each a third of the time, and nobody wins."""
    found = equilibrium(np.array([[0.0, -1.0, 1.0], [1.0, 0.0, -1.0], [-1.0, 1.0, 0.0]]))
    assert found.rows == pytest.approx([1 / 3] * 3)
    assert found.columns == pytest.approx([1 / 3] * 3)
    assert found.value == pytest.approx(0.0, abs=CLOSE)


def test_a_dominated_choice_is_never_made() -> None:
    """A third row worse than the first against everything, a third column better for the rows."""
    found = equilibrium(np.array([[-2.0, 3.0, 4.0], [3.0, -4.0, 5.0], [-3.0, 2.0, 3.0]]))
    assert found.rows == pytest.approx([7 / 12, 5 / 12, 0.0])
    assert found.columns == pytest.approx([7 / 12, 5 / 12, 0.0])
    assert found.value == pytest.approx(1 / 12)


def test_a_saddle_point_is_played_without_mixing() -> None:
    """The least of its row and the largest of its column: 4."""
    found = equilibrium(np.array([[5.0, 4.0, 9.0], [7.0, 1.0, 2.0], [3.0, 2.0, 8.0]]))
    assert found.value == pytest.approx(4.0)
    assert found.rows == pytest.approx([1.0, 0.0, 0.0])
    assert found.columns == pytest.approx([0.0, 1.0, 0.0])


@given(st.lists(st.floats(0.1, 50.0), min_size=1, max_size=6))
def test_diagonal_games_are_known_in_closed_form(diagonal: list[float]) -> None:
    """The value is one over the sum of the reciprocals (Ferguson, part II, 3.3; memory)."""
    found = equilibrium(np.diag(diagonal))
    value = 1.0 / sum(1.0 / entry for entry in diagonal) if len(diagonal) > 1 else diagonal[0]
    assert found.value == pytest.approx(value, abs=CLOSE)
    assert found.rows == pytest.approx(value / np.array(diagonal), abs=CLOSE)


@given(matrices)
def test_best_replies_to_either_mix_never_do_better_than_the_value(payoffs: np.ndarray) -> None:
    """The minimax theorem (von Neumann 1928), whose two sides are computed here on their own."""
    found = equilibrium(payoffs)
    for mix in (found.rows, found.columns):
        assert mix.min() >= 0.0
        assert mix.sum() == pytest.approx(1.0)
    assert guaranteed(payoffs, found.rows) >= found.value - CLOSE
    assert conceded(payoffs, found.columns) <= found.value + CLOSE
    assert payoffs.min(axis=1).max() - CLOSE <= found.value <= payoffs.max(axis=0).min() + CLOSE


@given(matrices, st.floats(-50.0, 50.0), st.floats(0.1, 10.0))
def test_shift_and_scale_go_through_to_the_value(
    payoffs: np.ndarray, shift: float, scale: float
) -> None:
    before, after = equilibrium(payoffs), equilibrium(scale * payoffs + shift)
    assert after.value == pytest.approx(scale * before.value + shift, abs=20 * CLOSE)


@given(matrices)
def test_sides_changed_the_value_changes_its_sign(payoffs: np.ndarray) -> None:
    found, other = equilibrium(payoffs), equilibrium(-payoffs.T)
    assert other.value == pytest.approx(-found.value, abs=CLOSE)
    assert guaranteed(-payoffs.T, found.columns) == pytest.approx(other.value, abs=CLOSE)


@given(matrices, st.integers(0, 5))
def test_a_choice_more_never_hurts(payoffs: np.ndarray, row: int) -> None:
    fewer = np.delete(payoffs, row % payoffs.shape[0], axis=0)
    if fewer.size:
        assert equilibrium(fewer).value <= equilibrium(payoffs).value + CLOSE


def test_a_game_of_one_payoff_is_that_payoff() -> None:
    for shape in ((1, 1), (3, 2)):
        found = equilibrium(np.full(shape, 7.0))
        assert found.value == 7.0
        assert found.rows.sum() == pytest.approx(1.0)


@pytest.mark.parametrize(
    "payoffs", [np.zeros(3), np.zeros((0, 2)), np.array([[1.0, np.nan]]), np.array([[np.inf]])]
)
def test_what_is_no_game_is_refused(payoffs: np.ndarray) -> None:
    with pytest.raises(ValueError, match="payoffs"):
        equilibrium(payoffs)


def test_a_wrong_mix_is_found_out() -> None:
    """The checks above can fail: a mix off the equilibrium guarantees less."""
    payoffs, found = PENALTY_KICKS, equilibrium(PENALTY_KICKS)
    wrong = Equilibrium(found.value, found.rows[::-1], found.columns[::-1])
    assert guaranteed(payoffs, wrong.rows) < found.value - 1.0
    assert conceded(payoffs, wrong.columns) > found.value + 1.0


PALACIOS_HUERTA = Source("Palacios-Huerta 2003", "from memory")
FERGUSON = Source("Ferguson, Game Theory, II 1.2", "from memory")
DIAGONAL = Source("Ferguson, Game Theory, II 3.3", "from memory")
VON_NEUMANN = Source("Minimax theorem, von Neumann 1928", "computed")
CHECKS = [
    Check(quantity, source, published, ours, allowed=allowed, why=why, decimals=5)
    for source, allowed, why, numbers in (
        (
            PALACIOS_HUERTA,
            5e-5,
            ROUNDED,
            (
                (
                    "kicks: part that kickers aim left",
                    0.38535,
                    lambda: equilibrium(PENALTY_KICKS).rows[0],
                ),
                (
                    "kicks: part that keepers go left",
                    0.41988,
                    lambda: equilibrium(PENALTY_KICKS).columns[0],
                ),
                (
                    "kicks: goals for each",
                    0.79573,
                    lambda: equilibrium(PENALTY_KICKS).value / 100.0,
                ),
            ),
        ),
        (
            FERGUSON,
            8e-8,
            "what the solver is exact to",
            (
                (
                    "odd or even: the first shows one",
                    7 / 12,
                    lambda: equilibrium(ODD_OR_EVEN).rows[0],
                ),
                (
                    "odd or even: the second shows one",
                    7 / 12,
                    lambda: equilibrium(ODD_OR_EVEN).columns[0],
                ),
                ("odd or even: worth to the first", 1 / 12, lambda: equilibrium(ODD_OR_EVEN).value),
            ),
        ),
    )
    for quantity, published, ours in numbers
]
PROPERTIES = [
    Property(
        "Games with payoffs on the diagonal only have their closed form.",
        DIAGONAL,
        test_diagonal_games_are_known_in_closed_form,
    ),
    Property(
        "No reply to either mix does better than the value, in any game.",
        VON_NEUMANN,
        test_best_replies_to_either_mix_never_do_better_than_the_value,
    ),
]
