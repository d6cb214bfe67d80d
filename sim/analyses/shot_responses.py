"""What each policy does with one shot: who takes it, when and where, and who could have.

Times count from the pair's strike of the return, in s; places are in ft.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sim.analyses.shot_feet import Errand, Feet
from sim.analyses.shot_instants import Instants, errand_of, instants_of, whole_track, with_hit
from sim.analyses.shot_paths import Place as Instant
from sim.answers import Answer, answer_all
from sim.ball import Ball
from sim.court import Array
from sim.players import Player
from sim.rallies import Rally
from sim.run_in import PLAYERS, Place, lateness, run_in, settling_lead, starts, targets
from sim.scenario import Policy, Scenario
from sim.tables import SHOT_COLUMNS, Row, rows_of_shots
from sim.track import Track

IN_CONTROL: Final = "in control"
AT_FULL_STRETCH: Final = "at full stretch"
NOT_REACHED: Final = ""

Point = tuple[float, float]


@dataclass(frozen=True)
class Response:
    """What one policy does with one shot; ``row`` is the shot's row in ``shots.csv``, all columns.

    All dictionaries are by player. ``gets`` is "in control", "at full stretch" or empty for one who
    does not reach the ball. ``found`` is where the opponents' strike finds the feet, ``settled_at``
    when a split step has stopped them. Where the shot is not in play nobody answers it, and there
    are no ``instants``.
    """

    policy: Policy
    row: Row
    gets: dict[str, str]
    start: dict[str, Point]
    target: dict[str, Point]
    found: dict[str, Point]
    reacts_at: dict[str, float]
    settled_at: dict[str, float | None]
    instants: dict[str, Instants]
    runs: dict[str, Feet]

    @property
    def in_play(self) -> bool:
        """Whether there is anything to answer."""
        return bool(self.instants)

    @property
    def outcome(self) -> str:
        """In control, at full stretch or through; empty if the shot is not in play."""
        return str(self.row["outcome"]) if self.in_play else ""

    @property
    def leak(self) -> str:
        """Where a ball that nobody reached got through, or empty."""
        return str(self.row["leak"])

    @property
    def player(self) -> str:
        """Who takes it, or empty."""
        return str(self.row["player"])

    @property
    def hand(self) -> str:
        """Forehand or backhand, or empty."""
        return str(self.row["hand"])

    @property
    def taken(self) -> str:
        """As a volley or after the bounce, or empty."""
        return str(self.row["taken"])

    @property
    def both_in_control(self) -> bool:
        """Whether both could have it in control."""
        return bool(self.row["both_in_control"])

    @property
    def hit(self) -> Instant | None:
        """Where the ball is hit, ``(t, x, y, z)``."""
        return _hit(self.row)

    @property
    def spare(self) -> dict[str, float]:
        """How much later (s) each could have reacted for control, see `sim.answers.Detail`."""
        if not self.in_play:
            return {}
        return {name: float(self.row[f"{name}_spare_s"]) for name in PLAYERS}

    def feet(self, player: str, times: Array) -> tuple[Array, Array]:
        """``x`` and ``y`` (ft) of a player's feet at times of shape (n,).

        They run in and stand still until the reaction. Then whoever takes the ball goes straight
        for its place at the hit; if nobody does, the one who misses it least goes for where that
        is. That player stops once it is within reach in control, or as near as time allows. The
        other one stands: the engine asks both independently, which is no picture of two at once.
        """
        return self.runs[player].at(times)


def responses(
    scenario: Scenario, ball: Ball, rally: Rally, reactions: dict[str, Array], number: int
) -> dict[str, Response]:
    """Every policy's answer to the rally of one shot, by name.

    ``reactions`` (s, shape (1,)) are both players' whether the shot is in play or not.
    """
    answers = answer_all(scenario, rally, scenario.policies)
    track = whole_track(ball, rally) if rally.in_play.size else None
    return {
        policy.name: _response(scenario, rally, policy, answer, reactions, number, track)
        for policy, answer in zip(scenario.policies, answers, strict=True)
    }


def _response(
    scenario: Scenario,
    rally: Rally,
    policy: Policy,
    answer: Answer,
    reactions: dict[str, Array],
    number: int,
    track: Track | None,
) -> Response:
    (filled,) = rows_of_shots(scenario, rally, policy, answer, number - 1)
    row = dict.fromkeys(SHOT_COLUMNS, "") | filled
    struck, late = float(rally.contact.time[0]), lateness(scenario, policy)
    goals = targets(scenario, policy, rally.direction, rally.contact)
    found = run_in(scenario, policy, rally.direction, rally.contact)
    stops = struck - settling_lead(scenario, policy)
    reacts = {name: struck + float(reactions[name][0]) + late for name in PLAYERS}
    gets = {name: _gets(answer, name) for name in PLAYERS}
    instants: dict[str, Instants] = {}
    if track is not None:
        hit = _hit(row)
        seen = track if hit is None else with_hit(track, hit, volley=row["taken"] == "volley")
        instants = {
            name: instants_of(getattr(scenario.pair, name), seen, found[name], reacts[name])
            for name in PLAYERS
        }
    # Nobody's name for a shot that fails.
    runner = str(row["player"]) or _nearest(instants)
    errands = {
        name: _errand(getattr(scenario.pair, name), found[name], seen, _hit(row))
        for name, seen in instants.items()
        if name == runner
    }
    return Response(
        policy=policy,
        row=row,
        gets=gets,
        start=starts(scenario, policy),
        target={name: _point(goals[name]) for name in PLAYERS},
        found={name: _point(found[name]) for name in PLAYERS},
        reacts_at=reacts,
        settled_at=dict.fromkeys(PLAYERS, stops if policy.split_step else None),
        instants=instants,
        runs={
            name: Feet(scenario, policy, name, goals, stops, reacts[name], errands.get(name))
            for name in PLAYERS
        },
    )


def _errand(player: Player, found: Place, instants: Instants, hit: Instant | None) -> Errand | None:
    """What the player runs for: the hit, or the instant of the least miss."""
    return errand_of(player, found, instants, None if hit is None else hit[0])


def _nearest(instants: dict[str, Instants]) -> str:
    """Who misses the ball least at full stretch; empty where there is nothing to miss."""
    lacking = {name: float((seen.left - seen.stretch).min()) for name, seen in instants.items()}
    return min(lacking, key=lacking.__getitem__, default="")


def _gets(answer: Answer, name: str) -> str:
    """Whether a player reaches the only shot, and how; nobody reaches one not in play."""
    if answer.control[name].any():
        return IN_CONTROL
    return AT_FULL_STRETCH if answer.stretch[name].any() else NOT_REACHED


def _hit(row: Row) -> Instant | None:
    """Where the ball is hit, ``(t, x, y, z)``, with ``t`` from the return's strike."""
    if not row["player"]:
        return None
    x, y, z = (float(row[f"hit_{axis}_ft"]) for axis in "xyz")
    return row["contact_time_s"] + row["hit_time_s"], x, y, z


def _point(place: Place) -> Point:
    return float(place.x[0]), float(place.y[0])
