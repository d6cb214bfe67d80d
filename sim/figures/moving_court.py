"""One policy's court at one moment of a point: the players, the ball, and both seen from the side.

What stands still and what moves is drawn apart, so that an animation draws the former once.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from sim.analyses.one_shot import BallPath, OneShot
from sim.analyses.points import Point, ball_at, end_of, feet_at
from sim.analyses.shot_responses import Response
from sim.court import BASELINE, NET_HEIGHT_AT_CENTRE, NON_VOLLEY_ZONE, Array
from sim.figures import style
from sim.figures.courts import draw_court
from sim.figures.style import SMALL, Look
from sim.players import Player
from sim.run_in import PLAYERS

# What is shown of the ground at least, at most to either side, and beyond the outermost (ft).
_HALF_VIEW: Final = 12.6
_WIDEST_HALF_VIEW: Final = 17.0
_NEAREST_VIEW: Final = -25.8
_FARTHEST_OUT: Final = -31.0
_BEHIND_CONTACT: Final = 3.6
_ABOVE: Final = 1.0
_BELOW: Final = 1.0
_LOWEST_TOP: Final = 9.0
# The view from the side ends so far (ft) beyond the net.
_SIDE_ENDS: Final = NON_VOLLEY_ZONE + 1.0
# Below it these are named, in one row or the next, so that they keep clear of each other.
_NAMED: Final = (
    ("baseline", -BASELINE, 0),
    ("non-volley line", -NON_VOLLEY_ZONE, 1),
    ("net", 0.0, 0),
)
# How high (points) the names are.
SIDE_NAMES: Final = 2.0 * SMALL * style.LINE
# How far from the centre words may be centred and still end inside the panel.
_WORDS_ASIDE: Final = 4.5
_MARKS: Final = {"left": "o", "right": "s"}
# Points across for a ball on the ground, and more for every foot that it is up.
_BALL: Final = 6.0
_BALL_PER_FOOT: Final = 0.5
_PATH_EVERY: Final = 0.02
# How large an end is marked in the view from the side.
_SMALLER: Final = 0.65
# Opacity of the ball's way, and of the return's once the third shot is struck.
_STRONG: Final = 0.6
_FAINT: Final = 0.2
# Where a head is drawn: so far (ft) below the height of the player.
_EYES_BELOW: Final = 0.5


@dataclass(frozen=True)
class View:
    """What is shown of the ground, from ``-half`` to ``half`` and ``nearest`` to ``farthest`` (ft).

    The view from the side shows the pair's half and a little more, up to ``top`` (ft).
    """

    half: float
    nearest: float
    farthest: float
    top: float

    def height(self, width: float) -> float:
        """How high a court so wide is drawn, in the same unit."""
        return width * (self.farthest - self.nearest) / (2.0 * self.half)

    def side_height(self, width: float) -> float:
        """How high a view from the side so wide is drawn, in the same unit."""
        return width * (self.top + _BELOW) / (_SIDE_ENDS - self.nearest)


def view_of(point: Point) -> View:
    """The ground that holds the whole point for both policies."""
    shot = point.shot
    end = max(end_of(shot, response) for response in point.responses)
    x, y, z = (np.concatenate(part) for part in zip(*_flown(shot, end), strict=True))
    feet = [
        feet_at(response, name, end_of(shot, response))
        for response in point.responses
        for name in PLAYERS
    ]
    aside = max(float(np.abs(x).max()), *(abs(across) for across, _ in feet))
    half = min(max(_HALF_VIEW, aside + 1.8), _WIDEST_HALF_VIEW)
    deepest = min(float(y.min()), *(depth for _, depth in feet))
    nearest = min(_NEAREST_VIEW, max(deepest - 1.0, _FARTHEST_OUT))
    farthest = _BEHIND_CONTACT + max(BASELINE, shot.contact[2])
    top = max(_LOWEST_TOP, float(z[y < _SIDE_ENDS].max(initial=0.0)))
    return View(half, nearest, farthest, top + _ABOVE)


def show_ground(axes: Axes, view: View) -> None:
    """Let axes of the right shape show the view from above, to scale."""
    axes.set(xlim=(-view.half, view.half), ylim=(view.nearest, view.farthest))


def show_side(axes: Axes, view: View) -> None:
    """Let axes of the right shape show the view from the side, to scale: the pair on the left."""
    axes.set(xlim=(view.nearest, _SIDE_ENDS), ylim=(-_BELOW, view.top))


def draw_ground(axes: Axes, shot: OneShot, response: Response, scale: float = 1.0) -> None:
    """What stands still: the court, where the policy wants the two, where the opponents strike.

    Marks are drawn in a ``scale``; a small court goes without words.
    """
    draw_court(axes, named=scale == 1.0)
    for name in PLAYERS:
        (x, y), (start_x, start_y) = response.target[name], response.start[name]
        look: Look = {"markerfacecolor": "white", "markeredgecolor": style.PLAYERS[name]}
        size: Look = {"markersize": 8.0 * scale, "markeredgewidth": 1.6 * math.sqrt(scale)}
        style.draw(axes, [x], [y], zorder=4, marker=_MARKS[name], **look, **size)
        if scale == 1.0:
            words: Look = {"color": style.PLAYER_WORDS[name], "weight": "bold", "zorder": 4}
            style.label(axes, start_x, start_y - 1.8, name, **words)
    _, x, y, _ = shot.contact
    style.draw(axes, [x], [y], zorder=4, marker="D", color=style.FAINT, markersize=8.0 * scale)
    if scale == 1.0:
        aside = min(max(x, -_WORDS_ASIDE), _WORDS_ASIDE)
        style.label(axes, aside, max(y, BASELINE) + 2.0, "opponents")


def draw_moment(
    axes: Axes, shot: OneShot, response: Response, time: float, scale: float = 1.0
) -> None:
    """What moves, ``time`` s after the return was struck: both players' ways so far, the ball's."""
    time = min(time, end_of(shot, response))
    struck = time >= shot.contact_time
    _draw_flown(axes, [(x, y) for x, y, _ in _flown(shot, time)], scale, faint=struck)
    if struck:
        _, x, y, _ = shot.contact
        style.draw(axes, [x], [y], zorder=5, marker="D", color=style.INK, markersize=8.0 * scale)
    for name in PLAYERS:
        _draw_player(axes, response, name, time, scale)
    x, y, z = ball_at(shot, time)
    if time < end_of(shot, response):
        _draw_ball(axes, x, y, scale * (_BALL + _BALL_PER_FOOT * max(z, 0.0)))
    else:
        _draw_arm(axes, response, time, (x, y), scale)
        _draw_end(axes, response, x, y, scale)


def draw_side_ground(axes: Axes, view: View) -> None:
    """The ground, the net and both lines of the pair's side, seen from the side."""
    ends = [view.nearest, _SIDE_ENDS]
    style.draw(axes, ends, [0.0, 0.0], zorder=3, color=style.QUIET, linewidth=1.6)
    # Down to the words in the second row.
    lowest = {-NON_VOLLEY_ZONE: -_BELOW}
    for y in (-BASELINE, -NON_VOLLEY_ZONE, NON_VOLLEY_ZONE):
        ends = [lowest.get(y, 0.0), 0.6]
        style.draw(axes, [y, y], ends, zorder=3, color=style.QUIET, linewidth=1.2)
    net = [0.0, 0.0], [0.0, NET_HEIGHT_AT_CENTRE]
    style.draw(axes, *net, zorder=3, color=style.INK, linewidth=2.6)


