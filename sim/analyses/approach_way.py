"""Both players on their way in: when each would arrive, where the shot finds them, how far apart.

Balls in play of the first block of shots, so that times and places are known one by one and not
only on average. Arrays of shape (balls,) or (moments, balls), in ft and in s after the return is
struck.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from sim.court import Array
from sim.draws import BLOCK, replicate_of
from sim.rallies import play
from sim.return_of_serve import Contact
from sim.run_in import (
    PLAYERS,
    Place,
    distance,
    joined,
    places_at,
    run_in,
    run_needed,
    runs_until,
    settling_lead,
    starts,
    targets,
)
from sim.scenario import Policy, Scenario
from sim.statistics import mean_of_replicates, share_of_replicates
from sim.tables import Row
from sim.tally import arrived

# Closer than this one paddle is in the other's way, farther leaves a hole: common practice is 6 ft,
# at most 8; the bounds are ours.
TOO_CLOSE, TOO_FAR = 5.0, 12.0
# Parts of the time until the opponents strike: those that are told, and all that are looked at.
TOLD: Final = (0.0, 0.25, 0.5, 0.75, 1.0)
_PARTS: Final = np.linspace(0.0, 1.0, 21)
# The course over time has a row for every such step (s).
STEP: Final = 0.1
_TENTHS: Final = (0.1, 0.9)
# Of a bracket of a few seconds: 2 ** -40 s is far below what any clock tells.
_HALVINGS: Final = 42


@dataclass(frozen=True)
class Way:
    """One policy's way in, after returns of one direction or of several together (``all``).

    ``needs`` is when each player would be at the target if the opponents waited, ``found`` is where
    the shot finds the two, ``to_go`` how far from the target. ``apart`` is their distance at parts
    of the time until the opponents strike, shape (parts, balls), the last as the shot finds them.
    The shots were struck in so many ``replicates``, ``replicate`` says in which each ball was.
    """

    policy: Policy
    direction: str
    replicates: int
    replicate: np.ndarray
    contact: Contact
    goals: dict[str, Place]
    found: dict[str, Place]
    needs: dict[str, Array]
    apart: Array

    @property
    def balls(self) -> int:
        """Balls in play."""
        return self.replicate.size

    def to_go(self, name: str) -> Array:
        """How far a player still is from the target when the opponents strike."""
        return distance(self.found[name], self.goals[name])

    def arrived(self, name: str) -> np.ndarray:
        """Whether a player is at the target when the opponents strike."""
        return arrived(self.found[name], self.goals[name])

    def share(self, hits: np.ndarray) -> tuple[float, float, float]:
        """A share of the balls with its interval; NaN without balls."""
        if not self.balls:
            return np.nan, np.nan, np.nan
        sums, counts = self._by_replicate(hits)
        return float(hits.mean()), *share_of_replicates(sums, counts)

    def mean(self, values: Array) -> tuple[float, float, float]:
        """A mean over the balls with its interval; NaN without balls."""
        return mean_of_replicates(*self._by_replicate(values))

    def _by_replicate(self, values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return (
            np.bincount(self.replicate, values, minlength=self.replicates),
            np.bincount(self.replicate, minlength=self.replicates),
        )


def ways(scenario: Scenario) -> list[list[Way]]:
    """Every policy's ways: all directions together where there are several, then each of them."""
    shots = min(scenario.run.shots, BLOCK)
    by_direction = [
        _ways_after(scenario, direction, shots) for direction in scenario.return_of_serve.directions
    ]
    each_policy = [list(each) for each in zip(*by_direction, strict=True)]
    return [each if len(each) == 1 else [pooled(each), *each] for each in each_policy]


def _ways_after(scenario: Scenario, direction: str, shots: int) -> list[Way]:
    rally = play(scenario, direction, 0, shots)
    contact = rally.contact.take(rally.in_play)
    replicate = replicate_of(shots)
    found = []
    for policy in scenario.policies:
        goals = targets(scenario, policy, direction, contact)
        moments = _PARTS[:, None] * contact.time
        on_the_way = places_until(scenario, policy, goals, contact, moments)
        found.append(
            Way(
                policy,
                direction,
                int(replicate[-1]) + 1,
                replicate[rally.in_play],
                contact,
                goals,
                run_in(scenario, policy, direction, contact),
                arrival_times(scenario, policy, goals),
                distance(on_the_way["left"], on_the_way["right"]),
            )
        )
    return found


def pooled(each: Sequence[Way]) -> Way:
    """The balls of several directions together."""

    contact = {
        name: np.concatenate([getattr(way.contact, name) for way in each])
        for name in ("time", "x", "y", "z")
    }
    return Way(
        each[0].policy,
        "all",
        each[0].replicates,
        np.concatenate([way.replicate for way in each]),
        Contact(**contact),
        joined([way.goals for way in each]),
        joined([way.found for way in each]),
        {name: np.concatenate([way.needs[name] for way in each]) for name in PLAYERS},
        np.concatenate([way.apart for way in each], axis=1),
    )


def both_arrived(found: dict[str, Place], goals: dict[str, Place]) -> np.ndarray:
    """Whether both are found at their targets when the opponents strike, shape (balls,)."""
    return arrived(found["left"], goals["left"]) & arrived(found["right"], goals["right"])


