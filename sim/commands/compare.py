"""Comparing policies, from the command line."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from sim.commands.one_comparison import How, compare_one, planned
from sim.commands.shared import (
    OUT,
    changes_of,
    draws_option,
    force_option,
    quiet_option,
    seed_option,
    set_option,
    workers_option,
)
from sim.terminal import PRECISION_NOT_REACHED, errors_to_exit_codes, units_option

if TYPE_CHECKING:
    from sim.scenario_files import ScenarioFile

_FOR_PRECISION: Final = ("max_shots", "measure", "precision_of")


@click.command()
@click.argument("scenario", required=False)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    help=f"Folder for the results.  [default: {OUT}/SCENARIO]",
)
@force_option
@click.option("--shots", type=int, help="Shots for each return direction.")
@seed_option
@click.option(
    "--sampling",
    type=click.Choice(["quasi-random", "pseudo-random"]),
    help="Evenly spread random numbers, or plain ones.  [default: quasi-random]",
)
@click.option("--baseline", help="Policy that the others are compared with.")
@click.option(
    "--between",
    nargs=2,
    metavar="POLICY BASELINE",
    help="Compare only these two policies.",
)
@click.option(
    "--precision",
    type=click.FloatRange(min=0.01, max=50.0),
    metavar="POINTS",
    help="Play until the 95 % intervals are no wider than this to either side, "
    "in percentage points.",
)
@click.option(
    "--precision-of",
    type=click.Choice(["difference", "share"]),
    default="difference",
    show_default=True,
    help="What --precision is about: differences to the baseline, or shares; after all returns.",
)
@click.option(
    "--measure",
    type=click.Choice(["in_control", "reached"]),
    default="in_control",
    show_default=True,
    help="What --precision is about: balls reached in control, or reached at all.",
)
@click.option(
    "--max-shots",
    type=click.IntRange(min=1, max=100_000_000),
    default=1_000_000,
    show_default=True,
    help="With --precision, shots for each return direction at most.",
)
@set_option
@draws_option(
    "Say, too, what not knowing the scenario's numbers adds: a file with a column for each "
    "number (its key in the header) and a row for each plausible set of them. May be repeated."
)
@click.option(
    "--settings",
    type=click.IntRange(min=20, max=100_000),
    default=200,
    show_default=True,
    help="With --with-uncertainty, rows played at most; each with a sixteenth of the --shots.",
)
@click.option("--every-shot", is_flag=True, help="Write shots.csv: a row for each shot and policy.")
@click.option("--no-figures", is_flag=True, help="Write no figures and no report page.")
@click.option("--all", "every", is_flag=True, help="All bundled scenarios, a folder each in --out.")
@workers_option("one for short runs, one for each core for long ones")
@click.option(
    "--cluster",
    metavar="ADDRESS",
    help="Let the workers of a Dask scheduler do the work; the results are the same.",
)
@click.option("--resume", is_flag=True, help="Go on with an interrupted run.")
@units_option
@quiet_option
def compare(
    scenario: str | ScenarioFile | None,
    out: Path | None,
    shots: int | None,
    seed: int | None,
    sampling: str | None,
    baseline: str | None,
    between: tuple[str, str] | None,
    precision: float | None,
    precision_of: str,
    measure: str,
    max_shots: int,
    changes: tuple[str, ...],
    draws: tuple[Path, ...],
    settings: int,
    every_shot: bool,
    no_figures: bool,
    every: bool,
    units: str,
    **how: Any,
) -> None:
    """Compare the movement policies of SCENARIO on the same third shots.

    SCENARIO is a bundled scenario's name or a TOML file; a club pair in their sixties when left
    out. The table goes to standard output, the results (CSV, figures, report page) to --out.

    \b
    reachshare compare
    reachshare compare tall-and-short --units metric
    reachshare compare my-pair.toml --precision 0.25 --out results/my-pair
    reachshare compare --between follow halves --precision 0.1 --out follow-or-halves
    reachshare compare my-pair.toml --with-uncertainty legs.csv --out with-doubt
    """
    from sim.scenario_files import bundled, merge, read

    _check_together(click.get_current_context().params)
    run_changes = {"shots": shots, "seed": seed, "sampling": sampling, "baseline": baseline}
    given = {key: value for key, value in run_changes.items() if value is not None}
    laid_over = merge(changes_of(changes), {"run": given} if given else {})
    options: dict[str, Any] = {
        "command": "compare",
        "units": units,
        "no_figures": no_figures,
        "every_shot": every_shot,
    }
    if between:
        options["between"] = list(between)
    if precision is not None:
        options |= {
            "precision": precision,
            "precision_of": precision_of,
            "measure": measure,
            "max_shots": max_shots,
        }
    if draws:
        options["settings"] = settings
    with errors_to_exit_codes():
        names: list[str | ScenarioFile | None] = [*bundled()] if every else [scenario]
        runs = []
        for file in map(read, names):
            base = (out or Path(OUT)) / file.short_name if every else out
            folder = base or Path(OUT) / file.short_name
            runs.append(planned(file, laid_over, folder, options, draws))
        kind = How(**how)
        if every:
            # Refused before the first is played, not after some have been.
            for run in runs:
                run.check(kind)
        reached = [compare_one(run, kind) for run in runs]
    if not all(reached):
        sys.exit(PRECISION_NOT_REACHED)


def _check_together(given: dict[str, Any]) -> None:
    """Raise `click.UsageError` where options do not go together, or say nothing without another."""
    if given["every"] and given["scenario"]:
        raise click.UsageError("--all takes no scenario: it runs every bundled one.")
    if given["precision"] is not None and given["shots"] is not None:
        raise click.UsageError("--shots and --precision exclude each other; see --max-shots.")
    if given["every"] and given["between"]:
        raise click.UsageError("--all and --between exclude each other: policies differ.")
    if given["workers"] and given["cluster"]:
        raise click.UsageError("--workers and --cluster exclude each other.")
    if given["precision"] is None:
        _refuse_without("--precision; --shots sets the shots of a run", *_FOR_PRECISION)
    if not given["draws"]:
        _refuse_without("--with-uncertainty", "settings")
    for option, name in (
        ("--all", "every"),
        ("--precision", "precision"),
        ("--cluster", "cluster"),
    ):
        if given["draws"] and given[name]:
            raise click.UsageError(f"{option} and --with-uncertainty exclude each other.")
    if given["between"] and given["baseline"]:
        raise click.UsageError("--between names the baseline itself: leave out --baseline.")


def _refuse_without(needed: str, *names: str) -> None:
    """Options that say nothing without another one are more likely a slip than meant."""
    context = click.get_current_context()
    for name in names:
        if context.get_parameter_source(name) is click.core.ParameterSource.COMMANDLINE:
            raise click.UsageError(f"--{name.replace('_', '-')} needs {needed}.")
