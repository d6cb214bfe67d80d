"""Finding a comparison's rows by policy and return direction, over all shots and lanes."""

from __future__ import annotations

from sim.comparison import Comparison
from sim.tables import Row

Key = tuple[str, str]


def overall(comparison: Comparison) -> dict[Key, Row]:
    """Summary rows of all shots and lanes, by policy and return direction."""
    return {
        (row["policy"], row["return_direction"]): row
        for row in comparison.summary_rows
        if row["shot"] == "all" and row["lane"] == "all"
    }


def leaks(comparison: Comparison, policy: str, direction: str) -> list[Row]:
    """Where balls of any kind got through a policy, the most frequent way first."""
    wanted = policy, direction, "all"
    found = [
        row
        for row in comparison.leak_rows
        if row["balls"] and (row["policy"], row["return_direction"], row["shot"]) == wanted
    ]
    return sorted(found, key=lambda row: -row["balls"])


def run_in(comparison: Comparison, policy: str, direction: str) -> Row:
    """Where the shot finds the two."""
    wanted = policy, direction
    return next(
        row for row in comparison.run_in_rows if (row["policy"], row["return_direction"]) == wanted
    )


def estimate(row: Row, measure: str) -> tuple[float, float, float]:
    """Share, lower and upper end of its interval."""
    return row[f"{measure}_share"], row[f"{measure}_low"], row[f"{measure}_high"]
