"""The command line: the only place that prints, and that turns errors into exit codes."""

from __future__ import annotations

import sys
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from sim import __version__

if TYPE_CHECKING:
    from sim.comparison import Comparison
    from sim.scenario_files import ScenarioFile

OUT: Final = "reachshare-out"
BAD_INPUT: Final = 2
_PROGRESS_WIDTH: Final = 30


class HelpfulGroup(click.Group):
    """A group that suggests the nearest command for a mistyped one."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        try:
            return super().resolve_command(ctx, args)
        except click.UsageError as error:
            import difflib

            near = difflib.get_close_matches(args[0], self.list_commands(ctx), n=1)
            if near and "mean" not in error.message:
                raise click.UsageError(f"{error.message} Did you mean {near[0]!r}?", ctx) from None
            raise


@click.group(cls=HelpfulGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="reachshare")
def main() -> None:
    """What share of the opponents' third shots does each way of moving to the line reach?

    Start with: reachshare compare
    """
    for stream in (sys.stdout, sys.stderr):
        # A terminal that cannot show a letter gets a stand-in, not a traceback.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")


_units = click.option(
    "--units",
    type=click.Choice(["us", "metric"]),
    default="us",
    show_default=True,
    help="Feet and miles per hour, or metres and kilometres per hour.",
)


@main.command()
@click.argument("scenario", required=False)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    help=f"Folder for the results.  [default: {OUT}/SCENARIO]",
)
@click.option("--force", is_flag=True, help="Replace another run's results in the folder.")
@click.option("--shots", type=int, help="Shots for each return direction.")
@click.option("--seed", type=int, help="Seed of the random numbers; 0 is a seed.")
@click.option("--baseline", help="Policy that the others are compared with.")
@click.option(
    "--set",
    "changes",
    multiple=True,
    metavar="KEY=VALUE",
    help="Change one setting, such as pair.left.height='5 ft 2 in'. May be repeated.",
)
@click.option("--every-shot", is_flag=True, help="Write shots.csv: a row for each shot and policy.")
@click.option("--no-figures", is_flag=True, help="Write no figures and no report page.")
@click.option("--all", "every", is_flag=True, help="All bundled scenarios, a folder each in --out.")
@_units
@click.option("-q", "--quiet", is_flag=True, help="No progress and no messages on stderr.")
def compare(
    scenario: str | None,
    out: Path | None,
    force: bool,
    shots: int | None,
    seed: int | None,
    baseline: str | None,
    changes: tuple[str, ...],
    every_shot: bool,
    no_figures: bool,
    every: bool,
    units: str,
    quiet: bool,
) -> None:
    """Compare the movement policies of SCENARIO on the same third shots.

    SCENARIO is a bundled scenario's name or a TOML file; a club pair in their sixties when left
    out. The table goes to standard output, the results (CSV, figures, report page) to --out.

    \b
    reachshare compare
    reachshare compare tall-and-short --units metric
    reachshare compare my-pair.toml --shots 65536 --out results/my-pair
    """
    from sim.scenario_files import bundled, merge, read

    if every and scenario:
        raise click.UsageError("--all takes no scenario: it runs every bundled one.")
    run_changes = {"shots": shots, "seed": seed, "baseline": baseline}
    given = {key: value for key, value in run_changes.items() if value is not None}
    laid_over = merge(_changes(changes), {"run": given} if given else {})
    options = {"units": units, "figures": not no_figures, "every_shot": every_shot}
    with _errors_to_exit_codes():
        names: list[str | None] = [*bundled()] if every else [scenario]
        for name in names:
            file = read(name)
            base = (out or Path(OUT)) / file.short_name if every else out
            folder = base or Path(OUT) / file.short_name
            _compare_one(file, laid_over, folder, options, force=force, quiet=quiet)


def _compare_one(
    file: ScenarioFile,
    changes: dict[str, Any],
    folder: Path,
    options: dict[str, Any],
    *,
    force: bool,
    quiet: bool,
) -> None:
    from sim.manifest import manifest_of
    from sim.outputs import check_folder
    from sim.scenario_files import build, overlay

    scenario = build(file, changes)
    manifest = manifest_of(scenario, overlay(file.tables, changes), options)
    check_folder(folder, manifest, force=force)

    from sim.comparison import compare as run
    from sim.report import terminal_text

    progress = _Progress(scenario.name, quiet=quiet)
    comparison = run(scenario, progress.show)
    progress.note("drawing and writing ...")
    _write(comparison, folder, manifest, options)
    progress.end(f"Results in {folder}")
    _echo(terminal_text(comparison, options["units"]))


def _write(
    comparison: Comparison, folder: Path, manifest: dict[str, Any], options: dict[str, Any]
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
        if options["every_shot"]:
            rows = shot_rows(comparison.scenario)
            write_large_table(scratch / "shots.csv", rows, SHOT_COLUMNS)
        if options["figures"]:
            from sim.figures import all_figures, save
            from sim.report import markdown_report

            stems = []
            for stem, figure in all_figures(comparison, options["units"]):
                save(figure, scratch / stem)
                stems.append(stem)
            page = markdown_report(comparison, stems, options["units"])
            (scratch / "report.md").write_text(page, encoding="utf-8", newline="")
        write_manifest(scratch, manifest)


@main.group(cls=HelpfulGroup)
def scenario() -> None:
    """List, show, make and check scenarios."""


@scenario.command("list")
def list_() -> None:
    """List the bundled scenarios with their questions."""
    from sim.scenario_files import bundled, load

    with _errors_to_exit_codes():
        width = max(map(len, bundled()))
        for name in bundled():
            loaded = load(name)
            click.echo(f"{name:{width}}  {loaded.name}. {loaded.question}")


@scenario.command()
@click.argument("scenario", required=False)
@click.option("--full", is_flag=True, help="Every setting with its value, tag and source.")
@_units
def show(scenario: str | None, full: bool, units: str) -> None:
    """Show SCENARIO as written, or with --full every setting that a run of it uses."""
    from sim.scenario_files import build, read

    with _errors_to_exit_codes():
        file = read(scenario)
        loaded = build(file)
        if not full:
            click.echo(file.text.rstrip("\n"))
            return
        from sim.quantities import TAGS
        from sim.settings import settings

        for tag, meaning in TAGS.items():
            click.echo(f"[{tag}] {meaning}")
        click.echo("given: set by the scenario, not a default\n")
        entries = settings(loaded, units)
        key_width = max(len(entry.key) for entry in entries)
        for entry in entries:
            label = "given" if entry.given else f"[{entry.tag}] {entry.source}" if entry.tag else ""
            click.echo(f"{entry.key:{key_width}}  {entry.value}  {label}".rstrip())


@scenario.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--like", help="Bundled scenario to build on.  [default: club-sixties]")
def new(file: Path, like: str | None) -> None:
    """Write a scenario to fill in to FILE (.toml), building on a bundled one."""
    from sim.scenario_files import DEFAULT, bundled, read, template

    with _errors_to_exit_codes():
        if file.suffix != ".toml":
            raise _Refused(f"{file}: the name must end in .toml")
        if like and like not in bundled():
            raise _Refused(f"--like {like}: must be one of {', '.join(bundled())}")
        base = read(like or DEFAULT)
        try:
            with file.open("x", encoding="utf-8", newline="\n") as out:
                out.write(template(base.short_name))
        except FileExistsError:
            raise _Refused(f"{file}: is there already; choose another name") from None
        except OSError as error:
            raise _Refused(f"{file}: cannot be written: {error.strerror}") from None
        click.echo(f"Wrote {file}. Edit it, then: reachshare compare {file}", err=True)


@scenario.command()
@click.argument("scenario")
def check(scenario: str) -> None:
    """Check SCENARIO and say what is wrong with it, if anything."""
    from sim.scenario_files import load

    with _errors_to_exit_codes():
        loaded = load(scenario)
        click.echo(f"{scenario}: good: {loaded.name}, {len(loaded.policies)} policies")


@scenario.command()
def schema() -> None:
    """Print the JSON Schema of scenario files, for editors."""
    import json

    from sim.scenario_files import json_schema

    click.echo(json.dumps(json_schema(), indent=2, ensure_ascii=False))


def _echo(text: str) -> None:
    """Print, with a hyphen for the minus sign where the terminal or file cannot hold one."""
    from sim.wording import MINUS

    try:
        MINUS.encode(sys.stdout.encoding or "utf-8")
    except UnicodeEncodeError:
        text = text.replace(MINUS, "-")
    click.echo(text)


class _Refused(Exception):
    """Bad input, told in one line."""


@contextmanager
def _errors_to_exit_codes() -> Iterator[None]:
    """Turn the library's errors into messages on stderr and exit code 2."""
    from sim.outputs import OutputError
    from sim.scenario_files import ScenarioError

    try:
        yield
    except (ScenarioError, OutputError, _Refused) as error:
        for line in str(error).splitlines():
            click.echo(f"Error: {line}", err=True)
        sys.exit(BAD_INPUT)


