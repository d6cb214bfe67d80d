"""Numbers in words: no finer than their intervals, alike within a list, and rounded in one way."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.tables import Row
from sim.wording import (
    TOLD_IN_TENTHS,
    coarser,
    decimals,
    of_hundred,
    percent,
    places_together,
    points,
    share_of_hundred,
)

# Balls of 100, as counts of many balls make them.
SIZES = st.integers(1, 200_000).map(lambda count: 100.0 * count / 200_000)
HALF_WIDTHS = st.integers(1, 4000).map(lambda thousandths: thousandths / 1000.0)


def row(size: float, half_width: float, verdict: str = "fewer") -> Row:
    sign = 1.0 if verdict == "more" else -1.0
    ends = {"points_low": sign * size - half_width, "points_high": sign * size + half_width}
    return {"points": sign * size, **ends, "verdict": verdict}


def test_a_list_has_one_number_of_decimals_the_coarsest_that_one_deserves() -> None:
    """Hard hitters: once told as 4 more and 4.1 fewer."""
    rows = [row(4.2, 0.4, "more"), row(4.1, 0.24), row(1.5, 0.4)]
    assert [of_hundred(each, places_together(rows)) for each in rows] == [
        "4 more",
        "4 fewer",
        "2 fewer",
    ]
    narrow = [row(4.2, 0.2, "more"), row(4.1, 0.1)]
    told = [of_hundred(each, places_together(narrow)) for each in narrow]
    assert told == ["4.2 more", "4.1 fewer"]


@given(st.lists(st.tuples(SIZES, HALF_WIDTHS), min_size=1))
def test_what_is_sure_is_never_none(found: list[tuple[float, float]]) -> None:
    rows = [row(size, half_width) for size, half_width in found]
    places = places_together(rows)
    told = [of_hundred(each, places) for each in rows]
    for words in told:
        number = words.removesuffix(" fewer")
        assert number == "under 0.1" or float(number) > 0.0
        if number != "under 0.1":
            assert len(number.partition(".")[2]) == places
    if any(half_width > TOLD_IN_TENTHS for _, half_width in found):
        smallest = min(size for size, _ in found)
        assert places == 0 or smallest < 0.5


@given(SIZES, HALF_WIDTHS)
def test_words_round_the_number_that_stands_in_the_table(size: float, half_width: float) -> None:
    """Once 2.5 was 3 fewer on one page and 2 fewer on another, by digits that nobody saw."""
    each = row(size, half_width)
    standing = points(each).lstrip("−").split(" ")[0]
    if decimals(half_width) > 1 or size <= half_width:
        return
    whole, _, tenth = standing.partition(".")
    assert of_hundred(each, 0) == (
        f"{int(whole) + (tenth >= '5')} fewer" if float(standing) >= 0.5 else "under 1 fewer"
    )


@pytest.mark.parametrize(("share", "told"), [(0.9045, "91"), (0.90449, "90"), (0.905, "91")])
def test_shares_in_whole_balls_follow_the_tenth_beside_them(share: float, told: str) -> None:
    ends = {"in_control_share": share, "in_control_low": 0.901, "in_control_high": 0.908}
    assert share_of_hundred(ends, "in_control") == told
    shown = float(percent(share, 0.901, 0.908).split(" ")[0])
    assert told == f"{int(shown + 0.5)}"


def test_tenths_of_a_share_are_those_that_stand_beside_it() -> None:
    assert coarser((90.453, 90.1, 90.8), 1) == percent(0.90453, 0.901, 0.908).split(" ")[0]


@given(st.integers(1, 50_000), st.data())
def test_a_share_is_shown_in_two_decimals_at_most_and_never_as_what_it_is_not(
    trials: int, data: st.DataObject
) -> None:
    from sim.statistics import wilson

    hits = data.draw(st.integers(0, trials) | st.integers(max(0, trials - 9), trials))
    low, high = wilson(hits, trials)
    told = percent(hits / trials, low, high)
    numbers = re.findall(r"\d+(?:\.\d+)?", told)
    assert all(len(number.partition(".")[2]) <= 2 for number in numbers)
    if told.endswith("or more"):
        assert float(numbers[0]) <= 100.0 * low < 100.0 * high
        assert hits < trials
    elif told.endswith("or less"):
        assert float(numbers[0]) >= 100.0 * high > 100.0 * low
        assert hits > 0
    else:
        assert len(numbers) == 3
        assert low == 0.0 or float(numbers[1]) > 0.0
        assert high == 1.0 or float(numbers[2]) < 100.0
