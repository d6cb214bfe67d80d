"""The best places of a pair, from the command line."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, cast

import click

from sim.commands.shared import Common, study_of, study_options
from sim.errors import Refused

if TYPE_CHECKING:
    from collections.abc import Iterator

    from matplotlib.figure import Figure

    from sim.analyses.positions import Positions
    from sim.candidate_places import Worth
    from sim.figures.style import Units

_SHOTS: Final = 4096
_GRIDS: Final = ("4 in", "3 ft")
_USUAL_WORTH: Final = (1.0, 0.5)


@click.command()
@study_options(shots=_SHOTS)
@click.option(
    "--objective",
    type=click.Choice(["in_control", "reached", "worth"]),
    default="in_control",
    show_default=True,
    help="What the places are to be best in: balls in control, balls reached, or --worth.",
)
@click.option(
    "--worth",
    nargs=2,
    type=click.FloatRange(0.0, 1.0),
    metavar="CONTROL STRETCH",
    help="With --objective worth: what a ball in control counts, and one at full stretch.  "
    f"[default: {_USUAL_WORTH[0]:g} {_USUAL_WORTH[1]:g}]",
)
@click.option(
    "--in-time",
    type=click.FloatRange(0.0, 100.0),
    default=50.0,
    show_default=True,
    metavar="PERCENT",
    help="Only places that the player reaches before settling for so many of the balls in play.",
)
@click.option(
    "--grid",
    default="6 in",
    show_default=True,
    metavar="LENGTH",
    help=f"Places are so far apart, from {_GRIDS[0]} to {_GRIDS[1]}.",
)
def positions(
    objective: str, worth: tuple[float, float] | None, in_time: float, grid: str, **common: Any
) -> None:
    """Find where exactly the pair of SCENARIO should stand when the opponents strike.

    All pairs of places on a grid are tried, for each return direction. Told are the best places,
    how much other places and the scenario's policies give away against them, and all places that
    are as good. They are written to best.toml as a policy to go on with: the scenario once more,
    with the rule best.

    \b
    reachshare positions
    reachshare positions fast-hitters --objective reached
    reachshare positions my-pair.toml --objective worth --worth 1 0.4 --in-time 0
    """
    if not 0.0 <= in_time <= 100.0:
        raise click.BadParameter(f"{in_time} is not a share in percent", param_hint="--in-time")
    if 0.0 < in_time < 1.0:
        raise click.BadParameter(
            f"{in_time:g} is less than 1 of 100 balls: it is in percent, such as 50",
            param_hint="--in-time",
        )
    if objective == "worth":
        worth = worth or _USUAL_WORTH
    elif worth is not None:
        raise click.UsageError("--worth needs --objective worth.")
    else:
        worth = 1.0, 1.0 if objective == "reached" else 0.0
    options = {"objective": objective, "in_time": in_time, "grid": grid}
    if objective == "worth":
        options["worth"] = [*worth]
    with study_of("positions", Common(**common), options) as study:
        from sim.analyses.positions import best_rows, find, region_rows, regret_rows
        from sim.candidate_places import Wish
        from sim.samples import with_samples_written_out
        from sim.scenario_files import overlay
        from sim.texts.positions import terminal_text

        wish = Wish(_worth(*worth), in_time / 100.0, _length(grid), study.scenario.run.shots)
        # The new scenario lies in another folder than samples of the old one.
        tables = overlay(study.file.tables, study.changes)
        own = with_samples_written_out(tables, study.file.folder)
        result = find(study.scenario, wish, study.workers, study.line.show)

        def figures() -> Iterator[tuple[str, Figure]]:
            from sim.figures.positions import place_figures

            return place_figures(result, cast("Units", study.units))

        study.finish(
            {
                "best.csv": best_rows(result),
                "regret.csv": regret_rows(result),
                "places.csv": region_rows(result),
            },
            figures,
            terminal_text(result, study.units),
            {"best.toml": _best_toml(result, own)},
        )


def _worth(control: float, stretch: float) -> Worth:
    from sim.candidate_places import Worth

    if not 0.0 < control >= stretch:
        raise Refused(
            f"--worth {control:g} {stretch:g}: a ball in control must count something, and no less "
            "than one at full stretch, such as --worth 1 0.5"
        )
    return Worth(control, stretch)


def _length(grid: str) -> float:
    from sim.quantities import Quantity

    try:
        return Quantity("length", *_GRIDS)(grid)
    except ValueError as error:
        raise Refused(f'--grid "{grid}": {error}') from None


def _best_toml(result: Positions, tables: dict[str, Any]) -> str:
    """The scenario with the best as one more policy, which stands last."""
    from sim.scenario import USUAL_POLICIES
    from sim.texts.positions import places_table
    from sim.toml_text import toml_text

    policies = {policy["name"]: policy for policy in tables.get("policies", USUAL_POLICIES)}
    # Where the scenario asked for it, its depth, split step and all.
    best = policies.pop(result.best.name, {"name": result.best.name, "rule": "best"})
    best = best | {"places": places_table(result)}
    whole = tables | {"name": result.scenario.name, "policies": [*policies.values(), best]}
    return _REMARK + toml_text(whole)


_REMARK: Final = """\
# The scenario with the places that reachshare positions found, as the last policy.
# Run it (reachshare compare best.toml), or copy the last policy into a scenario of your own.
# from_centre counts to the pair's right, so that -5 ft is left of the centre line.
"""
