"""How far from the net both are as time goes by, and when the opponents strike."""

from __future__ import annotations

from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from sim.analyses.approach import Approach
from sim.analyses.approach_way import Way
from sim.court import NON_VOLLEY_ZONE, Array
from sim.figures import style
from sim.figures.courts import MARKS
from sim.figures.style import MARGIN, ROOM, SMALL, TEXT, Look, Units
from sim.run_in import PLAYERS, places_at, runs_until, settling_lead
from sim.scenario import Scenario
from sim.units import METRES_PER_FOOT

_SCALE: Final = 44.0
_HEIGHT: Final = 300.0
_DEEPEST: Final = 25.0
_BEYOND: Final = 0.25
_EVERY: Final = 0.5
# How far (ft) from the line its name is written, and at what part of the time; room on the right.
_NAME_ASIDE: Final = 1.2
_NEARER_AT, _FARTHER_AT = 0.65, 0.45
_RIGHT: Final = 18.0


def depth_over_time(result: Approach, units: Units = "us") -> Figure:
    """The first policy after all returns: a typical ball's way, and the spread of the strike."""
    way = result.ways[0][0]
    lead = settling_lead(result.scenario, way.policy)
    title = "How far they get before the third shot"
    subtitle = f"{result.scenario.name} · {way.policy.name} · distance from the net by time"
    notes = style.wrapped(_note(way, lead, units), ROOM, SMALL, most=6)
    top = style.head_height(title, subtitle) + 2.4 * TEXT
    bottom = top + _HEIGHT + 3.7 * SMALL
    with style.own_settings():
        figure = style.new_figure(bottom + style.foot_height(notes))
        style.head(figure, title, subtitle)
        width = ROOM - _SCALE - _RIGHT
        axes = style.add_axes(figure, MARGIN + _SCALE, top, width, _HEIGHT)
        latest = max(
            *(float(way.needs[name].mean()) for name in PLAYERS),
            float(np.quantile(way.contact.time, 0.9)),
        )
        axes.set(xlim=(0.0, latest + _BEYOND), ylim=(_DEEPEST, 0.0))
        _draw_ground(axes, units)
        _draw_strike(axes, way)
        for name in PLAYERS:
            _draw_player(axes, result.scenario, way, lead, name)
        style.foot(figure, bottom, notes)
    return figure


def _note(way: Way, lead: float, units: Units) -> str:
    settle = f"They settle {lead:.2g} s before. " if lead else ""
    far, unit = (1.0, "ft") if units == "us" else (METRES_PER_FOOT, "m")
    depth = style.give_or_take(far * max(_error(way, way.found[name].y) for name in PLAYERS))
    times = [way.contact.time, *(way.needs[name] for name in PLAYERS)]
    time = style.give_or_take(max(_error(way, values) for values in times))
    return (
        "Lines: a typical ball; thin and dashed: if the opponents waited. Grey: when they strike, "
        f"eight balls of ten, and the mean. {settle}Marks: where the shot finds them, on average; "
        f"bars: eight balls of ten. The averages are known to {depth} {unit} and {time} s or "
        "better."
    )


def _error(way: Way, values: Array) -> float:
    """Half the 95 % interval of a mean over the balls."""
    _, low, high = way.mean(values)
    return 0.5 * (high - low)


def _draw_ground(axes: Axes, units: Units) -> None:
    """Scales, the net and the non-volley line."""
    _, right = axes.get_xlim()
    depths = [0.0, 5.0, 10.0, 15.0, 20.0, 25.0]
    if units == "metric":
        depths = [metres / METRES_PER_FOOT for metres in (0.0, 2.0, 4.0, 6.0)]
    for depth in depths:
        style.draw(axes, [0.0, right], [depth, depth], zorder=1, color=style.FAINT, linewidth=0.8)
        words = "net" if depth == 0.0 else style.length(depth, units)
        if units == "metric" and depth:
            words = f"{depth * METRES_PER_FOOT:.0f} m"
        style.label(axes, -0.02 * right, depth, words, color=style.QUIET, ha="right")
    for time in np.arange(0.0, right, _EVERY):
        style.draw(axes, [time, time], [_DEEPEST, _DEEPEST - 0.4], zorder=1, color=style.QUIET)
        style.label(axes, time, _DEEPEST + 1.3, f"{time:.1f}", color=style.QUIET)
    words = "seconds after the return is struck"
    style.label(axes, 0.5 * right, _DEEPEST + 2.9, words, color=style.QUIET)
    zone = [NON_VOLLEY_ZONE, NON_VOLLEY_ZONE]
    style.draw(axes, [0.0, right], zone, zorder=2, color=style.QUIET, linewidth=1.6)
    look: Look = {"color": style.QUIET, "ha": "left"}
    style.label(axes, 0.01 * right, NON_VOLLEY_ZONE - 0.9, "non-volley line", **look)


