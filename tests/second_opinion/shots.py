"""The same shot for both sides: what the package made of it, and what the reference makes of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import islice, zip_longest
from typing import Any

from sim.answers import Answer, Detail, answer_all, details
from sim.draws import draw
from sim.opponents import LANES, SHOTS
from sim.rallies import Rally, play
from sim.run_in import PLAYERS
from sim.scenario import RETURN_DIRECTIONS, Policy, Scenario
from tests.reference import aim, answer, launch, policies, run_in
from tests.reference.ball import DRAG_COEFFICIENT, Ball, air_density, coefficients
from tests.reference.court import Vec2
from tests.reference.draws import drawn, one_of
from tests.reference.return_of_serve import Contact, return_of_serve

NO_ERRORS = {"speed": "0 %", "elevation": "0 deg", "azimuth": "0 deg"}


@dataclass(frozen=True, eq=False)
class Block:
    """What the package made of one block of shots, and the numbers it was made from."""

    scenario: Scenario
    direction: str
    size: int

    @cached_property
    def uniform(self) -> dict[str, Any]:
        run, stream = self.scenario.run, RETURN_DIRECTIONS.index(self.direction)
        return draw(run.sampling, run.seed, stream, 0, self.size)

    @cached_property
    def rally(self) -> Rally:
        return play(self.scenario, self.direction, 0, self.size)

    @cached_property
    def intended(self) -> Rally:
        """The same shots by opponents who strike what they intend."""
        exact = Scenario.model_validate({"name": "exact", "opponents": {"errors": NO_ERRORS}})
        errors = {"errors": exact.opponents.errors}
        opponents = self.scenario.opponents.model_copy(update=errors)
        scenario = self.scenario.model_copy(update={"opponents": opponents})
        return play(scenario, self.direction, 0, self.size)

    @cached_property
    def answers(self) -> list[Answer]:
        return answer_all(self.scenario, self.rally, self.scenario.policies)

    @cached_property
    def details(self) -> list[Detail]:
        return [
            details(self.scenario, self.rally, policy, answer)
            for policy, answer in zip(self.scenario.policies, self.answers, strict=True)
        ]


def reference_ball(scenario: Scenario) -> Ball:
    """The ball in its air."""
    air, ball = scenario.air, scenario.ball
    density = air_density(air.temperature, air.altitude)
    drag, magnus = coefficients(
        ball.mass * 1000.0,
        ball.diameter * 12.0,
        DRAG_COEFFICIENT[ball.kind],
        ball.lift_slope,
        density,
    )
    return Ball(drag, magnus, wind=(air.wind_to_the_right, air.wind_from_behind))


def reference_players(scenario: Scenario) -> tuple[run_in.Player, run_in.Player]:
    """The left and the right player."""
    left, right = (
        run_in.Player(
            height=player.height,
            V=player.top_speed,
            tau=player.time_constant,
            right_handed=player.handed == "right",
            full_stretch=player.full_stretch or 72.0 / 67.0 * player.height,
        )
        for player in (scenario.pair.left, scenario.pair.right)
    )
    return left, right


@dataclass(frozen=True, eq=False)
class Shot:
    """One shot of a block; the draws of every distribution are made here, one number at a time."""

    block: Block
    index: int

    def __str__(self) -> str:
        return f"[{self.scenario.name}; {self.block.direction} {self.index}]"

    @property
    def scenario(self) -> Scenario:
        return self.block.scenario

    @property
    def side(self) -> float:
        return 1.0 if self.scenario.return_of_serve.side == "even" else -1.0

    @cached_property
    def ball(self) -> Ball:
        return reference_ball(self.scenario)

    def uniform(self, column: str) -> float:
        return float(self.block.uniform[column][self.index])

    def drawn(self, distribution: Any, column: str) -> float:
        return drawn(vars(distribution), self.uniform(column))

    @property
    def kind(self) -> str:
        return one_of(SHOTS, vars(self.scenario.opponents.shots), self.uniform("shot"))

    @property
    def lane(self) -> str:
        return one_of(LANES, vars(self.scenario.opponents.lanes), self.uniform("lane"))

    @property
    def number_in_play(self) -> int:
        """Which of the package's shots in play this is."""
        return int(self.block.rally.in_play.searchsorted(self.index))

    @property
    def contact(self) -> Contact:
        """The package's contact."""
        contact, i = self.block.rally.contact, self.index
        return Contact(*(float(a[i]) for a in (contact.time, contact.x, contact.y, contact.z)))

    @cached_property
    def reference_contact(self) -> Contact:
        """The reference's contact."""
        return self.contact_after_return()

    def contact_after_return(self) -> Contact:
        """The return of serve flown by the reference, up to the contact."""
        wanted = self.scenario.return_of_serve
        contact, _ = return_of_serve(
            self.side,
            self.side * self.drawn(getattr(wanted.lateral, self.block.direction), "return_side"),
            self.drawn(wanted.landing_depth, "return_depth"),
            self.drawn(wanted.top, "return_top"),
            self.drawn(self.scenario.opponents.contact_height, "contact_height"),
            self.ball,
        )
        return contact

    def launch(self, rally: Rally) -> launch.Launch:
        """The package's launch of this shot in one of its rallies."""
        mine, i = rally.third_shot.launch, self.index
        velocity = float(mine.x[i]), float(mine.y[i]), float(mine.z[i])
        return launch.launch_from_velocity(velocity, float(mine.spin[i]))

    @cached_property
    def wishes(self) -> dict[str, float]:
        """What the striker intends, by the names of `aim.aim_third_shot`."""
        opponents = self.scenario.opponents
        wanted = getattr(opponents, self.kind)
        wishes = {
            "inset": self.drawn(opponents.inset, "landing_side"),
            "middle_x": self.drawn(opponents.middle, "landing_side"),
            "spin": float(wanted.topspin),
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

    def reference_aim(self, contact: Contact) -> launch.Launch:
        return aim.aim_third_shot(self.kind, contact, self.ball, lane=self.lane, **self.wishes)

    def struck_harder(self, intended: launch.Launch) -> bool:
        """Whether that launch had to be faster than preferred, to clear the net at all."""
        return intended.speed > self.wishes.get("speed", float("inf")) * (1.0 + 1e-6)

    def struck(self, intended: launch.Launch) -> launch.Launch:
        """A launch with this shot's execution error."""
        errors = self.scenario.opponents.errors
        return launch.with_error(
            intended,
            self.drawn(errors.speed, "error_speed"),
            self.drawn(errors.elevation, "error_elevation"),
            self.drawn(errors.azimuth, "error_azimuth"),
        )

    def reactions(self) -> tuple[float, float]:
        left, right = (
            self.drawn(getattr(self.scenario.pair, name).reaction, f"reaction_{name}")
            for name in PLAYERS
        )
        return left, right

    def reference_places(self, policy: Policy, contact: Contact) -> tuple[Vec2, Vec2]:
        """Where the reference has both players at the opponents' contact."""
        fixed = 0.0 if policy.centres is None else getattr(policy.centres, self.block.direction)
        spots = None if policy.places is None else getattr(policy.places, self.block.direction)
        targets = policies.target_positions(
            policy.rule,
            contact.X,
            contact.Y,
            self.side,
            spacing=policy.spacing or {"halves": 10.0}.get(policy.rule, 7.0),
            depth=policy.depth,
            shift=policy.shift,
            fixed=fixed,
            places=spots
            and tuple((spot.from_centre, spot.depth) for spot in (spots.left, spots.right)),
        )
        places = []
        for sign, (x, y), player in zip(
            (-1.0, 1.0), targets, reference_players(self.scenario), strict=True
        ):
            returns = sign == self.side
            own = policy.returner_depth if returns else policy.partner_depth
            depth = policy.depth if own is None else own
            waits = not returns and self.scenario.run_in.partner_starts == "line"
            places.append(
                run_in.run_in(
                    (5.0 * sign, -depth if waits else -22.5),
                    (x, y if policy.rule == "best" else -depth),
                    contact.T,
                    player,
                    delay=run_in.RETURNER_DELAY if returns else run_in.PARTNER_DELAY,
                    split_step=policy.split_step,
                )
            )
        return places[0], places[1]

    def package_places(self, number: int) -> tuple[Vec2, Vec2]:
        """Where the package has both players under policy ``number``."""
        places, i = self.block.answers[number].places, self.number_in_play
        left, right = ((float(places[name].x[i]), float(places[name].y[i])) for name in PLAYERS)
        return left, right

    def pair_at(self, places: tuple[Vec2, Vec2], policy: Policy) -> list[answer.Ready]:
        """The left and the right player, ready for the shot at these places."""
        return [
            answer.ready(player, at, reaction, policy.split_step)
            for player, at, reaction in zip(
                reference_players(self.scenario), places, self.reactions(), strict=True
            )
        ]


Question = tuple[Shot, int]


def in_turns(queues: Sequence[Sequence[Any]], count: int) -> list[Any]:
    """The first ``count`` of all, one from each queue in turn."""
    turns: Iterator[Any] = (one for turn in zip_longest(*queues) for one in turn if one is not None)
    chosen = list(islice(turns, count))
    assert len(chosen) == count
    return chosen
