"""All that the report page shows: the comparison, other settings of its policies, and the doubt."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

from sim.analyses.court_views import CourtView, court_views
from sim.analyses.inputs import WithNumbers, usual_inputs
from sim.analyses.middle import Middle, middle
from sim.analyses.sensitivity import Sensitivity, sensitivity
from sim.analyses.variants import (
    Switch,
    Variant,
    change_rows,
    in_groups,
    play_variants,
    setting_rows,
    switches,
)
from sim.best_places import with_places_of
from sim.blocks import OneAfterTheOther, Workers
from sim.comparison import Comparison, Progress, compare
from sim.scenario import Scenario
from sim.study import between, counts
from sim.tables import Row

__all__ = ["CourtView", "Middle", "Report", "Switch", "Variant", "report"]

# Shots of a plausible setting: their error averages out over the settings.
_SHOTS_OF_A_SETTING: Final = 256


@dataclass(frozen=True)
class Report:
    """What the report page shows.

    ``rows`` has a row for every variant and return direction, all of them together included;
    ``changes`` one for every setting of every policy and return direction, with the difference to
    the policy as it stands; ``views`` one court by variant and return direction with balls in play.
    ``leader`` has most in control, ``rival`` is the baseline, or the next best where that leads,
    and ``doubt`` how the difference between the two depends on the inputs; None with one policy.
    """

    scenario: Scenario
    comparison: Comparison
    switches: tuple[Switch, ...]
    variants: tuple[Variant, ...]
    rows: list[Row]
    changes: list[Row]
    views: tuple[dict[str, CourtView], ...]
    middle: tuple[Middle, ...]
    leader: str
    rival: str | None
    doubt: Sensitivity | None


def report(
    scenario: Scenario,
    with_numbers: WithNumbers,
    workers: Workers | None = None,
    progress: Callable[[Progress], None] = lambda progress: None,
    *,
    settings: int = 128,
) -> Report:
    """Play the comparison, every setting of its policies on the same shots, and the doubt.

    ``with_numbers`` makes the scenario with other numbers (`numeric_settings.changer`);
    ``settings``, a power of two, are as many plausible ones as are played, 0 leaves the doubt out.
    The result does not depend on the workers. Raises `Refused` where places of the rule best cannot
    be found, or where plausible settings do not go together.
    """
    workers = workers or OneAfterTheOther()
    comparison = compare(scenario, None, workers, None, progress)
    scenario = comparison.scenario
    leader, rival = leader_and_rival(comparison)
    doubt = None
    if settings and rival is not None and comparison.tally.outcomes.any():
        doubt = _doubt(scenario, with_numbers, (leader, rival), settings, workers, progress)
    found, variants = switches(scenario)
    groups = in_groups(scenario, variants)
    played = play_variants(groups, workers, progress)
    return Report(
        scenario=scenario,
        comparison=comparison,
        switches=found,
        variants=variants,
        rows=setting_rows(scenario, found, variants, played),
        changes=change_rows(scenario, found, variants, played),
        views=court_views(groups, workers, progress),
        middle=middle(scenario, workers, progress),
        leader=leader,
        rival=rival,
        doubt=doubt,
    )


def leader_and_rival(comparison: Comparison) -> tuple[str, str | None]:
    """The policy with most in control, and the baseline, or the next best where that leads.

    Of equals the one that the scenario names first; None where there is only one policy.
    """
    scenario = comparison.scenario
    hits = {
        policy.name: int(counts(comparison.tally, place, "in_control")[0].sum())
        for place, policy in enumerate(scenario.policies)
    }
    leader = max(hits, key=lambda name: hits[name])
    others = [name for name in hits if name != leader]
    if not others:
        return leader, None
    if leader != scenario.baseline.name:
        return leader, scenario.baseline.name
    return leader, max(others, key=lambda name: hits[name])


def _doubt(
    scenario: Scenario,
    with_numbers: WithNumbers,
    names: tuple[str, str],
    settings: int,
    workers: Workers,
    progress: Callable[[Progress], None],
) -> Sensitivity:
    """How the difference between two policies depends on the usual inputs."""
    shots = min(scenario.run.shots, _SHOTS_OF_A_SETTING)

    def two(other: Scenario) -> Scenario:
        run = other.run.model_copy(update={"shots": shots})
        # A policy does not know the numbers that are in doubt: its places stay.
        return between(with_places_of(other.model_copy(update={"run": run}), scenario), *names)

    def make(numbers: Mapping[str, float]) -> Scenario:
        return two(with_numbers(numbers))

    pair = two(scenario)
    inputs = usual_inputs(pair, make)
    return sensitivity(pair, inputs, make, "in_control", settings, workers, progress)
