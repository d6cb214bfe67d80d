"""The run-in: where a policy sends the two, and where the opponents' shot finds them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from sim.court import HALF_WIDTH, Array
from sim.errors import Refused
from sim.players import Player
from sim.return_of_serve import Contact, returner_side
from sim.scenario import Policy, Scenario
from sim.wording import DIRECTIONS

PLAYERS: Final = ("left", "right")


@dataclass(frozen=True)
class Place:
    """Where a player stands (ft); two arrays of shape (shots,)."""

    x: Array
    y: Array

    def take(self, chosen: np.ndarray) -> Place:
        """The same places for the chosen shots only (mask or indices)."""
        return Place(self.x[chosen], self.y[chosen])


def joined(parts: Sequence[dict[str, Place]]) -> dict[str, Place]:
    """Both players' places for several lots of shots, one lot after the other."""
    return {
        name: Place(
            np.concatenate([part[name].x for part in parts], axis=-1),
            np.concatenate([part[name].y for part in parts], axis=-1),
        )
        for name in PLAYERS
    }


def distance(one: Place, other: Place) -> Array:
    """How far (ft) two places are from each other, shot by shot."""
    across, ahead = one.x - other.x, one.y - other.y
    return np.sqrt(across * across + ahead * ahead)


def straight_run(player: Player, time: Array) -> Array:
    """Distance (ft) run straight ahead from a standing start in ``time`` (s); 0 before the start.

    ``V (t - tau (1 - exp(-t / tau)))``: Furusawa, Hill and Parkinson 1927; Samozino et al. 2016.
    """
    time = np.maximum(time, 0.0)
    lag = player.time_constant
    return np.asarray(player.top_speed * (time + lag * np.expm1(-time / lag)))


def run_needed(player: Player, x: Array, y: Array) -> Array:
    """Straight-ahead distance (ft) that costs as much time as running ``(x, y)`` from here.

    An ellipse with semi-axes 1 towards the net, ``sideways`` and ``backwards``.
    """
    total = x / player.sideways
    total *= total
    ahead = y / -player.backwards
    np.maximum(y, ahead, out=ahead)
    ahead *= ahead
    total += ahead
    # Not np.hypot: its guard against overflow costs more than all the rest.
    return np.sqrt(total, out=total)


def lateness(scenario: Scenario, policy: Policy) -> float:
    """By how much (s) reactions come later for want of a split step."""
    return 0.0 if policy.split_step else scenario.run_in.late_without_split_step


def starts(scenario: Scenario, policy: Policy) -> dict[str, tuple[float, float]]:
    """Where both players stand when the return is struck (ft)."""
    wanted, side = scenario.return_of_serve, returner_side(scenario)
    returner, partner = _roles(scenario)
    depth = wanted.struck_depth
    if scenario.run_in.partner_starts == "line":
        depth = _depth(scenario, policy, partner)
    return {
        returner: (side * wanted.struck_from_centre, -wanted.struck_depth),
        partner: (-side * wanted.struck_from_centre, -depth),
    }


def targets(
    scenario: Scenario, policy: Policy, direction: str, contact: Contact
) -> dict[str, Place]:
    """Where the policy wants both players to be when the opponents strike at ``contact``.

    Raises `Refused` for the rule best where nobody has found its places yet.
    """
    if policy.rule == "best":
        return _given_places(policy, direction, contact)
    centre = _centre(scenario, policy, direction, contact)
    room = max(HALF_WIDTH - 0.5 * policy.gap, 0.0)
    centre = np.clip(centre, -room, room)
    return {
        player: Place(
            centre + sign * 0.5 * policy.gap,
            np.full(centre.shape, -_depth(scenario, policy, player)),
        )
        for player, sign in (("left", -1.0), ("right", 1.0))
    }


def run_in(
    scenario: Scenario, policy: Policy, direction: str, contact: Contact
) -> dict[str, Place]:
    """Where the opponents' shot finds both players."""
    goals = targets(scenario, policy, direction, contact)
    return places_at(scenario, policy, goals, runs_until_settled(scenario, policy, contact))


