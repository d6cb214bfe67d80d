"""Left and right are alike: a mirrored scenario gives mirrored results, shot by shot."""

from __future__ import annotations

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st

from sim.answers import answer_all
from sim.draws import draw
from sim.rallies import PLAYERS
from sim.scenario import RETURN_DIRECTIONS, Scenario
from tests.properties.corners import corners
from tests.properties.mirror import OTHER, mirrored, mirrored_numbers, negated, rally_from
from tests.properties.scenarios import Tables, scenarios


@given(scenarios(), st.sampled_from(RETURN_DIRECTIONS))
@corners(12)
def test_left_and_right_are_alike(tables: Tables, direction: str) -> None:
    here = Scenario.model_validate(tables)
    there = Scenario.model_validate(mirrored(tables))
    numbers = draw(here.run.sampling, here.run.seed, 0, 0, 100)
    rally = rally_from(here, direction, numbers)
    # A contact on the centre line counts as right, in the mirror, too.
    assume(np.all(rally.contact.x != 0.0))
    image = rally_from(there, direction, mirrored_numbers(here, direction, numbers))

    np.testing.assert_allclose(rally.contact.x, -image.contact.x, atol=1e-9)
    np.testing.assert_allclose(rally.contact.y, image.contact.y, atol=1e-9)
    assert rally.third_shot.lane.tolist() == image.third_shot.lane.tolist()
    assert rally.fate.tolist() == image.fate.tolist()
    answers = answer_all(here, rally, here.policies)
    reflections = answer_all(there, image, there.policies)
    for answer, reflected in zip(answers, reflections, strict=True):
        for name in PLAYERS:
            place, seen = answer.places[name], reflected.places[OTHER[name]]
            np.testing.assert_allclose(place.x, -seen.x, atol=1e-9)
            np.testing.assert_allclose(place.y, seen.y, atol=1e-9)
            assert answer.control[name].tolist() == reflected.control[OTHER[name]].tolist()
            assert answer.stretch[name].tolist() == reflected.stretch[OTHER[name]].tolist()
        assert answer.leak.tolist() == reflected.leak.tolist()


@given(scenarios())
@corners(10)
def test_the_mirror_of_the_mirror_is_the_scenario(tables: Tables) -> None:
    once = Scenario.model_validate(mirrored(tables))
    twice = Scenario.model_validate(mirrored(mirrored(tables)))
    assert twice == Scenario.model_validate(tables)
    assert once != twice


def test_a_distribution_turned_over() -> None:
    table = {"kind": "triangular", "low": "-1 ft", "mode": "0.5 ft", "high": "2 ft"}
    other = {"kind": "triangular", "low": "-2 ft", "mode": "-0.5 ft", "high": "1 ft"}
    assert negated(table) == other


def test_answers_do_not_depend_on_the_order_of_the_shots() -> None:
    scenario = Scenario(name="any")
    numbers = draw("quasi-random", 1, 0, 0, 500)
    back = {column: value[::-1].copy() for column, value in numbers.items()}
    forward, reverse = (rally_from(scenario, "line", u) for u in (numbers, back))
    one, two = (
        answer_all(scenario, rally, scenario.policies[:1])[0] for rally in (forward, reverse)
    )
    assert one.reached.tolist() == two.reached[::-1].tolist()
    assert one.in_control.tolist() == two.in_control[::-1].tolist()
