"""Rallies: blocks of third shots from the return of serve to the ball's second bounce."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np

from sim.ball import Ball, air_density, make_ball
from sim.bounce import bounce
from sim.court import AT_NET, Array, is_in, net_height
from sim.draws import BLOCK, COLUMNS, draw
from sim.flight import Flight, Launch, falling_time, fly, time_at_line, time_falling_to
from sim.return_of_serve import Contact, fly_return
from sim.run_in import PLAYERS
from sim.scenario import RETURN_DIRECTIONS, Scenario
from sim.third_shot import ThirdShot, strike

FATES: Final = ("net", "out", "in play")
NET, OUT, IN_PLAY = range(3)

_STEPS_TO_GROUND: Final = 12
_STEPS_OF_APPROACH: Final = 4
_STEPS_OF_REBOUND: Final = 4


@dataclass(frozen=True)
class Rally:
    """Third shots: all of them to their fate, those in play to their end.

    There are equally many after returns in each of the ``directions``, one after the other.
    ``contact``, ``third_shot``, ``fate`` and ``net_clearance`` (ft) are of all shots; the rest is
    of those in play, whose numbers are ``in_play``: flight from the net to the bounce
    (``approach``), after it (``rebound``), when the ball passes the net and lands (s after contact)
    and both players' reactions (s).
    """

    directions: tuple[str, ...]
    contact: Contact
    third_shot: ThirdShot
    fate: np.ndarray
    net_clearance: Array
    in_play: np.ndarray
    approach: Flight
    rebound: Flight
    net_time: Array
    landing_time: Array
    reaction: dict[str, Array]

    @property
    def direction(self) -> str:
        """The return direction, of which there must be only one."""
        (direction,) = self.directions
        return direction

    @property
    def shots(self) -> int:
        """Shots after returns in each direction."""
        return self.fate.size // len(self.directions)

    def only(self, chosen: np.ndarray) -> Rally:
        """The same shots, as if of those in play only the chosen ones (indices) were."""
        return replace(
            self,
            in_play=self.in_play[chosen],
            approach=self.approach.take(chosen),
            rebound=self.rebound.take(chosen),
            net_time=self.net_time[chosen],
            landing_time=self.landing_time[chosen],
            reaction={name: value[chosen] for name, value in self.reaction.items()},
        )

    @property
    def live(self) -> list[tuple[str, slice]]:
        """Which of the shots in play are after returns in each direction."""
        edges = np.searchsorted(self.in_play, self.shots * np.arange(len(self.directions) + 1))
        return [
            (direction, slice(first, last))
            for direction, (first, last) in zip(
                self.directions, pairwise(edges.tolist()), strict=True
            )
        ]

    def alone(self, shot: int) -> Rally:
        """The rally of one shot by itself; this one must be after returns in one direction."""
        chosen = np.array([shot])
        mine = self.only(np.flatnonzero(self.in_play == shot))
        return replace(
            mine,
            directions=(self.direction,),
            contact=self.contact.take(chosen),
            third_shot=self.third_shot.take(chosen),
            fate=self.fate[chosen],
            net_clearance=self.net_clearance[chosen],
            in_play=np.zeros_like(mine.in_play),
        )


def ball_of(scenario: Scenario) -> Ball:
    """The scenario's ball in the scenario's air."""
    ball, air = scenario.ball, scenario.air
    return make_ball(
        mass=ball.mass,
        diameter=ball.diameter,
        drag_coefficient=ball.drag,
        lift_slope=ball.lift_slope,
        density=air_density(air.temperature, air.altitude),
        restitution=ball.restitution,
        friction=ball.friction,
        wind_x=air.wind_to_the_right,
        wind_y=air.wind_from_behind,
    )


def play(scenario: Scenario, direction: str, block: int = 0, shots: int = BLOCK) -> Rally:
    """Play one block of shots after returns in one direction, up to the pair's answer."""
    return play_together(scenario, (direction,), block, shots)


