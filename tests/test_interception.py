"""What interception decides apart from distances: sides, doubtful instants, the nearest of misses.

The player is that of `tests.test_reach`, who has round numbers.
"""

from __future__ import annotations

import numpy as np
import pytest

from sim.interception import _exact_look, _most_of_each, _Questions, _sides
from sim.reach import distance_left, extent_of
from sim.run_in import Place
from sim.track import Track
from tests.test_reach import LEFT_HANDED, PLAYER, SHOULDER, standing


def instants(x: list[float], y: float = -10.0) -> Track:
    """One ball at shoulder height, instant by instant, long after anybody's reaction."""
    across = np.array(x)[:, None]
    whole = np.ones(across.shape, bool)
    return Track(
        2.0 * np.ones(across.shape), across, 0 * across + y, SHOULDER + 0 * across, ~whole, whole
    )


def asked_of(track: Track, place: Place | None = None) -> _Questions:
    """A question at every instant."""
    count = track.x.shape[0]
    every, one = np.arange(count), np.zeros(count, int)
    place = place or standing(0.0, -10.0, count)
    return _Questions(one, every, one, place, np.zeros(count))


@pytest.mark.parametrize(
    ("x", "forehand", "turning"),
    [
        ([-1, -1, 1, 1, 1], [0, 0, 1, 1, 1], [0, 1, 1, 0, 0]),
        ([1, 1, 1, -1, -1], [1, 1, 1, 0, 0], [0, 0, 1, 1, 0]),
        ([1, -1, 1, 1, -1], [1, 0, 1, 1, 0], [1, 1, 1, 1, 1]),
        ([1, -1, -1, 1, 1], [1, 0, 0, 1, 1], [1, 1, 1, 1, 0]),
        ([0, -1, -1, -1, -1], [1, 0, 0, 0, 0], [1, 1, 0, 0, 0]),
    ],
)
def test_sides_and_next_to_which_instants_they_change(
    x: list[float], forehand: list[int], turning: list[int]
) -> None:
    found, changing = _sides(PLAYER, instants(x), asked_of(instants(x)))
    assert found.tolist() == [bool(each) for each in forehand]
    assert changing.tolist() == [bool(each) for each in turning]


def test_left_handed_sides_are_the_other_ones() -> None:
    track = instants([-1, -1, 1])
    found, changing = _sides(LEFT_HANDED, track, asked_of(track))
    assert found.tolist() == [True, True, False]
    assert changing.tolist() == [False, True, True]


@pytest.mark.parametrize("last", [0, 1, 2])
def test_the_nearest_miss_of_each_answer(last: int) -> None:
    room = np.array([-0.2, -0.1, -0.15, -0.05, -0.12])
    answer = np.array([0, last, 0, last, last])
    found = _most_of_each(room, answer)
    assert sorted(found.tolist()) == ([3] if last == 0 else [2, 3])


def near_misses(x: list[float], left: float) -> tuple[list[int], list[bool]]:
    """Instants of near misses of control, and whether each is found to be in control.

    The ball is so far (ft) from the feet at every instant, straight ahead but for a hair's breadth.
    The arm is just out: 4 ft to the forehand, 2.5 ft to the backhand.
    """
    track = instants(x)
    track = Track(0.1 * track.time, track.x, track.y, track.z, track.volley, track.live)
    count, reaction = len(x), np.zeros(1)
    run = float(extent_of(PLAYER, track, reaction).run[0, 0])
    place = standing(0.0, -10.0 - run - left, count)
    asked = asked_of(track, place)
    alone = _Questions(np.arange(count), asked.instant, asked.shot, place, asked.reaction)
    here = track.at(asked.instant, asked.shot)
    assert distance_left(PLAYER, here, place, np.full(count, run)) == pytest.approx(left, abs=1e-6)
    control, stretch = np.zeros((2, count), bool)
    near, _ = _exact_look(PLAYER, track, alone, control, stretch)
    return sorted(near.tolist()), control.tolist()


FORE, BACK = 1e-6, -1e-6


@pytest.mark.parametrize(
    ("x", "left", "near", "found"),
    [
        # In reach, just out of it, and too far out for anything between two instants.
        ([FORE, FORE], 3.99, [], [True, True]),
        ([FORE, FORE], 4.01, [0, 1], [False, False]),
        ([FORE, FORE], 4.24, [0, 1], [False, False]),
        ([FORE, FORE], 4.26, [], [False, False]),
        ([BACK, BACK], 2.49, [], [True, True]),
        ([BACK, BACK], 2.51, [0, 1], [False, False]),
        ([BACK, BACK], 2.76, [], [False, False]),
        # Next to a change of sides the longer hand may have it; the shorter one decides no more.
        ([BACK, BACK, FORE], 3.9, [1], [False, False, True]),
        ([BACK, BACK, FORE], 4.1, [1, 2], [False, False, False]),
        ([FORE, BACK, BACK], 4.1, [0, 1], [False, False, False]),
        ([BACK, BACK, FORE], 4.3, [], [False, False, False]),
    ],
)
def test_near_misses(x: list[float], left: float, near: list[int], found: list[bool]) -> None:
    assert near_misses(x, left) == (near, found)
