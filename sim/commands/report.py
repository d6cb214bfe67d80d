"""The report as a page to show, from the command line."""

from __future__ import annotations

from typing import Any, Final

import click

from sim.commands.shared import Common, study_of, study_options

_FEWEST_SETTINGS: Final = 32


@click.command()
@click.option(
    "--settings",
    type=click.IntRange(min=_FEWEST_SETTINGS, max=65_536),
    default=128,
    show_default=True,
    help="Plausible settings that are played to say how much the inputs matter, a power of two.",
)
@click.option("--no-inputs", is_flag=True, help="Leave out how much the inputs matter; quicker.")
@study_options(shots=8192)
def report(settings: int, no_inputs: bool, **common: Any) -> None:
    """Write a page to show of the policies of SCENARIO: report.html.

    One file that needs no network: the answer, a hundred balls as icons, the court from above with
    switches for policy, spacing and shift, who takes the middle, how sure the answer is and what
    would change it. It prints on two pages, and can be read without scripts.

    \b
    reachshare report
    reachshare report my-pair.toml --settings 256
    reachshare report fast-hitters --no-inputs --units metric
    """
    if settings & (settings - 1):
        raise click.BadParameter("must be a power of two", param_hint="--settings")
    played = 0 if no_inputs else settings
    options: dict[str, Any] = {"no_inputs": True} if no_inputs else {"settings": settings}
    # The page is all there is to see: it has its pictures within.
    everything = Common(**{**common, "no_figures": False})
    with study_of("report", everything, options) as study:
        from sim.analyses.middle import middle_rows
        from sim.analyses.report import report as run
        from sim.comparison import Progress
        from sim.numeric_settings import changer
        from sim.pages.report import report_page
        from sim.texts.report import terminal_text

        def tell(part: str, progress: Progress) -> None:
            study.line.note(f"{part}: {progress.done} of {progress.planned}")

        result = run(
            study.scenario,
            changer(study.file, study.changes),
            study.workers,
            tell,
            settings=played,
        )
        tables = {
            "settings.csv": result.rows,
            "changes.csv": result.changes,
            "differences.csv": result.comparison.difference_rows,
            "middle.csv": middle_rows(result.middle),
        }
        if result.doubt:
            tables["inputs.csv"] = result.doubt.input_rows(study.units)
        study.finish(
            tables,
            lambda: (),
            terminal_text(result, study.units),
            {"report.html": report_page(result, study.units)},
        )
