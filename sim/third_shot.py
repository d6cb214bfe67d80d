"""The opponents' third shot: what they intend, and what they strike."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from sim.aim import aim_at_speed, aim_over_net, aim_to_top
from sim.ball import Ball
from sim.court import BASELINE, HALF_WIDTH, Array
from sim.flight import Launch
from sim.opponents import LANES, SHOTS, Drive
from sim.quantities import choose
from sim.return_of_serve import Contact
from sim.scenario import Scenario

DRIVE, DROP, LOB = range(3)
LINE, MIDDLE, CROSS = range(3)
# A direct azimuth has no lane; the third of the court it is meant for gives one.
_MIDDLE_THIRD: Final = HALF_WIDTH / 3.0


@dataclass(frozen=True)
class ThirdShot:
    """Struck balls: ``shot`` and ``lane`` index `SHOTS` and `LANES`, shape (shots,)."""

    shot: np.ndarray
    lane: np.ndarray
    launch: Launch

    def take(self, chosen: np.ndarray) -> ThirdShot:
        """The same balls for the chosen shots only (mask or indices)."""
        return ThirdShot(self.shot[chosen], self.lane[chosen], self.launch.take(chosen))


def strike(
    scenario: Scenario,
    ball: Ball,
    directions: tuple[str, ...],
    contact: Contact,
    uniform: dict[str, Array],
) -> ThirdShot:
    """Choose, aim and strike the opponents' third shots from ``contact``.

    There are equally many after returns in each of the directions, one after the other.
    """
    shot, lane = choose_shots(scenario, directions, uniform)
    near = np.where(contact.x >= 0.0, 1.0, -1.0)
    landing_x = _landing_side(scenario, near, lane, uniform["landing_side"])
    velocity = np.empty((3, shot.size))
    spin = np.empty(shot.size)
    for kind in (DRIVE, DROP, LOB):
        chosen = np.flatnonzero(shot == kind)
        if not chosen.size:
            continue
        numbers = {name: column[chosen] for name, column in uniform.items()}
        wanted = getattr(scenario.opponents, SHOTS[kind])
        azimuth = None
        if wanted.azimuth is not None:
            # Positive towards the opponents' own cross-court side: away from their near sideline.
            azimuth = -near[chosen] * wanted.azimuth.quantile(numbers["azimuth"])
        spin[chosen] = wanted.topspin
        from_here = contact.take(chosen)
        launch = _intended(
            scenario, ball, kind, from_here, landing_x[chosen], spin[chosen], azimuth, numbers
        )
        velocity[:, chosen] = launch.x, launch.y, launch.z
        if azimuth is not None:
            lane[chosen] = _lane_of(from_here, near[chosen], azimuth)
    intended = Launch(velocity[0], velocity[1], velocity[2], spin)
    return ThirdShot(shot, lane, with_error(scenario, intended, uniform))


def choose_shots(
    scenario: Scenario, directions: tuple[str, ...], uniform: dict[str, Array]
) -> tuple[np.ndarray, np.ndarray]:
    """Kind of shot and lane, drawn with the opponents' weights; ``uniform`` as in `strike`."""
    opponents, lanes = scenario.opponents, []
    parts = np.split(uniform["lane"], len(directions))
    for direction, part in zip(directions, parts, strict=True):
        weights = getattr(opponents.lanes_by_return, direction) or opponents.lanes
        lanes.append(choose(np.array([getattr(weights, name) for name in LANES]), part))
    shots = np.array([getattr(opponents.shots, name) for name in SHOTS])
    return choose(shots, uniform["shot"]), np.concatenate(lanes)


def with_error(scenario: Scenario, intended: Launch, uniform: dict[str, Array]) -> Launch:
    """The struck ball: speed, elevation and azimuth each with an error of their own."""
    errors = scenario.opponents.errors
    squared = intended.x * intended.x + intended.y * intended.y
    ground, speed = np.sqrt(squared), np.sqrt(squared + intended.z * intended.z)
    speed *= 1.0 + errors.speed.quantile(uniform["error_speed"])
    elevation = np.arctan2(intended.z, ground)
    elevation = elevation + errors.elevation.quantile(uniform["error_elevation"])
    azimuth = np.arctan2(intended.x, -intended.y)
    azimuth = azimuth + errors.azimuth.quantile(uniform["error_azimuth"])
    level = speed * np.cos(elevation)
    return Launch(
        level * np.sin(azimuth), -level * np.cos(azimuth), speed * np.sin(elevation), intended.spin
    )


def _landing_side(scenario: Scenario, near: Array, lane: np.ndarray, uniform: Array) -> Array:
    """Intended landing ``x``; ``near`` is the sign of the opponents' near sideline."""
    sideline = HALF_WIDTH - scenario.opponents.inset.quantile(uniform)
    middle = scenario.opponents.middle.quantile(uniform)
    return np.select([lane == LINE, lane == CROSS], [near * sideline, -near * sideline], middle)


def _intended(
    scenario: Scenario,
    ball: Ball,
    kind: int,
    contact: Contact,
    landing_x: Array,
    spin: Array,
    azimuth: Array | None,
    uniform: dict[str, Array],
) -> Launch:
    opponents = scenario.opponents
    here = contact.x, contact.y, contact.z
    if kind == DRIVE:
        speed = opponents.drive.speed.quantile(uniform["pace"])
        clearance = opponents.drive.net_clearance.quantile(uniform["net_clearance"])
        return aim_drive(opponents.drive, ball, contact, landing_x, speed, clearance, azimuth)
    if kind == DROP:
        depth = -opponents.drop.landing_depth.quantile(uniform["landing_depth"])
        clearance = opponents.drop.net_clearance.quantile(uniform["net_clearance"])
        return aim_over_net(*here, landing_x, depth, clearance, spin, ball, azimuth)
    depth = -opponents.lob.landing_depth.quantile(uniform["landing_depth"])
    top = opponents.lob.top.quantile(uniform["top"])
    return aim_to_top(*here, landing_x, depth, top, spin, ball, azimuth)


def aim_drive(
    drive: Drive,
    ball: Ball,
    contact: Contact,
    landing_x: Array,
    speed: Array,
    clearance: Array,
    azimuth: Array | None = None,
) -> Launch:
    """Drives at the preferred ``speed`` (ft/s), or slower where that ball would land too deep."""
    here = contact.x, contact.y, contact.z
    spin = np.full(speed.shape, drive.topspin)
    launch, landing_y = aim_at_speed(*here, landing_x, speed, clearance, spin, ball, azimuth)
    if drive.inside_baseline == "none":
        return launch
    deepest = drive.inside_baseline - BASELINE
    deep = np.flatnonzero(landing_y < deepest)
    if not deep.size:
        return launch
    near = contact.take(deep)
    slower = aim_over_net(
        near.x,
        near.y,
        near.z,
        landing_x[deep],
        np.full(deep.size, deepest),
        clearance[deep],
        spin[deep],
        ball,
        None if azimuth is None else azimuth[deep],
    )
    velocity = np.stack((launch.x, launch.y, launch.z))
    velocity[:, deep] = slower.x, slower.y, slower.z
    return Launch(velocity[0], velocity[1], velocity[2], spin)


def _lane_of(contact: Contact, near: Array, azimuth: Array) -> np.ndarray:
    """The lane a direct azimuth is meant for: the third of the court at the middle of its depth."""
    x = near * (contact.x + (contact.y + 0.5 * BASELINE) * np.tan(azimuth))
    return np.select([x > _MIDDLE_THIRD, x < -_MIDDLE_THIRD], [LINE, CROSS], MIDDLE)