def _draw_strike(axes: Axes, way: Way) -> None:
    """When the opponents strike: eight balls of ten, and the mean."""
    early, late = np.quantile(way.contact.time, (0.1, 0.9))
    mean = float(way.contact.time.mean())
    look: Look = {"color": style.GROUND, "linewidth": 0.0, "zorder": 0}
    axes.add_artist(Rectangle((early, 0.0), late - early, _DEEPEST, **look))
    style.draw(axes, [mean, mean], [0.0, _DEEPEST], zorder=2, color=style.INK, linewidth=1.4)
    words = f"opponents strike: {mean:.1f} s ({early:.1f} to {late:.1f})"
    _, right = axes.get_xlim()
    style.label(axes, min(mean, 0.68 * right), -1.2, words, weight="bold")


def _draw_player(axes: Axes, scenario: Scenario, way: Way, lead: float, name: str) -> None:
    """A typical ball's way until the shot finds the player, and onwards as if nobody struck."""
    mean, (_, right) = float(way.contact.time.mean()), axes.get_xlim()
    times = np.linspace(0.0, right, 200)
    depth = _mean_depths(scenario, way, times)[name]
    settles = float(np.interp(mean - lead, times, depth))
    running = times <= mean - lead
    colour = style.PLAYERS[name]
    onwards: Look = {"color": colour, "linewidth": 1.3, "linestyle": (0, (3.0, 2.0))}
    style.draw(axes, times[~running], depth[~running], zorder=4, **onwards)
    x = [*times[running], mean - lead, mean]
    y = [*depth[running], settles, settles]
    style.draw(axes, x, y, zorder=5, color=colour, linewidth=2.6)
    deep = -way.found[name].y
    low, high = np.quantile(deep, (0.1, 0.9))
    side = mean + (-0.012 if name == "left" else 0.012) * right
    style.draw(axes, [side, side], [low, high], zorder=6, color=colour, linewidth=3.0)
    look: Look = {"marker": MARKS[name], "markersize": 9.0, "markeredgecolor": "white"}
    style.draw(axes, [side], [float(deep.mean())], zorder=7, color=colour, **look)
    words: Look = {"color": style.PLAYER_WORDS[name], "weight": "bold", "zorder": 8}
    nearer = name == _nearer(scenario, way, mean)
    at = (_NEARER_AT if nearer else _FARTHER_AT) * mean
    here = float(np.interp(at, times, depth))
    above = nearer and abs(here - _NAME_ASIDE - NON_VOLLEY_ZONE) > _NAME_ASIDE
    # Above a line that rises to the right there is room to its left, below it to its right.
    here += -_NAME_ASIDE if above else _NAME_ASIDE
    words |= {"ha": "right" if nearer else "left"}
    style.label(axes, at, here, f"{name}: there after {way.needs[name].mean():.1f} s", **words)


def _nearer(scenario: Scenario, way: Way, time: float) -> str:
    """Who is nearer to the net then."""
    depths = _mean_depths(scenario, way, np.array([time]))
    return min(PLAYERS, key=lambda name: float(depths[name][0]))


def _mean_depths(scenario: Scenario, way: Way, times: Array) -> dict[str, Array]:
    """How far from the net both would be on average if nobody struck, shape (times,)."""
    runs = runs_until(scenario, times[:, None])
    places = places_at(scenario, way.policy, way.goals, runs)
    return {name: -place.y.mean(axis=1) for name, place in places.items()}
