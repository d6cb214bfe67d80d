"""The way in against the run equation in closed form, and against falling in a vacuum."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import lambertw

import sim
from sim.analyses.approach_way import arrival_times
from sim.return_of_serve import Contact
from sim.run_in import PLAYERS, targets
from sim.scenario import Scenario
from sim.units import METRES_PER_FOOT
from tests.published.check import Check, Property, Source
from tests.published.test_ball_and_air import ROUNDED
from tests.published.test_running import RUN_EQUATION, SHORT_SPRINTS


def pair_that_runs(metres: float, top_speed: float, time_constant: float) -> Scenario:
    """Both run straight ahead, from 24 ft, without any delay."""
    legs = {"top_speed": f"{top_speed} m/s", "time_constant": f"{time_constant} s"}
    depth = 24.0 - metres / METRES_PER_FOOT
    return sim.load(
        "club-sixties",
        {
            "pair": {"left": legs, "right": legs},
            "return_of_serve": {"struck_depth": "24 ft"},
            "run_in": {"returner_delay": "0 s", "partner_delay": "0 s"},
            "policies": [{"name": "ahead", "rule": "halves", "depth": f"{depth!r} ft"}],
        },
    )


def arrival(scenario: Scenario) -> dict[str, float]:
    contact = Contact(*(np.full(1, value) for value in (2.0, 0.0, 22.0, 2.0)))
    policy = scenario.policies[0]
    times = arrival_times(scenario, policy, targets(scenario, policy, "middle", contact))
    return {name: float(time[0]) for name, time in times.items()}


@pytest.mark.parametrize("metres", [0.1, 1.0, 4.0])
def test_the_time_is_that_of_the_closed_form(metres: float) -> None:
    # s = V (t - tau (1 - exp(-t / tau))) solved for t with Lambert's W (R. M. Corless et al., On
    # the Lambert W function, Adv. Comput. Math. 5 (1996) 329; memory), evaluated by scipy.
    top_speed, time_constant = 5.0, 0.9
    way = 1.0 + metres / (top_speed * time_constant)
    expected = time_constant * (way + lambertw(-math.exp(-way)).real)
    found = arrival(pair_that_runs(metres, top_speed, time_constant))["left"]
    assert found == pytest.approx(expected, abs=1e-9)


def test_delays_add_to_the_time() -> None:
    scenario = pair_that_runs(3.0, 5.0, 1.0)
    delays = {"returner_delay": 0.31, "partner_delay": 0.22}
    later = scenario.model_copy(update={"run_in": scenario.run_in.model_copy(update=delays)})
    without, with_delays = arrival(scenario), arrival(later)
    # The right-hand player returns from the even side.
    assert with_delays["right"] - without["right"] == pytest.approx(0.31, abs=1e-9)
    assert with_delays["left"] - without["left"] == pytest.approx(0.22, abs=1e-9)


LAMBERT = Source("Run equation solved with Lambert's W (scipy)", "computed")
CHECKS = [
    Check(
        f"way in: {metres:g} m, {player} player, {top_speed:g} m/s and {time_constant:g} s",
        RUN_EQUATION,
        seconds,
        lambda run=(metres, top_speed, time_constant), player=player: arrival(pair_that_runs(*run))[
            player
        ],
        allowed=5e-4,
        why=ROUNDED,
        unit="s",
        decimals=3,
    )
    for top_speed, time_constant, metres, seconds in SHORT_SPRINTS
    if metres == 5.0
    for player in PLAYERS
]
PROPERTIES = [
    Property(
        "Times on the way in are those of the closed form, to a nanosecond.",
        LAMBERT,
        test_the_time_is_that_of_the_closed_form,
    ),
]
