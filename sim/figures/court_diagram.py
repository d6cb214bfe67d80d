"""A policy on the court: where the shot finds the two, what they cover, where balls got through."""

from __future__ import annotations

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
from sim.figures.courts import HALF_VIEW, MARKS, Panels, draw_player, draw_strike, write_names
from sim.figures.style import MARGIN, SMALL, TEXT, Look, Units
from sim.run_in import PLAYERS
from sim.scenario import Policy

_LINE: Final = SMALL * style.LINE
_KEY_LINES: Final = 4
_MOST_CROSSES: Final = 150
_MOST_DOTS: Final = 70
_LEAKS_NAMED: Final = 2
_AT_FULL_STRETCH: Final = 0.2
_IN_CONTROL: Final = 0.42
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
    farthest = max((fan.contact[1] for fan in fans.values()), default=0.0)
    panels = Panels(style.head_height(title, subtitle), farthest, captions)
    key_top = panels.bottom + TEXT
    with style.own_settings():
        figure = style.new_figure(key_top + _KEY_LINES * _LINE + MARGIN)
        style.head(figure, title, subtitle)
        for place, direction in enumerate(directions):
            axes = panels.add(figure, place, direction, first_bold=True)
            if direction in fans:
                _draw_play(axes, comparison, policy, fans[direction], direction)
        _draw_key(figure, key_top, _error_of_leaks(comparison, policy))
    return figure


def _draw_play(
    axes: Axes, comparison: Comparison, policy: Policy, fan: Fan, direction: str
) -> None:
    """All that is not the court."""
    scenario = comparison.scenario
    example = comparison.examples[direction]
    answer = example.answers[scenario.policies.index(policy)]
    view = court_view(scenario, policy, example.rally, answer, fan, _MOST_CROSSES)
    if view.widest:
        for (x, y), (to_x, to_y) in view.widest:
            style.draw(axes, (x, to_x), (y, to_y), zorder=1, color=style.FAINT, linewidth=1.3)
        _draw_coverage(axes, view)
    else:
        style.label(axes, 0.0, 0.6 * BASELINE, "the typical\ndrive lands out")
    _draw_players(axes, view, answer)
    _draw_leaks(axes, view)
    draw_strike(axes, view.contact, "opponents strike")


def _draw_coverage(axes: Axes, view: CourtView) -> None:
    """What each covers at full stretch, and darker over it what each covers in control."""
    for kind, opacity in (("at_full_stretch", _AT_FULL_STRETCH), ("in_control", _IN_CONTROL)):
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
        dots: Look = {"marker": ".", "markersize": 3.4, "markeredgewidth": 0.0, "alpha": 0.55}
        style.draw(axes, some.x, some.y, zorder=4, color=style.PLAYERS[name], **dots)
        draw_player(axes, name, player.start, player.found, player.target)
    write_names(axes, {name: player.start for name, player in view.players.items()})


def _draw_leaks(axes: Axes, view: CourtView) -> None:
    """Balls that got through as crosses, those beyond the picture's edge as arrow heads on it."""
    x, y = view.through.T
    edge = HALF_VIEW - 0.35
    look: Look = {"zorder": 6, "color": style.THROUGH, "alpha": 0.85}
    seen = np.abs(x) <= edge
    style.draw(axes, x[seen], y[seen], marker="x", markersize=4.5, markeredgewidth=1.1, **look)
    for side, mark in ((-1.0, "<"), (1.0, ">")):
        beyond = y[side * x > edge]
        on_edge = np.full(beyond.size, side * edge)
        style.draw(axes, on_edge, beyond, marker=mark, markersize=4.0, markeredgewidth=0.0, **look)


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
        *_leaks_in_words(comparison, policy, direction),
        _depth_in_words(comparison, policy, direction, units),
    ]
    return courts.caption(parts)


def _leaks_in_words(comparison: Comparison, policy: Policy, direction: str) -> list[str]:
    found = rows.leaks(comparison, policy.name, direction)
    if not found:
        return ["none got through"]
    shares = [(row["leak"], style.percent(*rows.estimate(row, "leak"))) for row in found]
    words = [f"{leak} {share}" for leak, share in shares if not share.startswith(style.UNDER)]
    return [f"through: {words[0]}", *words[1:_LEAKS_NAMED]] if words else ["few got through"]


def _error_of_leaks(comparison: Comparison, policy: Policy) -> float:
    """Half the widest interval (points) of those that `_leaks_in_words` may name."""
    found = [
        row
        for direction in comparison.scenario.return_of_serve.directions
        for row in rows.leaks(comparison, policy.name, direction)
    ]
    ends = [rows.estimate(row, "leak") for row in found]
    return max((50.0 * (high - low) for _, low, high in ends), default=0.0)


def _depth_in_words(comparison: Comparison, policy: Policy, direction: str, units: Units) -> str:
    row = rows.run_in(comparison, policy.name, direction)
    left, right = (style.length(row[f"{name}_depth_ft"], units) for name in PLAYERS)
    if left == right:
        return f"found {left} from net"
    return f"{left.split()[0]} and {right} from net"


def _draw_key(figure: Figure, top: float, error: float) -> None:
    """What colours and marks mean, each beside its words; how well what got through is known."""
    lines = [top + (row + 1) * _LINE for row in range(_KEY_LINES)]

    def mark(row: int, left: float, marker: str, size: float, **look: object) -> float:
        middle = lines[row] - 0.36 * SMALL
        style.draw(figure, [left + 5.0], [middle], marker=marker, markersize=size, **look)
        return left + 14.0

    def words(row: int, left: float, text: str) -> float:
        style.write(figure, left + 2.0, lines[row], text, SMALL)
        return left + 2.0 + style.width_of(text, SMALL) + 14.0

    left = MARGIN
    for opacities, text in (
        ((_AT_FULL_STRETCH, _IN_CONTROL), "in control"),
        ((_AT_FULL_STRETCH,), "at full stretch"),
    ):
        for colour in style.PLAYERS.values():
            for opacity in opacities:
                mark(0, left, "s", 12.0, color=colour, alpha=opacity, markeredgewidth=0.0)
            left += 14.0
        left = words(0, left, text)
    words(0, left - 12.0, "(both: a typical drive)")

    left = MARGIN
    for hollow, text in ((False, "where the shot finds them"), (True, "target")):
        for name, colour in style.PLAYERS.items():
            look: Look = {"color": colour, "markerfacecolor": "white" if hollow else colour}
            left = mark(1, left, MARKS[name], 6.5 if hollow else 8.0, **look)
        left = words(1, left, text)
    words(1, left, "( ): 95 % interval")

    left = words(2, mark(2, MARGIN, "x", 5.0, color=style.THROUGH), "got through")
    left = words(2, mark(2, left, ">", 5.0, color=style.THROUGH), "farther out")
    words(2, left, "gap: ball too low, bouncing")

    middle, ends = lines[3] - 0.36 * SMALL, [MARGIN, MARGIN + 20.0]
    style.draw(figure, ends, [middle, middle], color=style.FAINT, linewidth=1.3)
    left = words(3, ends[1] + 2.0, "the widest drives")
    if error:
        words(3, left, f"through: known to {style.give_or_take(error)} %")
