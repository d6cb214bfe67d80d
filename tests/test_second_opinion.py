"""The fast package against an independent reference, shot by shot.

`tests/reference/plain_model.py` was written on its own, from the description of the model, with
other methods: one shot at a time, adaptive integration in three dimensions, general root finders
for the aim, a dense search in time for the reach. Here both get the same inputs for the same shot
and must come to the same contact, launch, flight, places and outcome.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import accumulate, zip_longest
from typing import Any

import numpy as np
import pytest

from sim.court import HALF_WIDTH
from sim.draws import draw
from sim.engine import FATES, LEAKS, Answer, Detail, Rally, answer_all, details, play
from sim.run_in import PLAYERS
from sim.scenario import LANES, RETURN_DIRECTIONS, SHOTS, Policy, Scenario
from tests.reference import plain_model as reference

POLICIES: list[dict[str, Any]] = [
    {"name": "follow", "rule": "follow"},
    {"name": "tethered", "rule": "tethered"},
    {"name": "halves", "rule": "halves"},
    {"name": "centre", "rule": "centre", "spacing": "6 ft"},
    {"name": "bisect", "rule": "bisect", "depth": "10 ft"},
    {
        "name": "fixed",
        "rule": "fixed",
        "centres": {"line": "3 ft", "middle": "-1 ft", "cross": "-9 ft"},
    },
    {"name": "stay back", "rule": "centre", "depth": "22 ft", "spacing": "10 ft"},
    {"name": "one up one back", "rule": "centre", "returner_depth": "20 ft"},
    {"name": "keep running", "rule": "follow", "split_step": False},
    {"name": "keep running, halves", "rule": "halves", "depth": "7.5 ft", "split_step": False},
]
MIXED_SHOTS = {"drive": 45, "drop": 35, "lob": 20}
VARIANTS: dict[str, dict[str, Any]] = {
    "default": {},
    "odd side, left-handed and unequal": {
        "pair": {
            "left": {"height": "6 ft 1 in", "handed": "left", "age_group": "thirties"},
            "right": {"height": "5 ft 2 in", "full_stretch": "5 ft 4 in"},
        },
        "return_of_serve": {"side": "odd"},
        "opponents": {"shots": MIXED_SHOTS},
    },
    "level 5.0 indoors at altitude": {
        "opponents": {"level": "5.0", "shots": MIXED_SHOTS},
        "ball": {"kind": "indoor"},
        "air": {"altitude": "5000 ft"},
    },
    "partner at the line": {
        "run_in": {"partner_starts": "line"},
        "opponents": {"level": "4.0", "shots": MIXED_SHOTS},
    },
    "windy": {
        "opponents": {"shots": MIXED_SHOTS},
        "air": {"wind_from_behind": "6 mph", "wind_to_the_right": "4 mph"},
    },
    "drive azimuth given": {
        "opponents": {
            "level": "4.5",
            "shots": MIXED_SHOTS,
            "drive": {"azimuth": {"kind": "normal", "mean": "4 deg", "sd": "6 deg"}},
        },
    },
    "over seventy against lobs": {
        "pair": {
            "left": {"height": "5 ft 3 in", "age_group": "seventies"},
            "right": {"age_group": "seventies", "handed": "left"},
        },
        "opponents": {"level": "3.0", "shots": {"drive": 20, "drop": 20, "lob": 60}},
    },
}
NO_ERRORS = {"speed": "0 %", "elevation": "0 deg", "azimuth": "0 deg"}
BLOCK = 320
SAMPLES = 400


# ---- the same inputs for both sides ----------------------------------------------------------


@lru_cache(maxsize=None)
def scenario_of(variant: str) -> Scenario:
    return Scenario.model_validate(
        {"name": variant, "policies": POLICIES, "run": {"seed": 20}} | VARIANTS[variant]
    )


@lru_cache(maxsize=None)
def errorless(variant: str) -> Scenario:
    """The same scenario with opponents who strike what they intend."""
    data = VARIANTS[variant]
    opponents = data.get("opponents", {}) | {"errors": NO_ERRORS}
    return Scenario.model_validate(
        {"name": variant, "run": {"seed": 20}} | data | {"opponents": opponents}
    )


def reference_ball(scenario: Scenario) -> reference.Ball:
    """The ball in its air; density from ISO 2533 (values from memory) and the ideal gas law."""
    air, ball = scenario.air, scenario.ball
    gas, lapse, gravity = 287.05287, 0.0065, 9.80665
    cooled = 1.0 - lapse * air.altitude * 0.3048 / 288.15
    pressure = 101325.0 * cooled ** (gravity / (gas * lapse))
    drag, magnus = reference.coefficients(
        ball.mass * 1000.0,
        ball.diameter * 12.0,
        {"outdoor": 0.33, "indoor": 0.45}[ball.kind],
        ball.lift_slope,
        pressure / (gas * (air.temperature + 273.15)),
    )
    return reference.Ball(drag, magnus, wind=(air.wind_to_the_right, air.wind_from_behind))


def reference_players(scenario: Scenario) -> tuple[reference.Player, reference.Player]:
    left, right = (
        reference.Player(
            height=player.height,
            V=player.top_speed,
            tau=player.time_constant,
            right_handed=player.handed == "right",
            full_stretch=player.full_stretch or 72.0 / 67.0 * player.height,
        )
        for player in (scenario.pair.left, scenario.pair.right)
    )
    return left, right


@dataclass(frozen=True)
class Block:
    """What the package made of one block of shots, and the numbers it was made from."""

    variant: str
    direction: str

    @cached_property
    def scenario(self) -> Scenario:
        return scenario_of(self.variant)

    @cached_property
    def uniform(self) -> dict[str, Any]:
        seed, stream = self.scenario.run.seed, RETURN_DIRECTIONS.index(self.direction)
        return draw(seed, stream, 0, BLOCK)

    @cached_property
    def rally(self) -> Rally:
        return play(self.scenario, self.direction, 0, BLOCK)

    @cached_property
    def intended(self) -> Rally:
        return play(errorless(self.variant), self.direction, 0, BLOCK)

    @cached_property
    def answers(self) -> list[Answer]:
        return answer_all(self.scenario, self.rally, self.scenario.policies)

    @cached_property
    def details(self) -> list[Detail]:
        return [
            details(self.scenario, self.rally, policy, answer)
            for policy, answer in zip(self.scenario.policies, self.answers, strict=True)
        ]


@lru_cache(maxsize=None)
def block_of(variant: str, direction: str) -> Block:
    return Block(variant, direction)


@dataclass(frozen=True)
class Shot:
    """One shot of a block; the draws of every distribution are made here, one number at a time."""

    block: Block
    index: int

    def __str__(self) -> str:
        return f"[{self.block.variant}; {self.block.direction} {self.index}]"

    @property
    def scenario(self) -> Scenario:
        return self.block.scenario

    @property
    def side(self) -> float:
        return 1.0 if self.scenario.return_of_serve.side == "even" else -1.0

    @property
    def ball(self) -> reference.Ball:
        return reference_ball(self.scenario)

    def uniform(self, column: str) -> float:
        return float(self.block.uniform[column][self.index])

    def drawn(self, distribution: Any, column: str) -> float:
        return float(distribution.quantile(np.array([self.uniform(column)]))[0])

    def one_of(self, names: tuple[str, ...], weights: Any, column: str) -> str:
        edges = list(accumulate(getattr(weights, name) for name in names))
        return names[bisect_right(edges, self.uniform(column) * edges[-1])]

    @property
    def kind(self) -> str:
        return self.one_of(SHOTS, self.scenario.opponents.shots, "shot")

    @property
    def lane(self) -> str:
        return self.one_of(LANES, self.scenario.opponents.lanes, "lane")

    @property
    def contact(self) -> reference.Contact:
        """The package's contact."""
        contact, i = self.block.rally.contact, self.index
        return reference.Contact(*(float(a[i]) for a in (contact.time, contact.x, contact.y, contact.z)))

    def reference_contact(self) -> reference.Contact:
        wanted = self.scenario.return_of_serve
        landing = wanted.lateral.__getattribute__(self.block.direction)
        contact, _ = reference.return_of_serve(
            self.side,
            self.side * self.drawn(landing, "return_side"),
            self.drawn(wanted.landing_depth, "return_depth"),
            self.drawn(wanted.top, "return_top"),
            self.drawn(self.scenario.opponents.contact_height, "contact_height"),
            self.ball,
        )
        return contact

    def launch(self, rally: Rally) -> reference.Launch:
        """The package's launch of this shot in one of its rallies."""
        launch = rally.third_shot.launch
        velocity = tuple(float(part[self.index]) for part in (launch.x, launch.y, launch.z))
        return reference.launch_from_velocity(velocity, float(launch.spin[self.index]))

    def wishes(self) -> dict[str, float]:
        """What the striker intends, by the names of `reference.aim_third_shot`."""
        opponents = self.scenario.opponents
        wanted = getattr(opponents, self.kind)
        wishes = {
            "inset": self.drawn(opponents.inset, "landing_side"),
            "middle_x": self.drawn(opponents.middle, "landing_side"),
        }
        if self.kind == "drive":
            wishes["speed"] = self.drawn(wanted.speed, "pace")
        if self.kind in ("drive", "drop"):
            wishes["clearance"] = self.drawn(wanted.net_clearance, "net_clearance")
        if self.kind in ("drop", "lob"):
            wishes["depth"] = self.drawn(wanted.landing_depth, "landing_depth")
        if self.kind == "lob":
            wishes["apex_height"] = self.drawn(wanted.top, "top")
        if wanted.azimuth is not None:
            wishes["cross_azimuth"] = self.drawn(wanted.azimuth, "azimuth")
        return wishes

    def reference_aim(self, contact: reference.Contact) -> reference.Launch:
        return reference.aim_third_shot(
            self.kind, contact, self.ball, lane=self.lane, **self.wishes()
        )

    def struck(self, intended: reference.Launch) -> reference.Launch:
        """A launch with this shot's execution error."""
        errors = self.scenario.opponents.errors
        return reference.with_error(
            intended,
            self.drawn(errors.speed, "error_speed"),
            self.drawn(errors.elevation, "error_elevation"),
            self.drawn(errors.azimuth, "error_azimuth"),
        )

    def reactions(self) -> tuple[float, float]:
        left, right = (
            max(0.12, self.drawn(player.reaction, f"reaction_{name}"))
            for name, player in zip(PLAYERS, (self.scenario.pair.left, self.scenario.pair.right))
        )
        return left, right

    def reference_places(
        self, policy: Policy, contact: reference.Contact
    ) -> tuple[reference.Vec2, reference.Vec2]:
        """Where the reference has both players at the opponents' contact."""
        fixed = 0.0 if policy.centres is None else getattr(policy.centres, self.block.direction)
        spacing = policy.spacing or {"halves": 10.0}.get(policy.rule, 7.0)
        centre = reference.target_centre(
            policy.rule,
            contact.X,
            contact.Y,
            self.side,
            spacing=spacing,
            depth=policy.depth,
            shift=policy.shift,
            fixed=fixed,
        )
        places = []
        for sign, player in zip((-1.0, 1.0), reference_players(self.scenario), strict=True):
            returns = sign == self.side
            own = policy.returner_depth if returns else policy.partner_depth
            depth = policy.depth if own is None else own
            waits = not returns and self.scenario.run_in.partner_starts == "line"
            places.append(
                reference.run_in(
                    (5.0 * sign, -depth if waits else -22.5),
                    (centre + sign * spacing / 2.0, -depth),
                    contact.T,
                    player,
                    delay=0.30 if returns else 0.25,
                    split_step=policy.split_step,
                )
            )
        return places[0], places[1]

    def reference_play(
        self,
        policy: Policy,
        contact: reference.Contact,
        launch: reference.Launch,
        places: tuple[reference.Vec2, reference.Vec2],
        samples: int = SAMPLES,
    ) -> reference.Result:
        return reference.play_third_shot(
            contact,
            launch,
            places,
            reference_players(self.scenario),
            self.reactions(),
            (policy.split_step, policy.split_step),
            self.ball,
            samples,
        )
