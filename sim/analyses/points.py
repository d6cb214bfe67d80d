"""Points to be shown: which two policies face which shot, and how it was picked."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from typing import Final

import numpy as np

from sim.analyses.one_shot import OneShot, block_with, one_shot
from sim.analyses.shot_responses import Response
from sim.answers import Answer, answer_all
from sim.draws import BLOCK, REPLICATES, Sampling, replicate_of
from sim.errors import Refused, refuse_unknown
from sim.opponents import SHOTS
from sim.rallies import Rally, play
from sim.run_in import PLAYERS
from sim.scenario import Scenario
from sim.tables import Row, share_with_interval
from sim.third_shot import DRIVE

Pair = tuple[str, str]

# An ordinary shot is within so many of the middle hundred of its kind.
ORDINARY: Final = 90
POPPED_UP: Final = "popped-up"
UNUSUAL: Final = "unusual"


@dataclass(frozen=True)
class Alone:
    """The balls that one of two policies has in control and the other has not.

    ``numbers`` are those of their shots: ordinary drives, other ordinary shots, the rest; see
    `oddities`. ``share`` is that of the balls in play, with its interval; not a number where none
    is in play.
    """

    policy: str
    numbers: tuple[int, ...]
    share: float
    low: float
    high: float


@dataclass(frozen=True)
class Differing:
    """Where two policies differ in control, among the first block's balls after such returns.

    ``in_play`` are the numbers of all shots in play.
    """

    sides: tuple[Alone, Alone]
    in_play: tuple[int, ...]

    def examples(self, most: int) -> list[int]:
        """Numbers of at most so many shots to show, in turn from both sides.

        The side with more of them begins. Where the two never differ it is the first ball in play,
        and without one the first shot.
        """
        first, second = sorted((side.numbers for side in self.sides), key=len, reverse=True)
        both = [number for pair in zip_longest(first, second) for number in pair]
        return [number for number in both if number][:most] or [*self.in_play[:1]] or [1]


@dataclass(frozen=True)
class Point:
    """One shot and what two policies do with it; ``picked`` is nothing for a shot asked for.

    ``oddity`` says in a word how it looks unlike its kind, see `oddities`; empty if it does not.
    """

    shot: OneShot
    policies: Pair
    picked: Differing | None
    oddity: str

    @property
    def name(self) -> str:
        """For files."""
        return f"point-{self.shot.direction}-{self.shot.number}"

    @property
    def responses(self) -> tuple[Response, Response]:
        """What both policies do."""
        first, second = (self.shot.answers[name] for name in self.policies)
        return first, second

    @property
    def rows(self) -> list[Row]:
        """A row for each policy, as in ``shots.csv``."""
        return [response.row for response in self.responses]


def check_pair(scenario: Scenario, asked: Sequence[str]) -> None:
    """Make sure, before any work, that two policies can be drawn, those asked for if any are.

    Raises `Refused` for unknown policies, for the same one twice, and where there is only one.
    """
    names = [policy.name for policy in scenario.policies]
    refuse_unknown("--between", "a policy", asked, names)
    if len(set(asked)) == 1:
        raise Refused(f'--between: "{asked[0]}" twice; name two policies of the scenario')
    if len(names) < 2:
        raise Refused(
            f'--between: the scenario has one policy, "{names[0]}", and two are drawn side by '
            "side; add another to its [[policies]]"
        )


def baseline_and_farthest(scenario: Scenario, direction: str) -> Pair:
    """The baseline, and the policy whose share in control is farthest from the baseline's.

    Farther for better or worse, among the first block's balls after returns in the direction.
    """
    names = [policy.name for policy in scenario.policies]
    _, answers = _first_block(scenario, direction, names)
    in_control = {name: int(answers[name].in_control.sum()) for name in names}
    baseline = scenario.baseline.name
    others = [name for name in names if name != baseline]
    return baseline, max(others, key=lambda name: abs(in_control[name] - in_control[baseline]))


def differing(scenario: Scenario, direction: str, policies: Pair) -> Differing:
    """Which balls after returns in a direction only one of the two has in control."""
    rally, answers = _first_block(scenario, direction, policies)
    first, second = (answers[name].in_control for name in policies)
    one, other = (
        _alone(rally, name, only, scenario.run.sampling)
        for name, only in zip(policies, (first & ~second, second & ~first), strict=True)
    )
    return Differing((one, other), _numbers(rally.in_play))


def points(
    scenario: Scenario, direction: str, policies: Pair, number: int | None, most: int
) -> Iterator[Point]:
    """The shot of that ``number``, or at most so many that show how the two policies differ.

    Raises `Refused` for a direction or number that the scenario's run does not have.
    """
    picked = differing(scenario, direction, policies) if number is None else None
    numbers = [number] if number is not None else picked.examples(most) if picked else []
    for example in numbers:
        block = block_with(scenario, direction, example)
        odd = oddities(play(scenario, direction, block.number, block.shots))
        shot = one_shot(scenario, direction, example)
        yield Point(shot, policies, picked, odd.get((example - 1) % BLOCK, ""))


def usual_direction(scenario: Scenario) -> str:
    """The return direction that is drawn if none is asked for: cross, where there is one."""
    given = scenario.return_of_serve.directions
    return "cross" if "cross" in given else given[0]


def oddities(rally: Rally) -> dict[int, str]:
    """The shots in play that do not look like what they are called, by index, each in a word.

    An ordinary drive clears the net by as much, and is struck as fast, as the middle 90 of 100
    drives in play, by each by itself; drops and lobs alike. A drive higher than that is popped up.
    """
    launch, edge = rally.third_shot.launch, 0.5 * (100 - ORDINARY)
    speed = np.sqrt(launch.x**2 + launch.y**2 + launch.z**2)
    found: dict[int, str] = {}
    for kind in range(len(SHOTS)):
        shots = rally.in_play[rally.third_shot.shot[rally.in_play] == kind]
        if not shots.size:
            continue
        for values in (speed[shots], rally.net_clearance[shots]):
            low, high = np.percentile(values, (edge, 100.0 - edge))
            found |= dict.fromkeys(shots[(values < low) | (values > high)].tolist(), UNUSUAL)
        if kind == DRIVE:
            found |= dict.fromkeys(shots[values > high].tolist(), POPPED_UP)
    return found


def end_of(shot: OneShot, response: Response) -> float:
    """When (s) the point is over for one policy.

    At the hit; where nobody reaches the ball, as it passes the pair's mean depth, or at its second
    bounce before that; at its end for a ball that is not in play.
    """
    if response.hit is not None:
        return response.hit[0]
    depth = float(np.mean([response.found[name][1] for name in PLAYERS]))
    passed = np.flatnonzero(shot.shot_path.y <= depth)
    if shot.fate != "in play" or not passed.size:
        return shot.end[0]
    return float(shot.shot_path.times[passed[0]])


def ball_at(shot: OneShot, time: float) -> tuple[float, float, float]:
    """Where the ball is (ft), ``time`` s after the return was struck."""
    path = shot.return_path if time < shot.contact_time else shot.shot_path
    x, y, z = path.at(np.array([time]))
    return float(x[0]), float(y[0]), float(z[0])


def feet_at(response: Response, player: str, time: float) -> tuple[float, float]:
    """Where a player's feet are (ft), ``time`` s after the return was struck."""
    x, y = response.feet(player, np.array([time]))
    return float(x[0]), float(y[0])


