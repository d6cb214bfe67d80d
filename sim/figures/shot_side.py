"""One shot from the side: its path over the net, and both players where the hit finds them."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Polygon, Rectangle

from sim.analyses.one_shot import OneShot, Response
from sim.analyses.shot_instants import instants_of
from sim.court import BASELINE, NON_VOLLEY_ZONE, POST, Array, net_height
from sim.figures import style
from sim.figures.style import MARGIN, ROOM, SMALL, Look, Units
from sim.run_in import PLAYERS, Place
from sim.texts.table import length
from sim.track import Track

# Opacity of what is reached at full stretch, and in control: as on the courts.
LIGHT: Final = 0.2
DARK: Final = 0.42
# What is shown of the ground beyond the contact and behind the pair (ft), and over the ball.
_BEHIND_CONTACT: Final = 2.5
_DEEPEST: Final = 29.5
_LEAST_DEPTH: Final = 24.5
_LEAST_HEIGHT: Final = 9.5
_OVER_BALL: Final = 2.2
# Room for words below the ground (ft).
_BELOW: Final = 6.4
_FIRST_ROW, _ROW = 1.7, 1.85
_NAMES, _LINES, _BOUNCES = range(3)
_ASIDE_OF_NET: Final = 2.0
_NEAR_NET: Final = 7.0
_ABOVE_PATH: Final = 1.1
_HEAD: Final = 0.5
# Words under a player reach so far (ft) to the other side, and stand so far apart.
_UNDER_NAME: Final = 4.0
_BESIDE: Final = 0.4
_HEIGHTS: Final = np.linspace(0.0, 9.0, 181)
_TENTH: Final = 0.1


def view_of(shot: OneShot) -> tuple[float, float, float]:
    """From where to where along the court and up to what height (ft) the picture goes."""
    path = shot.shot_path
    nearest = -min(max(-float(path.y.min()) + 1.0, _LEAST_DEPTH), _DEEPEST)
    farthest = max(float(path.y.max()), BASELINE) + _BEHIND_CONTACT
    return nearest, farthest, max(float(path.z.max()) + _OVER_BALL, _LEAST_HEIGHT)


def side_height(shot: OneShot) -> float:
    """Points that the picture is high: lengths and heights have one scale."""
    nearest, farthest, top = view_of(shot)
    return ROOM * (top + _BELOW) / (farthest - nearest)


def moment_of(answer: Response) -> float:
    """The instant that is shown: the hit, or when the ball is least beyond either's reach."""
    if answer.hit is not None:
        return answer.hit[0]
    least = {}
    for seen in answer.instants.values():
        room = seen.stretch - seen.left
        least[float(room.max())] = float(seen.time[np.argmax(room)])
    return least[max(least)]


def draw_side(
    figure: Figure, top: float, shot: OneShot, answer: Response | None, units: Units
) -> None:
    """The picture, ``top`` points below the figure's top edge and as high as `side_height`."""
    nearest, farthest, highest = view_of(shot)
    axes = style.add_axes(figure, MARGIN, top, ROOM, side_height(shot))
    axes.set(xlim=(nearest, farthest), ylim=(-_BELOW, highest))
    axes.set_aspect("equal")
    _draw_ground(axes, shot)
    moment = math.inf if answer is None else moment_of(answer)
    _draw_path(axes, shot, moment)
    _name_places(axes, shot, units)
    if answer is not None:
        _draw_players(axes, shot, answer, moment, units)
        _, y, z = (float(part) for part in shot.shot_path.at(np.array(moment)))
        hit: Look = {"markersize": 9.0, "markeredgecolor": style.INK, "markeredgewidth": 1.6}
        face = style.INK if answer.hit is not None else "white"
        style.draw(axes, [y], [z], zorder=8, marker="o", markerfacecolor=face, **hit)


def _draw_ground(axes: Axes, shot: OneShot) -> None:
    """The court from the side: ground, lines, the non-volley zone, the net where it is passed."""
    nearest, farthest, _ = view_of(shot)
    style.draw(axes, [nearest, farthest], [0.0, 0.0], zorder=2, color=style.QUIET, linewidth=1.2)
    zone: Look = {"color": style.FAINT, "linewidth": 0.0, "zorder": 1}
    axes.add_artist(Rectangle((-NON_VOLLEY_ZONE, -0.4), 2 * NON_VOLLEY_ZONE, 0.4, **zone))
    for line in (-BASELINE, -NON_VOLLEY_ZONE, NON_VOLLEY_ZONE, BASELINE):
        style.draw(axes, [line, line], [-0.6, 0.0], zorder=2, color=style.QUIET, linewidth=1.6)
    _name(axes, _LINES, -BASELINE, "baseline", color=style.QUIET)
    _name(axes, _LINES, -_ASIDE_OF_NET, "non-volley line", color=style.QUIET, ha="right")
    _name(axes, _LINES, 0.0, "net")
    aside = 0.0 if shot.over_net is None else min(abs(shot.over_net[1]), POST)
    here = float(net_height(np.array(aside)))
    colour = style.QUIET if shot.around_post else style.INK
    style.draw(axes, [0.0, 0.0], [0.0, here], zorder=3, color=colour, linewidth=3.0)


def _name(axes: Axes, row: int, y: float, words: str, ha: str = "center", **look: object) -> float:
    """Words below the ground, in one of the rows there and within the picture; gives their end."""
    left, right = axes.get_xlim()
    bold = look.get("weight") == "bold"
    width = style.width_of(words, SMALL, bold=bold) * (right - left) / ROOM
    start = y - {"left": 0.0, "center": 0.5, "right": 1.0}[ha] * width
    start = min(max(start, left), right - width)
    style.label(axes, start, -_FIRST_ROW - row * _ROW, words, ha="left", **look)
    return float(start + width)


