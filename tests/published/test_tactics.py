"""The bisector rule against plane geometry.

Stand at the centre of the widest possible returns, on the bisector of their angle: Waite 1998,
tennisserver.com; Swanberg 2005, tennis-x.com (both read).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.return_of_serve import Contact
from sim.run_in import targets
from sim.scenario import Policy, Scenario
from tests.published.check import Check, Property, Source


def centre_of_pair(x: float, y: float, depth: float, spacing: float = 1.0) -> float:
    policy = Policy.model_validate(
        {"name": "b", "rule": "bisect", "depth": f"{depth!r} ft", "spacing": f"{spacing!r} ft"}
    )
    scenario = Scenario.model_validate({"name": "t"})
    contact = Contact(np.ones(1), np.array([x]), np.array([y]), np.full(1, 2.0))
    goals = targets(scenario, policy, "line", contact)
    return 0.5 * float(goals["left"].x[0] + goals["right"].x[0])


@given(
    x=st.floats(-9.0, 9.0),
    y=st.floats(12.0, 28.0),
    depth=st.floats(7.0, 22.0),
)
def test_bisector_by_construction(x: float, y: float, depth: float) -> None:
    # The bisector of two directions is the sum of their unit vectors; it meets the pair's depth.
    contact, left, right = np.array([x, y]), np.array([-10.0, -depth]), np.array([10.0, -depth])
    to_left, to_right = left - contact, right - contact
    middle = to_left / np.linalg.norm(to_left) + to_right / np.linalg.norm(to_right)
    meets = contact + middle * (-depth - y) / middle[1]
    found = centre_of_pair(x, y, depth)
    assert found == pytest.approx(meets[0], abs=1e-9)
    # Euclid VI.3: the bisector divides the opposite side in the ratio of the adjacent sides.
    ratio = np.linalg.norm(to_left) / np.linalg.norm(to_right)
    assert (found + 10.0) / (10.0 - found) == pytest.approx(ratio)


BY_HAND = 0.581  # ft


def test_bisector_by_hand() -> None:
    # From (6, 22) to a line 8 ft behind the net: distances sqrt(16^2 + 30^2) = 34 ft to the far and
    # sqrt(4^2 + 30^2) = 30.265 ft to the near sideline; 20 ft times 34 / 64.265 is 10.581 ft from
    # the far sideline, 0.581 ft to the ball's side of the centre.
    assert 20.0 * 34.0 / (34.0 + math.sqrt(916.0)) - 10.0 == pytest.approx(BY_HAND, abs=5e-4)


def test_the_pair_shifts_towards_the_ball_and_stays_between_the_lines() -> None:
    shifts = [centre_of_pair(x, 22.0, 8.0) for x in (0.0, 3.0, 6.0, 9.0)]
    assert shifts == sorted(shifts)
    assert shifts[0] == pytest.approx(0.0, abs=1e-12)
    assert shifts[-1] < 3.0


WAITE = Source("Waite 1998, Swanberg 2005", "read")
EUCLID = Source("Euclid VI.3", "computed")
CHECKS = [
    Check(
        "bisector: centre of a pair 8 ft from the net, struck from 22 ft back and 6 ft aside",
        WAITE,
        BY_HAND,
        lambda: centre_of_pair(6.0, 22.0, 8.0),
        allowed=5e-4,
        why="rounding of the sum by hand",
        unit="ft",
        decimals=3,
    )
]
PROPERTIES = [
    Property(
        "Rule bisect: the bisector divides the width as the ways to the sidelines, from anywhere.",
        EUCLID,
        test_bisector_by_construction,
    ),
    Property(
        "Rule bisect: the pair shifts towards the ball.",
        WAITE,
        test_the_pair_shifts_towards_the_ball_and_stays_between_the_lines,
    ),
]
