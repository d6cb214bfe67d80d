"""A policy on the court: where the shot finds the two, what they cover, where balls got through."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch
from matplotlib.path import Path

from sim.analyses.court_views import CourtView, court_view, thinned
from sim.answers import Answer
from sim.comparison import Comparison
from sim.court import BASELINE
from sim.coverage import Fan, fan_after
from sim.figures import courts, rows, style
from sim.figures.court_key import AT_FULL_STRETCH, IN_CONTROL, SINGLE, draw_key, key_height
from sim.figures.court_through import (
    MOST_THROUGH,
    draw_through,
    goes_beyond,
    through_in_words,
    ways_through,
)
from sim.figures.courts import Panels, draw_player, draw_strike, write_names
from sim.figures.style import TEXT, Look, Units
from sim.run_in import PLAYERS
from sim.scenario import Policy

_MOST_DOTS: Final = 70
_MEASURES: Final = {"in_control": "in control", "reached": "reached"}


def court_figure(comparison: Comparison, policy: int | str, units: Units = "us") -> Figure:
    """One policy's figure: the court to scale, once for each return direction.

    ``policy`` is its name, or its place in the scenario. Raises `KeyError` for an unknown name.
    """
    policies = {entry.name: entry for entry in comparison.scenario.policies}
    chosen = policies[policy] if isinstance(policy, str) else [*policies.values()][policy]
    return _court_figure(comparison, chosen, _fans(comparison), units)


def court_figures(comparison: Comparison, units: Units = "us") -> Iterator[tuple[Policy, Figure]]:
    """The figures of all policies; the typical drives they face are flown only once."""
    fans = _fans(comparison)
    for policy in comparison.scenario.policies:
        yield policy, _court_figure(comparison, policy, fans, units)


def _fans(comparison: Comparison) -> dict[str, Fan]:
    """Typical drives from the mean contact of every return direction that has balls in play."""
    return {
        direction: fan_after(comparison.scenario, example.rally)
        for direction, example in comparison.examples.items()
        if example.rally.in_play.size
    }


def _court_figure(
    comparison: Comparison, policy: Policy, fans: dict[str, Fan], units: Units
) -> Figure:
    scenario = comparison.scenario
    directions = scenario.return_of_serve.directions
    title = policy.name + (" (baseline policy)" if policy is scenario.baseline else "")
    subtitle = f"{scenario.name} · after a return …"
    captions = [_caption(comparison, policy, direction, units) for direction in directions]
    number = scenario.policies.index(policy)
    answers = {direction: comparison.examples[direction].answers[number] for direction in fans}
    views = {
        direction: court_view(
            scenario, policy, comparison.examples[direction].rally, answer, fan, MOST_THROUGH
        )
        for (direction, fan), answer in zip(fans.items(), answers.values(), strict=True)
    }
    farthest = max((view.contact[1] for view in views.values()), default=0.0)
    nearest = min(map(_nearest, views.values()), default=0.0)
    panels = Panels(style.head_height(title, subtitle), farthest, captions, nearest)
    key_top = panels.bottom + TEXT
    ways = ways_through(comparison, policy.name)
    with style.own_settings():
        figure = style.new_figure(key_top + key_height(ways))
        style.head(figure, title, subtitle)
        for place, direction in enumerate(directions):
            axes = panels.add(figure, place, direction, first_bold=True)
            if direction in views:
                _draw_play(axes, views[direction], answers[direction])
        draw_key(figure, key_top, ways, beyond=goes_beyond(views.values()))
    return figure


def _nearest(view: CourtView) -> float:
    """The ``y`` (ft) down to which the two cover the ground; positive where they cover none."""
    rings = [ring for player in view.players.values() for ring in player.at_full_stretch]
    return min((float(ring[:, 1].min()) for ring in rings), default=math.inf)


def _draw_play(axes: Axes, view: CourtView, answer: Answer) -> None:
    """All that is not the court."""
    if view.widest:
        for (x, y), (to_x, to_y) in view.widest:
            style.draw(axes, (x, to_x), (y, to_y), zorder=1, color=style.FAINT, linewidth=1.3)
        _draw_coverage(axes, view)
    else:
        style.label(axes, 0.0, 0.6 * BASELINE, "the typical\ndrive lands out")
    _draw_players(axes, view, answer)
    draw_through(axes, view)
    draw_strike(axes, view.contact, "opponents strike")


def _draw_coverage(axes: Axes, view: CourtView) -> None:
    """What each covers at full stretch, and darker over it what each covers in control."""
    for kind, opacity in (("at_full_stretch", AT_FULL_STRETCH), ("in_control", IN_CONTROL)):
        for name in PLAYERS:
            look: Look = {"facecolor": style.PLAYERS[name], "alpha": opacity, "linewidth": 0.0}
            rings = [Path(ring, closed=True) for ring in getattr(view.players[name], kind)]
            if rings:
                region = Path.make_compound_path(*rings)
                axes.add_artist(PathPatch(region, zorder=2, **look))


def _draw_players(axes: Axes, view: CourtView, answer: Answer) -> None:
    """Both players, with dots where single shots find them."""
    for name, player in view.players.items():
        place = answer.places[name]
        some = place.take(thinned(np.arange(place.x.size), _MOST_DOTS))
        style.draw(axes, some.x, some.y, zorder=4, color=style.PLAYERS[name], **SINGLE)
        draw_player(axes, name, player.start, player.found, player.target)
    write_names(axes, {name: player.start for name, player in view.players.items()})


def _caption(comparison: Comparison, policy: Policy, direction: str, units: Units) -> list[str]:
    """Shares with the interval, the largest leaks, and how deep the shot finds the two."""
    row = rows.overall(comparison)[policy.name, direction]
    if not row["in_play"]:
        return ["no ball in play"]
    shown = [(words, rows.estimate(row, measure)) for measure, words in _MEASURES.items()]
    parts = [
        *(
            line
            for words, (share, low, high) in shown
            for line in (f"{words} {style.percent(share, low, high)}", style.interval(low, high))
        ),
        *through_in_words(rows.leaks(comparison, policy.name, direction)),
        *_depth_in_words(comparison, policy, direction, units),
    ]
    return courts.caption(parts)


def _depth_in_words(
    comparison: Comparison, policy: Policy, direction: str, units: Units
) -> list[str]:
    row = rows.run_in(comparison, policy.name, direction)
    return courts.found_in_words(
        *(style.length(row[f"{name}_depth_ft"], units) for name in PLAYERS)
    )
