"""The boxes of the page for players: places to walk off, and a drill with balls to count."""

from __future__ import annotations

from typing import Final

from sim.analyses.handout import Handout, in_paces, pace_of
from sim.analyses.handout_drill import SURE
from sim.analyses.handout_lessons import Lesson
from sim.court import BASELINE
from sim.players import Player
from sim.run_in import PLAYERS
from sim.texts.handout_places import BASELINE_NAME, deep, halves, length, off_in_words, paces
from sim.texts.handout_words import Box, aside, balls
from sim.wording import DIRECTIONS

# The length of so many steps is told, for players to check theirs.
_STEPS: Final = 10.0
# Opponents so close (ft) to their baseline strike on it.
_ON_THE_LINE: Final = 1.0
# Paces (of walks of half paces) from which on a sum is called a good one, or not quite one.
_BY: Final = 0.2
# Soft balls in a row before the pair goes on at speed. [C] common practice, no source
_IN_A_ROW: Final = 3


def walk_box(result: Handout, units: str) -> Box:
    """How far apart they stand, how to walk it off, and how long a pace is."""
    lesson = _shown(result)
    heading = "Walk it off"
    if not _same_places(result):
        heading += f" (after a return {DIRECTIONS[lesson.direction]})"
    lines = (_apart(result, lesson, units), *_way(result, lesson), _pace(result, units))
    return Box(heading, lines)


def _shown(result: Handout) -> Lesson:
    """The lesson whose places are walked off: after returns to the middle, if there are any."""
    return next((each for each in result.lessons if each.direction == "middle"), result.lessons[0])


def _same_places(result: Handout) -> bool:
    first = result.lessons[0].players
    return all(
        each.players[name].target == first[name].target
        for each in result.lessons
        for name in PLAYERS
    )


def _apart(result: Handout, lesson: Lesson, units: str) -> str:
    """How far apart they stand, and in paces, those that each of them walks added up."""
    return f"{length(lesson.apart, units)} apart: {_paces_apart(result, lesson)}."


def _paces_apart(result: Handout, lesson: Lesson) -> str:
    """Paces between the two: as many as are walked from between them, a good or a small number."""
    pair = {name: getattr(result.scenario.pair, name) for name in PLAYERS}
    x, y = zip(*(lesson.players[name].target for name in PLAYERS), strict=True)
    if x[0] < 0.0 < x[1] and y[0] == y[1]:
        told = sum(in_paces(abs(aside), pair[name]) for aside, name in zip(x, PLAYERS, strict=True))
        more = sum(abs(aside) / pace_of(pair[name]) for aside, name in zip(x, PLAYERS, strict=True))
        sign = "a good " if more - told > _BY else "not quite " if told - more > _BY else ""
        return f"{sign}{paces(told)}"
    left, right = (in_paces(lesson.apart, pair[name]) for name in PLAYERS)
    if left == right:
        return paces(left)
    return f"{paces(left)} of the left player, {halves(right)} of the right one"


def _way(result: Handout, lesson: Lesson) -> list[str]:
    """From where the centre line meets another line to both places, in steps."""
    pair = result.scenario.pair
    targets = {name: lesson.players[name].target for name in PLAYERS}
    aside = {name: _aside(targets[name][0], getattr(pair, name)) for name in PLAYERS}
    back = {name: _back(targets[name][1], getattr(pair, name)) for name in PLAYERS}
    lines = {name: deep(targets[name][1]).line for name in PLAYERS}
    begin = "Face the net where the centre line meets the"
    if lines["left"] != lines["right"]:
        return [
            f"{begin} {lines[name]}: {name} player {_steps(aside[name], back[name])}."
            for name in PLAYERS
        ]
    if back["left"] == back["right"] != "" and all(aside.values()):
        each = ", ".join(f"{name} player {aside[name]}" for name in PLAYERS)
        return [f"{begin} {lines['left']}: {each}, both {back['left']}."]
    each = "; ".join(f"{name} player {_steps(aside[name], back[name])}" for name in PLAYERS)
    return [f"{begin} {lines['left']}: {each}."]


def _steps(*parts: str) -> str:
    return ", ".join(part for part in parts if part) or "stay there"


def _aside(x: float, player: Player) -> str:
    """The way from the centre line across the court, in steps.

    >>> from sim.scenario import Scenario
    >>> player = Scenario(name="pair").pair.left
    >>> _aside(-5.0, player), _aside(0.2, player), _back(-8.0, player), _back(-21.0, player)
    ('2 paces to the left', '', 'half a pace back', 'half a pace forward')
    """
    number = in_paces(abs(x), player)
    return f"{paces(number)} to the {'left' if x < 0.0 else 'right'}" if number else ""


def _back(y: float, player: Player) -> str:
    """The way from the nearer line back or forward, in steps."""
    off = deep(y)
    number = in_paces(off.length, player)
    return f"{paces(number)} {'back' if off.way == 'behind' else 'forward'}" if number else ""


def _pace(result: Handout, units: str) -> str:
    pair = result.scenario.pair
    left, right = (length(_STEPS * pace_of(getattr(pair, name)), units) for name in PLAYERS)
    who = left if left == right else f"{left} (left player), {right} (right)"
    return f"Check: ten walking steps measure {who}."


def drill_box(result: Handout, units: str) -> Box:
    """A drill with what to feed, what to count and what to expect."""
    training = result.drill
    lesson = result.after(training.direction)
    low, high = training.expected
    lobs = " Turn and run for lobs." if training.mix["lob"] else ""
    return Box(
        f"Drill: count {training.balls} balls",
        (
            f"As after a return {DIRECTIONS[lesson.direction]}: feeder {_feeder(lesson, units)}; "
            "you start as usual.",
            f"“Go”: you move. {lesson.struck_after:.1f} seconds later comes one of "
            f"{balls(training.mix)}, in any order, all in play.{lobs}",
            f"Walk it first, soft balls, until both do it right {_IN_A_ROW} times running.",
            f"At speed, count balls taken without a lunge. {_expected(low, high)}, if fed as your "
            "opponents play.",
            *_what_then(result, low),
        ),
    )


def _expected(low: int, high: int) -> str:
    return f"Expect {low}" if low == high else f"Expect {low} to {high}"


def _what_then(result: Handout, low: int) -> list[str]:
    """When to go on, and what to look at when too few were taken."""
    if low == 0:
        return ["Then the next court, then live points."]
    stop = " and split step" if result.policy.split_step else ""
    luck = f"1 time in {round(2.0 / (1.0 - SURE))}"
    return [
        f"Fewer than {low} (by luck less than {luck}): check places{stop}. {low} or more twice "
        "running: next court, then live points."
    ]


def _feeder(lesson: Lesson, units: str) -> str:
    """Where the opponents strike from on average, as the pair sees it."""
    x, y = lesson.contact
    line = "on the far baseline"
    if abs(y - BASELINE) >= _ON_THE_LINE:
        side = "behind" if y > BASELINE else "inside"
        line = f"{length(abs(y - BASELINE), units)} {side} the far {BASELINE_NAME}"
    return f"{line}, {aside(x, units)}"


def starts_in_words(result: Handout) -> str:
    """Where the two start, which no return changes."""
    pair, players = result.scenario.pair, result.lessons[0].players
    back = {
        name: off_in_words(deep(players[name].start[1]), getattr(pair, name)) for name in PLAYERS
    }
    if back["left"] == back["right"]:
        return f"both start {back['left']}"
    return f"the left player starts {back['left']}, the right player {back['right']}"
