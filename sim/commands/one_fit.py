"""What all fits share: their options, the chart to fill in, and how a fit is run and handed on."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import click

from sim.commands.shared import OUT, How, Study, force_option, quiet_option, study_in
from sim.errors import Refused
from sim.terminal import echo, tell, units_option

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from sim.charts import Form
    from sim.fitted import Posterior
    from sim.manifest import InputFile
    from sim.scenario_files import ScenarioFile

_STDOUT: Final = "-"
# Fewer are not read with --with-uncertainty (joint_draws.LEAST_DRAWS).
_LEAST_DRAWS: Final = 20
_MOST_DRAWS: Final = 2000

_like = click.option(
    "--like",
    metavar="SCENARIO",
    help="Scenario to build on: a bundled one or a file.  [default: club-sixties]",
)
template_option = click.option(
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


def fit_options(command: Callable[..., Any]) -> Callable[..., Any]:
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
        click.option(
            "--seed",
            type=click.IntRange(min=0, max=2**63 - 1),
            help="Seed of the draws; 0 is a seed.",
        ),
        click.option("--no-figures", is_flag=True, help="Write no figure."),
        units_option,
        quiet_option,
    ]
    for option in reversed(options):
        command = option(command)
    return command


def wrote_template(template: str | None, chart: Path | None, form: Form) -> bool:
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


def chart_given(chart: Path | None, form: Form) -> Path:
    if chart is None:
        raise Refused(f"which chart? {form.how_to_begin}")
    return chart


@dataclass(frozen=True)
class Fitting:
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
def fitting(
    name: str,
    inputs: Sequence[InputFile],
    common: Common,
    changes: dict[str, Any],
    options: dict[str, Any],
    shots: int | None = None,
    workers: int | None = None,
) -> Iterator[Fitting]:
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
            yield Fitting(study, common.draws)
        except ScenarioError as error:
            # The scenario itself was read without an error: the values come from the fit.
            why = error.problems[0].removeprefix(f"{like.shown_path}: ").removeprefix("fit.toml: ")
            raise Refused(f"{source}: the fit gives {why}; check what was typed") from None
        except ChartError as error:
            raise Refused(f"{source}: {error}") from None
