"""The scalar C translation that the speed is measured against plays the same shots.

A yardstick is worth something only if it does the same work: given the same uniform numbers, the
translation has to find the same fates and answers, shot by shot, and the same counts. That makes it
a check of the package's array code, too, though no second opinion on the model: it has the same
formulas.
"""

from __future__ import annotations

import shutil
from typing import Any

import numpy as np
import pytest

import sim
from sim.answers import REACHED, answer_all
from sim.blocks import Block, play_block
from sim.draws import COLUMNS, draw
from sim.rallies import play
from sim.run_in import PLAYERS
from sim.scenario import RETURN_DIRECTIONS, Scenario
from sim.tally import Tally, count
from tests.benchmarks import scalar
from tests.benchmarks.scalar import Library

SHOTS = 2000

# What the bundled scenarios lack: every kind of distribution, backspin, and quick players at the
# line, whom the non-volley zone holds back and whose weak backhands matter.
AT_THE_LINE: dict[str, Any] = {
    "pair": {
        "left": {
            "reaction": {"kind": "list", "values": ["0.2 s", "0.41 s", "0.3 s"]},
            "top_speed": "30 ft/s",
            "backhand": 0.5,
        },
        "right": {"top_speed": "36 ft/s", "backhand": 0.6},
    },
    "return_of_serve": {
        "landing_depth": {"kind": "triangular", "low": "8 ft", "mode": "18 ft", "high": "21 ft"},
        "top": {"kind": "list", "values": ["18 ft", "9 ft", "12 ft"], "weights": [1, 2, 0]},
    },
    "run_in": {"partner_starts": "line"},
    "opponents": {
        "inset": "1.5 ft",
        "lanes_by_return": {"cross": {"line": 0, "middle": 3, "cross": 0}},
        "drive": {"inside_baseline": "none", "topspin": "-900 rpm"},
        "drop": {"landing_depth": {"kind": "uniform", "low": "2 ft", "high": "12 ft"}},
        "lob": {"topspin": "400 rpm"},
    },
    "policies": [
        {"name": "up", "rule": "bisect", "depth": "7 ft", "spacing": "4 ft"},
        {"name": "one up", "rule": "tethered", "returner_depth": "16 ft", "depth": "7 ft"},
        {"name": "up and away", "rule": "follow", "shift": -0.5, "depth": "7 ft"},
        {
            "name": "best",
            "rule": "best",
            "places": {
                direction: {
                    "left": {"from_centre": f"{x - 5} ft", "depth": "7 ft"},
                    "right": {"from_centre": f"{x + 4} ft", "depth": "13.5 ft"},
                }
                for direction, x in (("line", -1.5), ("middle", 0.0), ("cross", 2.5))
            },
        },
    ],
    "run": {"baseline": "up"},
}


@pytest.fixture(scope="module")
def library() -> Library:
    built = scalar.build()
    if built is None:
        pytest.skip("there is no gcc here to compile the scalar translation")
    return built


def scenario_of(name: str) -> Scenario:
    return sim.load("club-sixties", AT_THE_LINE) if name == "at the line" else sim.load(name)


