"""A point drawn, from the command line."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, Final, cast

import click

from sim.commands.shared import Common, Study, study_of, study_options
from sim.terminal import errors_to_exit_codes

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from sim.analyses.points import Point
    from sim.figures.animation import Film
    from sim.figures.point_film import Format
    from sim.figures.style import Units


# Of real speed.
_SLOWEST: Final = 0.2
_FASTEST: Final = 1.0
# Where there is no terminal to show progress on.
_LINES_OF_A_FILM: Final = 2


def _point_to_between(_: click.Context, __: click.Parameter, policy: str | None) -> None:
    """Other commands have this option."""
    if policy is not None:
        raise click.UsageError(
            "draw has no --policy: name the two to draw side by side with --between, for example "
            "--between halves follow."
        )


def _check_speed(_: click.Context, __: click.Parameter, speed: float) -> float:
    """No range of numbers refuses what is not a number."""
    if math.isnan(speed):
        raise click.BadParameter(f"{speed} is not a number from {_SLOWEST} to {_FASTEST}.")
    return speed


@click.command()
@study_options(shots=None)
@click.option(
    "--between",
    nargs=2,
    metavar="POLICY POLICY",
    help="The two policies.  [default: the baseline and the one farthest from it in control]",
)
@click.option("--policy", hidden=True, expose_value=False, callback=_point_to_between)
@click.option(
    "--direction",
    type=click.Choice(["line", "middle", "cross"]),
    help="After a return in this direction.  [default: cross, or the scenario's first]",
)
@click.option(
    "--number",
    type=int,
    help="Which shot: shot_number in the table that compare --every-shot writes, from 1.  "
    "[default: one that the two policies answer differently]",
)
@click.option(
    "--points",
    "most",
    type=click.IntRange(min=1, max=9),
    default=1,
    show_default=True,
    help="So many points, a film of each.",
)
@click.option(
    "--format",
    "kind",
    type=click.Choice(["gif", "mp4"]),
    default="gif",
    show_default=True,
    help="GIF, under 2 MB, or MP4, which needs the program ffmpeg.",
)
@click.option(
    "--speed",
    type=click.FloatRange(min=_SLOWEST, max=_FASTEST),
    callback=_check_speed,
    default=0.5,
    show_default=True,
    help="How fast, of real speed; the third shot is shown half as fast.",
)
def draw(
    between: tuple[str, str] | None,
    direction: str | None,
    number: int | None,
    most: int,
    kind: str,
    speed: float,
    **common: Any,
) -> None:
    """Draw a point, moving and in stills: two policies side by side on the same shot.

    The return, the run-in, the split step, the third shot, and who gets to it: as a film for a
    telephone or tablet, and as three pictures on a page for print. The shot is picked because the
    two policies differ on it, and the picture says how common that is.

    \b
    reachshare draw
    reachshare draw --between halves follow --direction line --points 2
    reachshare draw my-pair.toml --number 65 --format mp4 --speed 0.3
    """
    if number is not None and most > 1:
        raise click.UsageError("--number and --points exclude each other: a number is one shot.")
    if kind == "mp4" and not common["no_figures"]:
        from sim.figures.animation import check_ffmpeg

        with errors_to_exit_codes():
            check_ffmpeg()
    options = {
        "between": [*(between or ())],
        "direction": direction,
        "number": number,
        "points": most,
        "speed": speed,
    }
    if not common["no_figures"]:
        options["format"] = kind
    with study_of("draw", Common(**common), options) as study:
        from sim.analyses.points import moment_rows
        from sim.figures.animation import ffmpeg_version
        from sim.figures.point_film import times_of
        from sim.texts.draw import terminal_text

        shown = _points(study, between, direction, number, most)

        def figures() -> Iterator[tuple[str, Figure]]:
            from sim.figures.point_stills import stills_figure

            for point in shown:
                yield point.name, stills_figure(point, cast("Units", study.units))

        tables = {
            "points.csv": [row for point in shown for row in point.rows],
            "moments.csv": [
                row for point in shown for row in moment_rows(point, times_of(point, speed))
            ],
        }
        films = _films(study, shown, cast("Format", kind), speed) if study.figures else {}
        if study.figures and kind == "mp4":
            study.manifest["made_with"]["ffmpeg"] = ffmpeg_version()
        text = terminal_text(shown, films, chosen=not between)
        study.finish(tables, figures, text, files={name: film.data for name, film in films.items()})


def _points(
    study: Study,
    between: tuple[str, str] | None,
    direction: str | None,
    number: int | None,
    most: int,
) -> list[Point]:
    """What was asked for, checked before any work, or else what is worth showing."""
    from sim.analyses.approach import only
    from sim.analyses.one_shot import block_with
    from sim.analyses.points import baseline_and_farthest, check_pair, points, usual_direction

    way = direction or usual_direction(study.scenario)
    check_pair(study.scenario, between or ())
    block_with(study.scenario, way, 1 if number is None else number)
    scenario = study.with_places(only(study.scenario, between or (), (way,)))
    pair = between or baseline_and_farthest(scenario, way)
    return [*points(scenario, way, pair, number, most)]


def _films(study: Study, points: list[Point], kind: Format, speed: float) -> dict[str, Film]:
    """A film of each point by file name, with its frames told as they are drawn."""
    from sim.comparison import Progress
    from sim.figures.point_film import film_of

    films = {}
    for point in points:
        name = f"{point.name}.{kind}"

        def told(done: int, of: int, name: str = name) -> None:
            study.line.show(Progress(done, of), f"frames of {name}", _LINES_OF_A_FILM)

        films[name] = film_of(point, cast("Units", study.units), kind, speed, told)
    return films
