"""Flights against references, and the speed a ball loses on the way."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from sim.court import Array
from sim.figures import marks, scales, style
from sim.figures.style import MARGIN, ROOM, SMALL, TEXT, Look
from sim.units import METRES_PER_FOOT
from tests.published.test_ball_and_air import (
    FEET_APART,
    SPEED_ON_ARRIVAL,
    SPEED_STRUCK,
    after_the_exchange,
)
from tests.published.test_flight import STANDARD_GRAVITY, Hodograph, flight_in_metres
from tests.published.test_flight_integrated import MPH, RPM, Case

_SCALE: Final = 44.0
_UNDER: Final = 3.4 * SMALL
_POINTS: Final = 25
_SPEEDS: Final = [24.0, 26.0, 28.0, 30.0, 32.0, 34.0, 36.0]


@dataclass(frozen=True)
class Flown:
    """A flight by the reference and by the program at the same instants; lengths in ft."""

    name: str
    look: str
    distance: Array
    height: Array
    our_distance: Array
    our_height: Array

    @property
    def apart(self) -> Array:
        return np.hypot(self.our_distance - self.distance, self.our_height - self.height)


def without_spin() -> Flown:
    """16 m/s at 15 degrees from the ground, by the exact hodograph."""
    exact = Hodograph(16.0, math.radians(15.0), STANDARD_GRAVITY)
    directions = np.linspace(exact.elevation, exact.landing_direction(), _POINTS)
    place = np.array([(exact.distance(d), exact.height(d)) for d in directions]).T
    flight, _ = flight_in_metres(0.0, exact.speed, exact.elevation)
    ours = [flight.position(np.array([exact.time(d)])) for d in directions]
    _, y, z = (part[:, 0] for part in np.swapaxes(np.array(ours), 0, 1))
    return Flown("low ball", "middle", *(place / METRES_PER_FOOT), -y, z)


def with_spin(name: str, look: str, mph: float, degrees: float, rpm: float) -> Flown:
    """A third shot struck 2.5 ft up at the opponents' baseline, by solve_ivp."""
    speed, elevation = mph * MPH, math.radians(degrees)
    velocity = 0.0, -speed * math.cos(elevation), speed * math.sin(elevation)
    case = Case((0.0, 22.0, 2.5), velocity, rpm * RPM, (0.0, 0.0))
    flight, reference = case.flown(), case.reference()
    times = np.linspace(0.0, reference.landing_time, _POINTS)
    exact = np.array([reference.position(time) for time in times])
    ours = np.array([np.array(flight.position(np.array([time])))[:, 0] for time in times])
    return Flown(name, look, 22.0 - exact[:, 1], exact[:, 2], 22.0 - ours[:, 1], ours[:, 2])


@cache
def flights() -> tuple[Flown, ...]:
    return (
        with_spin("lob", "cross", 33.0, 48.0, 0.0),
        without_spin(),
        with_spin("drive with topspin", "line", 45.0, 9.0, 1000.0),
    )


def flight_figure() -> Figure:
    """Height over distance, ours on the reference's, and how far apart they are."""
    title = "Our flight and that of two references"
    subtitle = "three balls; heights and distances in ft"
    notes = style.wrapped(
        "Lines: the exact solution (hodograph) for the low ball, scipy's solve_ivp for the others. "
        "Circles: our flight at the same instants. Below: how far the two are apart, each step of "
        "the scale ten times the one before; 10 thousandths of a foot, an eighth of an inch, are "
        "allowed.",
        ROOM,
        SMALL,
        most=5,
    )
    top = style.head_height(title, subtitle) + 3.0 * TEXT
    lower = top + 170.0 + _UNDER + 2.0 * TEXT
    bottom = lower + 110.0 + _UNDER
    farthest = [10.0 * k for k in range(6)]
    with style.own_settings():
        figure = style.new_figure(bottom + style.foot_height(notes))
        style.head(figure, title, subtitle)
        style.write(figure, MARGIN, top - 12.0, "Height, ft", weight="bold")
        heights = [0.0, 5.0, 10.0, 15.0, 20.0]
        axes = _axes(figure, top, 170.0, farthest, heights, scales.plain(heights))
        for flown in flights():
            _draw_flight(axes, flown)
        style.write(figure, MARGIN, lower - 12.0, "Apart, thousandths of a foot", weight="bold")
        powers = [-3.0, -2.0, -1.0, 0.0, 1.0]
        words = [f"{10.0**power:g}" for power in powers]
        axes = _axes(figure, lower, 110.0, farthest, powers, words)
        for flown in flights():
            line: Look = {"linestyle": style.DASHES[flown.look], "linewidth": 2.0, "zorder": 3}
            colour = style.DIRECTIONS[flown.look]
            # From where the difference is large enough for the scale; at the start it is none.
            shown = 1000.0 * flown.apart >= 10.0 ** powers[0]
            apart = np.log10(1000.0 * flown.apart[shown])
            style.draw(axes, flown.distance[shown], apart, color=colour, **line)
        style.foot(figure, bottom, notes)
    return figure


