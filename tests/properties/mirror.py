"""The same scenario, and the same random numbers, seen in a mirror: left for right."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from sim.court import Array
from sim.opponents import LANES
from sim.rallies import PLAYERS, Rally, ball_of, follow_through
from sim.return_of_serve import fly_return
from sim.scenario import Scenario
from sim.third_shot import choose_shots, strike
from tests.properties.scenarios import Tables

OTHER: Final = {"left": "right", "right": "left"}
_SIDE: Final = {"even": "odd", "odd": "even"}
_ENDS: Final = {"low": "high", "high": "low"}


def negated(value: Any) -> Any:
    """A quantity with the other sign; a distribution of such quantities."""
    if isinstance(value, str):
        return value[1:] if value.startswith("-") else f"-{value.removeprefix('+')}"
    table = dict(value)
    for key in ("value", "mean", "mode"):
        if key in table:
            table[key] = negated(table[key])
    if "values" in table:
        table["values"] = [negated(one) for one in table["values"]]
    return table | {end: negated(value[_ENDS[end]]) for end in _ENDS if end in table}


def mirrored(tables: Tables) -> Tables:
    """The scenario in a mirror.

    What counts towards the returner's side (returns) or the opponents' (lanes, a direct azimuth)
    turns with them; what counts to the pair's right has to be turned over.
    """
    pair, air = tables.get("pair", {}), tables.get("air", {})
    opponents, served = tables.get("opponents", {}), tables.get("return_of_serve", {})
    players = {OTHER[name]: pair.get(name, {}) for name in OTHER}
    other = tables | {
        "pair": {
            name: player | {"handed": OTHER[player.get("handed", "right")]}
            for name, player in players.items()
        },
        "return_of_serve": served | {"side": _SIDE[served.get("side", "even")]},
        "air": _with_negated(air, "wind_to_the_right"),
        "opponents": _with_negated(opponents, "middle"),
    }
    if "policies" in tables:
        other["policies"] = [_policy(policy) for policy in tables["policies"]]
    if "errors" in opponents:
        other["opponents"]["errors"] = _with_negated(opponents["errors"], "azimuth")
    return other


def _with_negated(table: Tables, key: str) -> Tables:
    return table | {key: negated(table[key])} if key in table else dict(table)


def _policy(policy: Tables) -> Tables:
    other = dict(policy)
    if "centres" in policy:
        other["centres"] = {name: negated(at) for name, at in policy["centres"].items()}
    if "places" in policy:
        other["places"] = {
            direction: {
                OTHER[name]: spot | {"from_centre": negated(spot["from_centre"])}
                for name, spot in spots.items()
            }
            for direction, spots in policy["places"].items()
        }
    return other


def mirrored_numbers(
    scenario: Scenario, direction: str, uniform: dict[str, Array]
) -> dict[str, Array]:
    """The random numbers with which the mirrored scenario plays the mirrored shots.

    Reactions change sides; distributions that are turned over are read from their other end. One
    column places all shots across: only for those to the middle does it count to the right.
    """
    _, lane = choose_shots(scenario, (direction,), uniform)
    to_the_middle = lane == LANES.index("middle")
    side = uniform["landing_side"]
    return uniform | {
        "reaction_left": uniform["reaction_right"],
        "reaction_right": uniform["reaction_left"],
        "error_azimuth": 1.0 - uniform["error_azimuth"],
        "landing_side": np.where(to_the_middle, 1.0 - side, side),
    }


def rally_from(scenario: Scenario, direction: str, uniform: dict[str, Array]) -> Rally:
    """Shots after returns in one direction, played with these very random numbers."""
    ball = ball_of(scenario)
    contact = fly_return(scenario, ball, (direction,), uniform)
    shots = strike(scenario, ball, (direction,), contact, uniform)
    reaction = {
        name: getattr(scenario.pair, name).reaction.quantile(uniform[f"reaction_{name}"])
        for name in PLAYERS
    }
    return follow_through((direction,), contact, shots, reaction, ball)
