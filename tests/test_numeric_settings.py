"""Any number of a scenario by its key."""

from __future__ import annotations

from math import radians

import numpy as np
import pytest

from sim.errors import Refused
from sim.numeric_settings import changed, changer, numeric_setting, numeric_settings
from sim.scenario_errors import ScenarioError
from sim.scenario_files import build, bundled, read

FILE = read("club-sixties")
OF_WHOM = ("returner", "partner")


@pytest.mark.parametrize(
    ("key", "text", "value"),
    [
        ("pair.left.top_speed", "9 ft/s", 9.0),
        ("opponents.drive.speed.mean", "30 mph", 44.0),
        ("opponents.errors.azimuth.sd", "3 deg", radians(3.0)),
        ("opponents.shots.drive", "10", 10.0),
        ("opponents.lanes.cross", "70.5", 70.5),
        ("return_of_serve.landing_depth.mean", "4 m", 4.0 / 0.3048),
        ("policies.stay back.depth", "20 ft", 20.0),
        ("policies.follow.shift", "0.1", 0.1),
        ("run.seed", "0", 0.0),
    ],
)
def test_a_number_is_read_and_changed(key: str, text: str, value: float) -> None:
    setting = numeric_setting(build(FILE), key)
    assert setting.read(text) == pytest.approx(value, rel=1e-12)
    other = changed(FILE, {}, {key: value})
    assert numeric_setting(other, key).value == pytest.approx(value, rel=1e-12)
    assert {n.key for n in numeric_settings(other)} == {
        n.key for n in numeric_settings(build(FILE))
    }


def test_a_depth_that_is_not_given_is_that_of_the_policy() -> None:
    changes = {"policies": [{"name": "one", "rule": "centre", "partner_depth": "12 ft"}]}
    scenario = build(FILE, changes)
    found = [numeric_setting(scenario, f"policies.one.{who}_depth") for who in OF_WHOM]
    assert [setting.value for setting in found] == [8.0, 12.0]
    nearer = changed(FILE, changes, {"policies.one.depth": 9.0})
    found = [numeric_setting(nearer, f"policies.one.{who}_depth") for who in OF_WHOM]
    assert [setting.value for setting in found] == [9.0, 12.0]


def test_nothing_else_changes() -> None:
    usual = build(FILE)
    other = changed(FILE, {}, {"opponents.drive.speed.mean": 44.0, "policies.follow.shift": 0.1})
    before, after = ({n.key: n.value for n in numeric_settings(s)} for s in (usual, other))
    assert {key for key in before if before[key] != after[key]} == {
        "opponents.drive.speed.mean",
        "policies.follow.shift",
    }
    assert other.baseline.name == usual.baseline.name


def test_parts_of_one_distribution_and_several_weights_change_together() -> None:
    numbers = {
        "opponents.drive.speed.mean": 44.0,
        "opponents.drive.speed.sd": 3.0,
        "opponents.shots.drive": 60.0,
        "opponents.shots.lob": 10.0,
        "policies.follow.shift": 0.1,
        "policies.follow.depth": 9.0,
    }
    other = changed(FILE, {}, numbers)
    for key, value in numbers.items():
        assert numeric_setting(other, key).value == pytest.approx(value, rel=1e-12)


def test_a_changer_forgets_the_numbers_of_the_scenario_before() -> None:
    with_numbers = changer(FILE, {})
    with_numbers({"opponents.drive.speed.mean": 44.0, "pair.both.top_speed": 9.0})
    other = with_numbers({"opponents.drive.speed.sd": 3.0})
    assert other == changed(FILE, {}, {"opponents.drive.speed.sd": 3.0})
    assert other.pair.left.top_speed == 13.0


def test_both_players_at_once() -> None:
    pair = changed(FILE, {}, {"pair.both.top_speed": 9.0}).pair
    assert (pair.left.top_speed, pair.right.top_speed) == (9.0, 9.0)


def test_changes_go_under_the_numbers() -> None:
    other = changed(FILE, {"pair": {"left": {"top_speed": "8 ft/s"}}}, {"pair.left.height": 6.0})
    assert (other.pair.left.top_speed, other.pair.left.height) == (8.0, 6.0)


@pytest.mark.parametrize("name", bundled())
def test_every_number_of_every_scenario_can_be_written_back(name: str) -> None:
    file = read(name)
    scenario = build(file)
    for setting in numeric_settings(scenario):
        again = changed(file, {}, {setting.key: setting.value})
        found = numeric_setting(again, setting.key).value
        assert found == pytest.approx(setting.value, rel=1e-12, abs=1e-15)


def test_unknown_keys_and_values_are_refused_by_name() -> None:
    with pytest.raises(Refused, match=r"pair\.left\.top_spee: .*pair\.left\.top_speed"):
        numeric_setting(build(FILE), "pair.left.top_spee")
    with pytest.raises(Refused, match=r"pair\.left\.top_speed = \"9\": the unit is missing|number"):
        numeric_setting(build(FILE), "pair.left.top_speed").read("9")
    with pytest.raises(Refused, match=r"policies\.follow\.shift = \"far\": write a plain number"):
        numeric_setting(build(FILE), "policies.follow.shift").read("far")
    with pytest.raises(ScenarioError, match=r"pair\.left\.top_speed .*between 2 ft/s and 36"):
        changed(FILE, {}, {"pair.left.top_speed": 900.0})


def test_numbers_of_arrays_are_as_good_as_plain_ones() -> None:
    value = np.linspace(8.0, 9.0, 3)[1]
    assert changed(FILE, {}, {"pair.both.top_speed": value}).pair.left.top_speed == 8.5
