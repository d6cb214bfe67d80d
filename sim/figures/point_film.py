"""A point as a film: how fast it is shown, and which moments are held."""

from __future__ import annotations

from typing import Final, Literal

from sim.analyses.points import Point, end_of
from sim.figures.animation import QUALITIES, Draw, Film, Stretch, Told, gif, mp4, timeline
from sim.figures.point_frames import Frames
from sim.figures.style import Units

Format = Literal["gif", "mp4"]

# The third shot is shown slower than what leads to it, by this factor.
SLOWER: Final = 0.5
# How long (s) the film stands: at the start, at the opponents' strike, at an end, at the last one.
_AT_START: Final = 0.8
_AT_STRIKE: Final = 0.4
_AT_END: Final = 1.2
_AT_LAST: Final = 5.0
# Ends so near to each other (s) are one to the eye, and not held apart.
_TOGETHER: Final = 0.02


def stretches_of(point: Point, speed: float) -> list[Stretch]:
    """The point up to the strike at a ``speed`` (of real speed), then slower, up to both ends."""
    struck = point.shot.contact_time
    ends = sorted(end_of(point.shot, response) for response in point.responses)
    if ends[1] - ends[0] < _TOGETHER:
        ends = ends[1:]
    held = [_AT_END, _AT_LAST][-len(ends) :]
    slow = speed * SLOWER
    return [
        Stretch(0.0, speed, _AT_START),
        Stretch(struck, speed, _AT_STRIKE),
        *(Stretch(end, slow, hold) for end, hold in zip(ends, held, strict=True)),
    ]


def times_of(point: Point, speed: float) -> list[float]:
    """The times (s since the return was struck) that the best film of the point shows."""
    _, step = QUALITIES[0]
    return [frame.time for frame in timeline(stretches_of(point, speed), step)]


def film_of(point: Point, units: Units, kind: Format, speed: float, told: Told) -> Film:
    """The point as GIF or MP4; see `animation.gif` and `animation.mp4`."""

    def drawing(width: int) -> Draw:
        return Frames(point, units, width).at

    make = gif if kind == "gif" else mp4
    return make(drawing, stretches_of(point, speed), told)
