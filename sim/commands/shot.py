"""One shot told, from the command line."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, cast

import click

from sim.commands.shared import Common, Study, study_of, study_options

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from sim.figures.style import Units


@click.command()
@study_options(shots=None)
@click.option(
    "--number",
    type=int,
    help="Which shot: shot_number in the table that compare --every-shot writes, from 1.  "
    "[default: the one that draw picks]",
)
@click.option(
    "--direction",
    type=click.Choice(["line", "middle", "cross"]),
    help="After a return in this direction.  [default: the scenario's first; without --number "
    "that of draw]",
)
@click.option(
    "--policy",
    "policies",
    multiple=True,
    metavar="NAME",
    help="Only this policy; may be repeated.  [default: all, the baseline first]",
)
def shot(
    number: int | None, direction: str | None, policies: tuple[str, ...], **common: Any
) -> None:
    """Tell one shot in words, numbers and a side view.

    How it was struck, where it went, who could get to it and by how much, why not, and all that it
    takes to fly it again by hand. It is the very shot of a comparison with the same scenario, seed
    and number of shots.

    \b
    reachshare shot
    reachshare shot --number 17
    reachshare shot --number 65 --direction cross --policy halves --policy follow
    reachshare shot my-pair.toml --number 3 --units metric
    """
    options = {"number": number, "direction": direction, "policy": [*policies]}
    part = "" if number is None else f"-{number}"
    with study_of("shot", Common(**common), options, part=part) as study:
        from sim.analyses.approach import only
        from sim.analyses.one_shot import block_with, one_shot
        from sim.analyses.points import usual_direction
        from sim.analyses.shot_tables import check_rows, instant_rows
        from sim.texts.shot import terminal_text

        chosen = only(study.scenario, policies, ())
        first = chosen.return_of_serve.directions[0]
        way = direction or (usual_direction(chosen) if number is None else first)
        picked = ""
        if number is None:
            block_with(chosen, way, 1)
            number, picked = _picked(study, way, policies)
        block_with(chosen, way, number)
        result = one_shot(study.with_places(chosen), way, number)

        def figures() -> Iterator[tuple[str, Figure]]:
            from sim.figures.shot import shot_figures

            return shot_figures(result, cast("Units", study.units))

        tables = {
            "shot.csv": result.rows,
            "check.csv": check_rows(result),
            "instants.csv": instant_rows(result),
        }
        # A shot that fails has no instants to answer it in: no table rather than an empty one.
        filled = {name: rows for name, rows in tables.items() if rows}
        shown = [*dict.fromkeys(policies)] or [chosen.policies[0].name]
        study.finish(filled, figures, terminal_text(result, shown, study.units, picked))


def _picked(study: Study, direction: str, policies: tuple[str, ...]) -> tuple[int, str]:
    """The number of the shot that draw picks for the first two policies, and how it was picked.

    A policy alone is held against the baseline, the baseline against the one farthest from it.
    """
    from sim.analyses.approach import only
    from sim.analyses.points import baseline_and_farthest, check_pair, points
    from sim.texts.draw import how_one_was_picked

    check_pair(study.scenario, ())
    scenario = study.with_places(only(study.scenario, (), (direction,)))
    named = [*dict.fromkeys(policies)]
    if len(named) == 1 and named[0] != scenario.baseline.name:
        named.insert(0, scenario.baseline.name)
    first, second = named[:2] if len(named) > 1 else baseline_and_farthest(scenario, direction)
    (point,) = points(scenario, direction, (first, second), None, 1)
    return point.shot.number, how_one_was_picked(point)