def moment_rows(point: Point, times: Iterable[float]) -> Iterator[Row]:
    """The ball and both players' feet at the times (s), up to the end for each policy."""
    shot = point.shot
    for response in point.responses:
        end = end_of(shot, response)
        for time in times:
            if time > end:
                break
            row: Row = {"shot_number": shot.number, "return_direction": shot.direction}
            row |= {"policy": response.policy.name, "time_s": time}
            row |= zip(("ball_x_ft", "ball_y_ft", "ball_z_ft"), ball_at(shot, time), strict=True)
            for name in PLAYERS:
                x, y = feet_at(response, name, time)
                row |= {f"{name}_x_ft": x, f"{name}_y_ft": y}
            yield row


def _first_block(
    scenario: Scenario, direction: str, names: Iterable[str]
) -> tuple[Rally, dict[str, Answer]]:
    """The run's first block after returns in a direction, and the answers of some policies."""
    block = block_with(scenario, direction, 1)
    rally = play(scenario, direction, block.number, block.shots)
    policies = {policy.name: policy for policy in scenario.policies}
    answers = answer_all(scenario, rally, [policies[name] for name in names])
    return rally, dict(zip(names, answers, strict=True))


def _alone(rally: Rally, policy: str, only: np.ndarray, sampling: Sampling) -> Alone:
    """The balls in play that ``only`` this policy has in control."""
    shots = rally.in_play[only]
    odd = np.isin(shots, [*oddities(rally)])
    drives = rally.third_shot.shot[shots] == DRIVE
    replicate = replicate_of(rally.shots)
    hits, trials = (
        np.bincount(replicate[chosen], minlength=REPLICATES) for chosen in (shots, rally.in_play)
    )
    parts = shots[drives & ~odd], shots[~drives & ~odd], shots[odd]
    numbers = _numbers(np.concatenate(parts))
    return Alone(policy, numbers, *share_with_interval(hits, trials, sampling))


def _numbers(shots: np.ndarray) -> tuple[int, ...]:
    """Numbers of shots as they are counted for people, from 1."""
    return tuple((shots + 1).tolist())
