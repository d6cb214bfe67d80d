"""A scenario written out and read again, in any units and kinds of files, is the same scenario."""

from __future__ import annotations

import csv
import tempfile
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from sim.comparison import compare
from sim.numeric_settings import changer, numeric_settings
from sim.quantities import Quantity
from sim.scenario import Scenario
from sim.scenario_files import ScenarioFile, build, merge, read
from sim.toml_text import toml_text
from sim.units import UNITS, format_quantity, in_unit, parse_quantity
from tests.properties.corners import corners
from tests.properties.scenarios import Tables, quantities, scenarios


@given(scenarios())
@corners(30)
def test_a_scenario_written_as_toml_reads_back_the_same(tables: Tables) -> None:
    text = toml_text(tables)
    assert tomllib.loads(text) == tables
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "scenario.toml"
        path.write_text(text, encoding="utf-8")
        again = build(read(path))
    assert again == Scenario.model_validate(tables)
    assert again.digest() == Scenario.model_validate(tables).digest()


NAMES = ("name", "baseline", "question")


def in_one_system(value: Any, units: dict[str, str]) -> Any:
    """Tables with every quantity in the units of one system, to the last digit."""
    if isinstance(value, dict):
        # A name may look like a quantity, as 0' 2 does.
        return {
            key: inner if key in NAMES else in_one_system(inner, units)
            for key, inner in value.items()
        }
    if isinstance(value, list):
        return [in_one_system(inner, units) for inner in value]
    for dimension, unit in units.items():
        try:
            number = parse_quantity(value, dimension)
        except ValueError:
            continue
        return f"{in_unit(number, dimension, unit)!r} {unit}"
    return value


METRIC = {"length": "m", "speed": "km/h", "mass": "kg", "temperature": "C", "spin": "rad/s"}
AMERICAN = {"length": "in", "speed": "mph", "mass": "oz", "temperature": "F", "spin": "rpm"}


@given(scenarios())
@example({"name": "0' 2"})
@corners(15)
def test_units_do_not_change_a_scenario(tables: Tables) -> None:
    metric, american = (
        Scenario.model_validate(in_one_system(tables, units)) for units in (METRIC, AMERICAN)
    )
    numbers = {setting.key: setting.value for setting in numeric_settings(metric)}
    others = {setting.key: setting.value for setting in numeric_settings(american)}
    # Both are conversions of the same text, each rounded a few times; 32 F are zero Celsius.
    assert numbers == pytest.approx(others, rel=1e-12, abs=1e-13)


@pytest.mark.parametrize("name", ["fast-hitters", "tall-and-short"])
def test_units_do_not_change_results(name: str) -> None:
    # Any scenario would not do: a ball aimed at the very edge of the net falls to either side by
    # the last digit of a conversion.
    tables = read(name).tables | {"name": "any"}
    tables = merge(tables, {"run": {"shots": 400}})
    metric, american = (
        compare(Scenario.model_validate(in_one_system(tables, units)))
        for units in (METRIC, AMERICAN)
    )
    # Shares of no balls are not numbers; as text they are alike.
    assert repr(metric.summary_rows) == repr(american.summary_rows)
    assert repr(metric.leak_rows) == repr(american.leak_rows)
    assert repr(metric.difference_rows) == repr(american.difference_rows)


@given(st.sampled_from(sorted(UNITS)), st.data())
@corners(60)
def test_a_quantity_is_the_same_in_every_unit(dimension: str, data: st.DataObject) -> None:
    unit = next(iter(UNITS[dimension]))
    text = data.draw(quantities(Quantity(dimension, f"-20 {unit}", f"300 {unit}")))
    value = parse_quantity(text, dimension)
    for other in UNITS[dimension]:
        again = parse_quantity(f"{in_unit(value, dimension, other)!r} {other}", dimension)
        # Zero is zero Celsius to within a rounding of 32 degrees Fahrenheit.
        assert again == pytest.approx(value, rel=1e-12, abs=1e-13)
    for system in ("us", "metric"):
        shown = parse_quantity(format_quantity(value, dimension, system), dimension)
        # Four significant digits of what is shown; 32 of it are Fahrenheit's zero.
        assert shown == pytest.approx(
            value, rel=1e-3, abs=0.02 if dimension == "temperature" else 0
        )


@pytest.mark.parametrize("dimension", sorted(UNITS))
def test_a_limit_is_allowed_in_every_unit(dimension: str) -> None:
    # 0.3048 m is 1 ft, though 0.3048 times 1 / 0.3048 is a hair less.
    first = next(iter(UNITS[dimension]))
    for low, high in ((1.0, 20.0), (0.2, 7.5)):
        reader = Quantity(dimension, f"{low} {first}", f"{high} {first}")
        for unit in UNITS[dimension]:
            for limit in reader.bounds:
                written = f"{in_unit(limit, dimension, unit)!r} {unit}"
                assert reader(written) == pytest.approx(limit, rel=1e-12)
        with pytest.raises(ValueError, match="must lie between"):
            reader(f"{high * 1.000001!r} {first}")


@given(scenarios())
@corners(8)
def test_every_number_written_by_its_key_changes_nothing(tables: Tables) -> None:
    file = ScenarioFile("any", "", tables, Path(), "any.toml")
    scenario = build(file)
    # Seeds are exact, and not numbers of the model: as real ones the greatest would be rounded.
    numbers = {
        setting.key: setting.value
        for setting in numeric_settings(scenario)
        if not setting.key.startswith("run.")
    }
    again = changer(file, {})(numbers)
    found = {s.key: s.value for s in numeric_settings(again) if s.key in numbers}
    assert found == pytest.approx(numbers, rel=1e-12)


@given(quantities(Quantity("length", "4.5 ft", "30 ft")), st.integers(1, 8), st.data())
@corners(15)
def test_a_sample_is_the_list_of_its_values(first: str, count: int, data: st.DataObject) -> None:
    feet = [parse_quantity(first, "length")]
    feet += data.draw(st.lists(st.floats(4.5, 30.0), min_size=count, max_size=count))
    listed = {"kind": "list", "values": [f"{value!r} ft" for value in feet]}
    with tempfile.TemporaryDirectory() as folder:
        with (Path(folder) / "tops.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows([["number", "top"], *enumerate(feet)])
        sample = {"kind": "sample", "file": "tops.csv", "column": "top", "unit": "ft"}
        measured, given_here = (
            build(
                ScenarioFile("any", "", {"return_of_serve": {"top": top}}, Path(folder), "any.toml")
            )
            for top in (sample, listed)
        )
    assert measured == given_here