def play_together(scenario: Scenario, directions: tuple[str, ...], block: int, shots: int) -> Rally:
    """Play one block of so many shots after returns in each direction, all in the same arrays.

    The shots are those of `play`, but for rounding: how often the opponents' aim is mended depends
    on the company.
    """
    ball, uniform = ball_of(scenario), drawn(scenario, directions, block, shots)
    contact = fly_return(scenario, ball, directions, uniform)
    third_shot = strike(scenario, ball, directions, contact, uniform)
    return follow_through(directions, contact, third_shot, reactions(scenario, uniform), ball)


def drawn(
    scenario: Scenario, directions: tuple[str, ...], block: int, shots: int
) -> dict[str, Array]:
    """The uniform numbers of one block, so many shots after returns in each direction."""
    run = scenario.run
    each = [
        draw(run.sampling, run.seed, RETURN_DIRECTIONS.index(direction), block, shots)
        for direction in directions
    ]
    return {name: np.concatenate([columns[name] for columns in each]) for name in COLUMNS}


def reactions(scenario: Scenario, uniform: dict[str, Array]) -> dict[str, Array]:
    """Both players' reactions (s) to every shot, shape (shots,)."""
    shortest = scenario.run_in.shortest_reaction
    return {
        name: np.maximum(
            getattr(scenario.pair, name).reaction.quantile(uniform[f"reaction_{name}"]), shortest
        )
        for name in PLAYERS
    }


def fly_third_shot(contact: Contact, third_shot: ThirdShot, ball: Ball) -> Flight:
    """Struck balls from their contact to the ground or a little longer, net or no net."""
    longest = falling_time(contact.z, third_shot.launch, ball)
    here = contact.x, contact.y, contact.z
    return fly(*here, third_shot.launch, ball, longest, _STEPS_TO_GROUND)


def follow_through(
    directions: tuple[str, ...],
    contact: Contact,
    third_shot: ThirdShot,
    reaction: dict[str, Array],
    ball: Ball,
) -> Rally:
    """Fly struck balls to their fate, and those in play to their second bounce."""
    flight = fly_third_shot(contact, third_shot, ball)
    net_time, landing_time = time_at_line(flight, 0.0), time_falling_to(flight, 0.0)
    net, at_net = flight.place_and_launch(net_time)
    landing, at_landing = flight.place_and_launch(landing_time)
    top_edge = net_height(net[0])
    clearance = net[2] - top_edge - ball.radius
    over = (landing_time > net_time) & (net[1] <= AT_NET)
    over &= (clearance >= 0.0) | (top_edge == 0.0)  # without an edge: around the post
    fate = np.where(over, np.where(is_in(landing[0], landing[1]), IN_PLAY, OUT), NET)
    chosen = np.flatnonzero(fate == IN_PLAY)

    net_time, landing_time = net_time[chosen], landing_time[chosen]
    x, y, z = (place[chosen] for place in net)
    duration = landing_time - net_time
    approach = fly(x, y, z, at_net.take(chosen), ball, duration, _STEPS_OF_APPROACH)
    x, y = landing[0][chosen], landing[1][chosen]
    rebound = _to_second_bounce(x, y, at_landing.take(chosen), ball)
    return Rally(
        directions=directions,
        contact=contact,
        third_shot=third_shot,
        fate=fate,
        net_clearance=clearance,
        in_play=chosen,
        approach=approach,
        rebound=rebound,
        net_time=net_time,
        landing_time=landing_time,
        reaction={name: value[chosen] for name, value in reaction.items()},
    )


def _to_second_bounce(x: Array, y: Array, before: Launch, ball: Ball) -> Flight:
    """The flight of balls that land at ``(x, y)`` with the velocity and spin ``before``."""
    bounced = bounce(before.x, before.y, before.z, before.spin, ball)
    ground = np.zeros(x.shape)
    longest = falling_time(ground, bounced, ball)
    # Once for its end, and once more to its very end: the last instant before the second bounce
    # counts, too.
    longer = fly(x, y, ground, bounced, ball, longest, _STEPS_OF_REBOUND)
    end = time_falling_to(longer, 0.0)
    return fly(x, y, ground, bounced, ball, end, _STEPS_OF_REBOUND)
