"""From clipboard and stopwatch to scenarios: the commands that fit what was counted and timed."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from sim.commands.one_fit import (
    Common,
    chart_given,
    fit_options,
    fitting,
    template_option,
    wrote_template,
)
from sim.commands.shared import workers_option
from sim.errors import Refused
from sim.terminal import HelpfulGroup, errors_to_exit_codes
from sim.wording import counted

if TYPE_CHECKING:
    from sim.charts import Chart

# What a scenario's players may have: one mark far off would hide in the mean of all.
_HEIGHTS: Final = "4 ft", "7 ft 6 in"
_STRETCHES: Final = "3 ft", "10 ft"
_REACTIONS: Final = "0 s", "1 s"


@click.group(cls=HelpfulGroup)
def fit() -> None:
    """Fit opponents and players to what was counted, timed and measured.

    Each writes a scenario (fit.toml), joint draws of what is known about its values (draws.csv),
    the estimates with their ranges (fit.csv), and a figure.
    """


@fit.command()
@click.argument("chart", type=click.Path(path_type=Path), required=False)
@template_option
@click.option("--level", help="The opponents' level, if not that of the scenario.")
@click.option(
    "--shots",
    type=click.IntRange(min=256, max=1_000_000),
    default=2048,
    show_default=True,
    help="Shots for each return direction, in every setting that is played.",
)
@workers_option("one for each core")
@fit_options
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

        if wrote_template(template, chart, THIRD_SHOTS):
            return
        path = chart_given(chart, THIRD_SHOTS)
        read = read_chart(path, THIRD_SHOTS)
        changes: dict[str, Any] = {"opponents": {"level": level}} if level else {}
        options = {"level": level, "shots": shots}
        inputs = [InputFile("chart", path)]
        how = Common(**common)
        with fitting("shots", inputs, how, changes, options, shots, workers) as run:
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
@template_option
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
@fit_options
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

        if wrote_template(template, times, DASHES):
            return
        late = _quantity("--reaction", reaction, "time", _REACTIONS)
        path = chart_given(times, DASHES)
        read = read_chart(path, DASHES)
        options = {"player": player, "reaction": reaction}
        inputs = [InputFile("times", path)]
        with fitting("runs", inputs, Common(**common), {}, options) as run:
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
@fit_options
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
        with fitting("reach", [], Common(**common), {}, options) as run:
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


def _quantity(option: str, text: str, dimension: str, limits: tuple[str, str]) -> float:
    from sim.quantities import Quantity

    try:
        return Quantity(dimension, *limits)(text)
    except ValueError as error:
        raise Refused(f'{option} "{text}": {error}') from None


def _unread(chart: Chart) -> str:
    return f"\nNot used: {', '.join(chart.left_out)}." if chart.left_out else ""
