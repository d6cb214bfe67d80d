"""The intervals of both samplers hold the truth about as often as they say."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

import sim
from sim.draws import Sampling
from tests.interval_coverage import (
    PRECISION,
    RUNS_TO_PRECISION,
    SAMPLINGS,
    SIZES,
    Coverage,
    as_table,
    gains_table,
    study,
    study_of_precision,
)

PAGE = Path(sim.__file__).parent / "docs" / "sampling.md"


@cache
def studied(sampling: Sampling, shots: int) -> Coverage:
    return study(sampling, shots)


@pytest.mark.slow
@pytest.mark.parametrize("shots", SIZES)
@pytest.mark.parametrize("sampling", SAMPLINGS)
@pytest.mark.parametrize("kind", ["share", "difference"])
def test_intervals_hold_the_truth_as_often_as_they_say(
    sampling: Sampling, shots: int, kind: str
) -> None:
    # 93 to 97 % for a nominal 95 %: a thousand runs know a number's coverage to 1.4 points.
    found = studied(sampling, shots)
    assert 0.93 <= found.of(kind) <= 0.97


@pytest.mark.slow
@pytest.mark.parametrize("sampling", SAMPLINGS)
def test_no_number_is_covered_much_too_rarely(sampling: Sampling) -> None:
    for shots in SIZES:
        assert studied(sampling, shots).covered.min() >= 0.93


@pytest.mark.slow
def test_the_page_shows_the_study() -> None:
    table = as_table([studied(sampling, shots) for sampling in SAMPLINGS for shots in SIZES])
    assert table in PAGE.read_text(encoding="utf-8")


@pytest.mark.slow
def test_the_page_compares_the_samplers() -> None:
    table = gains_table(*(studied(sampling, SIZES[-1]) for sampling in SAMPLINGS))
    assert table in PAGE.read_text(encoding="utf-8")


@pytest.mark.slow
def test_intervals_of_runs_that_stop_when_precise_enough() -> None:
    covered, _ = study_of_precision(PRECISION, RUNS_TO_PRECISION)
    # 400 runs know their coverage to 2.1 points at 95 %; a run that stops early may lose a little.
    assert covered >= 0.92
    page = PAGE.read_text(encoding="utf-8")
    assert f"{100 * covered:.1f} % of {RUNS_TO_PRECISION} such runs" in page
