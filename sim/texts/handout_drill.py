"""The boxes of the page for players: places to walk off, and a drill with balls to count."""

from __future__ import annotations

from typing import Final

from sim.analyses.handout import Handout, in_paces, pace_of
from sim.analyses.handout_drill import SURE
from sim.analyses.handout_lessons import Lesson
from sim.court import BASELINE
from sim.players import Player
from sim.run_in import PLAYERS
from sim.texts.handout_places import BASELINE_NAME, deep, length, off_in_words, paces
from sim.texts.handout_words import Box, aside, balls
from sim.wording import DIRECTIONS

# The length of so many steps is told, for players to check theirs.
_STEPS: Final = 10
# Opponents so close (ft) to their baseline strike on it.
_ON_THE_LINE: Final = 1.0
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
    pair = result.scenario.pair
    left, right = (paces(in_paces(lesson.apart, getattr(pair, name))) for name in PLAYERS)
    told = left if left == right else f"{left} of the left player, {right} of the right one"
    return f"You stand {length(lesson.apart, units)} apart: {told}."


def _way(result: Handout, lesson: Lesson) -> list[str]:
    """From where the centre line meets another line to both places, in steps."""
    pair = result.scenario.pair
    targets = {name: lesson.players[name].target for name in PLAYERS}
    steps = {name: _steps(*targets[name], getattr(pair, name)) for name in PLAYERS}
    lines = {name: deep(targets[name][1]).line for name in PLAYERS}
    begin = "Face the net where the centre line meets the"
    if lines["left"] == lines["right"]:
        return [
            f"{begin} {lines['left']}. Left player: {steps['left']}. "
            f"Right player: {steps['right']}."
        ]
    return [
        f"{name.capitalize()} player: face the net where the centre line meets the "
        f"{lines[name]}; {steps[name]}."
        for name in PLAYERS
    ]


def _steps(x: float, y: float, player: Player) -> str:
    """The way from the centre line and the nearer line across it, in steps.

    >>> from sim.scenario import Scenario
    >>> _steps(-5.0, -8.0, Scenario(name="pair").pair.left)
    '2 paces to the left, half a pace back'
    """
    aside, off = in_paces(abs(x), player), deep(y)
    back = in_paces(off.length, player)
    parts = [f"{paces(aside)} to the {'left' if x < 0.0 else 'right'}"] if aside else []
    parts += [f"{paces(back)} {'back' if off.way == 'behind' else 'forward'}"] if back else []
    return ", ".join(parts) if parts else "stay there"


def _pace(result: Handout, units: str) -> str:
    pair = result.scenario.pair
    left, right = (length(_STEPS * pace_of(getattr(pair, name)), units) for name in PLAYERS)
    who = left if left == right else f"{left} (left player) and {right} (right player)"
    unit = "feet" if units == "us" else "metres"
    return f"A pace is a walking step: ten should measure {who}. If yours do not, go by the {unit}."


def drill_box(result: Handout, units: str) -> Box:
    """A drill with what to feed, what to count and what to expect."""
    training = result.drill
    lesson = result.after(training.direction)
    low, high = training.expected
    stop = "split step" if result.policy.split_step else "first step"
    luck = f"1 time in {round(2.0 / (1.0 - SURE))}"
    below = (
        f"Fewer than {low}: by luck alone that happens less than {luck}; check places and {stop}, "
        "and walk it again."
    )
    lobs = " For a lob turn and run." if training.mix["lob"] else ""
    return Box(
        f"Drill: count {training.balls} balls",
        (
            f"As after a return {DIRECTIONS[lesson.direction]}: the feeder stands "
            f"{_feeder(lesson, units)}. Your start: {starts_in_words(result)}.",
            f"On “go” you move; after {lesson.struck_after:.1f} seconds the feeder strikes: "
            f"{balls(training.mix)}, mixed, all of them in play.{lobs}",
            f"First at a walk, soft balls: until both stand right {_IN_A_ROW} times running. "
            "Then at speed.",
            "Count balls that one of you takes in control: no lunge, no full stretch. "
            f"The model expects {_from_to(low, high)}, if fed as your opponents play.",
            *([below] if low else []),
            f"{low} or more twice running: on to the next court, then to live points.",
        ),
    )


def _from_to(low: int, high: int) -> str:
    return f"{low}" if low == high else f"{low} to {high}"


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
        return f"both {back['left']}"
    return f"left player {back['left']}, right player {back['right']}"
