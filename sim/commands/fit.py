"""From clipboard and stopwatch to scenarios: the commands that fit what was counted and timed."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import click

from sim.commands.shared import (
    OUT,
    How,
    Study,
    force_option,
    quiet_option,
    study_in,
    workers_option,
)
from sim.errors import Refused
from sim.terminal import HelpfulGroup, echo, errors_to_exit_codes, tell, units_option
from sim.wording import counted

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from sim.charts import Chart, Form
    from sim.fitted import Posterior
    from sim.manifest import InputFile
    from sim.scenario_files import ScenarioFile

_STDOUT: Final = "-"
# Fewer are not read with --with-uncertainty (joint_draws.LEAST_DRAWS).
_LEAST_DRAWS: Final = 20
_MOST_DRAWS: Final = 2000
# What a scenario's players may have: one mark far off would hide in the mean of all.
_HEIGHTS: Final = "4 ft", "7 ft 6 in"
_STRETCHES: Final = "3 ft", "10 ft"
_REACTIONS: Final = "0 s", "1 s"

_like = click.option(
    "--like",
    metavar="SCENARIO",
    help="Scenario to build on: a bundled one or a file.  [default: club-sixties]",
)
_template = click.option(
    "--template",
    is_flag=False,
    flag_value=_STDOUT,
    metavar="[FILE]",
    help="Write a chart to fill in to FILE, or to standard output.",
)


class Common(NamedTuple):
    """The options that all fits take."""

    like: str | ScenarioFile | None
    out: Path | None
    force: bool
    draws: int
    seed: int | None
    no_figures: bool
    units: str
    quiet: bool


def _fit_options(command: Callable[..., Any]) -> Callable[..., Any]:
    options = [
        _like,
        click.option(
            "--out",
            type=click.Path(path_type=Path),
            help=f"Folder for the results.  [default: {OUT}/fit-...]",
        ),
        force_option,
        click.option(
            "--draws",
            type=click.IntRange(min=_LEAST_DRAWS, max=_MOST_DRAWS),
            default=200,
            show_default=True,
            help="Joint draws of the fitted values, rows of draws.csv.",
        ),
        click.option("--seed", type=click.IntRange(min=0), help="Seed of the draws; 0 is a seed."),
        click.option("--no-figures", is_flag=True, help="Write no figure."),
        units_option,
        quiet_option,
    ]
    for option in reversed(options):
        command = option(command)
    return command


@click.group(cls=HelpfulGroup)
def fit() -> None:
    """Fit opponents and players to what was counted, timed and measured.

    Each writes a scenario (fit.toml), joint draws of what is known about its values (draws.csv),
    the estimates with their ranges (fit.csv), and a figure.
    """


@fit.command()
@click.argument("chart", type=click.Path(path_type=Path), required=False)
@_template
@click.option("--level", help="The opponents' level, if not that of the scenario.")
@click.option(
    "--shots",
    type=click.IntRange(min=256, max=1_000_000),
    default=2048,
    show_default=True,
    help="Shots for each return direction, in every setting that is played.",
)
@workers_option("one for each core")
@_fit_options
def shots(
    chart: Path | None,
    template: str | None,
    level: str | None,
    shots: int,
    workers: int | None,
    **common: Any,
) -> None:
    """Fit the opponents to CHART, a table (CSV) with one row for each third shot.

    Columns: shot (drive, drop, lob), result (in, net, out), and as far as charted lane (line,
    middle, cross) or where it landed, speed, return_direction, contact_side.

    \b
    reachshare fit shots --template tuesday.csv
    reachshare fit shots tuesday.csv --level 4.0
    """
    with errors_to_exit_codes():
        from sim.chart_forms import THIRD_SHOTS
        from sim.charts import read_chart
        from sim.manifest import InputFile

        if _wrote_template(template, chart, THIRD_SHOTS):
            return
        path = _given(chart, THIRD_SHOTS)
        read = read_chart(path, THIRD_SHOTS)
        changes: dict[str, Any] = {"opponents": {"level": level}} if level else {}
        options = {"level": level, "shots": shots}
        inputs = [InputFile("chart", path)]
        how = Common(**common)
        with _fitting("shots", inputs, how, changes, options, shots, workers) as run:
            from sim.analyses.fit_shots import fit_shots
            from sim.figures.fit import shots_figure
            from sim.texts.fit_shots import shots_text

            run.study.line.note("playing ...")
            study, units = run.study, run.study.units
            found = fit_shots(
                study.file, study.changes, read.rows, units, study.workers, study.line.show
            )
            run.finish(
                found.posterior,
                f"Opponents fitted to {read.name}: {counted(len(read.rows), 'third shot')}.",
                lambda: shots_figure(found, units),
                shots_text(found, read.name, units) + _unread(read),
            )


@fit.command()
@click.argument("times", type=click.Path(path_type=Path), required=False)
@_template
@click.option(
    "--player",
    type=click.Choice(["left", "right"]),
    help="Who ran, where the table has no column player.",
)
@click.option(
    "--reaction",
    default="0 s",
    show_default=True,
    help="Part of the times before the player moved, where the watch was started by a signal.",
)
@_fit_options
def runs(
    times: Path | None, template: str | None, player: str | None, reaction: str, **common: Any
) -> None:
    """Fit a player's legs to TIMES, a table (CSV) with one row for each dash from standing.

    Columns: distance (with its unit), seconds, and if need be direction (forward, sideways),
    player (left, right), reaction.

    \b
    reachshare fit runs --template dashes.csv
    reachshare fit runs dashes.csv --player left
    """
    with errors_to_exit_codes():
        from sim.chart_forms import DASHES
        from sim.charts import read_chart
        from sim.manifest import InputFile

        if _wrote_template(template, times, DASHES):
            return
        late = _quantity("--reaction", reaction, "time", _REACTIONS)
        path = _given(times, DASHES)
        read = read_chart(path, DASHES)
        options = {"player": player, "reaction": reaction}
        inputs = [InputFile("times", path)]
        with _fitting("runs", inputs, Common(**common), {}, options) as run:
            from sim.analyses.fit_runs import fit_runs
            from sim.figures.fit import runs_figure
            from sim.texts.fit import runs_text

            study, units = run.study, run.study.units
            found = fit_runs(study.file, study.changes, read.rows, player, late, units)
            run.finish(
                found.posterior,
                f"Legs fitted to {read.name}: {counted(len(read.rows), 'dash')}.",
                lambda: runs_figure(found, units),
                runs_text(found, units) + _unread(read),
            )


@fit.command()
@click.option("--height", required=True, help='Height, such as "5 ft 7 in".')
@click.option(
    "--mark",
    "marks",
    multiple=True,
    required=True,
    help='Full stretch as marked, such as "70 in"; once for each try.',
)
@click.option("--player", type=click.Choice(["left", "right"]), default="left", show_default=True)
@_fit_options
def reach(height: str, marks: tuple[str, ...], player: str, **common: Any) -> None:
    """Fit a player's full stretch to marks: from the middle of the stand to the paddle's tip.

    The player stands with both feet on a mark, lunges sideways and reaches out. Three tries tell
    more than one.

    \b
    reachshare fit reach --height "5 ft 7 in" --mark "70 in" --mark "71 in" --mark "69 in"
    """
    with errors_to_exit_codes():
        tall = _quantity("--height", height, "length", _HEIGHTS)
        lengths = [_quantity("--mark", mark, "length", _STRETCHES) for mark in marks]
        options = {"height": height, "mark": list(marks), "player": player}
        with _fitting("reach", [], Common(**common), {}, options) as run:
            import numpy as np

            from sim.analyses.fit_reach import fit_reach
            from sim.figures.fit import reach_figure
            from sim.texts.fit import reach_text

            study, units = run.study, run.study.units
            found = fit_reach(study.file, study.changes, player, tall, np.array(lengths), units)
            run.finish(
                found.posterior,
                f"Full stretch fitted to {counted(len(lengths), 'mark')}.",
                lambda: reach_figure(found, units),
                reach_text(found, units),
            )


@dataclass(frozen=True)
class _Fitting:
    """A fit as its command runs it."""

    study: Study
    draws: int

    def finish(
        self, posterior: Posterior, title: str, figure: Callable[[], Figure], text: str
    ) -> None:
        """Write scenario, draws, estimates and figure, and print the text."""
        from sim.fitted import hand_on
        from sim.texts.fit import next_text, refused_text

        units = self.study.units
        handed = hand_on(self.study.file, posterior, title, self.draws, units)
        tables = {
            "draws.csv": handed.draws,
            "fit.csv": [estimate.row(units) for estimate in posterior.estimates],
        }
        if handed.refused:
            text += f"\n\n{refused_text(handed.refused, self.draws)}"
        self.study.finish(
            tables,
            lambda: [("fit", figure())],
            text,
            {"fit.toml": handed.text},
            then=next_text(self.study.folder.as_posix()),
        )


@contextmanager
def _fitting(
    name: str,
    inputs: Sequence[InputFile],
    common: Common,
    changes: dict[str, Any],
    options: dict[str, Any],
    shots: int | None = None,
    workers: int | None = None,
) -> Iterator[_Fitting]:
    """Read and check the scenario to build on and the folder, then let the command work.

    Fitted values that no scenario may have are refused in the name of the chart among the
    ``inputs``, or of the options where there is none.
    """
    from sim.charts import ChartError
    from sim.scenario_errors import ScenarioError
    from sim.scenario_files import build, merge, read

    run = {"shots": shots, "seed": common.seed}
    changes = merge(changes, {"run": {key: v for key, v in run.items() if v is not None}})
    like = read(common.like)
    seed = build(like).run.seed if common.seed is None else common.seed
    kept = {"command": f"fit {name}", **options, "draws": common.draws, "seed": seed}
    source = str(inputs[0].path) if inputs else "--height and --mark"
    how = How(
        common.out or Path(OUT) / f"fit-{name}",
        common.force,
        workers,
        common.units,
        not common.no_figures,
        common.quiet,
    )
    with study_in(like, changes, kept, how, inputs, changes_are_options=True) as study:
        try:
            yield _Fitting(study, common.draws)
        except ScenarioError as error:
            # The scenario itself was read without an error: the values come from the fit.
            why = error.problems[0].removeprefix(f"{like.shown_path}: ").removeprefix("fit.toml: ")
            raise Refused(f"{source}: the fit gives {why}; check what was typed") from None
        except ChartError as error:
            raise Refused(f"{source}: {error}") from None


def _wrote_template(template: str | None, chart: Path | None, form: Form) -> bool:
    """Write the template if that was asked for, never over a file."""
    from sim.outputs import write_new_file

    if template is None:
        return False
    if chart is not None:
        raise Refused("--template: writes a chart to fill in; leave the chart out")
    if template == _STDOUT:
        echo(form.template, nl=False)
        return True
    path = Path(template)
    write_new_file(path, form.template)
    tell(f"Wrote {path}. Fill it in with a spreadsheet or an editor.")
    return True


def _given(chart: Path | None, form: Form) -> Path:
    if chart is None:
        raise Refused(f"which chart? {form.how_to_begin}")
    return chart


def _quantity(option: str, text: str, dimension: str, limits: tuple[str, str]) -> float:
    from sim.quantities import Quantity

    try:
        return Quantity(dimension, *limits)(text)
    except ValueError as error:
        raise Refused(f'{option} "{text}": {error}') from None


def _unread(chart: Chart) -> str:
    return f"\nNot used: {', '.join(chart.left_out)}." if chart.left_out else ""
