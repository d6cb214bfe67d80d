"""Balls that got through on a court from above: which way, where, and how many."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np
from matplotlib.axes import Axes

from sim.analyses.court_views import CourtView
from sim.answers import LEAKS, SHORT
from sim.comparison import Comparison
from sim.court import Array
from sim.figures import rows, style
from sim.figures.courts import HALF_VIEW
from sim.figures.style import Look
from sim.tables import Row

MOST_THROUGH: Final = 100
# A mark for each way, and what it means.
WAYS: Final[dict[str, tuple[Look, str]]] = {
    "short": (
        {"marker": "v", "markersize": 5.0, "markerfacecolor": "white"},
        "short: landed here, bounced twice in front of them",
    ),
    "over": ({"marker": "^", "markersize": 4.5}, "over: higher than both can reach"),
    "line": (
        {"marker": "|", "markersize": 6.5},
        "line: past them, on the side it was struck from",
    ),
    "middle": ({"marker": "_", "markersize": 6.5}, "middle: between the two"),
    "cross": (
        {"marker": "x", "markersize": 4.5},
        "cross: past them, across from where it was struck",
    ),
}
_EDGE: Final = HALF_VIEW - 0.35
_NAMED: Final = 2


def ways_through(comparison: Comparison, policy: str) -> list[str]:
    """The ways by which any ball got through a policy, in the order of `LEAKS`."""
    found = {
        row["leak"]
        for direction in comparison.scenario.return_of_serve.directions
        for row in rows.leaks(comparison, policy, direction)
    }
    return [way for way in LEAKS if way in found]


def draw_through(axes: Axes, view: CourtView) -> None:
    """Balls that got through, each by its mark, those beyond the picture's edge as arrow heads.

    Short ones are where they landed: their second bounce may be far outside the court, where nobody
    looks for a short ball. The others are where they passed the pair.
    """
    places, inside = _places(view), ~_beyond(view)
    shown: Look = {"zorder": 6, "color": style.THROUGH, "alpha": 0.85}
    for number, way in enumerate(LEAKS):
        x, y = places[inside & (view.ways == number)].T
        style.draw(axes, x, y, markeredgewidth=1.1, **WAYS[way][0], **shown)
    for side, mark in ((-1.0, "<"), (1.0, ">")):
        beyond = places[~inside & (side * places[:, 0] > 0.0), 1]
        on_edge = np.full(beyond.size, side * _EDGE)
        style.draw(axes, on_edge, beyond, marker=mark, markersize=4.0, markeredgewidth=0.0, **shown)


def goes_beyond(views: Iterable[CourtView]) -> bool:
    """Whether any ball is drawn as an arrow head."""
    return any(_beyond(view).any() for view in views)


def _places(view: CourtView) -> Array:
    return np.where((view.ways == SHORT)[:, None], view.landed, view.through)


def _beyond(view: CourtView) -> np.ndarray:
    return np.abs(_places(view)[:, 0]) > _EDGE


def through_in_words(found: list[Row]) -> list[str]:
    """The largest of the leaks, each with its interval."""
    if not found:
        return ["none got through"]
    shares = [(row["leak"], *rows.estimate(row, "leak")) for row in found]
    named = [
        line
        for leak, share, low, high in shares
        if not style.percent(share, low, high).startswith(style.UNDER)
        for line in (f"{leak} {style.percent(share, low, high)}", style.interval(low, high))
    ]
    return [f"through: {named[0]}", *named[1 : 2 * _NAMED]] if named else ["few got through"]
