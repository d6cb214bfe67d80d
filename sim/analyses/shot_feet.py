"""Where one player's feet are at every instant of a rally."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.court import NON_VOLLEY_ZONE, Array
from sim.players import Player
from sim.run_in import Place, places_at, run_needed, runs_until, straight_run
from sim.scenario import Policy, Scenario


@dataclass(frozen=True)
class Errand:
    """What a player runs for after the reaction: the ball at one instant (s, ft).

    The feet stop after a straight-ahead run of ``most`` (ft): see `shot_instants.errand_of`.
    """

    x: float
    y: float
    volley: bool
    most: float


@dataclass(frozen=True)
class Feet:
    """One player's feet from the return's strike on; times in s since then, places in ft.

    They run to the goal until ``stops`` or until they are there, stand still until ``reacts``, and
    then go straight for the errand, if there is one. The run-in is the engine's.
    """

    scenario: Scenario
    policy: Policy
    name: str
    goals: dict[str, Place]
    stops: float
    reacts: float
    errand: Errand | None

    @property
    def player(self) -> Player:
        player: Player = getattr(self.scenario.pair, self.name)
        return player

    def at(self, times: Array) -> tuple[Array, Array]:
        """``x`` and ``y`` (ft) at times of shape (n,)."""
        times = np.asarray(times, float)
        runs = runs_until(self.scenario, np.minimum(times, self.stops))
        place = places_at(self.scenario, self.policy, self.goals, runs)[self.name]
        if self.errand is None:
            return place.x, place.y
        run = np.minimum(straight_run(self.player, times - self.reacts), self.errand.most)
        return after_run(self.player, place, self.errand, run)


def after_run(player: Player, place: Place, errand: Errand, run: Array) -> tuple[Array, Array]:
    """Where the feet are after a straight-ahead ``run`` (ft) from a place: `reach.distance_left`.

    All arrays have one shape. For a volley the feet stop on the non-volley line, and slide along
    it to the point nearest the ball.
    """
    to_x, to_y = errand.x - place.x, errand.y - place.y
    needed = np.maximum(run_needed(player, to_x, to_y.copy()), 1e-12)
    share = np.minimum(run / needed, 1.0)
    x, y = place.x + share * to_x, place.y + share * to_y
    over = errand.volley & (y > -NON_VOLLEY_ZONE)
    ahead = -NON_VOLLEY_ZONE - place.y
    aside = np.sqrt(np.maximum(run * run - ahead * ahead, 0.0)) * player.sideways
    at_line = place.x + np.clip(to_x, -aside, aside)
    return np.where(over, at_line, x), np.where(over, -NON_VOLLEY_ZONE, y)
