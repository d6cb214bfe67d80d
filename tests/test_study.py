"""Many settings of one scenario, played alike."""

from __future__ import annotations

import numpy as np
import pytest

import sim
from sim.processes import Processes
from sim.rallies import IN_PLAY
from sim.statistics import difference_of_replicates, difference_of_shares
from sim.study import counts, tallies

SCENARIOS = [
    sim.load("club-sixties", {"run": {"shots": shots, "seed": seed}})
    for shots, seed in ((256, 0), (300, 3), (256, 0))
]


def test_a_tally_for_each_scenario_as_if_played_alone() -> None:
    for scenario, tally in zip(SCENARIOS, tallies(SCENARIOS), strict=True):
        alone = sim.compare(scenario).tally
        assert all(np.array_equal(getattr(tally, name), vars(alone)[name]) for name in vars(tally))


def test_the_workers_do_not_matter() -> None:
    with Processes(2) as workers:
        shared = tallies(SCENARIOS, workers)
    for one, other in zip(shared, tallies(SCENARIOS), strict=True):
        assert all(np.array_equal(getattr(one, name), vars(other)[name]) for name in vars(one))


@pytest.mark.parametrize("measure", ["reached", "in_control"])
def test_counts_are_those_of_the_summary(measure: str) -> None:
    comparison = sim.compare(SCENARIOS[0])
    for row in comparison.summary_rows:
        if (row["shot"], row["lane"]) == ("all", "all"):
            directions = SCENARIOS[0].return_of_serve.directions
            where = row["return_direction"]
            direction = None if where == "all" else directions.index(where)
            names = [policy.name for policy in SCENARIOS[0].policies]
            place = names.index(row["policy"])
            hits, balls = counts(comparison.tally, place, measure, direction)
            assert (hits.sum(), balls.sum()) == (row[measure], row["in_play"])


def test_difference_of_shares_of_the_same_balls_is_the_paired_one() -> None:
    tally = sim.compare(SCENARIOS[0]).tally
    pairs = tally.pairs[:, 2].sum(axis=(1, 2))[:, 1]
    balls = tally.fates[..., IN_PLAY].sum(axis=(1, 2, 3))
    one, other = pairs[:, 0] + pairs[:, 1], pairs[:, 0] + pairs[:, 2]
    found = difference_of_shares((one, balls), (other, balls))
    assert found == pytest.approx(difference_of_replicates(pairs))


def test_difference_of_shares_holds_the_truth_nineteen_times_in_twenty() -> None:
    """Sixteen replicates whose ups and downs both shares have in common: simulated counts."""
    chance = np.random.default_rng(4)
    held, narrow, wide = 0, [], []
    for _ in range(1000):
        common = chance.normal(0.0, 0.05, 16)
        sizes = chance.integers(350, 450, (2, 16))
        hits = chance.binomial(sizes, np.clip(np.array([[0.5], [0.6]]) + common, 0.0, 1.0))
        first, second = zip(hits, sizes, strict=True)
        _, low, high = difference_of_shares(second, first)
        held += low <= 0.1 <= high
        narrow.append(high - low)
        other = chance.permutation(16)
        _, low, high = difference_of_shares(second, (first[0][other], first[1][other]))
        wide.append(high - low)
    # 950 of 1000 are expected, with a standard error of 7.
    assert 920 <= held <= 980
    assert np.mean(narrow) < 0.7 * np.mean(wide)


def test_shares_at_the_end_are_not_known_without_error() -> None:
    """Newcombe 1998, Stat. Med. 17:873, method 10, worked by hand for 160/160 and 155/160."""
    balls = np.full(16, 10)
    missed = np.array([5] + [0] * 15)
    difference, low, high = difference_of_shares((balls, balls), (balls - missed, balls))
    assert difference == pytest.approx(5 / 160)
    # Wilson: 160/160 is 0.9766 to 1, 155/160 is 0.9289 to 0.9866.
    assert high == pytest.approx(5 / 160 + max(0.0666, 0.96875 - 0.9289), abs=1e-3)
    assert low == pytest.approx(5 / 160 - max(0.0666, np.hypot(0.0234, 0.9866 - 0.96875)), abs=1e-3)
    same = difference_of_shares((balls, balls), (balls, balls))
    assert same == pytest.approx((0.0, -0.0234, 0.0234), abs=1e-3)


def test_nothing_in_play_says_nothing() -> None:
    none, some = np.zeros(16, int), np.full(16, 5)
    difference, low, high = difference_of_shares((none, none), (none, some))
    assert np.isnan(difference)
    assert (low, high) == (-1.0, 1.0)