def _draw_path(axes: Axes, shot: OneShot, moment: float) -> None:
    """The ball's way, a dot every tenth of a second; thin where it is left alone."""
    path = shot.shot_path
    before = path.times <= moment
    style.draw(axes, path.y[before], path.z[before], zorder=5, color=style.INK, linewidth=2.0)
    onwards: Look = {"color": style.QUIET, "linewidth": 1.2, "linestyle": (0, (3.0, 2.0))}
    style.draw(axes, path.y[~before], path.z[~before], zorder=4, **onwards)
    tenths = np.arange(shot.contact_time, min(moment, float(path.times[-1])), _TENTH)
    _, y, z = path.at(tenths)
    style.draw(axes, y, z, zorder=6, color=style.INK, marker="o", markersize=3.6)


def _name_places(axes: Axes, shot: OneShot, units: Units) -> None:
    """Words where it is struck, crosses the net, bounces and ends."""
    _, _, y, z = shot.contact
    style.draw(axes, [y], [z], zorder=7, marker="D", color=style.INK, markersize=7.0)
    left, right = axes.get_xlim()
    under = min(y + _BEHIND_CONTACT, right) - 0.3
    style.label(axes, under, max(z - 1.5, 0.9), "struck", ha="right")
    if shot.over_net is not None and shot.landing is not None:
        near = np.abs(shot.shot_path.y) < _NEAR_NET
        above = float(shot.shot_path.z[near].max()) + _ABOVE_PATH
        clears = f"clears by {length(shot.net_clearance, units)}"
        style.label(axes, 0.0, above, "around the post" if shot.around_post else clears)
    cross: Look = {"marker": "x", "markersize": 7.0, "markeredgewidth": 1.8, "zorder": 7}
    ends = {"bounces": shot.landing, "again": shot.end}
    if shot.fate != "in play":
        short = "into the net" if shot.landing is None else "before the net"
        ends = {short if shot.fate == "net" else "out": shot.end}
    for words, place in ends.items():
        if place is not None and place[2] > left:
            style.draw(axes, [place[2]], [max(place[3], 0.0)], color=style.THROUGH, **cross)
            _name(axes, _BOUNCES, place[2], words, color=style.THROUGH)


def _draw_players(axes: Axes, shot: OneShot, answer: Response, moment: float, units: Units) -> None:
    """Both where they stand at the moment, what they reach there, and how far aside the ball is."""
    ball_x = float(shot.shot_path.at(np.array(moment))[0])
    stands, asides = {}, {}
    for name in PLAYERS:
        x, y = (float(part[0]) for part in answer.feet(name, np.array([moment])))
        stands[name], asides[name] = y, abs(ball_x - x)
        player, colour = getattr(shot.scenario.pair, name), style.PLAYERS[name]
        tall = player.stance_share * player.height
        reaches = _reaches(shot, answer, name, moment, y, ball_x - x)
        for reach, opacity in zip(reaches, (LIGHT, DARK), strict=True):
            _draw_slice(axes, y, reach, colour, opacity)
        style.draw(axes, [y, y], [0.0, tall - 2.2 * _HEAD], zorder=4, color=colour, linewidth=5.0)
        axes.add_artist(Circle((y, tall - _HEAD), _HEAD, facecolor=colour, zorder=4, linewidth=0.0))
    _name_players(axes, stands, asides, units)


def _name_players(
    axes: Axes, stands: dict[str, float], asides: dict[str, float], units: Units
) -> None:
    """Names below the feet, side by side, with how far aside the ball is."""
    deeper, nearer = sorted(PLAYERS, key=stands.__getitem__)
    middle = 0.5 * (stands[deeper] + stands[nearer])
    end = min(stands[deeper] + _UNDER_NAME, middle - _BESIDE)
    for name, ha in ((deeper, "right"), (nearer, "left")):
        words = f"{name}, {length(asides[name], units)} aside"
        look: Look = {"color": style.PLAYER_WORDS[name], "weight": "bold"}
        end = _name(axes, _NAMES, end, words, ha, **look)
        end = max(stands[nearer] - _UNDER_NAME, middle + _BESIDE, end + 2 * _BESIDE)


def _reaches(
    shot: OneShot,
    answer: Response,
    name: str,
    moment: float,
    feet_y: float,
    aside: float,
) -> tuple[Array, Array]:
    """How far before and behind the feet a paddle gets at each height, so far ``aside`` (ft).

    At full stretch and in control; not a number where it does not get so far aside.
    """
    flat = np.zeros((_HEIGHTS.size, 1))
    ball_x = float(shot.shot_path.at(np.array(moment))[0])
    ball = flat + moment, flat + ball_x, flat + feet_y, _HEIGHTS[:, None]
    track = Track(*ball, np.zeros(flat.shape, bool), np.ones(flat.shape, bool))
    x, y = (np.array([part]) for part in answer.found[name])
    player = getattr(shot.scenario.pair, name)
    seen = instants_of(player, track, Place(x, y), answer.reacts_at[name])
    with np.errstate(invalid="ignore"):
        stretch, control = (
            np.sqrt(np.maximum(reach, 0.0) ** 2 - aside * aside)
            for reach in (seen.stretch, seen.control)
        )
    return stretch, control


def _draw_slice(axes: Axes, y: float, reach: Array, colour: str, opacity: float) -> None:
    some = np.isfinite(reach)
    if some.any():
        reach, height = reach[some], _HEIGHTS[some]
        corners = np.concatenate(
            (np.stack((y - reach, height), 1), np.stack((y + reach, height), 1)[::-1])
        )
        look: Look = {"facecolor": colour, "alpha": opacity, "linewidth": 0.0, "zorder": 3}
        axes.add_artist(Polygon(corners, **look))
