"""What both figures of opponents who adapt call policies and returns."""

from __future__ import annotations

from typing import Final

from sim.analyses.counter import Contest
from sim.figures import style
from sim.figures.style import TEXT
from sim.tables import ALL

BESIDE_NAMES: Final = 8.0
_MOST_POLICIES: Final = 24
_WIDEST_NAME: Final = 104.0


def names_of(contest: Contest) -> list[list[str]]:
    """The policies' names in lines; of very many the first."""
    policies = contest.scenario.policies[:_MOST_POLICIES]
    return [style.wrapped(policy.name, _WIDEST_NAME, TEXT) for policy in policies]


def more_policies(contest: Contest) -> str:
    """A note on those that are not drawn, if there are any."""
    policies = len(contest.scenario.policies)
    if policies <= _MOST_POLICIES:
        return ""
    return f" The first {_MOST_POLICIES} of {policies} policies."


def after(direction: str) -> str:
    """Which returns a panel is about."""
    return "After all returns" if direction == ALL else f"After returns {style.RETURNS[direction]}"
