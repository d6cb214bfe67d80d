"""Which policy has most in control, and which others cannot be told from it."""

from __future__ import annotations

from sim.comparison import Comparison
from sim.scenario import Scenario


def balls_in_control(comparison: Comparison) -> dict[str, int]:
    """Balls in control by policy, after all returns."""
    return {
        row["policy"]: row["in_control"]
        for row in comparison.summary_rows
        if row["return_direction"] == row["shot"] == row["lane"] == "all"
    }


def most_in_control(comparison: Comparison) -> str:
    """The policy with most balls in control; of equals the baseline, then the one named first."""
    baseline, hits = comparison.scenario.baseline.name, balls_in_control(comparison)
    return max(hits, key=lambda name: (hits[name], name == baseline))


def against(scenario: Scenario, policy: str) -> Scenario:
    """The scenario with that policy as its baseline: all others are compared with it."""
    run = scenario.run.model_copy(update={"baseline": policy})
    return scenario.model_copy(update={"run": run})


def not_told_apart(comparison: Comparison) -> tuple[str, ...]:
    """The policies that cannot be told from the baseline, in control."""
    return tuple(
        row["policy"]
        for row in comparison.difference_rows
        if (row["return_direction"], row["shot"], row["measure"]) == ("all", "all", "in_control")
        and row["verdict"] not in ("more", "fewer")
    )