def runs_until_settled(scenario: Scenario, policy: Policy, contact: Contact) -> dict[str, Array]:
    """How far (ft, straight ahead) both can have run when they stop for the opponents' shot."""
    return runs_until(scenario, contact.time - settling_lead(scenario, policy))


def settling_lead(scenario: Scenario, policy: Policy) -> float:
    """How long (s) before the opponents' shot the feet are still: none without a split step."""
    return scenario.run_in.split_step_lead if policy.split_step else 0.0


def runs_until(scenario: Scenario, time: Array) -> dict[str, Array]:
    """How far (ft, straight ahead) both players can have run ``time`` (s) after the return."""
    wanted = scenario.run_in
    returner, partner = _roles(scenario)
    delays = {returner: wanted.returner_delay, partner: wanted.partner_delay}
    return {
        name: straight_run(getattr(scenario.pair, name), time - delays[name]) for name in PLAYERS
    }


def places_at(
    scenario: Scenario, policy: Policy, goals: dict[str, Place], runs: dict[str, Array]
) -> dict[str, Place]:
    """Where both players are after running so far (ft, straight ahead) to their goals.

    Goals of shape (goals, 1) and runs of shape (shots,) give places of shape (goals, shots).
    """
    places = {}
    for name, (x, y) in starts(scenario, policy).items():
        player: Player = getattr(scenario.pair, name)
        to_x, to_y = goals[name].x - x, goals[name].y - y
        needed = np.maximum(run_needed(player, to_x, to_y), 1e-9)
        share = np.minimum(runs[name] / needed, 1.0)
        places[name] = Place(x + share * to_x, y + share * to_y)
    return places


def _roles(scenario: Scenario) -> tuple[str, str]:
    """Names of the returner and the partner."""
    return ("right", "left") if returner_side(scenario) > 0 else ("left", "right")


def _depth(scenario: Scenario, policy: Policy, player: str) -> float:
    returner, _ = _roles(scenario)
    own = policy.returner_depth if player == returner else policy.partner_depth
    return policy.depth if own is None else own


def _centre(scenario: Scenario, policy: Policy, direction: str, contact: Contact) -> Array:
    """Where the policy wants the middle between the two (ft), shape (shots,)."""
    side = returner_side(scenario)
    if policy.rule == "follow":
        return policy.shift * contact.x
    if policy.rule == "tethered":
        # The returner runs straight ahead and the partner keeps the distance.
        ahead = scenario.return_of_serve.struck_from_centre
        return np.full(contact.x.shape, side * (ahead - 0.5 * policy.gap))
    if policy.rule == "bisect":
        return _bisector(contact, policy.depth)
    if policy.rule == "fixed":
        return np.full(contact.x.shape, getattr(policy.centres, direction))
    return np.zeros(contact.x.shape)


def _given_places(policy: Policy, direction: str, contact: Contact) -> dict[str, Place]:
    spots = policy.places and policy.places.after(direction)
    if not spots:
        raise Refused(
            f'policies: "{policy.name}" has the rule best without places after returns '
            f"{DIRECTIONS[direction]}; reachshare positions finds them and writes them to "
            "best.toml: copy them from there"
        )
    return {
        name: Place(
            np.full(contact.x.shape, spot.from_centre), np.full(contact.x.shape, -spot.depth)
        )
        for name, spot in (("left", spots.left), ("right", spots.right))
    }


def _bisector(contact: Contact, depth: float) -> Array:
    """Where the bisector of the angle from the contact to both sidelines meets the pair's depth.

    Standing in the middle of the angle of possible returns: Waite 1998; Swanberg 2005.
    """
    away = contact.y + depth
    to_left = np.arctan2(-HALF_WIDTH - contact.x, away)
    to_right = np.arctan2(HALF_WIDTH - contact.x, away)
    return np.asarray(contact.x + away * np.tan(0.5 * (to_left + to_right)))