def _axes(
    figure: Figure,
    top: float,
    height: float,
    across: list[float],
    up: list[float],
    up_words: list[str],
) -> Axes:
    """Axes of full width: feet from the strike from left to right, what the words say upwards."""
    axes = style.add_axes(figure, MARGIN + _SCALE, top, ROOM - _SCALE - 12.0, height)
    axes.set(xlim=(across[0], across[-1]), ylim=(up[0], up[-1]))
    scales.draw_level(axes, up, up_words)
    scales.draw_upright(axes, across, scales.plain(across))
    named: Look = {"color": style.QUIET, "ha": "center"}
    middle, below = MARGIN + _SCALE + 0.5 * (ROOM - _SCALE - 12.0), top + height + 2.6 * SMALL
    style.write(figure, middle, below, "distance from the strike, ft", SMALL, **named)
    return axes


def _draw_flight(axes: Axes, flown: Flown) -> None:
    colour = style.DIRECTIONS[flown.look]
    line: Look = {"linestyle": style.DASHES[flown.look], "linewidth": 2.0, "zorder": 3}
    style.draw(axes, flown.distance, flown.height, color=colour, **line)
    face: Look = {"marker": "o", "markersize": 6.0, "markerfacecolor": "white", "zorder": 4}
    # The first and the last lie on the edge.
    face["clip_on"] = False
    every = slice(None, None, 3)
    style.draw(axes, flown.our_distance[every], flown.our_height[every], color=colour, **face)
    top, (_, up) = int(np.argmax(flown.height)), scales.a_point(axes)
    words: Look = {"color": style.DIRECTION_WORDS[flown.look], "weight": "bold", "zorder": 6}
    aside = 14.0 if flown.look == "line" else -14.0
    at = float(flown.distance[top]), float(flown.height[top]) + aside * up
    style.label(axes, *at, flown.name, bbox=style.CLEAR, **words)


def speed_figure() -> Figure:
    """Speed left over the distance, of both balls, and the exchange timed on video."""
    title = "How fast a ball slows down"
    subtitle = f"{SPEED_STRUCK:.0f} mph off the paddle, arriving as high as it was struck"
    notes = style.wrapped(
        f"Mark: {SPEED_ON_ARRIVAL:.0f} mph {FEET_APART:.0f} ft on, timed on video; the stroke is "
        "its rounding to whole miles an hour. Which ball it was is not said. " + scales.CUT,
        ROOM,
        SMALL,
    )
    top = style.head_height(title, subtitle) + 3.0 * TEXT
    bottom = top + 200.0 + _UNDER
    feet = np.linspace(0.5, 24.0, 24)
    with style.own_settings():
        figure = style.new_figure(bottom + style.foot_height(notes))
        style.head(figure, title, subtitle)
        style.write(figure, MARGIN, top - 12.0, "Speed, mph", weight="bold")
        across = [0.0, 4.0, 8.0, 12.0, 16.0, 20.0, 24.0]
        axes = _axes(figure, top, 200.0, across, _SPEEDS, scales.plain(_SPEEDS))
        for kind, look in (("outdoor", "line"), ("indoor", "cross")):
            speeds = [after_the_exchange(kind, float(each))[0] for each in feet]
            line: Look = {"linestyle": style.DASHES[look], "linewidth": 2.2, "zorder": 3}
            x, y = np.append(0.0, feet), np.append(SPEED_STRUCK, speeds)
            style.draw(axes, x, y, color=style.DIRECTIONS[look], **line)
            words: Look = {"color": style.DIRECTION_WORDS[look], "weight": "bold", "zorder": 6}
            aside = 26.0 if kind == "outdoor" else -26.0
            height = speeds[-6] + aside * scales.a_point(axes)[1]
            style.label(axes, float(feet[-6]), height, f"{kind} ball", bbox=style.CLEAR, **words)
        ends = [SPEED_ON_ARRIVAL - 0.5, SPEED_ON_ARRIVAL + 0.5]
        style.draw(axes, [FEET_APART, FEET_APART], ends, color=style.INK, linewidth=2.0, zorder=4)
        marks.draw_mark(axes, FEET_APART, SPEED_ON_ARRIVAL, filled=True)
        style.foot(figure, bottom, notes)
    return figure
