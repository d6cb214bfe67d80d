"""What each court of a page for players shows: places, the middle, what is left open.

Everything is of the policy that is the comparison's baseline. Places are means over the balls in
play of the first block of shots, shares are the comparison's. Lengths in ft, times in s.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from sim.analyses.court_views import mean_place, places_through
from sim.analyses.handout_drill import Share
from sim.analyses.middle import Middle, middle
from sim.answers import LEAKS, REACHED, Answer
from sim.blocks import Workers
from sim.comparison import Comparison, Example, Progress
from sim.opponents import LANES, SHOTS
from sim.rallies import Rally
from sim.run_in import starts, targets
from sim.tables import Row

Point = tuple[float, float]

# A way through is told as left open from this share of the balls in play on. [A]
LEFT_OPEN: Final = 0.03
# Never told as left open: nobody stands so as to leave the ball in front of them.
SHORT: Final = "short"
# The leak that is told by where the balls land, not by where they pass.
LANDS: Final = ("over",)
# Where most of the balls left open pass: their middle eight of ten.
_TENTHS: Final = (0.1, 0.9)


@dataclass(frozen=True)
class Standing:
    """One player after returns in one direction: start, mean target, where the shot finds them.

    ``arrived`` is how often the player is at the target by then.
    """

    start: Point
    target: Point
    found: Point
    arrived: Share

    @property
    def to_run(self) -> float:
        """How far (ft) the target is from the start."""
        return math.dist(self.start, self.target)

    @property
    def short_by(self) -> float:
        """How far (ft) from the mean target the shot finds the player on average."""
        return math.dist(self.found, self.target)


@dataclass(frozen=True)
class Opening:
    """A way through (one of `LEAKS`): its share of the balls in play, and where they pass.

    ``across`` and ``deep`` bound the middle eight of ten of them, ``x`` and ``y`` (ft): where they
    pass the pair's mean depth, or where they land if they go over.
    """

    leak: str
    share: Share
    across: tuple[float, float]
    deep: tuple[float, float]


@dataclass(frozen=True)
class Lesson:
    """What a court of the page shows: the balls in play after returns in one direction.

    ``contact`` is where the opponents strike on average (x, y), ``contact_spread`` the standard
    deviation of x, ``struck_after`` how long after the return. ``hardest_lane`` is the lane aimed
    at with the least in control, ``in_hardest_lane`` what the pair gets there. ``opening`` is the
    largest way through but for short balls, if `LEFT_OPEN`. ``mostly`` is the leak that more than
    half of the balls take that get past, or nothing.
    """

    direction: str
    in_play: int
    contact: Point
    contact_spread: float
    struck_after: float
    players: dict[str, Standing]
    in_control: Share
    reached: Share
    hardest_lane: str
    in_hardest_lane: Share
    opening: Opening | None
    mostly: str
    in_play_by_shot: dict[str, int]
    middle: Middle

    @property
    def apart(self) -> float:
        """Distance between both targets."""
        return math.dist(self.players["left"].target, self.players["right"].target)


def lessons(
    comparison: Comparison,
    workers: Workers | None = None,
    progress: Callable[[Progress], None] = lambda progress: None,
) -> tuple[Lesson, ...]:
    """A lesson for each return direction, all of which have balls in play."""
    scenario = comparison.scenario
    policy = scenario.baseline
    alone = scenario.model_copy(update={"policies": [policy]})
    between = {each.direction: each for each in middle(alone, workers, progress)}
    return tuple(
        _lesson(
            comparison, example, example.answers[scenario.policies.index(policy)], between[name]
        )
        for name, example in comparison.examples.items()
    )


def _lesson(comparison: Comparison, example: Example, answer: Answer, between: Middle) -> Lesson:
    scenario, rally = comparison.scenario, example.rally
    policy, direction = scenario.baseline, rally.direction
    contact = rally.contact.take(rally.in_play)
    goals = targets(scenario, policy, direction, contact)
    (way,) = rows_of(comparison.run_in_rows, direction, shot=None, policy=policy.name)
    players = {
        name: Standing(
            start, mean_place(goals[name]), mean_place(answer.places[name]), _arrived(way, name)
        )
        for name, start in starts(scenario, policy).items()
    }
    whole = _summary(comparison, direction)
    lanes = [_summary(comparison, direction, lane) for lane in LANES]
    hardest = min((row for row in lanes if row["in_play"]), key=lambda r: r["in_control_share"])
    return Lesson(
        direction=direction,
        in_play=whole["in_play"],
        contact=(float(contact.x.mean()), float(contact.y.mean())),
        contact_spread=float(contact.x.std()),
        struck_after=float(contact.time.mean()),
        players=players,
        in_control=share_of(whole, "in_control"),
        reached=share_of(whole, "reached"),
        hardest_lane=hardest["lane"],
        in_hardest_lane=share_of(hardest, "in_control"),
        opening=_opening(comparison, rally, answer),
        mostly=_mostly(comparison, direction),
        in_play_by_shot={
            shot: _summary(comparison, direction, shot=shot)["in_play"] for shot in SHOTS
        },
        middle=between,
    )


def _opening(comparison: Comparison, rally: Rally, answer: Answer) -> Opening | None:
    """The largest way through but for short balls, where that is left open."""
    rows = (row for row in _leaks(comparison, rally.direction) if row["leak"] != SHORT)
    row = max(rows, key=lambda row: row["balls"])
    these = answer.leak == LEAKS.index(row["leak"])
    if row["leak_share"] < LEFT_OPEN or not these.any():
        return None
    if row["leak"] in LANDS:
        places = np.column_stack([rally.rebound.origin_x[these], rally.rebound.origin_y[these]])
    else:
        only_these = replace(answer, leak=np.where(these, answer.leak, REACHED))
        places = places_through(rally, only_these, most=these.size)
    (left, near), (right, far) = np.quantile(places, _TENTHS, axis=0).tolist()
    return Opening(row["leak"], share_of(row, "leak"), (left, right), (near, far))


def _mostly(comparison: Comparison, direction: str) -> str:
    """The leak that more than half of the balls take that get past."""
    rows = _leaks(comparison, direction)
    largest = max(rows, key=lambda row: row["balls"])
    return largest["leak"] if 2 * largest["balls"] > sum(row["balls"] for row in rows) else ""


def _leaks(comparison: Comparison, direction: str) -> list[Row]:
    name = comparison.scenario.baseline.name
    return rows_of(comparison.leak_rows, direction, policy=name)


def _arrived(way: Row, name: str) -> Share:
    """How often a player is there in time; the interval of a mean may leave 0 to 1."""
    share, low, high = (way[f"{name}_arrived_share{end}"] for end in ("", "_low", "_high"))
    return Share(share, max(low, 0.0), min(high, 1.0))


def _summary(comparison: Comparison, direction: str, lane: str = "all", shot: str = "all") -> Row:
    name = comparison.scenario.baseline.name
    (row,) = rows_of(comparison.summary_rows, direction, shot=shot, policy=name, lane=lane)
    return row


def rows_of(
    rows: list[Row], direction: str = "all", *, shot: str | None = "all", **wanted: str
) -> list[Row]:
    """Rows of one return direction, of one kind of shot unless None, with the values wanted."""
    wanted |= {"return_direction": direction} | ({} if shot is None else {"shot": shot})
    return [row for row in rows if all(row[key] == value for key, value in wanted.items())]


def share_of(row: Row, name: str) -> Share:
    """A share of a row with its interval."""
    return Share(row[f"{name}_share"], row[f"{name}_low"], row[f"{name}_high"])
