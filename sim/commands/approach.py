"""The way in, from the command line."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, cast

import click

from sim.commands.shared import Common, study_of, study_options

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from sim.figures.style import Units


@click.command()
@study_options(shots=2048)
@click.option(
    "--policy",
    "policies",
    multiple=True,
    metavar="NAME",
    help="Only this policy; may be repeated. Returns are tried with the first.  "
    "[default: all, the baseline first]",
)
@click.option(
    "--return",
    "directions",
    multiple=True,
    type=click.Choice(["line", "middle", "cross"]),
    help="Only returns in this direction; may be repeated.  [default: the scenario's]",
)
@click.option(
    "--arrive",
    type=float,
    default=80.0,
    show_default=True,
    metavar="PERCENT",
    help="Both should have arrived in time for so many of the balls, 1 to 100 of 100.",
)
def approach(
    policies: tuple[str, ...], directions: tuple[str, ...], arrive: float, **common: Any
) -> None:
    """Show the way in: what the pair can do between its return and the third shot.

    When both are at their places and how often before the opponents strike, where the shot finds
    them and how far apart, what a deeper or higher return buys, what stopping for the split step
    brings, and what would let them arrive in time.

    \b
    reachshare approach
    reachshare approach --policy follow --return cross
    reachshare approach my-pair.toml --arrive 50 --units metric
    """
    if not 1.0 <= arrive <= 100.0:
        raise click.BadParameter(
            f"{arrive:g} is not from 1 to 100: it is in percent, such as 80", param_hint="--arrive"
        )
    options = {"policy": [*policies], "return": [*directions], "arrive": arrive}
    with study_of("approach", Common(**common), options) as study:
        from sim.analyses.approach import approach as run
        from sim.analyses.approach import only
        from sim.texts.approach import terminal_text

        scenario = study.with_places(only(study.scenario, policies, directions))
        result = run(scenario, arrive / 100.0, study.workers, study.line.show)

        def figures() -> Iterator[tuple[str, Figure]]:
            from sim.figures.approach import approach_figures

            return approach_figures(result, cast("Units", study.units))

        tables = {
            "arrival.csv": result.arrival_rows,
            "way.csv": result.way_rows,
            "spacing.csv": result.spacing_rows,
            "returns.csv": result.return_rows,
            "split_step.csv": result.split_step_rows,
            "remedies.csv": result.remedy_rows,
        }
        # Who arrives in time needs no remedy: no table rather than one without columns.
        filled = {name: rows for name, rows in tables.items() if rows}
        study.finish(filled, figures, terminal_text(result, study.units))
