"""The same scenario and seed give the same run; what does not matter changes nothing."""

from __future__ import annotations

from typing import Final

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.comparison import Comparison, compare
from sim.draws import BLOCK, COLUMNS, REPLICATES, draw
from sim.rallies import play, play_together
from sim.scenario import Scenario
from sim.tally import Tally
from tests.properties.corners import corners
from tests.properties.scenarios import Tables, scenarios

TABLES: Final = ("summary_rows", "difference_rows", "leak_rows", "lateral_rows", "run_in_rows")


def rows_of(comparison: Comparison, table: str, policy: str) -> list[str]:
    """A policy's rows of one table."""
    # Shares of no balls are not numbers; as text they are alike.
    return [repr(row) for row in getattr(comparison, table) if row["policy"] == policy]


@given(scenarios())
@corners(5)
def test_the_same_seed_gives_the_same_run(tables: Tables) -> None:
    first, second = (compare(Scenario.model_validate(tables)) for _ in range(2))
    for name in vars(first.tally):
        np.testing.assert_array_equal(getattr(first.tally, name), getattr(second.tally, name))
    for table in TABLES:
        assert repr(getattr(first, table)) == repr(getattr(second, table))


@given(scenarios(), st.integers(0, 2**63 - 1), st.integers(0, 2**63 - 1))
@corners(15)
def test_other_seeds_give_other_numbers(tables: Tables, seed: int, other: int) -> None:
    run = Scenario.model_validate(tables).run
    one, two = (draw(run.sampling, number, 0, 0, 64) for number in (seed, other))
    for column in COLUMNS:
        assert np.array_equal(one[column], two[column]) == (seed == other)
        assert np.all((one[column] > 0.0) & (one[column] < 1.0))


@given(scenarios(), st.data())
@corners(5)
def test_the_order_of_the_policies_does_not_matter(tables: Tables, data: st.DataObject) -> None:
    policies = data.draw(st.permutations(tables["policies"]))
    baseline = Scenario.model_validate(tables).baseline.name
    run = tables.get("run", {}) | {"baseline": baseline}
    here = compare(Scenario.model_validate(tables | {"run": run}))
    there = compare(Scenario.model_validate(tables | {"run": run, "policies": policies}))
    for policy in policies:
        for table in TABLES:
            assert rows_of(here, table, policy["name"]) == rows_of(there, table, policy["name"])


@given(scenarios())
@corners(5)
def test_a_policy_does_not_change_what_the_others_face(tables: Tables) -> None:
    # Common random numbers: the rows of one policy are the same alone and in company.
    first = tables["policies"][0]
    run = tables.get("run", {}) | {"baseline": first["name"]}
    alone = compare(Scenario.model_validate(tables | {"run": run, "policies": [first]}))
    together = compare(Scenario.model_validate(tables | {"run": run}))
    for table in TABLES:
        assert rows_of(alone, table, first["name"]) == rows_of(together, table, first["name"])


@pytest.mark.parametrize("sampling", ["quasi-random", "pseudo-random"])
def test_a_longer_run_begins_with_the_blocks_of_a_shorter_one(sampling: str) -> None:
    # The replicates of a whole block never change; within one its points hang together, so that a
    # run of half a block is not the beginning of a block.
    def tally_of(shots: int) -> Tally:
        run = {"shots": shots, "sampling": sampling, "seed": 5}
        policies = [{"name": "halves", "rule": "halves"}]
        return compare(
            Scenario.model_validate({"name": "a", "run": run, "policies": policies})
        ).tally

    short, long = tally_of(BLOCK), tally_of(2 * BLOCK)
    for name, counts in vars(short).items():
        longer = getattr(long, name)
        assert (counts.shape[0], longer.shape[0]) == (REPLICATES, 2 * REPLICATES)
        np.testing.assert_array_equal(longer[:REPLICATES], counts)
    assert not np.array_equal(long.fates[REPLICATES:], short.fates)


@given(scenarios())
@corners(8)
def test_directions_played_together_are_those_played_alone(tables: Tables) -> None:
    scenario = Scenario.model_validate(tables)
    directions = tuple(scenario.return_of_serve.directions)
    together = play_together(scenario, directions, 0, 64)
    for number, direction in enumerate(directions):
        mine = slice(64 * number, 64 * (number + 1))
        alone = play(scenario, direction, shots=64)
        assert alone.fate.tolist() == together.fate[mine].tolist()
        assert alone.third_shot.lane.tolist() == together.third_shot.lane[mine].tolist()
        np.testing.assert_allclose(alone.contact.x, together.contact.x[mine], atol=1e-9)
