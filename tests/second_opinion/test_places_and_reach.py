"""Sections 6, 7 and 12 to 14 of the model page: places, reach, spare time and leaks."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from sim.answers import LEAKS
from sim.reach import extent_of, margins, time_needed
from sim.run_in import PLAYERS
from sim.track import delayed, track_of
from tests.reference import answer, reach, spare_time
from tests.reference.fate import fate_of
from tests.reference.search import Sight
from tests.second_opinion.agreement import (
    CLOSE_FEET,
    MOST_CLOSE_CALLS,
    SPARE_SECONDS,
    Calls,
    differing,
    leaks_close_by,
    report,
)
from tests.second_opinion.shots import Shot
from tests.second_opinion.variants import every_variant, questions_of, quick_or_many, shots_of

# Places follow from the contact by formulas: nothing but rounding may differ.
PLACE_FEET = 1e-9
# So does the reach at an instant from its place and time, but for the time that a run takes, which
# the package reads off a table in steps of 2 ms.
MARGIN_FEET = 1e-6
NEEDED_SECONDS = 1e-4
# Instants at which the reference looks at each ball before its bounce, and again after it.
SAMPLES = 200


def place_differences(shot: Shot) -> Iterator[str]:
    for number, policy in enumerate(shot.scenario.policies):
        mine, other = shot.package_places(number), shot.reference_places(policy, shot.contact)
        for name, here, there in zip(PLAYERS, mine, other, strict=True):
            for axis, x, wanted in zip("xy", here, there, strict=True):
                yield from differing(shot, f"{policy.name}, {name} {axis}", x, wanted, PLACE_FEET)


def margin_differences(shot: Shot, number: int) -> Iterator[str]:
    """Reach minus distance at the same instants of the same ball: formulas and no flights."""
    block, policy = shot.block, shot.scenario.policies[number]
    rally = block.rally
    one = np.flatnonzero(rally.in_play == shot.index)
    track = track_of(rally.approach.take(one), rally.rebound.take(one))
    track = delayed(track, np.where(track.volley, rally.net_time[one], rally.landing_time[one]))
    volley = np.broadcast_to(track.volley, track.time.shape)[:, 0]
    live = np.flatnonzero(np.broadcast_to(track.live, track.time.shape)[:, 0])
    pair = shot.pair_at(shot.package_places(number), policy)
    for name, who in zip(PLAYERS, pair, strict=True):
        player = getattr(shot.scenario.pair, name)
        place = block.answers[number].places[name].take(one)
        extent = extent_of(player, track, np.array([who.reaction]))
        control, stretch = margins(player, track, extent, place)
        needed = time_needed(player, track, place)
        for i in live[::3]:
            ball_at = (float(track.x[i, 0]), float(track.y[i, 0]), float(track.z[i, 0]))
            since = float(track.time[i, 0]) - who.reaction
            seen = who.at, ball_at, bool(volley[i])
            where = f"{shot} {policy.name}, {name}, {ball_at}"
            for what, mine, stretched in (("control", control, False), ("stretch", stretch, True)):
                wanted = reach.margin(*seen, stretched, since, who.player)
                yield from differing(where, what, float(mine[i, 0]), wanted, MARGIN_FEET)
            wanted = spare_time.time_needed(*seen, who.player)
            yield from differing(where, "time needed", float(needed[i, 0]), wanted, NEEDED_SECONDS)


def reach_differences(shot: Shot, number: int, calls: Calls) -> Iterator[str]:
    """The package's own launch and places handed to the reference: reach and nothing else."""
    block, policy, i = shot.block, shot.scenario.policies[number], shot.number_in_play
    fate = fate_of(shot.contact, shot.launch(block.rally), shot.ball)
    where = f"{shot} {shot.kind}, {policy.name}"
    if fate.path is None or fate.net_time is None:
        yield f"{where}: not in play for the reference {fate}"
        return
    sight = Sight(fate.path, fate.net_time, SAMPLES)
    left, right = shot.pair_at(shot.package_places(number), policy)
    reaches = answer.reach_of(sight, left), answer.reach_of(sight, right)
    mine, detail = block.answers[number], block.details[number]
    for name, other in zip(PLAYERS, reaches, strict=True):
        who, control = f"{where}, {name}", bool(mine.control[name][i])
        stretch = bool(mine.stretch[name][i])
        yield from calls.compare(
            f"{who} in control", control, other.control, other.control_margin, CLOSE_FEET
        )
        yield from calls.compare(
            f"{who} reached", stretch, other.reached, other.stretch_margin, CLOSE_FEET
        )
        yield from differing(
            who, "spare time", float(detail.spare[name][i]), other.spare, SPARE_SECONDS
        )
    if mine.leak[i] >= 0 and answer.outcome_of(*reaches) == "through":
        label = LEAKS[mine.leak[i]]
        close_by = leaks_close_by(sight, shot.contact, left, right, CLOSE_FEET)
        if label not in close_by:
            yield f"{where}: package leaks {label}, reference {close_by}"


@quick_or_many(36, 600)
@every_variant
def test_every_rule_has_the_pair_at_the_same_places(variant: str, count: int) -> None:
    shots = shots_of(variant, count, in_play=True)
    lines = [line for shot in shots for line in place_differences(shot)]
    assert not lines, report(lines)


@quick_or_many(8, 600)
@every_variant
def test_how_far_both_reach_at_the_same_instants(variant: str, count: int) -> None:
    questions = questions_of(variant, count)
    lines = [line for question in questions for line in margin_differences(*question)]
    assert not lines, report(lines)


@quick_or_many(2, 240)
@every_variant
def test_who_reaches_the_ball_from_given_places(variant: str, count: int) -> None:
    calls, questions = Calls(), questions_of(variant, count)
    lines = [line for question in questions for line in reach_differences(*question, calls)]
    assert not lines, report(lines)
    assert calls.asked == 4 * len(questions)
    assert calls.close <= MOST_CLOSE_CALLS * calls.asked
