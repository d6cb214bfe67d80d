"""One shot of a run by its number: the very shot of ``shots.csv``, with all that led to its end.

Times count from the pair's strike of the return, in s; places are in ft.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sim.analyses.shot_feet import Feet
from sim.analyses.shot_paths import (
    BallPath,
    Place,
    Struck,
    launch_of,
    return_path,
    third_shot_path,
)
from sim.analyses.shot_responses import Response, responses
from sim.blocks import Block, blocks_of
from sim.court import POST, Array
from sim.draws import BLOCK
from sim.errors import Refused, refuse_unknown
from sim.opponents import LANES, SHOTS
from sim.rallies import FATES, ball_of, drawn, play, reactions
from sim.scenario import Scenario
from sim.tables import Row
from sim.wording import DIRECTIONS

__all__ = [
    "BallPath",
    "Feet",
    "OneShot",
    "Place",
    "Response",
    "Struck",
    "block_with",
    "one_shot",
]


@dataclass(frozen=True)
class OneShot:
    """One third shot after returns in a ``direction``, and what every policy does with it.

    ``number`` counts from 1 for each return direction, as ``shot_number`` does in ``shots.csv``.
    ``fate`` is "in play", "net" or "out". ``over_net``, ``landing`` and ``end`` are places
    ``(t, x, y, z)`` of the third shot, the last its second bounce if it is in play; ``over_net`` is
    nothing for a ball that lands before the net, ``landing`` for one that the net stops.
    ``answers`` are by policy name.
    """

    scenario: Scenario
    direction: str
    number: int
    return_path: BallPath
    shot_path: BallPath
    contact: Place
    over_net: Place | None
    landing: Place | None
    end: Place
    net_clearance: float
    fate: str
    shot: str
    lane: str
    launch: Struck
    answers: dict[str, Response]

    @property
    def contact_time(self) -> float:
        """When the opponents strike."""
        return self.contact[0]

    @property
    def around_post(self) -> bool:
        """Whether it crosses the net's plane beyond a post, where there is no net to clear."""
        return self.over_net is not None and abs(self.over_net[1]) > POST

    @property
    def crossing(self) -> str:
        """What is said of how it gets to the pair's side."""
        return "past the post" if self.around_post else "over the net"

    @property
    def rows(self) -> list[Row]:
        """A row for each policy, as in ``shots.csv``."""
        return [response.row for response in self.answers.values()]


def one_shot(scenario: Scenario, direction: str, number: int) -> OneShot:
    """Play the block that holds the shot, whole as in a comparison, and take the shot out of it.

    Raises `Refused` for a direction or number that the scenario's run does not have, and for the
    rule best without places.
    """
    block = block_with(scenario, direction, number)
    shot, ball = (number - 1) % BLOCK, ball_of(scenario)
    rally = play(scenario, direction, block.number, block.shots).alone(shot)
    columns = drawn(scenario, (direction,), block.number, block.shots)
    uniform: dict[str, Array] = {name: column[[shot]] for name, column in columns.items()}
    contact, third = rally.contact, third_shot_path(ball, rally)
    x, y, z = (float(part[0]) for part in (contact.x, contact.y, contact.z))
    return OneShot(
        scenario=scenario,
        direction=direction,
        number=number,
        return_path=return_path(scenario, ball, direction, uniform, contact),
        shot_path=third.path,
        contact=(float(contact.time[0]), x, y, z),
        over_net=third.over_net,
        landing=third.landing,
        end=third.end,
        net_clearance=float(rally.net_clearance[0]),
        fate=FATES[rally.fate[0]],
        shot=SHOTS[rally.third_shot.shot[0]],
        lane=LANES[rally.third_shot.lane[0]],
        launch=launch_of(rally.third_shot.launch),
        answers=responses(scenario, ball, rally, reactions(scenario, uniform), number),
    )


def block_with(scenario: Scenario, direction: str, number: int) -> Block:
    """The block of the scenario's run that holds a shot; raises `Refused` if none does."""
    directions: Sequence[str] = scenario.return_of_serve.directions
    refuse_unknown("--direction", "a return direction", [direction], directions)
    shots = scenario.run.shots
    if number < 1:
        raise Refused(f"--number: {number} is no shot; count from 1: --number 1 to {shots}")
    if number > shots:
        raise Refused(
            f"--number: {number} is not a shot of this run: it has shots 1 to {shots} after "
            f"returns {DIRECTIONS[direction]}; --shots says how many a run has"
        )
    return blocks_of(shots, (number - 1) // BLOCK)[0]
