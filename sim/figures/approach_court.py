"""The way in on the court: where both are every half second, and where the shot finds them."""

from __future__ import annotations

from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from sim.analyses.approach import Approach
from sim.analyses.approach_way import Way, places_until
from sim.analyses.court_views import thinned
from sim.figures import courts, style
from sim.figures.courts import Panels
from sim.figures.style import SMALL, Look, Units
from sim.run_in import PLAYERS, Place, starts
from sim.scenario import Scenario

# A mark every so many seconds, its words so far (ft) outside of it.
_EVERY: Final = 0.5
_ASIDE: Final = 1.0
_LEAST_APART: Final = 1.4
_MOST_DOTS: Final = 70


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
        "average. In brackets 95 % intervals.",
        style.ROOM,
        SMALL,
        most=6,
    )
    farthest = max(float(way.contact.y.mean()) if way.balls else 0.0 for way in each)
    panels = Panels(style.head_height(title, subtitle), farthest, captions)
    foot_top = panels.bottom + 6.0
    with style.own_settings():
        figure = style.new_figure(foot_top + style.foot_height(notes))
        style.head(figure, title, subtitle)
        for place, way in enumerate(each):
            axes = panels.add(figure, place, way.direction)
            if way.balls:
                _draw_way(axes, result.scenario, way)
        style.foot(figure, foot_top, notes)
    return figure


def _caption(way: Way, units: Units) -> list[str]:
    if not way.balls:
        return ["no ball in play"]
    left, right = (style.length(-float(way.found[name].y.mean()), units) for name in PLAYERS)
    share, low, high = way.share(way.arrived("left") & way.arrived("right"))
    *first, last = courts.found_in_words(left, right)
    parts = [
        *first,
        f"{last},",
        f"{style.length(float(way.apart[-1].mean()), units)} apart; both",
        f"arrived: {style.percent(share, low, high)}",
        style.interval(low, high),
    ]
    return courts.caption(parts)


def _draw_way(axes: Axes, scenario: Scenario, way: Way) -> None:
    """Starts, paths with their marks, where the shot finds both, targets, the contact."""
    begin = starts(scenario, way.policy)
    inner = float(np.mean([x for x, _ in begin.values()]))
    for name, start in begin.items():
        place = way.found[name].take(thinned(np.arange(way.balls), _MOST_DOTS))
        dots: Look = {"marker": ".", "markersize": 5.0, "markeredgewidth": 0.0, "alpha": 0.4}
        style.draw(axes, place.x, place.y, zorder=4, color=style.PLAYERS[name], **dots)
        courts.draw_player(axes, name, start, _mean(way.found[name]), _mean(way.goals[name]))
        _draw_marks(axes, scenario, way, name, 1.0 if start[0] > inner else -1.0)
    courts.write_names(axes, begin)
    time, x, y = (float(v.mean()) for v in (way.contact.time, way.contact.x, way.contact.y))
    courts.draw_strike(axes, (x, y), f"struck after {time:.1f} s")


def _draw_marks(axes: Axes, scenario: Scenario, way: Way, name: str, side: float) -> None:
    """A stroke across the path every half second, as long as hardly a ball has been struck."""
    latest = float(np.quantile(way.contact.time, 0.1))
    align = "left" if side > 0.0 else "right"
    paper = style.CLEAR | {"pad": 0.4}
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
