"""What a pair is taught on one page, as facts: which policy, its places, its leaks, a drill."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Final

from sim.analyses.handout_drill import Drill, Share, drill
from sim.analyses.handout_lessons import Lesson, lessons, rows_of, share_of
from sim.analyses.leaders import against, most_in_control, not_told_apart
from sim.blocks import Workers
from sim.comparison import Comparison, Progress, compare
from sim.errors import GET_BALLS_IN_PLAY, Refused, refuse_unknown
from sim.players import Player
from sim.scenario import Policy, Scenario
from sim.tables import Row
from sim.wording import DIRECTIONS

# A walking step as a part of standing height. [C] Common practice, no source: pedometers are set to
# 0.41 to 0.42 of height, as is commonly taught (memory).
PACE_OF_HEIGHT: Final = 0.41


@dataclass(frozen=True)
class Choice:
    """Which policy is taught, and what speaks for it.

    ``most`` is the policy with most in control, ``verdict`` what the comparison says of it against
    the ``baseline`` (nothing where it is the baseline). ``gave_way`` is the policy that would be
    taught by control alone, where another cannot be told from it and lets fewer balls past.
    ``alike`` are policies that cannot be told from the one taught, in control.
    """

    policy: Policy
    asked: bool
    most: str
    baseline: str
    verdict: str
    gave_way: str
    alike: tuple[str, ...]


@dataclass(frozen=True)
class Handout:
    """All that the page says. The comparison's baseline is the policy taught."""

    comparison: Comparison
    choice: Choice
    lessons: tuple[Lesson, ...]
    in_control: Share
    drill: Drill

    @property
    def scenario(self) -> Scenario:
        """The scenario as it was played."""
        return self.comparison.scenario

    @property
    def policy(self) -> Policy:
        """The policy taught."""
        return self.choice.policy

    def after(self, direction: str) -> Lesson:
        """The lesson after returns in one direction."""
        return next(lesson for lesson in self.lessons if lesson.direction == direction)

    @cached_property
    def rows(self) -> list[Row]:
        """All facts, a row each: a value, where it is an estimate its interval, and the unit."""
        return [
            {"policy": self.policy.name, "return_direction": "all", "player": "", **row}
            | {"return_direction": direction, "player": player}
            for direction, player, row in _facts(self)
        ]


def handout(
    scenario: Scenario,
    policy: str | None = None,
    workers: Workers | None = None,
    progress: Callable[[Progress], None] = lambda progress: None,
) -> Handout:
    """What a page for the pair says of the named policy, or of the one with most in control.

    The latter gives way to the baseline where it cannot be told from it, and what is left to one
    that cannot be told from that in control, but reaches more balls. The result does not depend on
    the workers. Raises `Refused` for an unknown name, and where no ball stays in play after
    returns in some direction.
    """
    refuse_unknown_policy(scenario, policy)
    comparison = compare(scenario, workers=workers, progress=progress)
    _refuse_without_balls(comparison)
    most, verdict = _leader(comparison)
    scenario, baseline = comparison.scenario, comparison.scenario.baseline.name
    taught = policy or (most if verdict in ("", "more") else baseline)
    if taught != baseline:
        comparison = compare(against(scenario, taught), workers=workers, progress=progress)
    safer, gave_way = "" if policy else _safer(comparison), ""
    if safer:
        taught, gave_way = safer, taught
        comparison = compare(against(scenario, taught), workers=workers, progress=progress)
    choice = Choice(
        policy=comparison.scenario.baseline,
        asked=policy is not None,
        most=most,
        baseline=baseline,
        verdict=verdict,
        gave_way=gave_way,
        alike=not_told_apart(comparison),
    )
    found = lessons(comparison, workers, progress)
    hardest = min(found, key=lambda lesson: lesson.in_control.share)
    (whole,) = rows_of(comparison.summary_rows, lane="all", policy=taught)
    return Handout(
        comparison=comparison,
        choice=choice,
        lessons=found,
        in_control=share_of(whole, "in_control"),
        drill=drill(hardest.direction, hardest.in_play_by_shot, hardest.in_control),
    )


def refuse_unknown_policy(scenario: Scenario, policy: str | None) -> None:
    """Raise `Refused` where the policy asked for is not one of the scenario's."""
    known = [each.name for each in scenario.policies]
    refuse_unknown("--policy", "a policy", [] if policy is None else [policy], known)


