"""Opponents who adapt, from the command line."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import click

from sim.commands.shared import Common, study_of, study_options

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@click.command()
@study_options(shots=4096)
@click.option(
    "--worth",
    nargs=3,
    type=float,
    default=(1.0, 0.5, 1.0),
    show_default=True,
    metavar="CONTROL STRETCH MISSED",
    help="What a third shot is worth to the pair when it is met in control, met at full stretch, "
    "or missed by the opponents; one that gets through is worth 0.",
)
@click.option("--no-grid", is_flag=True, help="Let the pair mix the scenario's policies only.")
def counter(worth: tuple[float, float, float], no_grid: bool, **common: Any) -> None:
    """How does each policy of SCENARIO fare against opponents who learn it?

    After each return the opponents play the drive, drop or lob, into the lane and at the pace, that
    leaves a policy least. Tells what that takes from each policy, and which mix of places no
    opponents can exploit. The table goes to standard output, the results (CSV, figures) to --out.

    \b
    reachshare counter
    reachshare counter fast-hitters --no-grid
    reachshare counter my-pair.toml --worth 1 0.3 0.9 --out results/my-pair-counter
    """
    options = {"worth": [*worth], "no_grid": no_grid}
    with study_of("counter", Common(**common), options) as study:
        from sim.analyses.counter import Worth, contest
        from sim.analyses.counter_options import refuse_without_lanes
        from sim.texts.counter import terminal_text

        refuse_without_lanes(study.scenario, study.file.shown_path)
        found = contest(
            study.with_places(study.scenario),
            Worth(*worth),
            grid=not no_grid,
            workers=study.workers,
            progress=study.line.show,
        )

        def figures() -> Iterator[tuple[str, Figure]]:
            from sim.figures.counter import counter_figures

            return counter_figures(found)

        tables = {
            "policies.csv": found.policy_rows(),
            "equilibrium.csv": found.equilibrium_rows(),
            "payoffs.csv": found.payoff_rows(),
        }
        study.finish(tables, figures, terminal_text(found, study.units))
