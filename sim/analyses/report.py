"""All that the report page shows: the comparison, other settings of its policies, and the doubt."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Final

from sim.analyses.court_views import CourtView, court_views
from sim.analyses.inputs import WithNumbers, usual_inputs
from sim.analyses.leaders import (
    against,
    balls_in_control,
    differences_in_control,
    most_in_control,
    without_verdict,
)
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
from sim.errors import Refused
from sim.scenario import Scenario
from sim.study import between
from sim.tables import Row

__all__ = ["CourtView", "Middle", "Report", "Switch", "Variant", "report"]

# Told which part of the work is being done, and how far it is.
Tell = Callable[[str, Progress], None]
# Shots of a plausible setting: their error averages out over the settings. The ends of single
# inputs are played with the shots of the answer, so that what changes nothing says what that says.
_SHOTS_OF_A_SETTING: Final = 256


@dataclass(frozen=True)
class Report:
    """What the report page shows.

    ``rows`` has a row for every variant and return direction, all of them together included;
    ``changes`` one for every setting of every policy and return direction, with the difference to
    the policy as it stands; ``views`` one court by variant and return direction with balls in play.
    ``leader`` has most in control, ``rival`` is the baseline, or the next best where that leads,
    and ``doubt`` how the difference between the two depends on the inputs; None with one policy.
    ``behind`` has the difference of every other policy to the leader, in control after all returns.
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
    behind: list[Row]
    doubt: Sensitivity | None

    @property
    def alike(self) -> tuple[str, ...]:
        """The policies other than the rival that cannot be told from the leader."""
        return tuple(name for name in without_verdict(self.behind) if name != self.rival)


def report(
    scenario: Scenario,
    with_numbers: WithNumbers,
    workers: Workers | None = None,
    tell: Tell = lambda part, progress: None,
    *,
    settings: int = 128,
) -> Report:
    """Play the comparison, every setting of its policies on the same shots, and the doubt.

    ``with_numbers`` makes the scenario with other numbers (`numeric_settings.changer`);
    ``settings``, a power of two, are as many plausible ones as are played, 0 leaves the doubt out.
    The result does not depend on the workers. Raises `Refused` where there are too many policies
    for a page, places of the rule best cannot be found, or plausible settings do not go together.
    """
    # Before any work: it may refuse. What is shown is made below, for the search may find places.
    switches(scenario)
    workers = workers or OneAfterTheOther()
    comparison = compare(scenario, None, workers, None, partial(tell, "the policies"))
    scenario = comparison.scenario
    leader, rival = leader_and_rival(comparison)
    doubt = None
    if settings and rival is not None and comparison.tally.outcomes.any():
        asked = partial(tell, "plausible settings")
        doubt = _doubt(scenario, with_numbers, (leader, rival), settings, workers, asked)
    found, variants = switches(scenario)
    groups = in_groups(scenario, variants)
    played = play_variants(groups, workers, partial(tell, "other spacings and shifts"))
    return Report(
        scenario=scenario,
        comparison=comparison,
        switches=found,
        variants=variants,
        rows=setting_rows(scenario, found, variants, played),
        changes=change_rows(scenario, found, variants, played),
        views=court_views(groups, workers, partial(tell, "the courts")),
        middle=middle(scenario, workers, partial(tell, "who takes the middle")),
        leader=leader,
        rival=rival,
        behind=_behind(comparison, leader, workers, partial(tell, "who is as good")),
        doubt=doubt,
    )


def leader_and_rival(comparison: Comparison) -> tuple[str, str | None]:
    """The policy with most in control, and the baseline, or the next best where that leads.

    The rival is None where there is only one policy.
    """
    baseline, leader = comparison.scenario.baseline.name, most_in_control(comparison)
    if leader != baseline:
        return leader, baseline
    hits = balls_in_control(comparison)
    del hits[leader]
    return leader, max(hits, key=lambda name: hits[name], default=None)


def _behind(
    comparison: Comparison,
    leader: str,
    workers: Workers,
    progress: Callable[[Progress], None],
) -> list[Row]:
    """Differences of the others to the leader: paired with it, and told by all of them at once."""
    if leader != comparison.scenario.baseline.name:
        changed = against(comparison.scenario, leader)
        comparison = compare(changed, None, workers, None, progress)
    return differences_in_control(comparison)


def _doubt(
    scenario: Scenario,
    with_numbers: WithNumbers,
    names: tuple[str, str],
    settings: int,
    workers: Workers,
    progress: Callable[[Progress], None],
) -> Sensitivity:
    """How the difference between two policies depends on the usual inputs."""
    shots, at_ends = min(scenario.run.shots, _SHOTS_OF_A_SETTING), scenario.run.shots

    def two(other: Scenario) -> Scenario:
        run = other.run.model_copy(update={"shots": shots})
        # A policy does not know the numbers that are in doubt: its places stay.
        return between(with_places_of(other.model_copy(update={"run": run}), scenario), *names)

    def make(numbers: Mapping[str, float]) -> Scenario:
        return two(with_numbers(numbers))

    pair = two(scenario)
    inputs = usual_inputs(pair, make)
    try:
        return sensitivity(pair, inputs, make, "in_control", settings, workers, progress, at_ends)
    except Refused as error:
        # The advice of the study is about its own options.
        lines = [line for line in str(error).splitlines() if "--vary-input" not in line]
        raise Refused("\n".join([*lines, "leave that out with --no-inputs"])) from None