@pytest.mark.parametrize("direction", RETURN_DIRECTIONS)
@pytest.mark.parametrize(
    "name",
    [
        "club-sixties",
        "indoor-at-the-line",
        "seventies-lobs",
        "stop-or-run",
        "tall-and-short",
        "at the line",
    ],
)
def test_same_shots_and_answers(library: Library, name: str, direction: str) -> None:
    scenario = scenario_of(name)
    rally = play(scenario, direction, 0, SHOTS)
    answers = answer_all(scenario, rally, scenario.policies)
    uniform = draw(
        scenario.run.sampling, scenario.run.seed, RETURN_DIRECTIONS.index(direction), 0, SHOTS
    )
    played = scalar.play(library, scenario, direction, uniform)
    # The same sums in another order. Of the launch, a drive at the least speed that clears the net
    # has the root of a number near 0 in it: the translation with and without fused multiplication
    # differs from itself as much as from the package, by 3e-12 and 3e-7 at most.
    contact, launch = rally.contact, rally.third_shot.launch
    there = np.stack((contact.time, contact.x, contact.y, contact.z))
    np.testing.assert_allclose(played.contact, there, rtol=0.0, atol=3e-11)
    struck = np.stack((launch.x, launch.y, launch.z))
    np.testing.assert_allclose(played.launch, struck, rtol=0.0, atol=3e-6)
    # Margins are spread over feet, so that such differences change the sign of one in some 10^8:
    # of a hundred thousand answers none may differ.
    np.testing.assert_array_equal(played.fate, rally.fate)
    in_play = rally.in_play
    assert in_play.size > 0.4 * SHOTS
    control = [[answer.control[player] for player in PLAYERS] for answer in answers]
    stretch = [[answer.stretch[player] for player in PLAYERS] for answer in answers]
    np.testing.assert_array_equal(played.control[..., in_play], control)
    np.testing.assert_array_equal(played.stretch[..., in_play], stretch)
    assert not np.delete(played.stretch, in_play, axis=-1).any()
    np.testing.assert_array_equal(played.leak[:, in_play], [answer.leak for answer in answers])
    assert (np.delete(played.leak, in_play, axis=-1) == REACHED).all()
    _assert_same_counts(played.tally, count(scenario, rally, answers))


def _assert_same_counts(theirs: Tally, ours: Tally) -> None:
    """The same counts, and the same sums of lengths and times but for rounding."""
    for name, expected in vars(ours).items():
        assert expected.any()
        rounding = 1e-9 if name == "on_the_way" else 0.0
        found = getattr(theirs, name)
        np.testing.assert_allclose(found, expected, rtol=rounding, atol=0.0, err_msg=name)


@pytest.mark.parametrize("name", ["club-sixties", "stop-or-run"])
def test_shares_from_numbers_of_its_own(library: Library, name: str) -> None:
    # Two samples of independent shots: the difference of two shares has the standard error of the
    # binomial distribution (smaller, where the package's numbers are spread more evenly). With 4.5
    # of them, these 240 or so shares would fail with fewer than one in 500 seeds.
    scenario = scenario_of(name)
    size, own_size = 8192, 32768
    tally = play_block(scenario, Block(0, size))
    counts = scalar.run(library, scenario, own_size)
    assert counts.fates.sum() == own_size * len(scenario.return_of_serve.directions)
    for theirs, ours in ((counts.fates, tally.fates), (counts.outcomes, tally.outcomes)):
        # All replicates together, without the lanes, and without the kinds of shot: enough in
        # every cell.
        for axis in (-2, -3):
            _assert_same_shares(theirs.sum(axis=(0, axis)), ours.sum(axis=(0, axis)))


def _assert_same_shares(first: np.ndarray, second: np.ndarray) -> None:
    """Shares along the last axis of two tables of counts, within 4.5 standard errors."""
    sizes = first.sum(axis=-1, keepdims=True), second.sum(axis=-1, keepdims=True)
    pooled = (first + second) / (sizes[0] + sizes[1])
    error = np.sqrt(pooled * (1.0 - pooled) * (1.0 / sizes[0] + 1.0 / sizes[1]))
    off = np.abs(first / sizes[0] - second / sizes[1])
    enough = (pooled * (1.0 - pooled) * sizes[1]) > 10.0
    assert enough.any()
    assert (off[enough] <= 4.5 * error[enough]).all()


def test_it_knows_every_column_of_the_draws() -> None:
    assert set(scalar.COLUMNS) == set(COLUMNS)


@pytest.mark.parametrize(
    ("tables", "message"),
    [
        ({"air": {"wind_from_behind": "3 mph"}}, "no wind"),
        ({"opponents": {"drop": {"azimuth": "2 deg"}}}, "no direct azimuth"),
    ],
)
def test_what_it_does_not_know_is_refused(
    library: Library, tables: dict[str, Any], message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        scalar.run(library, sim.load("club-sixties", tables), 10)


def test_without_a_compiler_there_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "which", lambda name: None)
    assert scalar.build() is None