class _Progress:
    """A line on stderr that says how far a run has come; plain lines where there is no terminal."""

    def __init__(self, title: str, *, quiet: bool) -> None:
        self.title, self.quiet = title, quiet
        self.live = not quiet and sys.stderr.isatty()

    def show(self, done: int, total: int) -> None:
        if self.live:
            filled = _PROGRESS_WIDTH * done // total
            bar = "#" * filled + "." * (_PROGRESS_WIDTH - filled)
            click.echo(f"\r{self.title}  {bar}  {done} of {total} blocks", err=True, nl=False)

    def note(self, text: str) -> None:
        if self.live:
            click.echo(f"\r\x1b[K{self.title}  {text}", err=True, nl=False)

    def end(self, text: str) -> None:
        if self.live:
            click.echo("\r\x1b[K", err=True, nl=False)
        if not self.quiet:
            click.echo(text, err=True)


def _changes(pairs: tuple[str, ...]) -> dict[str, Any]:
    """Tables from KEY=VALUE pairs; values as in TOML, or plain text."""
    from sim.scenario_files import merge

    tables: dict[str, Any] = {}
    for pair in pairs:
        key, equals, text = pair.partition("=")
        if not equals or not all(part.strip() for part in key.split(".")):
            raise click.BadParameter(f"{pair!r} is not KEY=VALUE", param_hint="--set")
        try:
            value: Any = tomllib.loads(f"value = {text}")["value"]
        except (tomllib.TOMLDecodeError, RecursionError):
            value = text
        table: Any = value
        for part in reversed(key.strip().split(".")):
            table = {part.strip(): table}
        tables = merge(tables, table)
    return tables
