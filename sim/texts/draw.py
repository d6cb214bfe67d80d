"""Drawn points in words: how each ends for both policies, how it was picked, what was written."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sim.analyses.points import ORDINARY, Point, end_of
from sim.analyses.shot_responses import Response
from sim.figures.animation import MOST_BYTES, MOST_FRAMES, QUALITIES, Film
from sim.figures.point_words import (
    ending,
    how_common,
    how_it_ends,
    how_picked,
    title_of,
    why_picked,
)
from sim.texts.table import aligned
from sim.wording import CAUTIONS, DIRECTIONS, LIMITS

WHAT_IS_ORDINARY = (
    f"Ordinary: height over the net and speed both within the middle {ORDINARY} of 100 balls of "
    "the same kind in play."
)
_ONE_IS_ONE = (
    "A point shows how, not how often: for that, reachshare compare. Feet run in as the policy "
    "says and stand still until the player reacts. Then whoever takes the ball, or else comes "
    "nearest to it, goes straight for it; the other one is drawn standing."
)


def terminal_text(points: Sequence[Point], films: Mapping[str, Film], *, chosen: bool) -> str:
    """How each point ends, how sure, what became of the films, limits and cautions.

    ``films`` are by file name; ``chosen`` says that the program chose the two policies.
    """
    scenario = points[0].shot.scenario
    first, second = points[0].policies
    parts = [scenario.name, f"The same shot against {first} and against {second}", ""]
    parts += [line for point in points for line in _answer(point)]
    parts += ["", *_picking(points)]
    if chosen:
        direction = DIRECTIONS[points[0].shot.direction]
        parts.append(
            f"{first} is the baseline, {second} the policy farthest from it in control after "
            f"returns {direction}; --between draws others."
        )
    parts += [_ONE_IS_ONE, ""]
    for point in points:
        parts += [f"Shot {point.shot.number}, s after the return was struck", _table(point), ""]
    parts += [_film_words(name, film) for name, film in films.items()]
    parts += [""] if films else []
    return "\n".join([*parts, *LIMITS, *CAUTIONS])


def how_one_was_picked(point: Point) -> str:
    """How a shot was picked for `texts.shot`, and against what."""
    first, second = point.policies
    how = how_picked(point)
    meant = f" {WHAT_IS_ORDINARY}" if "ordinary" in how else ""
    return f"No --number was given: the shot that draw picks for {first} and {second}. {how}{meant}"


def _picking(points: Sequence[Point]) -> list[str]:
    """How the points were picked, and how common their like is."""
    common = how_common(points[0])
    if len(points) == 1:
        parts, then = [how_picked(points[0])], ""
    else:
        parts = [f"Shot {point.shot.number}. {why_picked(point)}" for point in points] + common
        then = ", and then the two in turn"
    if common:
        parts.append(
            f"Shown is the policy that alone has more{then}; ordinary drives come before other "
            f"ordinary balls, and the rest last. {WHAT_IS_ORDINARY}"
        )
    return parts


def _answer(point: Point) -> list[str]:
    """The shot, and a sentence for each policy."""
    shot = point.shot
    head = (
        f"Shot {shot.number}, {title_of(point).lower()} after a return "
        f"{DIRECTIONS[shot.direction]}:"
    )
    ends = [
        f"- {name}: {_end_words(point, response)}."
        for name, response in zip(point.policies, point.responses, strict=True)
    ]
    return [head, *ends]


def _end_words(point: Point, response: Response) -> str:
    more = [line for line in how_it_ends(response) if line]
    return ", ".join([ending(point.shot, response), *more])


def _table(point: Point) -> str:
    """When things happen, for both policies."""
    shot = point.shot
    table = [["policy", "feet still", "opponents strike", "left reacts", "right reacts", "end"]]
    for name, response in zip(point.policies, point.responses, strict=True):
        still = response.settled_at["left"]
        times = [
            shot.contact_time,
            response.reacts_at["left"],
            response.reacts_at["right"],
            end_of(shot, response),
        ]
        settled = "run on" if still is None else f"{still:.2f}"
        table.append([name, settled, *(f"{time:.2f}" for time in times)])
    return aligned(table)


def _film_words(name: str, film: Film) -> str:
    """A film's size, and what was given up for it."""
    words = (
        f"{name}: {len(film.shown)} frames, one every {film.step / 1000:g} s, {film.width} pixels "
        f"wide, {film.seconds:.1f} s, {len(film.data) / 1000:,.0f} kB"
    )
    if name.endswith(".gif") and len(film.data) >= MOST_BYTES:
        return f"{words}; it could not be made smaller than {MOST_BYTES / 1e6:g} MB"
    if name.endswith(".gif") and (film.width, film.step) != QUALITIES[0]:
        width, step = QUALITIES[0]
        words += (
            f"; not one every {step / 1000:g} s and {width} pixels wide, so as to stay under "
            f"{MOST_BYTES / 1e6:g} MB and {MOST_FRAMES} frames"
        )
    return words
