"""The way in on the court: where both are every half second, and where the shot finds them."""

from __future__ import annotations

from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from sim.analyses.approach import Approach
from sim.analyses.approach_way import Way, places_until
from sim.court import BASELINE
from sim.figures import style
from sim.figures.court_diagram import draw_court
from sim.figures.style import MARGIN, SMALL, TEXT, Look, Units
from sim.run_in import PLAYERS, Place, starts
from sim.scenario import RETURN_DIRECTIONS, Scenario

# What a panel shows of the ground (ft).
_HALF_VIEW: Final = 12.2
_NEAREST_VIEW: Final = -25.8
_BEHIND_CONTACT: Final = 3.6
# Panels have one size, whether there is one return direction or three.
_GAP: Final = 4.0
_WIDTH: Final = (style.ROOM - (len(RETURN_DIRECTIONS) - 1) * _GAP) / len(RETURN_DIRECTIONS)
_INDENT: Final = 6.0
_LINE: Final = SMALL * style.LINE
# A mark every so many seconds, its words so far (ft) outside of it.
_EVERY: Final = 0.5
_ASIDE: Final = 1.0
_LEAST_APART: Final = 1.4
_WORDS_ASIDE: Final = 3.6
_MOST_DOTS: Final = 70
_MARKS: Final = {"left": "o", "right": "s"}


def court_of_the_way(result: Approach, units: Units = "us") -> Figure:
    """The first policy's way in on the court to scale, a panel for each return direction."""
    each = [way for way in result.ways[0] if way.direction != "all"]
    policy = each[0].policy
    title = f"The way in: {policy.name}"
    subtitle = f"{result.scenario.name} · marks every half second"
    captions = [_caption(way, units) for way in each]
    notes = style.wrapped(
        "Numbers: seconds after the return. Filled: where the shot finds them, on average; dots: "
        "single balls. Open: where the policy wants them. Diamond: where the opponents strike, on "
        "average.",
        style.ROOM,
        SMALL,
        most=6,
    )
    farthest = max(float(way.contact.y.mean()) if way.balls else 0.0 for way in each)
    top_view = _BEHIND_CONTACT + max(BASELINE, farthest)
    height = _WIDTH * (top_view - _NEAREST_VIEW) / (2 * _HALF_VIEW)
    court_top = style.head_height(title, subtitle) + 2 * TEXT
    caption_top = court_top + height
    foot_top = caption_top + max(map(len, captions)) * _LINE + 6.0
    with style.own_settings():
        figure = style.new_figure(foot_top + style.foot_height(notes))
        style.head(figure, title, subtitle)
        for place, (way, caption) in enumerate(zip(each, captions, strict=True)):
            left = MARGIN + place * (_WIDTH + _GAP)
            words, middle = style.RETURNS[way.direction], left + 0.5 * _WIDTH
            style.write(figure, middle, court_top - 6.0, words, weight="bold", ha="center")
            axes = style.add_axes(figure, left, court_top, _WIDTH, height)
            axes.set(xlim=(-_HALF_VIEW, _HALF_VIEW), ylim=(_NEAREST_VIEW, top_view))
            axes.set_aspect("equal")
            draw_court(axes)
            if way.balls:
                _draw_way(axes, result.scenario, way)
            for row, line in enumerate(caption):
                below = caption_top + (row + 1) * _LINE
                style.write(figure, left + _INDENT, below, line, SMALL)
        style.foot(figure, foot_top, notes)
    return figure


def _caption(way: Way, units: Units) -> list[str]:
    if not way.balls:
        return ["no ball in play"]
    left, right = (style.length(-float(way.found[name].y.mean()), units) for name in PLAYERS)
    found = left if left == right else f"{left.split()[0]} and {right}"
    both = way.arrived("left") & way.arrived("right")
    parts = [
        f"found {found} from net,",
        f"{style.length(float(way.apart[-1].mean()), units)} apart; both",
        f"arrived: {style.percent(*way.share(both))}",
    ]
    return [line for part in parts for line in style.wrapped(part, _WIDTH - _INDENT, SMALL)]


def _draw_way(axes: Axes, scenario: Scenario, way: Way) -> None:
    """Starts, paths with their marks, where the shot finds both, targets, the contact."""
    begin = starts(scenario, way.policy)
    inner = float(np.mean([x for x, _ in begin.values()]))
    for name, start in begin.items():
        found, stop = _mean(way.found[name]), _mean(way.goals[name])
        colour, mark = style.PLAYERS[name], _MARKS[name]
        for here, there, width in ((start, found, 2.2), (found, stop, 1.0)):
            path = (here[0], there[0]), (here[1], there[1])
            style.draw(axes, *path, zorder=5, color=colour, linewidth=width)
        some = np.linspace(0, way.balls - 1, min(way.balls, _MOST_DOTS)).round().astype(int)
        dots: Look = {"marker": ".", "markersize": 5.0, "markeredgewidth": 0.0, "alpha": 0.4}
        place = way.found[name]
        style.draw(axes, place.x[some], place.y[some], zorder=4, color=colour, **dots)
        hollow: Look = {"markersize": 6.5, "markerfacecolor": "white", "markeredgecolor": colour}
        style.draw(axes, [stop[0]], [stop[1]], zorder=6, marker=mark, markeredgewidth=1.6, **hollow)
        solid: Look = {"markersize": 9.5, "markerfacecolor": colour, "markeredgecolor": "white"}
        style.draw(axes, [found[0]], [found[1]], zorder=7, marker=mark, **solid)
        words: Look = {"color": style.PLAYER_WORDS[name], "weight": "bold", "zorder": 8}
        style.label(axes, start[0], start[1] - 1.8, name, **words)
        _draw_marks(axes, scenario, way, name, 1.0 if start[0] > inner else -1.0)
    time, x, y = (float(v.mean()) for v in (way.contact.time, way.contact.x, way.contact.y))
    style.draw(axes, [x], [y], zorder=7, marker="D", color=style.INK, markersize=7.0)
    aside = min(max(x, -_WORDS_ASIDE), _WORDS_ASIDE)
    style.label(axes, aside, max(y, BASELINE) + 2.0, f"struck after {time:.1f} s")


def _draw_marks(axes: Axes, scenario: Scenario, way: Way, name: str, side: float) -> None:
    """A stroke across the path every half second, as long as hardly a ball has been struck."""
    latest = float(np.quantile(way.contact.time, 0.1))
    align = "left" if side > 0.0 else "right"
    # Lines of the court would run through the words.
    paper: Look = {"facecolor": "white", "edgecolor": "none", "pad": 0.4}
    look: Look = {"color": style.PLAYER_WORDS[name], "ha": align, "zorder": 6, "bbox": paper}
    # Words need room above each other: who hardly runs towards the net has no marks.
    taken = [_mean(way.found[name])[1]]
    for time in np.arange(_EVERY, latest, _EVERY):
        moment = np.full(way.balls, time)
        x, y = _mean(places_until(scenario, way.policy, way.goals, way.contact, moment)[name])
        if any(abs(y - other) < _LEAST_APART for other in taken):
            continue
        taken.append(y)
        colour = style.PLAYER_WORDS[name]
        style.draw(axes, [x - 0.6, x + 0.6], [y, y], zorder=6, color=colour, linewidth=2.0)
        style.label(axes, x + side * _ASIDE, y, f"{time:.1f}", **look)


def _mean(place: Place) -> tuple[float, float]:
    return float(place.x.mean()), float(place.y.mean())