def pace_of(player: Player) -> float:
    """Length (ft) of a walking step."""
    return PACE_OF_HEIGHT * player.height


def in_paces(length: float, player: Player) -> float:
    """A length (ft) in walking steps of the player, to half a step.

    >>> from sim.scenario import Scenario
    >>> player = Scenario(name="pair").pair.left
    >>> round(pace_of(player), 2), in_paces(5.0, player), in_paces(0.4, player)
    (2.29, 2.0, 0.0)
    """
    return round(2.0 * length / pace_of(player)) / 2.0


def _leader(comparison: Comparison) -> tuple[str, str]:
    """The policy with most in control, and the verdict on it against the baseline."""
    most = most_in_control(comparison)
    against_it = rows_of(comparison.difference_rows, measure="in_control", policy=most)
    return most, against_it[0]["verdict"] if against_it else ""


def _safer(comparison: Comparison) -> str:
    """Of those that cannot be told from the baseline in control, who clearly reaches most more."""
    alike = not_told_apart(comparison)
    rows = rows_of(comparison.difference_rows, measure="reached", verdict="more")
    more = {row["policy"]: row["points"] for row in rows if row["policy"] in alike}
    return max(more, key=lambda name: more[name], default="")


def _refuse_without_balls(comparison: Comparison) -> None:
    for direction in comparison.scenario.return_of_serve.directions:
        row = rows_of(comparison.summary_rows, direction, lane="all")[0]
        if not row["in_play"]:
            raise Refused(
                f"after returns {DIRECTIONS[direction]} none of {row['shots']} third shots stayed "
                "in play: there is nothing to teach; " + GET_BALLS_IN_PLAY
            )


def _facts(result: Handout) -> Iterator[tuple[str, str, Row]]:
    """Return direction, player and fact, value, interval and unit of everything on the page."""
    yield "all", "", _estimate("in_control", result.in_control)
    for lesson in result.lessons:
        for name, fact in _facts_of_court(lesson):
            yield lesson.direction, name, fact
        for name, standing in lesson.players.items():
            player = getattr(result.scenario.pair, name)
            for what in ("start", "target", "found"):
                x, y = getattr(standing, what)
                yield lesson.direction, name, _fact(f"{what}_from_centre", x, "ft")
                yield lesson.direction, name, _fact(f"{what}_from_net", -y, "ft")
            yield lesson.direction, name, _estimate("arrived", standing.arrived)
            yield lesson.direction, name, _fact("short_by", standing.short_by, "ft")
            yield lesson.direction, name, _fact("apart", in_paces(lesson.apart, player), "paces")
    for name in ("left", "right"):
        yield "all", name, _fact("pace", pace_of(getattr(result.scenario.pair, name)), "ft")
    training = result.drill
    for shot, balls in training.mix.items():
        yield training.direction, "", _fact(f"drill_{shot}", balls, "balls")
    low, high = training.expected
    yield training.direction, "", _fact("drill_expected_low", low, "balls")
    yield training.direction, "", _fact("drill_expected_high", high, "balls")


def _facts_of_court(lesson: Lesson) -> Iterator[tuple[str, Row]]:
    """Facts of one return direction that are not about one player alone."""
    yield "", _fact("in_play", lesson.in_play, "balls")
    yield "", _fact("strike_from_centre", lesson.contact[0], "ft")
    yield "", _fact("strike_from_net", lesson.contact[1], "ft")
    yield "", _fact("struck_after", lesson.struck_after, "s")
    yield "", _fact("apart", lesson.apart, "ft")
    yield "", _estimate("in_control", lesson.in_control)
    yield "", _estimate("reached", lesson.reached)
    yield "", _estimate(f"in_control_lane_{lesson.hardest_lane}", lesson.in_hardest_lane)
    if lesson.opening:
        yield "", _estimate(f"left_open_{lesson.opening.leak}", lesson.opening.share)
    middle = lesson.middle
    yield "", _estimate("between_them", Share(*middle.between[2:]))
    yield "left", _estimate("takes_the_middle", Share(*middle.by_left[2:]))
    yield "right", _estimate("takes_the_middle", Share(*middle.by_right[2:]))


def _fact(name: str, value: float, unit: str) -> Row:
    return {"fact": name, "value": value, "low": None, "high": None, "unit": unit}


def _estimate(name: str, share: Share) -> Row:
    value, low, high = share
    return {"fact": name, "value": value, "low": low, "high": high, "unit": "share"}
