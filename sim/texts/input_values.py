"""The values of doubtful inputs as a coach reads them."""

from __future__ import annotations

from typing import Final

from sim.analyses.inputs import Input
from sim.scenario import Scenario

# Weights, of which only the proportions count.
_WEIGHTS: Final = ("opponents.shots.", "opponents.lanes.")


def in_words(scenario: Scenario, each: Input, along: float, units: str) -> str:
    """An input's value that far along its way: weights of 100, and both players' numbers.

    ``along`` is from 0, its low end, to 1; the other weights are those of the ``scenario``.
    """
    if not each.key.startswith(_WEIGHTS):
        number, blank, unit = each.shown(along, units).partition(" ")
        return number.replace("/", " and ") + blank + unit
    _, group, name = each.key.split(".")
    weights = getattr(scenario.opponents, group).model_dump()
    own = each.numbers(along)[each.key]
    share = own / (own + sum(weights.values()) - weights[name])
    return f"{100.0 * share:.0f} of 100"
