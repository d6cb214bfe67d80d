"""Distributions: their shapes against `scipy.stats`, and what a scenario may write for them."""

from __future__ import annotations

import codecs
from pathlib import Path
from typing import Annotated, Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError
from scipy import stats

from sim.quantities import Distribution, Shape, WeightedList, choose, quantity, spread

LENGTH = TypeAdapter(Annotated[Distribution, spread("length", "-100 ft", "100 ft")])
SPEED = TypeAdapter(Annotated[Distribution, spread("speed", "5 mph", "110 mph")])
ONE_LENGTH = TypeAdapter(Annotated[float, quantity("length", "4 ft", "7 ft 6 in")])
MPH = 5280.0 / 3600.0


def length(folder: Path | None = None, **table: Any) -> Shape:
    return LENGTH.validate_python(table, context={"folder": folder} if folder else None)


def complaint_about(table: object, folder: Path | None = None) -> str:
    with pytest.raises(ValidationError) as caught:
        LENGTH.validate_python(table, context={"folder": folder} if folder else None)
    return str(caught.value)


# --- shapes ------------------------------------------------------------------------------------

SHAPES = {
    "normal": (
        {"kind": "normal", "mean": "2 ft", "sd": "1.5 ft"},
        stats.norm(2.0, 1.5),
    ),
    "truncated": (
        {"kind": "truncated", "mean": "2 ft", "sd": "1.5 ft", "low": "1 ft", "high": "6 ft"},
        stats.truncnorm((1.0 - 2.0) / 1.5, (6.0 - 2.0) / 1.5, 2.0, 1.5),
    ),
    "truncated beside its mean": (
        {"kind": "truncated", "mean": "0 ft", "sd": "1 ft", "low": "2 ft", "high": "9 ft"},
        stats.truncnorm(2.0, 9.0, 0.0, 1.0),
    ),
    "uniform": ({"kind": "uniform", "low": "-2 ft", "high": "5 ft"}, stats.uniform(-2.0, 7.0)),
    "triangular": (
        {"kind": "triangular", "low": "-2 ft", "mode": "4 ft", "high": "5 ft"},
        stats.triang(6.0 / 7.0, -2.0, 7.0),
    ),
    "triangular, most likely at an end": (
        {"kind": "triangular", "low": "0 ft", "mode": "0 ft", "high": "3 ft"},
        stats.triang(0.0, 0.0, 3.0),
    ),
    "triangular, most likely at the other end": (
        {"kind": "triangular", "low": "0 ft", "mode": "3 ft", "high": "3 ft"},
        stats.triang(1.0, 0.0, 3.0),
    ),
}


@pytest.mark.parametrize("name", SHAPES)
def test_quantiles_are_those_of_scipy(name: str) -> None:
    table, known = SHAPES[name]
    u = np.concatenate(([1e-9, 1e-6], np.linspace(0.001, 0.999, 501), [1 - 1e-6]))
    found = length(**table).quantile(u)
    np.testing.assert_allclose(found, known.ppf(u), atol=1e-8)
    assert np.all(np.diff(found) >= 0.0)


@pytest.mark.parametrize("name", SHAPES)
def test_samples_have_the_right_distribution(name: str) -> None:
    # Kolmogorov and Smirnov's test on 20,000 values, and mean and spread within 4 standard errors.
    table, known = SHAPES[name]
    values = length(**table).quantile(np.random.default_rng(5).random(20_000))
    assert stats.kstest(values, known.cdf).pvalue > 1e-3
    assert values.mean() == pytest.approx(known.mean(), abs=4.0 * known.std() / 20_000**0.5)
    assert values.std() == pytest.approx(known.std(), rel=0.03)
    assert np.all((values >= known.support()[0]) & (values <= known.support()[1]))


def test_the_distribution_test_can_fail() -> None:
    values = length(kind="normal", mean="2.06 ft", sd="1.5 ft").quantile(
        np.random.default_rng(5).random(20_000)
    )
    assert stats.kstest(values, stats.norm(2.0, 1.5).cdf).pvalue < 1e-3


@given(st.floats(-50.0, 50.0), st.floats(0.01, 20.0), st.floats(-2.0, 2.0), st.floats(0.01, 5.0))
def test_a_truncated_normal_stays_within_its_limits(
    mean: float, sd: float, offset: float, width: float
) -> None:
    low, high = mean + offset * sd, mean + (offset + width) * sd
    if not -100.0 <= low < high <= 100.0:
        return
    table = {
        "mean": f"{mean!r} ft",
        "sd": f"{sd!r} ft",
        "low": f"{low!r} ft",
        "high": f"{high!r} ft",
    }
    if stats.norm.cdf(offset + width) - stats.norm.cdf(offset) < 2e-4:
        return
    values = length(kind="truncated", **table).quantile(np.linspace(1e-12, 1.0 - 1e-12, 101))
    assert np.all((values >= low) & (values <= high))
    assert np.all(np.diff(values) >= 0.0)


