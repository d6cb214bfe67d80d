"""What the commands of the studies have in common: options, where results go, how they end."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple, TypeVar

import click

from sim.terminal import (
    ProgressLine,
    ending_when_stopped,
    errors_to_exit_codes,
    plain,
    show_results,
    units_option,
)

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from sim.manifest import InputFile
    from sim.processes import Processes
    from sim.scenario import Scenario
    from sim.scenario_files import ScenarioFile
    from sim.tables import Row

OUT: Final = "reachshare-out"

force_option: Final = click.option(
    "--force",
    is_flag=True,
    help="Replace the results in the folder: another run's, or those changed since.",
)
set_option: Final = click.option(
    "--set",
    "changes",
    multiple=True,
    metavar="KEY=VALUE",
    help="Change one setting, such as pair.left.height='5 ft 2 in'. May be repeated.",
)
quiet_option: Final = click.option(
    "-q", "--quiet", is_flag=True, help="No progress and no messages on stderr."
)

seed_option: Final = click.option(
    "--seed",
    type=click.IntRange(min=0, max=2**63 - 1),
    help="Seed of the random numbers; 0 is a seed.",
)

_Command = TypeVar("_Command", bound=Callable[..., Any])


def workers_option(default: str) -> Callable[[_Command], _Command]:
    """How many processes work; ``default`` says how many do where nothing is given."""
    return click.option(
        "--workers",
        type=click.IntRange(min=1, max=1024),
        help=f"Processes that share the work; the results are the same.  [default: {default}]",
    )


def draws_option(what: str) -> Callable[[_Command], _Command]:
    """Files of what is not known; ``what`` says what the command does with them."""
    return click.option(
        "--with-uncertainty",
        "draws",
        type=click.Path(path_type=Path),
        metavar="DRAWS.csv",
        multiple=True,
        help=what,
    )


class Common(NamedTuple):
    """The options that `study_options` adds, as a command gets them."""

    scenario: str | ScenarioFile | None
    out: Path | None
    force: bool
    shots: int | None
    seed: int | None
    changes: tuple[str, ...]
    no_figures: bool
    workers: int | None
    units: str
    quiet: bool


def study_options(shots: int | None) -> Callable[[_Command], _Command]:
    """Add what all studies of a scenario take; ``shots`` is the default for each setting played.

    With none it is the scenario's own number. The command gets them as keyword arguments that make
    up a `Common`.
    """
    options = [
        click.argument("scenario", required=False),
        click.option(
            "--out",
            type=click.Path(path_type=Path),
            help=f"Folder for the results.  [default: {OUT}/SCENARIO-COMMAND]",
        ),
        force_option,
        click.option(
            "--shots",
            type=click.IntRange(min=16, max=10_000_000),
            default=shots,
            show_default=shots is not None,
            help="Shots for each return direction, in every setting that is played."
            + ("" if shots else "  [default: the scenario's]"),
        ),
        seed_option,
        set_option,
        click.option("--no-figures", is_flag=True, help="Write no figures."),
        workers_option("one for each core"),
        units_option,
        quiet_option,
    ]

    def add(command: _Command) -> _Command:
        for option in reversed(options):
            command = option(command)
        return command

    return add


@dataclass(frozen=True)
class Study:
    """A study as its command runs it: what is played, by whom, and where the results go.

    The ``scenario`` is that of the ``file`` under the ``changes``, which are those of ``--set`` and
    the run's shots and seed, as tables.
    """

    file: ScenarioFile
    changes: dict[str, Any]
    scenario: Scenario
    workers: Processes
    folder: Path
    manifest: dict[str, Any]
    line: ProgressLine
    units: str
    figures: bool

    def with_places(self, scenario: Scenario) -> Scenario:
        """The scenario with places for its policies of the rule best that have none.

        The manifest keeps them.
        """
        from sim.best_places import places_in_feet, with_places_found
        from sim.comparison import Progress

        def searching(done: int, planned: int) -> None:
            self.line.show(Progress(done, planned))

        scenario = with_places_found(scenario, self.workers, searching)
        if places := places_in_feet(scenario):
            self.manifest["places_ft"] = places
        return scenario

    def finish(
        self,
        tables: Mapping[str, Iterable[Row]],
        figures: Callable[[], Iterable[tuple[str, Figure]]],
        text: str,
        pages: Mapping[str, str] | None = None,
        files: Mapping[str, bytes] | None = None,
        then: str = "",
    ) -> None:
        """Write all results, or none, and print the ``text``.

        The text is kept as ``answer.txt``. ``tables`` are CSV files by name, ``figures`` are made
        only where they are wanted, with their file stems, ``pages`` are other text files by name,
        ``files`` all others. What is printed ``then`` is not kept: it may name the folder, and
        results do not depend on where they stand.
        """
        from sim.outputs import whole_folder, write_manifest, write_table

        # It may name a folder, which may be called anything.
        text = plain(text)
        self.line.note("drawing and writing ...")
        with whole_folder(self.folder) as scratch:
            for name, rows in tables.items():
                write_table(scratch / name, rows)
            for name, page in {"answer.txt": f"{text}\n", **(pages or {})}.items():
                (scratch / name).write_text(page, encoding="utf-8", newline="")
            for name, data in (files or {}).items():
                (scratch / name).write_bytes(data)
            if self.figures:
                from sim.figures import save

                for stem, figure in figures():
                    save(figure, scratch / stem)
            write_manifest(scratch, self.manifest)
        show_results(self.line, self.folder, f"{text}\n\n{then}" if then else text)


class How(NamedTuple):
    """How a study is run and told, whatever it is about."""

    folder: Path
    force: bool
    workers: int | None
    units: str
    figures: bool
    quiet: bool


@contextmanager
def study_of(
    name: str,
    common: Common,
    options: Mapping[str, Any],
    *,
    inputs: Iterable[InputFile] = (),
    part: str = "",
) -> Iterator[Study]:
    """Read and check the scenario and the folder, then let the command work.

    ``name`` is the command's, ``options`` are its own ones as the manifest keeps them: by name, as
    they were given, those that the results depend on. ``inputs`` are the files it reads beside the
    scenario. ``part`` is added to the default folder's name. Errors become messages
    and exit codes.
    """
    with errors_to_exit_codes():
        from sim.scenario_files import merge, read

        file = read(common.scenario)
        given = {"shots": common.shots, "seed": common.seed}
        run = {name: value for name, value in given.items() if value is not None}
        changes = merge(changes_of(common.changes), {"run": run} if run else {})
        how = How(
            common.out or Path(OUT) / f"{file.short_name}-{name}{part}",
            common.force,
            common.workers,
            common.units,
            not common.no_figures,
            common.quiet,
        )
        with study_in(file, changes, {"command": name, **options}, how, inputs) as study:
            yield study


@contextmanager
def study_in(
    file: ScenarioFile,
    changes: dict[str, Any],
    options: Mapping[str, Any],
    how: How,
    inputs: Iterable[InputFile] = (),
    *,
    changes_are_options: bool = False,
) -> Iterator[Study]:
    """A study of the file's scenario under the ``changes``; see `study_of`.

    Where the changes are among the options, the manifest keeps the scenario without them.
    """
    from sim.manifest import files_read, manifest_of
    from sim.outputs import reserved
    from sim.processes import Processes
    from sim.scenario_files import build, overlay

    scenario, inputs = build(file, changes), list(inputs)
    kept = {**options, "units": how.units, "no_figures": not how.figures}
    within = {} if changes_are_options else changes
    manifest = manifest_of(build(file, within), file, overlay(file.tables, within), kept, inputs)
    reads = files_read(file, overlay(file.tables, changes), inputs)
    line = ProgressLine(scenario.name, quiet=how.quiet)
    with (
        ending_when_stopped(line, f"nothing was written to {how.folder}."),
        reserved(how.folder, manifest, force=how.force, reads=reads),
        Processes(how.workers) as workers,
    ):
        yield Study(
            file,
            changes,
            scenario,
            workers,
            how.folder,
            manifest,
            line,
            how.units,
            how.figures,
        )


def changes_of(pairs: tuple[str, ...], option: str = "--set") -> dict[str, Any]:
    """Tables from KEY=VALUE pairs; values as in TOML, or plain text."""
    from sim.scenario_errors import check_tables
    from sim.scenario_files import merge, nested

    tables: dict[str, Any] = {}
    for pair in pairs:
        key, equals, text = pair.partition("=")
        if not equals or not all(part.strip() for part in key.split(".")):
            raise click.BadParameter(f"{pair!r} is not KEY=VALUE", param_hint=option)
        try:
            value: Any = tomllib.loads(f"value = {text}")["value"]
        except (ValueError, RecursionError):
            # No TOML, or a number of thousands of digits.
            value = text
        change = nested(key, value)
        check_tables(change, option)
        tables = merge(tables, change)
    return tables
