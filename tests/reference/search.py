"""A dense search through the instants of a ball's flight; no section of the model page.

The page asks whether there is any one instant at which a ball is reached, and for the instant that
leaves most time. Both are found by looking at many instants, and closer around the best of them.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from tests.reference.bounce import Path
from tests.reference.court import Vec3
from tests.reference.flight import time_at_y

PAIR_LAST_Y = -30.0  # nothing is reached at or behind this
GOLDEN = (math.sqrt(5.0) - 1.0) / 2.0
SHORTEST = 1e-7  # s


@dataclass(frozen=True)
class Instant:
    """A ball at one time (s after the contact): where it is (ft), and whether before its bounce."""

    time: float
    ball_at: Vec3
    volley: bool


Value = Callable[[Instant], float]


class Sight:
    """A ball in play as the pair sees it: from the net to the end of its use.

    Attributes:
        stretches: ``samples`` instants before the bounce, and as many after it. At the bounce
            itself both belong: it ends the one and begins the other.
    """

    def __init__(self, path: Path, net_time: float, samples: int) -> None:
        self.path = path
        behind = time_at_y(path.second, PAIR_LAST_Y)
        end = path.end_time if behind is None else path.bounce_time + behind
        self.stretches = [
            [self.at(start + (stop - start) * i / (samples - 1), volley) for i in range(samples)]
            for start, stop, volley in (
                (net_time, path.bounce_time, True),
                (path.bounce_time, end, False),
            )
        ]

    def at(self, time: float, volley: bool) -> Instant:
        """The ball at a time before, or else after, its bounce."""
        if volley:
            return Instant(time, self.path.first(time), volley)
        return Instant(time, self.path.second(time - self.path.bounce_time), volley)

    def greatest(self, value: Value, few: int = 5) -> float:
        """Greatest value of all instants.

        Golden section goes on around ``few`` of the best local maxima before the bounce, and after.
        The value may jump, and may be minus infinity.
        """
        best = -math.inf
        for instants in self.stretches:
            values = [value(instant) for instant in instants]
            last = len(values) - 1
            peaks = [
                i
                for i, here in enumerate(values)
                if here > -math.inf
                and here >= values[max(0, i - 1)]
                and here >= values[min(last, i + 1)]
            ]
            for i in sorted(peaks, key=lambda i: -values[i])[:few]:
                around = instants[max(0, i - 1)], instants[min(last, i + 1)]
                best = max(best, values[i], self.closer(value, *around))
        return best

    def closer(self, value: Value, first: Instant, last: Instant) -> float:
        """Greatest value found between two instants of one stretch."""

        def looked_at(time: float) -> tuple[float, float]:
            return value(self.at(time, first.volley)), time

        low, high = first.time, last.time
        left = looked_at(high - GOLDEN * (high - low))
        right = looked_at(low + GOLDEN * (high - low))
        best = max(left[0], right[0])
        while high - low > SHORTEST:
            if left[0] >= right[0]:
                high, right = right[1], left
                left = looked_at(high - GOLDEN * (high - low))
            else:
                low, left = left[1], right
                right = looked_at(low + GOLDEN * (high - low))
            best = max(best, left[0], right[0])
        return best