def test_constant_and_its_median() -> None:
    # A plain quantity is the distribution that always gives it.
    shape = LENGTH.validate_python("5 ft 6 in")
    assert shape.quantile(np.array([[0.1, 0.9]])).tolist() == [[5.5, 5.5]]
    assert shape.typical() == 5.5
    assert length(kind="uniform", low="1 ft", high="4 ft").typical() == 2.5


@pytest.mark.parametrize("name", SHAPES)
def test_the_shape_of_the_numbers_is_kept(name: str) -> None:
    u = np.random.default_rng(1).random((3, 4))
    values = length(**SHAPES[name][0]).quantile(u)
    assert values.shape == (3, 4)
    assert values[2, 1] == length(**SHAPES[name][0]).quantile(u[2, 1:2])[0]


def test_list_with_and_without_weights() -> None:
    u = np.array([0.01, 0.24, 0.26, 0.74, 0.76, 0.99])
    plain = length(kind="list", values=["3 ft", "1 ft", "2 ft", "4 ft"])
    assert plain.quantile(u).tolist() == [1.0, 1.0, 2.0, 3.0, 4.0, 4.0]
    weighted = length(kind="list", values=["3 ft", "1 ft", "2 ft"], weights=[1, 0, 3])
    assert weighted.quantile(u).tolist() == [2.0, 2.0, 2.0, 2.0, 3.0, 3.0]


@given(
    st.lists(st.floats(0.0, 100.0), min_size=1, max_size=6).filter(lambda w: sum(w) > 0.0),
    st.floats(1e-12, 1.0 - 1e-12),
)
def test_choose_takes_only_what_has_weight(weights: list[float], u: float) -> None:
    index = int(choose(np.array(weights), np.array([u]))[0])
    assert weights[index] > 0.0
    below = sum(weights[:index]) / sum(weights)
    above = sum(weights[: index + 1]) / sum(weights)
    assert below - 1e-9 <= u <= above + 1e-9


def test_choose_keeps_the_proportions() -> None:
    weights = np.array([48.0, 49.0, 3.0])
    index = choose(weights, (np.arange(10_000) + 0.5) / 10_000)
    assert np.bincount(index).tolist() == [4800, 4900, 300]


# --- what a scenario may write -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("table", "complaint"),
    [
        (5.0, "the unit is missing"),
        (True, "the unit is missing"),
        ("5", "not a number with a unit"),
        ("5 mph", "is not a unit of length"),
        ("101 ft", "must lie between -100 ft and 100 ft"),
        ("-1e300 ft", "must lie between"),
        ({}, "kind"),
        ({"kind": "gamma", "mean": "1 ft"}, "gamma"),
        ({"kind": "normal", "mean": "2 ft"}, "sd"),
        ({"kind": "normal", "mean": "2 ft", "sd": 1}, "sd = 1: the unit is missing"),
        ({"kind": "normal", "mean": "2 ft", "sd": "-1 ft"}, "must not be negative"),
        ({"kind": "normal", "mean": "2 ft", "sd": "300 ft"}, "nor wider than the allowed range"),
        ({"kind": "normal", "mean": "90 ft", "sd": "3 ft"}, "5 sd either side"),
        ({"kind": "normal", "mean": "nan ft", "sd": "1 ft"}, "not a number with a unit"),
        ({"kind": "normal", "mean": "2 ft", "sd": "1 ft", "low": "0 ft"}, "low"),
        (
            {"kind": "truncated", "mean": "2 ft", "sd": "1 ft", "low": "5 ft", "high": "1 ft"},
            "low: must be below high",
        ),
        (
            {"kind": "truncated", "mean": "2 ft", "sd": "0 ft", "low": "1 ft", "high": "5 ft"},
            "sd: must be above 0",
        ),
        (
            {"kind": "truncated", "mean": "2 ft", "sd": "1 ft", "low": "50 ft", "high": "60 ft"},
            "too far outside",
        ),
        ({"kind": "uniform", "low": "5 ft", "high": "5 ft"}, "low: must be below high"),
        ({"kind": "uniform", "low": "-101 ft", "high": "5 ft"}, "must lie between"),
        (
            {"kind": "triangular", "low": "0 ft", "mode": "9 ft", "high": "5 ft"},
            "mode: must lie between low and high",
        ),
        ({"kind": "list", "values": []}, "values"),
        ({"kind": "list", "values": "1 ft"}, "values"),
        ({"kind": "list", "values": ["1 ft", 2]}, "the unit is missing"),
        ({"kind": "list", "values": ["1 ft"], "weights": [1, 2]}, "as many as values"),
        ({"kind": "list", "values": ["1 ft", "2 ft"], "weights": [0, 0]}, "at least one"),
        ({"kind": "list", "values": ["1 ft", "2 ft"], "weights": [2, -1]}, "weights"),
        ({"kind": "list", "values": ["1 ft"], "weights": [float("nan")]}, "weights"),
    ],
)
def test_nonsense_is_refused_with_a_reason(table: object, complaint: str) -> None:
    assert complaint in complaint_about(table)


