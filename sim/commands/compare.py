"""Comparing policies, from the command line."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import click

from sim.commands.shared import OUT, changes_of
from sim.errors import Refused
from sim.terminal import (
    INTERRUPTED,
    PRECISION_NOT_REACHED,
    ProgressLine,
    echo,
    errors_to_exit_codes,
    units_option,
)

if TYPE_CHECKING:
    from sim.analyses.uncertainty import Uncertainty
    from sim.cluster import Cluster
    from sim.comparison import Comparison
    from sim.precision import Precision
    from sim.processes import Processes
    from sim.run_store import RunStore
    from sim.scenario import Scenario
    from sim.scenario_files import ScenarioFile

# A run of more blocks than this keeps the finished ones until it is done.
_LONG_RUN: Final = 8
_FOR_PRECISION: Final = ("max_shots", "measure", "precision_of")


class _How(NamedTuple):
    """How a comparison is run, as far as its results do not depend on it."""

    force: bool
    resume: bool
    workers: int | None
    cluster: str | None
    quiet: bool


@click.command()
@click.argument("scenario", required=False)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    help=f"Folder for the results.  [default: {OUT}/SCENARIO]",
)
@click.option("--force", is_flag=True, help="Replace another run's results in the folder.")
@click.option("--shots", type=int, help="Shots for each return direction.")
@click.option("--seed", type=int, help="Seed of the random numbers; 0 is a seed.")
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
@click.option(
    "--set",
    "changes",
    multiple=True,
    metavar="KEY=VALUE",
    help="Change one setting, such as pair.left.height='5 ft 2 in'. May be repeated.",
)
@click.option(
    "--with-uncertainty",
    "draws",
    type=click.Path(path_type=Path),
    metavar="DRAWS.csv",
    multiple=True,
    help="Say, too, what not knowing the scenario's numbers adds: a file with a column for each "
    "number (its key in the header) and a row for each plausible set of them. May be repeated.",
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
@click.option(
    "--workers",
    type=click.IntRange(min=1, max=1024),
    help="Processes that share the work; the results are the same.  "
    "[default: one for short runs, one for each core for long ones]",
)
@click.option(
    "--cluster",
    metavar="ADDRESS",
    help="Let the workers of a Dask scheduler do the work; the results are the same.",
)
@click.option("--resume", is_flag=True, help="Go on with an interrupted run.")
@units_option
@click.option("-q", "--quiet", is_flag=True, help="No progress and no messages on stderr.")
def compare(
    scenario: str | None,
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

    if every and scenario:
        raise click.UsageError("--all takes no scenario: it runs every bundled one.")
    if precision is not None and shots is not None:
        raise click.UsageError("--shots and --precision exclude each other; see --max-shots.")
    if every and between:
        raise click.UsageError("--all and --between exclude each other: policies differ.")
    if how["workers"] and how["cluster"]:
        raise click.UsageError("--workers and --cluster exclude each other.")
    if precision is None:
        _refuse_without("--precision; --shots sets the shots of a run", *_FOR_PRECISION)
    if not draws:
        _refuse_without("--with-uncertainty", "settings")
    for option, present in (
        ("--all", every),
        ("--precision", precision is not None),
        ("--cluster", bool(how["cluster"])),
    ):
        if draws and present:
            raise click.UsageError(f"{option} and --with-uncertainty exclude each other.")
    if between and baseline:
        raise click.UsageError("--between names the baseline itself: leave out --baseline.")
    run_changes = {"shots": shots, "seed": seed, "sampling": sampling, "baseline": baseline}
    given = {key: value for key, value in run_changes.items() if value is not None}
    laid_over = merge(changes_of(changes), {"run": given} if given else {})
    options: dict[str, Any] = {
        "units": units,
        "figures": not no_figures,
        "every_shot": every_shot,
    }
    if between:
        options["between"] = list(between)
    if precision is not None:
        options["precision"] = {
            "points": precision,
            "of": precision_of,
            "measure": measure,
            "most_shots": max_shots,
        }
    if draws:
        options["with_uncertainty"] = {"files": list(map(str, draws)), "settings": settings}
    with errors_to_exit_codes():
        names: list[str | None] = [*bundled()] if every else [scenario]
        reached = []
        for name in names:
            file = read(name)
            base = (out or Path(OUT)) / file.short_name if every else out
            folder = base or Path(OUT) / file.short_name
            reached.append(_compare_one(file, laid_over, folder, options, _How(**how)))
    if not all(reached):
        sys.exit(PRECISION_NOT_REACHED)


def _refuse_without(needed: str, *names: str) -> None:
    """Options that say nothing without another one are more likely a slip than meant."""
    context = click.get_current_context()
    for name in names:
        if context.get_parameter_source(name) is click.core.ParameterSource.COMMANDLINE:
            raise click.UsageError(f"--{name.replace('_', '-')} needs {needed}.")


def _compare_one(
    file: ScenarioFile,
    changes: dict[str, Any],
    folder: Path,
    options: dict[str, Any],
    how: _How,
) -> bool:
    """Run one comparison from file to results; whether it is as precise as was asked."""
    from sim.manifest import manifest_of
    from sim.outputs import check_folder
    from sim.scenario_files import build, overlay

    scenario = build(file, changes)
    if "between" in options:
        scenario = only(scenario, *options["between"])
    doubts = _doubts(file, changes, scenario, options)
    manifest = manifest_of(scenario, overlay(file.tables, changes), options)
    check_folder(folder, manifest, force=how.force)

    from sim.texts.comparison import how_sure, terminal_text
    from sim.texts.uncertainty import terminal_text as uncertainty_text

    precision = _precision(options)
    asked = None if precision is None else precision.points
    line = ProgressLine(scenario.name, asked, quiet=how.quiet)
    store = _store(scenario, precision, folder)
    try:
        comparison = _play(scenario, precision, store, how, line)
        uncertainty = _play_doubts(comparison.scenario, doubts, how, line) if doubts else None
        line.note("drawing and writing ...")
        _write(comparison, uncertainty, folder, manifest, options)
    except KeyboardInterrupt:
        kept = ": finished blocks are kept, add --resume to go on." if store else "."
        line.say(f"Interrupted{kept}")
        sys.exit(INTERRUPTED)
    if store:
        store.remove()
    for sentence in how_sure(comparison):
        line.say(sentence)
    line.say(f"Results in {folder}")
    echo(terminal_text(comparison, options["units"]))
    if uncertainty:
        echo(f"\n{uncertainty_text(uncertainty)}")
    return comparison.precise_enough


class _Doubts(NamedTuple):
    """The settings that stand for what is not known, and the files they come from, with keys."""

    settings: list[Scenario]
    sources: list[tuple[str, list[str]]]


def _doubts(
    file: ScenarioFile, changes: dict[str, Any], scenario: Scenario, options: dict[str, Any]
) -> _Doubts | None:
    """Read the files of draws; what they hold becomes part of the options that the run keeps."""
    if "with_uncertainty" not in options:
        return None
    from sim.analyses.uncertainty import shots_of_a_setting
    from sim.joint_draws import read_draws, scenarios_of
    from sim.numeric_settings import changer
    from sim.scenario_files import merge

    wanted = options["with_uncertainty"]
    draws = [read_draws(Path(name), scenario) for name in wanted["files"]]
    wanted["digests"] = [each.digest for each in draws]
    shots = shots_of_a_setting(scenario.run.shots)
    with_numbers = changer(file, merge(changes, {"run": {"shots": shots}}))
    settings = scenarios_of(draws, wanted["settings"], scenario.run.seed, with_numbers)
    if "between" in options:
        settings = [only(each, *options["between"]) for each in settings]
    return _Doubts(settings, [(Path(each.file).name, each.keys) for each in draws])


def _play_doubts(scenario: Scenario, doubts: _Doubts, how: _How, line: ProgressLine) -> Uncertainty:
    from sim.analyses.uncertainty import uncertainty
    from sim.best_places import with_places_of
    from sim.processes import Processes

    # A policy does not know the numbers that are in doubt: its places stay those of the scenario.
    settings = [with_places_of(setting, scenario) for setting in doubts.settings]
    with Processes(how.workers) as workers:
        return uncertainty(scenario, settings, doubts.sources, workers, line.show)


def only(scenario: Scenario, policy: str, baseline: str) -> Scenario:
    """The scenario with two of its policies, the second as the baseline."""
    names = [known.name for known in scenario.policies]
    for name in (policy, baseline):
        if name not in names:
            known = ", ".join(f'"{name}"' for name in names)
            raise Refused(f'--between: "{name}" is not a policy of {scenario.name}; it has {known}')
    if policy == baseline:
        raise Refused(f'--between: "{policy}" cannot be compared with itself')
    kept = [known for known in scenario.policies if known.name in (policy, baseline)]
    run = scenario.run.model_copy(update={"baseline": baseline})
    return scenario.model_copy(update={"policies": kept, "run": run})


def _precision(options: dict[str, Any]) -> Precision | None:
    from sim.precision import Precision

    return Precision(**options["precision"]) if "precision" in options else None


def _store(scenario: Scenario, precision: Precision | None, folder: Path) -> RunStore | None:
    """The place for finished blocks, if the run is long enough to need one."""
    from sim.draws import BLOCK
    from sim.run_store import RunStore, store_folder

    if precision is None and scenario.run.shots <= _LONG_RUN * BLOCK:
        return None
    return RunStore(store_folder(folder), scenario)


def _open(store: RunStore | None, how: _How, line: ProgressLine) -> None:
    from sim.wording import counted

    left = store.open(resume=how.resume, force=how.force) if store else 0
    if store and left:
        line.say(f"Going on with {counted(left, 'block')} kept in {store.folder.name}")
    elif store and how.resume:
        line.say("No interrupted run to go on with: played from the start.")
    elif how.resume:
        line.say("A short run keeps nothing to go on with: played from the start.")


def _play(
    scenario: Scenario,
    precision: Precision | None,
    store: RunStore | None,
    how: _How,
    line: ProgressLine,
) -> Comparison:
    from sim.comparison import compare as run

    with _workers(how) as workers:
        _open(store, how, line)
        comparison = run(scenario, precision, workers, store, line.show)
    if store and store.unreadable:
        line.say(f"Played again, for the kept file was damaged: {', '.join(store.unreadable)}")
    return comparison


def _workers(how: _How) -> Processes | Cluster:
    if how.cluster is not None:
        from sim.cluster import Cluster

        return Cluster(how.cluster)
    from sim.processes import Processes

    return Processes(how.workers)


def _write(
    comparison: Comparison,
    uncertainty: Uncertainty | None,
    folder: Path,
    manifest: dict[str, Any],
    options: dict[str, Any],
) -> None:
    from sim.comparison import shot_rows
    from sim.outputs import whole_folder, write_large_table, write_manifest, write_table
    from sim.tables import SHOT_COLUMNS

    with whole_folder(folder) as scratch:
        write_table(scratch / "summary.csv", comparison.summary_rows)
        write_table(scratch / "differences.csv", comparison.difference_rows)
        write_table(scratch / "leaks.csv", comparison.leak_rows)
        write_table(scratch / "lateral.csv", comparison.lateral_rows)
        write_table(scratch / "run_in.csv", comparison.run_in_rows)
        if uncertainty:
            write_table(scratch / "uncertainty.csv", uncertainty.rows)
        if options["every_shot"]:
            rows = shot_rows(comparison.scenario, comparison.shots_played)
            write_large_table(scratch / "shots.csv", rows, SHOT_COLUMNS)
        if options["figures"]:
            from sim.figures import all_figures, save
            from sim.texts.comparison import markdown_report

            stems = []
            for stem, figure in all_figures(comparison, options["units"]):
                save(figure, scratch / stem)
                stems.append(stem)
            page = markdown_report(comparison, stems, options["units"])
            if uncertainty:
                from sim.texts.uncertainty import markdown

                page += f"\n{markdown(uncertainty)}"
            (scratch / "report.md").write_text(page, encoding="utf-8", newline="")
        write_manifest(scratch, manifest | comparison.played())
