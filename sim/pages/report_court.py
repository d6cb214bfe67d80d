"""The court from above as SVG: whole tenths of a foot, x to the pair's right, y down the page.

The pair's baseline is at the bottom, as on our figures. Outlines are paths of relative commands in
whole numbers, which take a tenth of the bytes that coordinates in feet would.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np

from sim.analyses.court_views import CourtView
from sim.coverage import Point
from sim.run_in import PLAYERS

_PER_FOOT: Final = 10.0
# What a panel shows of the ground (ft): the court, a step around it, and who strikes behind it.
HALF_VIEW: Final = 12.2
_NEAREST_VIEW: Final = 25.9
_BEHIND_CONTACT: Final = 4.2
# From here on (ft) a ball is drawn on the picture's edge.
_EDGE: Final = HALF_VIEW - 0.4
# How far from the centre (ft) words may be centred and still end inside the panel.
_WORDS_ASIDE: Final = 5.0
_MARGIN_OF_WORDS: Final = 1.6

Pixel = tuple[int, int]


@dataclass(frozen=True)
class Player:
    """A player's marks: where the shot finds them, the target, the way, what they cover."""

    found: Pixel
    target: Pixel
    start: Pixel
    way: str
    in_control: str
    at_full_stretch: str


@dataclass(frozen=True)
class Drawing:
    """All that is drawn of one policy on one court; paths are values of ``d``."""

    players: dict[str, Player]
    through: str
    beyond_left: str
    beyond_right: str
    contact: Pixel
    words_at: Pixel
    widest: str


def pixel(point: Point) -> Pixel:
    """A point of the court (ft) on the page.

    >>> pixel((-4.34, -12.87))
    (-43, 129)
    """
    return round(_PER_FOOT * point[0]), round(-_PER_FOOT * point[1])


def view_box(views: Iterable[CourtView]) -> str:
    """The part of the ground that all courts of a page show."""
    depths = [view.contact[1] for view in views]
    top = max([22.0, *depths]) + _BEHIND_CONTACT
    left, height = round(-_PER_FOOT * HALF_VIEW), round(_PER_FOOT * (top + _NEAREST_VIEW))
    return f"{left} {round(-_PER_FOOT * top)} {-2 * left} {height}"


def drawing(view: CourtView) -> Drawing:
    """What is drawn of a policy after returns in one direction."""
    at_right = view.through[:, 0] > _EDGE
    at_left = view.through[:, 0] < -_EDGE
    contact = pixel(view.contact)
    aside = min(max(view.contact[0], -_WORDS_ASIDE), _WORDS_ASIDE)
    behind = max(view.contact[1], 22.0) + _MARGIN_OF_WORDS
    return Drawing(
        players={name: _player(view, name) for name in PLAYERS},
        through=points_path(view.through[~at_left & ~at_right]),
        beyond_left=points_path(view.through[at_left] * (0.0, 1.0) - (_EDGE, 0.0)),
        beyond_right=points_path(view.through[at_right] * (0.0, 1.0) + (_EDGE, 0.0)),
        contact=contact,
        words_at=pixel((aside, behind)),
        widest="".join(points_path(np.array(drive)) for drive in view.widest),
    )


def _player(view: CourtView, name: str) -> Player:
    player = view.players[name]
    spots = np.array([player.start, player.found, player.target])
    return Player(
        found=pixel(player.found),
        target=pixel(player.target),
        start=pixel(player.start),
        way=points_path(spots),
        in_control=outline_path(player.in_control),
        at_full_stretch=outline_path(player.at_full_stretch),
    )


def outline_path(outlines: Iterable[np.ndarray]) -> str:
    """Closed rings (ft, shape (points, 2)) as the path of an area; holes by the even-odd rule.

    >>> outline_path([np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 2.0], [0.0, 0.0]])])
    'M0 0l10 0 0-20z'
    """
    return "".join(f"{path}z" for ring in outlines if (path := _ring(ring)))


def _ring(ring: np.ndarray) -> str:
    corners = _rounded(ring)
    if len(corners) > 1 and (corners[0] == corners[-1]).all():
        corners = corners[:-1]
    # What is smaller than a tenth of a foot has no area left.
    return _path(_without_straight(corners)) if len(corners) > 2 else ""


def points_path(points: np.ndarray) -> str:
    """Points (ft, shape (points, 2)) joined by lines; also where only their marks are drawn.

    >>> points_path(np.array([[0.0, 0.0], [1.04, -2.0]]))
    'M0 0l10 20'
    """
    corners = np.rint(points * (_PER_FOOT, -_PER_FOOT)).astype(int)
    return _path(corners) if len(corners) else ""


def _rounded(points: np.ndarray) -> np.ndarray:
    """Points in whole tenths, each only once in a row."""
    corners = np.rint(points * (_PER_FOOT, -_PER_FOOT)).astype(int)
    moved = np.any(np.diff(corners, axis=0) != 0, axis=1)
    return corners[np.concatenate(([True], moved))]


def _without_straight(corners: np.ndarray) -> np.ndarray:
    """Corners without those on the straight way between their neighbours."""
    before, after = np.diff(corners[:-1], axis=0), np.diff(corners[1:], axis=0)
    turns = before[:, 0] * after[:, 1] != before[:, 1] * after[:, 0]
    back = (before * after).sum(axis=1) < 0
    return corners[np.concatenate(([True], turns | back, [True]))]


def _path(corners: np.ndarray) -> str:
    """A path that moves to the first corner and goes on by relative lines."""
    first = f"M{corners[0, 0]} {corners[0, 1]}"
    steps = np.diff(corners, axis=0)
    if not len(steps):
        # A place of its own still needs a command for a mark to stand on.
        return f"{first}h0"
    line = "".join(f"{number:d}" if number < 0 else f" {number:d}" for number in steps.ravel())
    return f"{first}l{line.removeprefix(' ')}"
