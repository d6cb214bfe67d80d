"""One shot as tidy rows: every instant, and what anybody needs to fly it again; lengths in ft."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from sim.analyses.one_shot import OneShot
from sim.ball import GRAVITY
from sim.court import net_height
from sim.rallies import ball_of
from sim.run_in import PLAYERS
from sim.tables import Row

# Constants of the ball are small: in thousandths and millionths they keep their digits.
_THOUSANDTHS: Final = 1e3
_MILLIONTHS: Final = 1e6


def instant_rows(shot: OneShot) -> list[Row]:
    """A row for each policy, player and instant; times in s since the opponents' contact."""
    return [
        {
            "policy": name,
            "player": player,
            "time_s": float(seen.time[k]) - shot.contact_time,
            "ball_x_ft": float(seen.x[k]),
            "ball_y_ft": float(seen.y[k]),
            "ball_z_ft": float(seen.z[k]),
            "bounced": not seen.volley[k],
            "playable": bool(seen.playable[k]),
            "distance_ft": float(seen.left[k]),
            "reach_in_control_ft": _finite(seen.control[k]),
            "reach_at_full_stretch_ft": _finite(seen.stretch[k]),
            "lacking_in_control_ft": _finite(seen.left[k] - seen.control[k]),
            "lacking_at_full_stretch_ft": _finite(seen.left[k] - seen.stretch[k]),
        }
        for name, answer in shot.answers.items()
        for player in PLAYERS
        for seen in (answer.instants.get(player),)
        if seen is not None
        for k in range(seen.time.size)
    ]


def check_rows(shot: OneShot) -> list[Row]:
    """All that it takes to fly the third shot again, and what has to come out.

    Times in s since the opponents' contact. ``given`` says which of the two a row is.
    """
    ball, launch = ball_of(shot.scenario), shot.launch
    _, x, y, z = shot.contact
    given = [
        ("struck_x", x, "ft"),
        ("struck_y", y, "ft"),
        ("struck_z", z, "ft"),
        ("speed", launch.speed, "ft/s"),
        ("elevation", math.degrees(launch.elevation), "deg"),
        ("azimuth", math.degrees(launch.azimuth), "deg"),
        ("spin", launch.spin, "rad/s"),
        ("drag_constant", _THOUSANDTHS * ball.drag, "1/(1000 ft)"),
        ("lift_constant", _MILLIONTHS * ball.magnus, "millionths"),
        ("gravity", GRAVITY, "ft/s2"),
        ("ball_radius", ball.radius, "ft"),
        ("wind_to_the_right", ball.wind_x, "ft/s"),
        ("wind_from_behind", ball.wind_y, "ft/s"),
    ]
    found = []
    if shot.over_net is not None:
        time, x, _, z = shot.over_net
        found += [
            ("net_time", time - shot.contact_time, "s"),
            ("net_x", x, "ft"),
            ("net_z", z, "ft"),
            ("net_top", float(net_height(np.array(x))), "ft"),
            ("net_clearance", shot.net_clearance, "ft"),
        ]
    if shot.landing is not None:
        time, x, y, _ = shot.landing
        found += [
            ("landing_time", time - shot.contact_time, "s"),
            ("landing_x", x, "ft"),
            ("landing_y", y, "ft"),
        ]
    return [
        {"quantity": name, "value": value, "unit": unit, "given": part is given}
        for part in (given, found)
        for name, value, unit in part
    ]


def _finite(value: float) -> float:
    """The value, or not a number where it is infinite: an empty cell."""
    return float(value) if math.isfinite(value) else math.nan
