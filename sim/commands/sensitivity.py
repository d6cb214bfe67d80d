"""Which doubt matters for the difference between two policies, from the command line."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from sim.commands.shared import Common, draws_option, study_of, study_options
from sim.terminal import ProgressLine

if TYPE_CHECKING:
    from sim.analyses.inputs import Input, WithNumbers
    from sim.joint_draws import JointDraws
    from sim.scenario import Scenario

# Where there is no terminal to show progress on.
_LINES_OF_A_CHECK: Final = 4


@click.command()
@click.option(
    "--between",
    nargs=2,
    required=True,
    metavar="POLICY BASELINE",
    help="The two policies whose difference is asked about.",
)
@click.option(
    "--measure",
    type=click.Choice(["in_control", "reached"]),
    default="in_control",
    show_default=True,
    help="Balls reached in control, or reached at all.",
)
@click.option(
    "--vary-input",
    "own",
    metavar="KEY=LOW:HIGH",
    multiple=True,
    help="A range of your own for a number, such as pair.both.top_speed=10:14 ft/s; it takes the "
    "place of the usual one. May be repeated.",
)
@click.option(
    "--only",
    metavar="KEY",
    multiple=True,
    help="Of the usual inputs, vary only this one. May be repeated.",
)
@draws_option(
    "A file with a column for each number (its key in the header) and a row for each "
    "plausible set of them; kept together, they are one input. May be repeated."
)
@click.option(
    "--settings",
    type=click.IntRange(min=32, max=65_536),
    default=512,
    show_default=True,
    help="Plausible settings, a power of two; half as many more are played for each input.",
)
@study_options(shots=256)
def sensitivity(
    between: tuple[str, str],
    measure: str,
    own: tuple[str, ...],
    only: tuple[str, ...],
    draws: tuple[Path, ...],
    settings: int,
    **common: Any,
) -> None:
    """Say which doubt matters for the difference between two policies of SCENARIO.

    Inputs that a coach may doubt are moved together over plausible ranges. The answer: in how many
    of 100 plausible settings the one policy beats the other, and what to measure first.

    \b
    reachshare sensitivity --between follow halves
    reachshare sensitivity --between follow halves --vary-input "pair.both.top_speed=10:14 ft/s"
    reachshare sensitivity my-pair.toml --between follow halves --with-uncertainty legs.csv
    """
    if settings & (settings - 1):
        raise click.BadParameter("must be a power of two", param_hint="--settings")
    from sim.manifest import InputFile

    options = {
        "between": list(between),
        "measure": measure,
        "vary_input": list(own),
        "only": list(only),
        "settings": settings,
    }
    files = [InputFile("with_uncertainty", path) for path in draws]
    with study_of("sensitivity", Common(**common), options, inputs=files) as study:
        from sim.analyses.sensitivity import sensitivity as run
        from sim.best_places import with_places_of
        from sim.commands.one_comparison import only_between
        from sim.joint_draws import read_draws
        from sim.numeric_settings import changer
        from sim.texts.sensitivity import terminal_text

        scenario = study.with_places(only_between(study.scenario, *between))
        make = changer(study.file, study.changes)

        def with_numbers(numbers: Any) -> Scenario:
            return with_places_of(only_between(make(numbers), *between), scenario)

        drawn = [read_draws(path, scenario) for path in draws]
        inputs = _inputs(scenario, with_numbers, own, only, drawn, study.line)
        result = run(
            scenario, inputs, with_numbers, measure, settings, study.workers, study.line.show
        )

        def figures() -> Any:
            from sim.figures.sensitivity import tornado_figure

            yield "tornado", tornado_figure(result, study.units)

        tables = {
            "inputs.csv": result.input_rows(study.units),
            "settings.csv": result.setting_rows(study.units),
            "sensitivity.csv": result.summary_rows(),
        }
        study.finish(tables, figures, terminal_text(result, study.units))


def _inputs(
    scenario: Scenario,
    with_numbers: WithNumbers,
    own: tuple[str, ...],
    only: tuple[str, ...],
    files: list[JointDraws],
    line: ProgressLine,
) -> list[Input]:
    """What is varied; whatever cannot be is refused before anything is played."""
    from sim.analyses.inputs import inputs_of, range_of, usual_inputs
    from sim.comparison import Progress
    from sim.errors import Refused
    from sim.joint_draws import check_apart, check_limits

    check_apart(files)
    for each in files:

        def told(done: int, planned: int, file: str = each.file) -> None:
            line.show(Progress(done, planned), f"rows of {file}", _LINES_OF_A_CHECK)

        check_limits(each, with_numbers, told)
    ranges = [range_of(text, scenario, with_numbers) for text in own]
    inputs = inputs_of(usual_inputs(scenario, with_numbers), ranges, files, only)
    if not inputs:
        raise Refused("nothing is varied: take out --only, or add --vary-input")
    return inputs
