"""Sections 5, 8, 9 and 10 of the model page: contact, choice, aim and error, stage by stage."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from sim.opponents import LANES, SHOTS
from tests.reference.aim import intended_landing_x
from tests.reference.court import side_of
from tests.reference.drive import DRIVE_DEEPEST_Y, drive_miss
from tests.reference.flight import apex, clearance_at_net, fly
from tests.second_opinion.agreement import (
    CONTACT_FEET,
    CONTACT_SECONDS,
    FLIGHT_FEET,
    LAUNCH,
    SLOWEST_DRIVE,
    differing,
    report,
)
from tests.second_opinion.shots import Shot
from tests.second_opinion.variants import every_variant, quick_or_many, shots_of


def contact_differences(shot: Shot) -> Iterator[str]:
    mine, other = shot.contact, shot.reference_contact
    yield from differing(shot, "contact time", mine.T, other.T, CONTACT_SECONDS)
    for axis in "XYZ":
        here, there = getattr(mine, axis), getattr(other, axis)
        yield from differing(shot, f"contact {axis}", here, there, CONTACT_FEET)


def intention_differences(shot: Shot) -> Iterator[str]:
    """Does the package's ball, flown by the reference, do what its striker intends?"""
    contact, ball, wishes = shot.contact, shot.ball, shot.wishes
    if SHOTS[shot.block.rally.third_shot.shot[shot.index]] != shot.kind:
        yield f"{shot}: another kind of shot"
    launch = shot.launch(shot.block.intended)
    flown = contact.position, launch.velocity, launch.spin, ball
    landing = fly(*flown).landing_position
    yield from direction_differences(shot, landing[0])
    if "clearance" in wishes:
        over = clearance_at_net(*flown)
        yield from differing(shot, "net clearance", over, wishes["clearance"], FLIGHT_FEET)
    if "depth" in wishes:
        yield from differing(shot, "landing y", landing[1], -wishes["depth"], FLIGHT_FEET)
    if "apex_height" in wishes:
        yield from differing(shot, "top", apex(*flown)[1], wishes["apex_height"], FLIGHT_FEET)
    if "speed" in wishes:
        # At the preferred speed unless that ball lands too deep; then slower, at the deepest.
        if launch.speed < wishes["speed"] - 1e-6:
            yield from differing(shot, "landing y", landing[1], DRIVE_DEEPEST_Y, FLIGHT_FEET)
        elif landing[1] < DRIVE_DEEPEST_Y - FLIGHT_FEET:
            yield f"{shot} drive: lands too deep, y = {landing[1]:.3f}"


def direction_differences(shot: Shot, landing_x: float) -> Iterator[str]:
    """The azimuth given, or else the lane and its landing side."""
    contact, wishes = shot.contact, shot.wishes
    if "cross_azimuth" in wishes:
        azimuth = -side_of(contact.X) * wishes["cross_azimuth"]
        mine = shot.launch(shot.block.intended).azimuth
        yield from differing(shot, "azimuth", mine, azimuth, 1e-9)
        return
    if LANES[shot.block.rally.third_shot.lane[shot.index]] != shot.lane:
        yield f"{shot}: another lane"
    side = intended_landing_x(shot.lane, contact.X, wishes["inset"], wishes["middle_x"])
    yield from differing(shot, "landing x", landing_x, side, FLIGHT_FEET)


def aim_differences(shot: Shot) -> Iterator[str]:
    """Does the package choose the launch that the reference's root finders choose?"""
    launch, other = shot.launch(shot.block.intended), shot.reference_aim(shot.contact)
    if shot.struck_harder(other):
        gap = SLOWEST_DRIVE * other.speed
        yield from differing(shot, "slowest drive", launch.speed, other.speed, gap)
    else:
        for axis, mine, wanted in zip("xyz", launch.velocity, other.velocity, strict=True):
            yield from differing(shot, f"launch {axis}", mine, wanted, LAUNCH)
    struck = shot.launch(shot.block.rally)
    for axis, mine, wanted in zip(
        "xyz", struck.velocity, shot.struck(launch).velocity, strict=True
    ):
        yield from differing(shot, f"struck {axis}", mine, wanted, 1e-9)


@quick_or_many(3, 150)
@every_variant
def test_the_opponents_strike_at_the_same_point_and_time(variant: str, count: int) -> None:
    shots = shots_of(variant, count)
    lines = [line for shot in shots for line in contact_differences(shot)]
    assert not lines, report(lines)


@quick_or_many(9, 240)
@every_variant
def test_the_intended_ball_does_what_its_striker_intends(variant: str, count: int) -> None:
    shots = shots_of(variant, count)
    lines = [line for shot in shots for line in intention_differences(shot)]
    assert not lines, report(lines)


@quick_or_many(1, 60)
@every_variant
def test_both_aim_alike(variant: str, count: int) -> None:
    shots = shots_of(variant, count)
    lines = [line for shot in shots for line in aim_differences(shot)]
    assert not lines, report(lines)


@quick_or_many(3, 60)
def test_slow_drives_in_a_gale_are_struck_no_harder_than_they_need(count: int) -> None:
    """With a hundredth less speed, no elevation would clear the net as intended."""
    drives = [shot for shot in shots_of("gale", 300) if shot.kind == "drive"]
    hard = [shot for shot in drives if shot.struck_harder(shot.launch(shot.block.intended))]
    assert len(hard) >= 100
    for shot in hard[:count]:
        launch, wishes, here = shot.launch(shot.block.intended), shot.wishes, shot.contact
        side = intended_landing_x(shot.lane, here.X, wishes["inset"], wishes["middle_x"])
        wish = wishes["clearance"], launch.spin, side, None, shot.ball
        slower, elevations = 0.99 * launch.speed, launch.elevation + np.radians(range(-8, 9, 2))
        misses = [drive_miss(here.position, slower, float(e), *wish) for e in elevations]
        assert max(misses) < 0.0, str(shot)
