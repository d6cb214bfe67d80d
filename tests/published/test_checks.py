"""Every number held against the outside, and the ways in which such a check can fail."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from tests.published.all_checks import CHECKS, PROPERTIES, TOPICS
from tests.published.check import Check, Estimate, Range, Source

HERE = Path(__file__).parent
SOMEBODY = Source("Somebody 2001", "from memory")


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.quantity)
def test_number(check: Check) -> None:
    told = f"{check.found} against {check.expected}, {check.difference:g} off"
    if check.differs:
        assert not check.agrees, f"agrees after all, say so: {told}"
    else:
        assert check.agrees, f"{told}, allowed {check.tolerance:g}"


def test_every_module_with_checks_is_among_the_topics() -> None:
    stated = {path.stem for path in HERE.glob("test_*.py") if "\nCHECKS" in path.read_text("utf-8")}
    found = {module.__name__.split(".")[-1] for topic in TOPICS for module in topic.modules}
    assert found == stated


def test_no_number_stands_twice() -> None:
    # The same quantity may be held against several sources.
    names = [(check.quantity, str(check.source), check.differs) for check in CHECKS]
    assert len(names) == len(set(names))


@pytest.mark.parametrize("held", PROPERTIES, ids=lambda held: held.statement)
def test_properties_name_a_test_that_pytest_collects(held: object) -> None:
    file, name = held.place.split("::")
    assert f"\ndef {name}(" in (HERE.parent.parent / file).read_text("utf-8")
    assert name.startswith("test_")


@pytest.mark.parametrize(
    ("published", "ours", "allowed", "difference", "agrees"),
    [
        (10.0, 10.5, 0.5, 0.5, True),
        (10.0, 9.4, 0.5, -0.6, False),
        (10.0, math.nan, 0.5, math.nan, False),
        (lambda: 4.0, 4.0, 0.0, 0.0, True),
        (Range(5.0, 8.0), 5.0, 0.0, 0.0, True),
        (Range(5.0, 8.0), Estimate(5.1, 4.9, 5.3), 0.0, -0.1, False),
        (Range(5.0, 8.0), Estimate(7.9, 7.7, 8.1), 0.0, 0.1, False),
        (Range(high=8.0), -100.0, 0.0, 0.0, True),
        (Range(low=8.0), math.inf, 0.0, math.nan, False),
        (Range(5.0, 8.0), math.nan, 0.0, math.nan, False),
    ],
)
def test_a_check_can_fail(
    published: object, ours: object, allowed: float, difference: float, agrees: bool
) -> None:
    check = Check("something", SOMEBODY, published, lambda: ours, allowed=allowed)
    assert check.difference == pytest.approx(difference, nan_ok=True)
    assert check.agrees == agrees


def test_a_relative_allowance_is_a_part_of_what_is_published() -> None:
    found = [
        Check("x", SOMEBODY, -200.0, lambda v=v: v, allowed=0.01, relative=True).agrees
        for v in (-202.0, -202.1, -198.0)
    ]
    assert found == [True, False, True]
