"""Court, net and lines against the rules.

Rulebook, section 2.A to 2.C (2025 text, read on a republishing site): 20 ft by 44 ft; non-volley
zone 7 ft deep; net 36 in high at the sidelines and 34 in at the centre. Lines are in. Around the
post is legal at any height, 11.M (2019 book, read).
"""

from __future__ import annotations

import numpy as np

from sim import rallies
from sim.ball import Ball
from sim.court import BASELINE, HALF_WIDTH, NON_VOLLEY_ZONE, is_in, net_height
from sim.flight import Launch
from sim.return_of_serve import Contact
from sim.third_shot import ThirdShot
from tests.published.check import Check, Property, Source

THIN_AIR = Ball(drag=1e-9, magnus=0.0, radius=1.46 / 12.0, restitution=0.66, friction=0.5)


def net_height_in_inches(feet: float) -> float:
    return float(net_height(np.array([feet]))[0]) * 12.0


RULEBOOK = Source("Rulebook 2.A to 2.C", "read")
AROUND_THE_POST = Source("Rulebook 11.M", "read")
HALFWAY = Source("Rulebook 2.C, straight between", "computed")
CHECKS = [
    Check(
        quantity,
        source,
        published,
        ours,
        allowed=1e-6,
        why="rounding of the arithmetic",
        unit=unit,
        decimals=0,
        origin="taken over",
    )
    for quantity, source, published, ours, unit in (
        ("width of the court", RULEBOOK, 20.0, lambda: 2.0 * HALF_WIDTH, "ft"),
        ("length of the court", RULEBOOK, 44.0, lambda: 2.0 * BASELINE, "ft"),
        ("depth of the non-volley zone", RULEBOOK, 7.0, lambda: NON_VOLLEY_ZONE, "ft"),
        ("net at the centre", RULEBOOK, 34.0, lambda: net_height_in_inches(0.0), "in"),
        ("net at the right sideline", RULEBOOK, 36.0, lambda: net_height_in_inches(10.0), "in"),
        ("net at the left sideline", RULEBOOK, 36.0, lambda: net_height_in_inches(-10.0), "in"),
        ("net halfway between", HALFWAY, 35.0, lambda: net_height_in_inches(5.0), "in"),
    )
]


def test_lines_are_in() -> None:
    x = np.array([10.0, -10.0, 10.001, 0.0, 0.0, 0.0])
    y = np.array([-5.0, -22.0, -5.0, -22.001, 0.0, 0.001])
    assert is_in(x, y).tolist() == [True, True, False, False, True, False]


def fate_of(x: float, height_at_net: float, landing_y: float = -15.0) -> str:
    """Fate of a ball that passes the net at ``x`` and lands at ``landing_y``, by a parabola."""
    speed, contact_y = 40.0, 20.0
    net, landing = contact_y / speed, (contact_y - landing_y) / speed
    gravity = 9.80665 / 0.3048
    # z = z0 + u t - g t^2 / 2 through both points.
    up = (0.5 * gravity * (landing**2 - net**2) - height_at_net) / (landing - net)
    z = 0.5 * gravity * landing**2 - up * landing
    one = np.ones(1)
    shot = ThirdShot(
        np.zeros(1, int), np.zeros(1, int), Launch(0.0 * one, -speed * one, up * one, 0.0 * one)
    )
    rally = rallies.follow_through(
        ("line",),
        Contact(one, x * one, contact_y * one, z * one),
        shot,
        {"left": 0.3 * one, "right": 0.3 * one},
        THIN_AIR,
    )
    return rallies.FATES[rally.fate[0]]


def test_net_is_cleared_by_a_whole_radius() -> None:
    # Over the centre the net is 34 in high and the ball's radius 1.46 in.
    edge = (34.0 + 1.46) / 12.0
    assert fate_of(0.0, edge + 0.002) == "in play"
    assert fate_of(0.0, edge - 0.002) == "net"


def test_balls_past_the_lines_are_out() -> None:
    assert fate_of(9.99, 4.0) == "in play"
    assert fate_of(10.01, 4.0) == "out"
    assert fate_of(0.0, 4.0, -21.98) == "in play"
    assert fate_of(0.0, 4.0, -22.02) == "out"


def test_net_between_sideline_and_post_and_none_beyond_it() -> None:
    # A ball below the top of the net at 10.5 ft is in the net; at 11.5 ft it goes around the post,
    # and is called by where it lands.
    assert fate_of(10.5, 2.5) == "net"
    assert fate_of(11.5, 2.5) == "out"
    sideways = fate_around_post(landing_x=9.0)
    assert sideways == "in play"


def fate_around_post(landing_x: float) -> str:
    """A low ball that passes the net's line 11.5 ft from the centre and comes back in."""
    gravity, speed, one = 9.80665 / 0.3048, 30.0, np.ones(1)
    # From (12.5, 6) by way of (11.5, 0) to y = -15 at x = 9: one foot to the left for every six.
    left = speed * (12.5 - landing_x) / 21.0
    landing = 21.0 / speed
    up = 0.5 * gravity * landing - 1.5 / landing
    shot = ThirdShot(
        np.zeros(1, int), np.zeros(1, int), Launch(-left * one, -speed * one, up * one, 0.0 * one)
    )
    start = Contact(one, 12.5 * one, 6.0 * one, 1.5 * one)
    rally = rallies.follow_through(
        ("line",), start, shot, {"left": 0.3 * one, "right": 0.3 * one}, THIN_AIR
    )
    return rallies.FATES[rally.fate[0]]


PROPERTIES = [
    Property("Lines are in.", RULEBOOK, test_lines_are_in),
    Property(
        "The net is cleared by a whole radius of the ball.",
        HALFWAY,
        test_net_is_cleared_by_a_whole_radius,
    ),
    Property("Balls past the lines are out.", RULEBOOK, test_balls_past_the_lines_are_out),
    Property(
        "The net ends at the posts; a ball may go around them at any height.",
        AROUND_THE_POST,
        test_net_between_sideline_and_post_and_none_beyond_it,
    ),
]