def name_side(figure: Figure, view: View, left: float, top: float, width: float) -> None:
    """Name lines and net below a view from the side, which ends at ``top`` (points)."""
    for words, y, row in _NAMED:
        half = 0.5 * style.width_of(words, SMALL)
        middle = max((y - view.nearest) * width / (_SIDE_ENDS - view.nearest), half)
        below = top + (row + 0.7) * SMALL * style.LINE
        style.write(figure, left + middle, below, words, SMALL, color=style.QUIET, ha="center")


def draw_side_moment(
    axes: Axes, shot: OneShot, response: Response, time: float, scale: float = 1.0
) -> None:
    """The ball's height so far, and how tall both players stand where they are."""
    time = min(time, end_of(shot, response))
    struck = time >= shot.contact_time
    _draw_flown(axes, [(y, z) for _, y, z in _flown(shot, time)], scale, faint=struck)
    for name, size in zip(PLAYERS, (11.0, 7.0), strict=True):
        player: Player = getattr(shot.scenario.pair, name)
        _, y = feet_at(response, name, time)
        eyes = player.height - _EYES_BELOW
        colour = style.PLAYERS[name]
        width = 2.4 * math.sqrt(scale)
        style.draw(axes, [y, y], [0.0, eyes], zorder=4, color=colour, linewidth=width)
        look: Look = {"markerfacecolor": colour, "markeredgecolor": "white"}
        look |= {"marker": _MARKS[name], "markersize": size * scale, "markeredgewidth": scale}
        style.draw(axes, [y], [eyes], zorder=6, **look)
    _, y, z = ball_at(shot, time)
    if time < end_of(shot, response):
        _draw_ball(axes, y, z, _BALL * scale)
    else:
        _draw_end(axes, response, y, z, _SMALLER * scale)