def arrival_times(scenario: Scenario, policy: Policy, goals: dict[str, Place]) -> dict[str, Array]:
    """When (s after the return's strike) both would be at their goals if the opponents waited.

    The run equation solved for the time by bisection between standing still and, at the latest,
    the delay, the time constant and the run at top speed one after the other: the run is never
    farther behind an instant start than ``top speed * time constant`` (Furusawa, Hill and
    Parkinson 1927: ``V t - s(t) <= V tau``).
    """
    wanted = scenario.run_in
    times = {}
    for name, (x, y) in starts(scenario, policy).items():
        player = getattr(scenario.pair, name)
        needed = run_needed(player, goals[name].x - x, goals[name].y - y)
        longest_delay = max(wanted.returner_delay, wanted.partner_delay)
        low = np.zeros(needed.shape)
        high = longest_delay + player.time_constant + needed / player.top_speed
        for _ in range(_HALVINGS):
            middle = 0.5 * (low + high)
            short = runs_until(scenario, middle)[name] < needed
            low, high = np.where(short, middle, low), np.where(short, high, middle)
        times[name] = np.where(needed > 0.0, high, 0.0)
    return times


def places_until(
    scenario: Scenario,
    policy: Policy,
    goals: dict[str, Place],
    contact: Contact,
    time: Array,
) -> dict[str, Place]:
    """Where both are ``time`` (s, shape (moments, balls)) after the return.

    From the split step on, or from the opponents' strike, they stay where the shot finds them.
    """
    settled = contact.time - settling_lead(scenario, policy)
    runs = runs_until(scenario, np.minimum(time, settled))
    return places_at(scenario, policy, goals, runs)


def arrival_rows(way: Way) -> list[Row]:
    """When each player, and both, would arrive, whether they do, and where the shot finds them."""
    rows = []
    times = way.contact.time
    for name in (*PLAYERS, "both"):
        each = PLAYERS if name == "both" else (name,)
        needs = np.max([way.needs[one] for one in each], axis=0)
        there = np.all([way.arrived(one) for one in each], axis=0)
        depth = np.mean([-way.found[one].y for one in each], axis=0)
        to_go = np.max([way.to_go(one) for one in each], axis=0)
        rows.append(
            {
                "policy": way.policy.name,
                "return_direction": way.direction,
                "player": name,
                "in_play": way.balls,
                **_spread("needs", "s", way, needs),
                **_spread("has", "s", way, times),
                **_named("arrived", way.share(there)),
                **_spread("from_net", "ft", way, depth),
                **_spread("to_go", "ft", way, to_go),
            }
        )
    return rows


def way_rows(scenario: Scenario, way: Way) -> list[Row]:
    """Mean places and spacing at steps of time after the return; the last step is at the strike.

    Over all balls: those struck already are counted where the shot found the pair.
    """
    if not way.balls:
        return []
    latest = float(np.quantile(way.contact.time, _TENTHS[1]))
    times = np.append(np.arange(0.0, latest, STEP), np.inf)
    rows = []
    for time in times:
        moment = np.full(way.balls, time)
        places = places_until(scenario, way.policy, way.goals, way.contact, moment)
        apart = float(distance(places["left"], places["right"]).mean())
        struck = float((way.contact.time <= time).mean())
        rows += [
            {
                "policy": way.policy.name,
                "return_direction": way.direction,
                "moment": "as the shot finds them" if np.isinf(time) else "after the return",
                "time_s": float(way.contact.time.mean()) if np.isinf(time) else float(time),
                "struck_share": struck,
                "player": name,
                "x_ft": float(places[name].x.mean()),
                "y_ft": float(places[name].y.mean()),
                "spacing_ft": apart,
            }
            for name in PLAYERS
        ]
    return rows


def spacing_row(way: Way) -> Row:
    """How far apart they are on the way: at parts of the time, at the narrowest and the widest."""
    row: Row = {
        "policy": way.policy.name,
        "return_direction": way.direction,
        "in_play": way.balls,
    }
    at = [int(np.argmin(np.abs(_PARTS - part))) for part in TOLD]
    for part, place in zip(TOLD, at, strict=True):
        row |= _spread(f"at_{100 * part:.0f}_percent", "ft", way, way.apart[place])
    narrowest, widest = way.apart.min(axis=0), way.apart.max(axis=0)
    row |= _spread("narrowest", "ft", way, narrowest) | _spread("widest", "ft", way, widest)
    row |= _named("too_close", way.share(narrowest < TOO_CLOSE))
    return row | _named("too_far", way.share(widest > TOO_FAR))


def _spread(name: str, unit: str, way: Way, values: Array) -> Row:
    """Mean with its interval, and where the middle eight balls of ten lie."""
    mean, low, high = way.mean(values)
    tenth, ninetieth = np.quantile(values, _TENTHS) if way.balls else (np.nan, np.nan)
    return {
        f"{name}_{unit}": mean,
        f"{name}_{unit}_low": low,
        f"{name}_{unit}_high": high,
        f"{name}_{unit}_p10": float(tenth),
        f"{name}_{unit}_p90": float(ninetieth),
    }


def _named(name: str, share: tuple[float, float, float]) -> Row:
    return dict(zip((f"{name}_share", f"{name}_low", f"{name}_high"), share, strict=True))
