"""Laying tables over each other: what is said is kept, and nobody's tables are changed."""

from __future__ import annotations

import copy

from hypothesis import given
from hypothesis import strategies as st

from sim.scenario_files import merge
from tests.properties.scenarios import Tables

LEAVES = st.one_of(st.integers(), st.text(max_size=3), st.lists(st.integers(), max_size=2))
KEYS = st.sampled_from(["a", "b", "kind", "ball", "c"])
TABLES = st.recursive(
    st.dictionaries(KEYS, LEAVES, max_size=3),
    lambda inner: st.dictionaries(KEYS, st.one_of(LEAVES, inner), max_size=3),
    max_leaves=8,
)


@given(TABLES, TABLES)
def test_merging_changes_neither_table(under: Tables, over: Tables) -> None:
    kept = copy.deepcopy(under), copy.deepcopy(over)
    merged = merge(under, over)
    assert (under, over) == kept
    assert merged.keys() == under.keys() | over.keys()
    for key, value in over.items():
        if not isinstance(value, dict):
            assert merged[key] == value


@given(TABLES)
def test_merging_with_nothing_changes_nothing(tables: Tables) -> None:
    assert merge(tables, {}) == tables
    assert merge({}, tables) == tables
    assert merge(tables, tables) == tables


def test_a_distribution_is_replaced_as_a_whole() -> None:
    normal = {"kind": "normal", "mean": "36 mph", "sd": "4 mph"}
    under = {"opponents": {"drive": {"speed": normal, "topspin": "500 rpm"}}}
    over = {
        "opponents": {"drive": {"speed": {"kind": "uniform", "low": "30 mph", "high": "40 mph"}}}
    }
    merged = merge(under, over)["opponents"]["drive"]
    assert merged == {**over["opponents"]["drive"], "topspin": "500 rpm"}
    # A table without a kind changes single values of the distribution below it.
    wider = {"opponents": {"drive": {"speed": {"sd": "6 mph"}}}}
    assert merge(under, wider)["opponents"]["drive"]["speed"] == {**normal, "sd": "6 mph"}
    # The ball's kind is a setting, not a distribution.
    assert merge({"ball": {"mass": "25 g"}}, {"ball": {"kind": "indoor"}})["ball"] == {
        "mass": "25 g",
        "kind": "indoor",
    }
