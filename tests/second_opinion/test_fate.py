"""Sections 3, 4 and 11 of the model page: flight, bounce, and net, out or in play."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from sim.flight import time_falling_to
from sim.rallies import FATES
from tests.reference.fate import fate_of
from tests.second_opinion.agreement import (
    CLOSE_FEET,
    FLIGHT_FEET,
    FLIGHT_SECONDS,
    differing,
    report,
)
from tests.second_opinion.shots import Shot
from tests.second_opinion.variants import every_variant, quick_or_many, shots_of


def fate_differences(shot: Shot) -> Iterator[str]:
    """The package's own launch handed to the reference: flight and nothing else."""
    rally, i = shot.block.rally, shot.index
    fate = fate_of(shot.contact, shot.launch(rally), shot.ball)
    mine = FATES[rally.fate[i]]
    if mine != fate.name and fate.room > CLOSE_FEET:
        yield f"{shot}: package {mine}, reference {fate}"
    if fate.net_clearance is not None:
        over = float(rally.net_clearance[i])
        yield from differing(shot, "net clearance", over, fate.net_clearance, FLIGHT_FEET)
    if mine != "in play" or fate.path is None:
        return
    one = np.flatnonzero(rally.in_play == i)
    rebound, time = rally.rebound.take(one), float(rally.landing_time[one][0])
    last = time_falling_to(rebound, 0.0)
    again_x, again_y, _ = rebound.position(last)
    second = fate.path.second.landing_position
    for what, value, wanted in (
        ("landing x", rebound.origin_x, fate.landing[0]),
        ("landing y", rebound.origin_y, fate.landing[1]),
        ("second landing x", again_x, second[0]),
        ("second landing y", again_y, second[1]),
    ):
        yield from differing(shot, what, float(value[0]), wanted, FLIGHT_FEET)
    for what, value, wanted in (
        ("net time", float(rally.net_time[one][0]), fate.net_time),
        ("landing time", time, fate.landing_time),
        ("second landing time", time + float(last[0]), fate.path.end_time),
    ):
        yield from differing(shot, what, value, wanted, FLIGHT_SECONDS)


@quick_or_many(9, 240)
@every_variant
def test_net_out_or_in_play_and_where_it_lands(variant: str, count: int) -> None:
    shots = shots_of(variant, count)
    lines = [line for shot in shots for line in fate_differences(shot)]
    assert not lines, report(lines)