def _flown(shot: OneShot, time: float) -> list[tuple[Array, Array, Array]]:
    """The return as far as it is by then, and the third shot."""
    return [_until(path, time) for path in (shot.return_path, shot.shot_path)]


def _until(path: BallPath, time: float) -> tuple[Array, Array, Array]:
    if time <= path.times[0]:
        nothing = np.zeros(0)
        return nothing, nothing, nothing
    times = np.append(path.times[path.times < time], min(time, path.times[-1]))
    return path.at(times)


def _draw_player(axes: Axes, response: Response, name: str, time: float, scale: float) -> None:
    colour, count = style.PLAYERS[name], max(math.ceil(time / _PATH_EVERY), 1) + 1
    x, y = response.feet(name, np.linspace(0.0, time, count))
    style.draw(axes, x, y, zorder=6, color=colour, linewidth=2.4 * math.sqrt(scale))
    face: Look = {"markerfacecolor": colour, "markeredgecolor": "white", "markeredgewidth": 1.2}
    size = 13.0 * scale
    style.draw(axes, x[-1:], y[-1:], zorder=8, marker=_MARKS[name], markersize=size, **face)


def _draw_ball(axes: Axes, across: float, up: float, size: float) -> None:
    look: Look = {"markerfacecolor": style.INK, "markeredgecolor": "white", "zorder": 10}
    style.draw(axes, [across], [up], marker="o", markersize=size, **look)


def _draw_flown(axes: Axes, paths: list[tuple[Array, Array]], scale: float, *, faint: bool) -> None:
    """The ball's ways so far: the return, ``faint`` once it is history, and the third shot."""
    strengths = _FAINT if faint else _STRONG, _STRONG
    for (across, up), width, strength in zip(paths, (1.2, 2.2), strengths, strict=True):
        look: Look = {"color": style.INK, "linewidth": width * math.sqrt(scale), "alpha": strength}
        style.draw(axes, across, up, zorder=5, **look)


def _draw_arm(
    axes: Axes, response: Response, time: float, ball: tuple[float, float], scale: float
) -> None:
    """From the feet to the ball, for whoever takes it."""
    if response.player:
        x, y = feet_at(response, response.player, time)
        look: Look = {"color": style.PLAYERS[response.player], "linewidth": 4.0 * scale}
        style.draw(axes, [x, ball[0]], [y, ball[1]], zorder=7, **look)


def _draw_end(axes: Axes, response: Response, across: float, up: float, scale: float) -> None:
    """How it ends: a filled ring in control, an open one at full stretch, else a cross."""
    here = [across], [up]
    if response.hit is None:
        colour = style.THROUGH if response.outcome else style.QUIET
        cross: Look = {"color": colour, "markersize": 18.0 * scale, "markeredgewidth": 4.0 * scale}
        style.draw(axes, *here, zorder=11, marker="x", **cross)
        return
    ring: Look = {"markerfacecolor": "white", "markeredgecolor": style.INK}
    width, size = 2.6 * math.sqrt(scale), 22.0 * scale
    style.draw(axes, *here, zorder=9, marker="o", markersize=size, markeredgewidth=width, **ring)
    if response.outcome == "in control":
        style.draw(axes, *here, zorder=10, marker="o", markersize=13.0 * scale, color=style.INK)
