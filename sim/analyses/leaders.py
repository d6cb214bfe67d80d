"""Which policy has most in control, and which others cannot be told from it."""

from __future__ import annotations

from sim.comparison import Comparison
from sim.scenario import Scenario
from sim.tables import Row
from sim.wording import TOLD


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


def differences_in_control(comparison: Comparison) -> list[Row]:
    """Every other policy's paired difference to the baseline, in control after all returns."""
    return [
        row
        for row in comparison.difference_rows
        if (row["return_direction"], row["shot"], row["measure"]) == ("all", "all", "in_control")
    ]


def not_told_apart(comparison: Comparison) -> tuple[str, ...]:
    """The policies that cannot be told from the baseline, in control."""
    return without_verdict(differences_in_control(comparison))


def without_verdict(differences: list[Row]) -> tuple[str, ...]:
    """The policies of the differences that are not told from none."""
    return tuple(row["policy"] for row in differences if row["verdict"] not in TOLD)
