"""The bounce by hand. The outside world is in `tests/published/test_bounce.py`.

With e = 0.6 and mu = 0.5 a ball that falls at 10 ft/s loses up to 0.5 x 1.6 x 10 = 8 ft/s to
friction; without spin it would roll at 0.6 of its speed over the ground.
"""

from __future__ import annotations

import numpy as np
import pytest

from sim.ball import Ball
from sim.bounce import bounce

BALL = Ball(drag=0.01, magnus=0.0, radius=0.12, restitution=0.6, friction=0.5)


def bounced(x: float, y: float, z: float, spin: float) -> tuple[float, float, float, float]:
    after = bounce(*(np.array([value]) for value in (x, y, z, spin)), BALL)
    return after.x[0], after.y[0], after.z[0], after.spin[0]


@pytest.mark.parametrize(
    ("before", "after"),
    [
        # 50 ft/s, sliding: 8 less, in the same direction; the spin gains 8 / (2/3 x 0.12) = 100.
        ((30.0, -40.0, -10.0, 0.0), (25.2, -33.6, 6.0, 100.0)),
        ((-14.0, 48.0, -10.0, 7.0), (-11.76, 40.32, 6.0, 107.0)),
        # 10 ft/s: rolls at 6, and the spin gains 4 / 0.08 = 50 = 6 / 0.12.
        ((-6.0, 8.0, -10.0, 0.0), (-3.6, 4.8, 6.0, 50.0)),
        # However slow: half a foot a second.
        ((-0.3, 0.4, -10.0, 0.0), (-0.18, 0.24, 6.0, 2.5)),
        # Exactly at the limit: 20 ft/s lose 8 and roll at 12.
        ((12.0, 16.0, -10.0, 0.0), (7.2, 9.6, 6.0, 100.0)),
        # Topspin with a surface at 25 ft/s: rolls at (10 + 2/3 x 25) / (5/3) = 16 ft/s.
        ((6.0, -8.0, -10.0, 25.0 / 0.12), (9.6, -12.8, 6.0, 16.0 / 0.12)),
        # Topspin that outruns it by far: 8 more, no more.
        ((6.0, -8.0, -10.0, 1000.0), (10.8, -14.4, 6.0, 900.0)),
        # Backspin cannot turn it round: it stops, with all that went gone from the spin.
        ((3.0, 4.0, -10.0, -1000.0), (0.0, 0.0, 6.0, -900.0)),
        # Half a foot a second left.
        ((5.1, 6.8, -10.0, -1000.0), (0.3, 0.4, 6.0, -900.0)),
        # Straight down: nothing to lose, whatever the spin turns it to has no direction.
        ((0.0, 0.0, -10.0, 0.0), (0.0, 0.0, 6.0, 0.0)),
        # Not falling: no bounce, no friction.
        ((3.0, 4.0, 0.0, 0.0), (3.0, 4.0, 0.0, 0.0)),
        ((3.0, 4.0, 1.0, 0.0), (3.0, 4.0, 0.0, 0.0)),
    ],
)
def test_bounce_by_hand(before: tuple[float, ...], after: tuple[float, ...]) -> None:
    assert bounced(*before) == pytest.approx(after, abs=1e-12)


def test_each_ball_bounces_for_itself() -> None:
    both = bounce(*np.array([[30.0, -6.0], [-40.0, 8.0], [-10.0, -10.0], [0.0, 0.0]]), BALL)
    assert both.x == pytest.approx([25.2, -3.6])
    assert both.spin == pytest.approx([100.0, 50.0])