def test_a_plain_quantity_within_its_limits() -> None:
    assert ONE_LENGTH.validate_python("67 in") == pytest.approx(67.0 / 12.0)
    assert ONE_LENGTH.validate_python("7 ft 6 in") == 7.5
    for text in ("3 ft 11 in", "7 ft 7 in", "-5 ft"):
        with pytest.raises(ValidationError, match="must lie between 4 ft and 7 ft 6 in"):
            ONE_LENGTH.validate_python(text)


def test_distributions_are_in_the_units_of_the_program() -> None:
    shape = SPEED.validate_python({"kind": "uniform", "low": "36 km/h", "high": "72 km/h"})
    low, high = shape.quantile(np.array([0.0, 1.0]))
    assert (low, high) == pytest.approx((10.0 / 0.3048, 20.0 / 0.3048))


def test_a_distribution_cannot_be_changed() -> None:
    shape = length(kind="uniform", low="0 ft", high="1 ft")
    with pytest.raises(ValidationError):
        shape.low = 3.0  # type: ignore[attr-defined]


# --- measured samples --------------------------------------------------------------------------


def write_sample(folder: Path, text: str, name: str = "measured.csv") -> dict[str, str]:
    (folder / name).write_text(text, encoding="utf-8")
    return {"kind": "sample", "file": name, "column": "feet", "unit": "ft"}


def test_a_sample_becomes_equally_likely_values(tmp_path: Path) -> None:
    table = write_sample(tmp_path, "player,feet\nA,3\nB,1\n\nA,2\nC,\n")
    shape = length(tmp_path, **table)
    assert isinstance(shape, WeightedList)
    assert shape.quantile(np.array([0.1, 0.5, 0.9])).tolist() == [1.0, 2.0, 3.0]


def test_a_sample_in_another_unit(tmp_path: Path) -> None:
    table = write_sample(tmp_path, "feet\n10\n20\n") | {"unit": "m/s"}
    shape = SPEED.validate_python(table, context={"folder": tmp_path})
    assert shape.quantile(np.array([0.1])) == pytest.approx(10.0 / 0.3048)


def test_a_byte_order_mark_does_not_hide_the_first_column(tmp_path: Path) -> None:
    path = tmp_path / "measured.csv"
    path.write_bytes(codecs.BOM_UTF8 + b"feet,other\r\n1.5,9\r\n2.5,9\r\n")
    table = {"kind": "sample", "file": "measured.csv", "column": "feet", "unit": "ft"}
    assert length(tmp_path, **table).quantile(np.array([0.2, 0.8])).tolist() == [1.5, 2.5]


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("metres\n1\n", 'has no column "feet" (it has: "metres")'),
        ("", 'has no column "feet"'),
        ("feet\n", "has no values"),
        ("feet\n\n  \n", "has no values"),
        ("feet\n1\nx\n", "line 3"),
        ("feet\n1\nnan\n", "line 3"),
        ("feet\n1\n-\n", "line 3"),
        ("feet\n1\n500\n", "must lie between -100 ft and 100 ft"),
        ("feet\n1\n1 2\n", "line 3"),
    ],
)
def test_a_broken_sample_is_refused_with_file_and_line(
    tmp_path: Path, text: str, complaint: str
) -> None:
    table = write_sample(tmp_path, text)
    assert complaint in complaint_about(table, tmp_path)


def test_a_decimal_comma_is_not_cut_off(tmp_path: Path) -> None:
    # 1,5 makes one column too many. Read as 1 it would be a wrong measurement.
    assert "line 3" in complaint_about(write_sample(tmp_path, "feet\n1\n1,5\n"), tmp_path)


def test_a_sample_that_is_not_there(tmp_path: Path) -> None:
    table = {"kind": "sample", "file": "no.csv", "column": "feet", "unit": "ft"}
    assert "cannot read no.csv" in complaint_about(table, tmp_path)


def test_a_sample_that_is_not_text(tmp_path: Path) -> None:
    (tmp_path / "measured.csv").write_bytes(b"feet\n\xff\xfe\n")
    table = {"kind": "sample", "file": "measured.csv", "column": "feet", "unit": "ft"}
    assert "cannot read measured.csv" in complaint_about(table, tmp_path)


@pytest.mark.parametrize("missing", ["file", "column", "unit"])
def test_a_sample_needs_all_its_keys(tmp_path: Path, missing: str) -> None:
    table: dict[str, str] = write_sample(tmp_path, "feet\n1\n")
    del table[missing]
    assert "a sample needs" in complaint_about(table, tmp_path)


def test_a_sample_takes_no_other_keys(tmp_path: Path) -> None:
    table = write_sample(tmp_path, "feet\n1\n") | {"sheet": "2"}
    assert "a sample needs" in complaint_about(table, tmp_path)
