"""The rule best: scenarios whose policies stand where a search of all pairs of places puts them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from sim.blocks import Workers
from sim.candidate_places import Wish, candidates
from sim.pairs_of_places import landscape
from sim.scenario import Places, Policy, Scenario, Spots

# What a policy without places is searched with. It does not depend on the run's own shots: blocks
# of a run that is gone on with must have the same places.
USUAL: Final = Wish()


def with_places_found(
    scenario: Scenario,
    workers: Workers | None = None,
    progress: Callable[[int, int], None] = lambda done, planned: None,
) -> Scenario:
    """The scenario with places for its policies of the rule best that have none.

    They are best in control among those reached in time for half of the balls in play (`USUAL`),
    found with numbers that no comparison plays. ``progress`` and the workers are as those of
    `candidates`. Raises `Refused` where no place counts or no ball is in play.
    """
    if all(policy.rule != "best" or policy.places for policy in scenario.policies):
        return scenario
    policies = []
    for policy in scenario.policies:
        if policy.rule == "best" and policy.places is None:
            reached = candidates(scenario, policy, USUAL, workers, progress)
            found = {name: landscape(sides, USUAL.worth) for name, sides in reached.items()}
            policy = with_spots(policy, {name: land.spots for name, land in found.items()})
        policies.append(policy)
    return scenario.model_copy(update={"policies": policies})


def with_places_of(scenario: Scenario, found: Scenario) -> Scenario:
    """The scenario with the places that policies of the same name have in another one."""
    places = {policy.name: policy.places for policy in found.policies}
    policies = [
        policy.model_copy(update={"places": places.get(policy.name)})
        if policy.rule == "best" and policy.places is None
        else policy
        for policy in scenario.policies
    ]
    return scenario.model_copy(update={"policies": policies})


def places_in_feet(scenario: Scenario) -> dict[str, Any]:
    """All places that a scenario's policies of the rule best have, as the manifest keeps them."""
    return {
        policy.name: policy.places.model_dump(exclude_none=True)
        for policy in scenario.policies
        if policy.places is not None
    }


def with_spots(policy: Policy, spots: dict[str, Spots]) -> Policy:
    """The policy with the places found."""
    return policy.model_copy(update={"places": Places.model_validate(spots)})
