"""The scenarios that properties are tested with: valid, and from the whole range."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given
from pydantic import BaseModel

from sim.quantities import Shape
from sim.scenario import RULES, Scenario
from tests.properties.corners import corners
from tests.properties.scenarios import Tables, scenarios, values_of


def given_in(value: Any, prefix: str = "") -> Iterator[str]:
    """Keys of the schema that tables give, without the numbers of lists."""
    if isinstance(value, list):
        for item in value:
            yield from given_in(item, prefix)
    elif isinstance(value, dict) and "mean" not in value and "values" not in value:
        for name, inner in value.items():
            yield f"{prefix}{name}"
            yield from given_in(inner, f"{prefix}{name}.")


def keys_of(table: BaseModel, prefix: str = "") -> Iterator[str]:
    """All keys that a scenario has, those of its players, policies and shots included."""
    for name in type(table).model_fields:
        yield f"{prefix}{name}"
        value = getattr(table, name)
        first = value[0] if isinstance(value, list) and value else value
        if isinstance(first, BaseModel) and not isinstance(first, Shape):
            yield from keys_of(first, f"{prefix}{name}.")


def test_every_setting_is_drawn() -> None:
    # Properties of scenarios that are all alike would hold without being worth anything.
    keys, kinds, rules = set[str](), set[str](), set[str]()

    @given(scenarios())
    @corners(160)
    def look(tables: Tables) -> None:
        scenario = Scenario.model_validate(tables)
        keys.update(given_in(tables))
        kinds.update(re.findall(r"'kind': '(\w+)'", repr(tables)))
        rules.update(policy.rule for policy in scenario.policies)

    look()
    assert set(keys_of(Scenario(name="any"))) <= keys
    shapes = {"constant", "normal", "truncated", "uniform", "triangular", "list"}
    assert kinds == shapes | {"indoor", "outdoor"}
    assert rules == set(RULES)


def test_a_setting_of_an_unknown_type_is_an_error() -> None:
    with pytest.raises(TypeError, match="no values are known"):
        values_of(complex)
