"""All bundled scenarios: does the reference come to the package's answers, shot by shot?"""

from __future__ import annotations

import pytest

from sim.scenario import RETURN_DIRECTIONS
from sim.scenario_files import bundled
from tests.second_opinion.bundled import SCENARIOS, all_compared, scenario_compared
from tests.second_opinion.comparison import Comparison, table

# A difference is explained if the ball was closer to the other answer than both sides' methods
# tell. So many of the questions may be as close as that.
MOST_CLOSE_CALLS = 0.002

every_scenario = pytest.mark.parametrize("name", SCENARIOS)


def check(name: str, found: Comparison) -> None:
    assert not found.unexplained, "\n".join(table(name, found))
    assert len(found.differences) <= MOST_CLOSE_CALLS * found.asked.total()


def test_no_bundled_scenario_is_left_out() -> None:
    assert set(SCENARIOS) == set(bundled())


@every_scenario
def test_a_few_shots(name: str) -> None:
    """Six after returns in each direction, each against one policy, the policies in turn."""
    found = Comparison()
    for direction in RETURN_DIRECTIONS:
        found.add(scenario_compared(name, direction, range(6), 6, samples=60, policies=1))
    assert found.asked["net, out or in play"] == 18
    check(name, found)


@pytest.mark.slow
@every_scenario
def test_hundreds_of_shots_against_all_policies(name: str) -> None:
    found = all_compared(name, 100, samples=200)
    assert found.asked["net, out or in play"] == 300
    # Every question there is has been asked.
    kinds = {"contact time", "launch x", "place, x", "in control", "reached", "time to spare"}
    kinds |= {"who takes it", "where, z", "a forehand", "volley", "net clearance"}
    assert kinds <= set(found.asked)
    check(name, found)
