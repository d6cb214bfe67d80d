"""Varying one or two numbers, from the command line."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from sim.commands.shared import Common, study_of, study_options

if TYPE_CHECKING:
    from collections.abc import Iterator

    from matplotlib.figure import Figure

    from sim.analyses.sweep import Sweep


@click.command()
@study_options(shots=8192)
@click.option(
    "--vary",
    multiple=True,
    required=True,
    metavar="KEY=FROM:TO:STEP",
    help="What to vary, such as 'spacing=4 ft:12 ft:0.5 ft'. May be given twice.",
)
@click.option(
    "--policy",
    "policies",
    multiple=True,
    metavar="NAME",
    help="Show only this policy. May be repeated.  [default: all that change; of a map the "
    "baseline]",
)
@click.option(
    "--measure",
    type=click.Choice(["in_control", "reached"]),
    default="in_control",
    show_default=True,
    help="What makes a value the best: balls reached in control, or reached at all.",
)
def sweep(vary: tuple[str, ...], policies: tuple[str, ...], measure: str, **common: Any) -> None:
    """Vary one number of SCENARIO, or two, and show what changes and what is best.

    KEY is any number of a scenario (scenario show --full lists them), pair.both.top_speed for both
    players, policies.NAME.spacing for one policy, or spacing, shift, depth, returner_depth or
    partner_depth for every policy that it changes. A value without a unit takes that of the last
    one given.

    \b
    reachshare sweep --vary "spacing=4 ft:12 ft:0.5 ft"
    reachshare sweep --vary shift=0:1:0.1 --policy follow
    reachshare sweep --vary "pair.both.top_speed=8:18:1 ft/s"
    reachshare sweep --vary "spacing=4:12:1 ft" --vary shift=0:1:0.1
    """
    options = {"vary": list(vary), "policy": list(policies), "measure": measure}
    with study_of("sweep", Common(**common), options) as study:
        from sim.analyses.sweep import plan
        from sim.analyses.sweep import sweep as play
        from sim.analyses.sweep_tables import tables
        from sim.texts.sweep import terminal_text

        scenario = study.with_places(study.scenario)
        planned = plan(study.file, study.changes, scenario, vary, policies, measure)
        found = play(planned, study.workers, study.line.show)
        study.finish(tables(found), lambda: _figures(found), terminal_text(found, study.units))


def _figures(found: Sweep) -> Iterator[tuple[str, Figure]]:
    from sim.figures.sweep import differences_figure, sweep_figure
    from sim.figures.sweep_map import map_figure

    if len(found.plan.axes) == 2:
        yield "sweep", map_figure(found)
        return
    yield "sweep", sweep_figure(found)
    baseline = found.plan.scenario.baseline
    others = [policy for policy in found.plan.policies if policy is not baseline]
    if found.plan.of_scenario and others:
        yield "differences", differences_figure(found)
