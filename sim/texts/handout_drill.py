"""The boxes of the page for players: places to walk off, and a drill with balls to count."""

from __future__ import annotations

import math
from typing import Final

from sim.analyses.handout import Handout, in_paces, pace_of
from sim.analyses.handout_drill import SURE
from sim.analyses.handout_lessons import Lesson
from sim.court import BASELINE
from sim.players import Player
from sim.run_in import PLAYERS
from sim.texts.handout_places import (
    BASELINE_NAME,
    across,
    deep,
    halves,
    just_beside,
    length,
    off_in_words,
    paces,
    rounded,
)
from sim.texts.handout_words import Box, aside, balls
from sim.units import SHOWN_UNIT, in_unit
from sim.wording import DIRECTIONS

# The length of so many steps is told, for players to check theirs.
_STEPS: Final = 10.0
# Opponents so close (ft) to their baseline strike on it.
_ON_THE_LINE: Final = 1.0
# Soft balls in a row before the pair goes on at speed. [C] common practice, no source
_IN_A_ROW: Final = 3
# [C] common practice, no source
_DOSE: Final = (
    "Five balls, then walk back and rest a minute; 20 at most. Clear loose balls after every five."
)
_COUNT: Final = ("one", "two", "three", "four", "five", "six")
# What drives are called up to which speed (mph). [A]
_FIRM: Final = (("an easy drive", 30.0), ("a firm drive", 42.0), ("a hard drive", math.inf))


def walk_box(result: Handout, units: str) -> Box:
    """How far apart they stand, how to walk it off, and how long a pace is."""
    lesson = result.after(result.drill.direction)
    heading = "Walk it off"
    if not _same_places(result):
        heading += f" (for the drill: return {DIRECTIONS[lesson.direction]})"
    lines = (_apart(result, lesson, units), *_way(result, lesson, units), _pace(result, units))
    return Box(heading, lines)


def _same_places(result: Handout) -> bool:
    first = result.lessons[0].players
    return all(
        each.players[name].target == first[name].target
        for each in result.lessons
        for name in PLAYERS
    )


def _apart(result: Handout, lesson: Lesson, units: str) -> str:
    """How far apart they stand: where that is walked from between them, the sum of both ways."""
    pair = {name: getattr(result.scenario.pair, name) for name in PLAYERS}
    x, y = zip(*(lesson.players[name].target for name in PLAYERS), strict=True)
    if x[0] < 0.0 < x[1] and y[0] == y[1] and not any(just_beside(across(each)) for each in x):
        told = sum(in_paces(abs(aside), pair[name]) for aside, name in zip(x, PLAYERS, strict=True))
        whole = sum(rounded(abs(aside), units) for aside in x)
        return f"{length(whole, units)} apart, about {paces(told)}."
    left, right = (in_paces(lesson.apart, pair[name]) for name in PLAYERS)
    number = paces(left)
    if left != right:
        number += f" of the left player, {halves(right)} of the right one"
    return f"{length(lesson.apart, units)} apart, about {number}."


def _way(result: Handout, lesson: Lesson, units: str) -> list[str]:
    """From where the centre line meets another line to both places, in steps."""
    pair = result.scenario.pair
    targets = {name: lesson.players[name].target for name in PLAYERS}
    aside = {name: _aside(targets[name][0], getattr(pair, name), units) for name in PLAYERS}
    back = {name: _back(targets[name][1], getattr(pair, name), units) for name in PLAYERS}
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


def _aside(x: float, player: Player, units: str) -> str:
    """The way from the centre line across the court, its length first.

    >>> from sim.scenario import Scenario
    >>> player = Scenario(name="pair").pair.left
    >>> _aside(-5.0, player, "us"), _aside(0.05, player, "us"), _aside(0.3, player, "us")
    ('5 ft (about 2 paces) to the left', '', 'just to the right')
    >>> _back(-8.0, player, "us"), _back(-21.0, player, "us")
    ('1 ft (about half a pace) back', '1 ft (about half a pace) forward')
    """
    side = "left" if x < 0.0 else "right"
    if just_beside(across(x)):
        return f"just to the {side}"
    told = _told(abs(x), player, units)
    return f"{told} to the {side}" if told else ""


def _back(y: float, player: Player, units: str) -> str:
    """The way from the nearer line back or forward, its length first."""
    off = deep(y)
    told = _told(off.length, player, units)
    return f"{told} {'back' if off.way == 'behind' else 'forward'}" if told else ""


def _told(feet: float, player: Player, units: str) -> str:
    number = in_paces(feet, player)
    return f"{length(feet, units)} (about {paces(number)})" if number else ""


def _pace(result: Handout, units: str) -> str:
    pair = result.scenario.pair
    left, right = (length(_STEPS * pace_of(getattr(pair, name)), units) for name in PLAYERS)
    who = left if left == right else f"{left} (left player), {right} (right)"
    return f"Check: ten walking steps measure {who}."


def drill_box(result: Handout, units: str) -> Box:
    """A drill: who does what, how much of it, what to count and what to expect."""
    training = result.drill
    lesson = result.after(training.direction)
    low, high = training.expected
    lobs = " Lobs: call “mine”, turn and run, or let it bounce." if training.mix["lob"] else ""
    return Box(
        f"Drill: count {training.balls} balls",
        (
            f"As after a return {DIRECTIONS[lesson.direction]}: feeder {_feeder(lesson, units)}; "
            "you start as usual.",
            f"Feeder calls “Go”, counts {_counting(lesson.struck_after)}, then feeds one of "
            f"{balls(training.mix)}, in any order{_speed(result, units)}. A third person counts "
            "balls met in balance. Net balls are fed again.",
            f"{_DOSE}{lobs}",
            f"First soft balls, walking, until both stop on their marks {_IN_A_ROW} times "
            f"running. Then at speed: expect {_expected(low, high)} of {training.balls}, if fed as "
            "your opponents play.",
            *_what_then(result, low),
        ),
    )


def _counting(seconds: float) -> str:
    """A time as it is counted aloud.

    >>> _counting(1.93)
    '“one thousand one, one thousand two” (1.9 s)'
    """
    counted = ", ".join(f"one thousand {word}" for word in _COUNT[: max(round(seconds), 1)])
    return f"“{counted}” ({seconds:.1f} s)"


def _speed(result: Handout, units: str) -> str:
    """The opponents' usual drive, as a number and in a word; nothing where none are fed."""
    if not result.drill.mix["drive"]:
        return ""
    speed = result.scenario.opponents.drive.speed.typical()
    unit = SHOWN_UNIT[units]["speed"]
    word = next(word for word, end in _FIRM if in_unit(speed, "speed", "mph") < end)
    return f" (drives {in_unit(speed, 'speed', unit):.0f} {unit}, {word})"


def _expected(low: int, high: int) -> str:
    return f"{low}" if low == high else f"{low} to {high}"


def _what_then(result: Handout, low: int) -> list[str]:
    """When to go on, and what to look at when too few were taken."""
    onward = "go to another picture, then to live points"
    if len(result.lessons) == 1:
        onward = "go on to live points"
    if low == 0:
        return [f"Then {onward}."]
    stop = " and split step" if result.policy.split_step else ""
    luck = f"{50.0 * (1.0 - SURE):.0f} times in 100"
    return [
        f"Fewer than {low} (by luck less than {luck}): check places{stop}. {low} or more on two "
        f"days: {onward}."
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
