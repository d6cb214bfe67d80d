"""What the page for players says, composed from facts: plain words, paces, natural frequencies."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from sim.analyses.handout import Handout, in_paces
from sim.analyses.handout_lessons import SHORT, Lesson, rows_of
from sim.return_of_serve import returner_side
from sim.run_in import PLAYERS
from sim.scenario import Scenario
from sim.shell_words import to_copy
from sim.texts.handout_drill import drill_box, starts_in_words, walk_box
from sim.texts.handout_places import (
    CENTRE_LINE,
    across,
    deep,
    deep_from,
    off_in_words,
    rounded,
    short,
    told_apart,
)
from sim.texts.handout_words import Box, in_hundred, opponents, within
from sim.wording import CAUTIONS, DIRECTIONS, LIMITS, TOLD, balls, joined, quoted

_PLANS: Final = {
    "follow": "Shift together, part of the way towards the side they strike from.",
    "tethered": "The returner runs straight up, the partner keeps the same distance beside.",
    "halves": "Each of you takes the middle of your own half.",
    "centre": "Stand side by side, the centre line between you.",
    "bisect": "Stand across the middle of the angle they can hit into.",
    "fixed": "Stand where the courts show.",
    "best": "Stand where the courts show.",
}
# The middle belongs to a player who takes so many times as many of its balls as the other. [A]
CLEARLY_MORE: Final = 1.5
# A hand is told where it takes so many of a player's balls in the middle. [A]
_MOSTLY: Final = 0.8
# Below these shares next to no ball gets past the pair, hardly one does, and hardly one stretches
# it. [A]
_NEXT_TO_NONE: Final = 0.005
_HARDLY: Final = 0.03
_STRETCHED: Final = 0.03
_MEANING: Final = " (met only with a lunge, or not at all)"


@dataclass(frozen=True)
class CourtWords:
    """The words of one court: heading, share, three sentences, and those on the picture.

    ``across`` and ``deep`` are each player's distances off a line, in one or two short lines;
    ``taker`` is who takes the middle, or nothing.
    """

    direction: str
    heading: str
    control: str
    sentences: tuple[str, str, str]
    across: dict[str, tuple[str, ...]]
    deep: dict[str, tuple[str, ...]]
    taker: str


@dataclass(frozen=True)
class PageWords:
    """All words of the page; ``as_good`` is about other policies, or nothing."""

    title: str
    plan: str
    as_good: str
    courts: tuple[CourtWords, ...]
    way_in: Box
    walk: Box
    drill: Box
    cautions: Box
    small: str


def page_words(result: Handout, source: str, units: str = "us") -> PageWords:
    """The words of the page; ``source`` is the scenario as the command line names it."""
    return PageWords(
        title=result.scenario.name,
        plan=f"When the {_returner(result)} player returns, your plan: {result.policy.name}. "
        f"{_PLANS[result.policy.rule]}",
        as_good=as_good(result),
        courts=tuple(
            court_words(result.scenario, each, units, explained=each is result.lessons[0])
            for each in result.lessons
        ),
        way_in=_way_in(result),
        walk=walk_box(result, units),
        drill=drill_box(result, units),
        cautions=Box("Take care", (*CAUTIONS, LIMITS[0])),
        small=_small(result, source),
    )


def court_words(
    scenario: Scenario, lesson: Lesson, units: str = "us", *, explained: bool = False
) -> CourtWords:
    """The words of one court, with what stretching means where it is ``explained``."""
    pair = {name: getattr(scenario.pair, name) for name in PLAYERS}
    target = {name: lesson.players[name].target for name in PLAYERS}
    return CourtWords(
        direction=lesson.direction,
        heading=f"Return {DIRECTIONS[lesson.direction]}",
        control=f"{in_hundred(lesson.in_control.share).capitalize()} of 100 in control",
        sentences=(
            where_to_go(scenario, lesson, units),
            the_middle(lesson),
            left_open(lesson, explained=explained),
        ),
        across=told_apart(
            {name: short(across(target[name][0]), pair[name], units) for name in PLAYERS}
        ),
        deep=told_apart(
            {name: short(deep(target[name][1]), pair[name], units) for name in PLAYERS}
        ),
        taker=taker(lesson),
    )


def where_to_go(scenario: Scenario, lesson: Lesson, units: str = "us") -> str:
    """The first sentence: both players' places, in paces; about, where lengths told are unlike."""
    pair = {name: getattr(scenario.pair, name) for name in PLAYERS}
    target = {name: lesson.players[name].target for name in PLAYERS}
    aside = {name: off_in_words(across(target[name][0]), pair[name]) for name in PLAYERS}
    back = {name: off_in_words(deep(target[name][1]), pair[name]) for name in PLAYERS}
    stay = {name: in_paces(lesson.players[name].to_run, pair[name]) < 1.0 for name in PLAYERS}
    lengths = {rounded(across(x).length, units) for x, _ in target.values()}
    places = _side_by_side(aside, alike=len(lengths) == 1)
    if back["left"] != back["right"]:
        parts = [
            f"{name} player{_stays(stay[name])} {back[name]}, {aside[name]}" for name in PLAYERS
        ]
        return f"{parts[0].capitalize()}; {parts[1]}."
    if stay["left"] != stay["right"]:
        goes, stays = ("left", "right") if stay["right"] else ("right", "left")
        return (
            f"The {stays} player stays, the {goes} player comes up, both {back['left']}: {places}."
        )
    verb = "Stay" if stay["left"] else "Run towards L and R,"
    return f"{verb} {back['left']}: {places}."


def _side_by_side(aside: dict[str, str], *, alike: bool) -> str:
    """Both players' places across the court, what they have in common said once."""
    left, right = aside["left"], aside["right"]
    of_left, of_right = (f" {name} of the {CENTRE_LINE}" for name in PLAYERS)
    if left.endswith(of_left) and right.endswith(of_right):
        number, other = left.removesuffix(of_left), right.removesuffix(of_right)
        if number == other == "just":
            return f"each just on your own side of the {CENTRE_LINE}"
        if number == other:
            return f"each {'' if alike else 'about '}{number} from the {CENTRE_LINE}"
        return f"left player {left}, right player {other} right of it"
    return f"left player {left}, right player {right}"


def _stays(stays: bool) -> str:
    return " stays" if stays else ""


def taker(lesson: Lesson) -> str:
    """Who takes the middle: ``left``, ``right``, or nothing where neither clearly takes more."""
    left, right = lesson.middle.by_left, lesson.middle.by_right
    for name, mine, theirs in (("left", left, right), ("right", right, left)):
        if mine.low > theirs.high and mine.balls >= CLEARLY_MORE * theirs.balls:
            return name
    return ""


def the_middle(lesson: Lesson) -> str:
    """The second sentence: who takes the middle."""
    found, name = lesson.middle, taker(lesson)
    if not found.between.balls:
        return "Hardly a ball comes between you."
    hands = {"left": found.left_forehand, "right": found.right_forehand}
    if not name:
        mostly = [player for player in PLAYERS if hands[player].share >= _MOSTLY]
        forehand = f"; it is the {mostly[0]} player's forehand" if mostly else ""
        forehand = "; it is on the forehand of both" if len(mostly) == 2 else forehand
        return f"The middle is either's, so call it{forehand}."
    hand = ""
    if hands[name].share >= _MOSTLY:
        hand = ", on the forehand"
    elif hands[name].share <= 1.0 - _MOSTLY:
        hand = ", though on the backhand"
    shares = {"left": found.by_left.share, "right": found.by_right.share}
    other = "right" if name == "left" else "left"
    return (
        f"The middle is the {name} player's{hand}: takes {in_hundred(shares[name])} of "
        f"100 balls there, the {other} player {100.0 * shares[other]:.0f}."
    )


def left_open(lesson: Lesson, *, explained: bool = False) -> str:
    """The third sentence: where balls get past, and where they stretch the pair most."""
    stretched = 1.0 - lesson.in_hardest_lane.share
    meaning = _MEANING if explained else ""
    hard = f"Hardly one stretches you{meaning}."
    if stretched >= _STRETCHED:
        verb = "stretches" if round(100.0 * stretched) == 1 else "stretch"
        lane = _lane(lesson, lesson.hardest_lane)
        hard = f"{in_hundred(stretched).capitalize()} of 100 {lane} {verb} you{meaning}."
    return f"{_past(lesson)} {hard}"


def _past(lesson: Lesson) -> str:
    """How many balls get past, and where: left open, or where most of them do."""
    if lesson.opening:
        number = in_hundred(lesson.opening.share.share)
        place = _place(lesson, lesson.opening.leak)
        return f"Left open is {place}: {number} of 100 balls get past there."
    past = 1.0 - lesson.reached.share
    if past < _NEXT_TO_NONE:
        return "Hardly a ball gets past you."
    told = "Hardly a ball gets past you"
    if past >= _HARDLY:
        told = f"{in_hundred(past).capitalize()} of 100 balls get past you"
    return f"{told}; most that do {_way(lesson, lesson.mostly)}." if lesson.mostly else f"{told}."


def _sides(lesson: Lesson) -> tuple[str, str] | None:
    """The sideline near to where they strike, and the far one; None where they strike centrally."""
    x = lesson.contact[0]
    if abs(x) <= lesson.contact_spread:
        return None
    return ("right", "left") if x > 0.0 else ("left", "right")


def _place(lesson: Lesson, leak: str) -> str:
    """What is left open."""
    sides = _sides(lesson)
    near, far = sides or ("", "")
    return {
        "line": f"your {near} sideline" if sides else "the sideline on their side",
        "cross": f"the sharp angle over your {far} sideline" if sides else "the sharp angles",
        "middle": "the middle",
        "over": "the lob over your heads",
    }[leak]


def _way(lesson: Lesson, leak: str) -> str:
    """How balls get past the pair."""
    if leak == SHORT:
        return "die short in front of you"
    if leak == "over":
        return "go over your heads"
    return f"{'go through' if leak == 'middle' else 'pass at'} {_place(lesson, leak)}"


def _lane(lesson: Lesson, lane: str) -> str:
    """A lane that they aim at."""
    sides = _sides(lesson)
    near, far = sides or ("", "")
    return {
        "line": f"down your {near} sideline" if sides else "down the line",
        "middle": "through the middle",
        "cross": f"across to your {far} sideline" if sides else "across to the far sideline",
    }[lane]


def as_good(result: Handout) -> str:
    """In one line, which others did as well in control, and how many get past with them."""
    rows = result.comparison.difference_rows
    control = {row["policy"]: row for row in rows_of(rows, measure="in_control")}
    alike = [name for name in result.choice.alike if control[name]["verdict"].startswith("no diff")]
    if not alike:
        return ""
    if len(alike) > 1:
        more = [f"{len(alike) - 2} more"] if len(alike) > 2 else []
        return f"{joined([*map(quoted, alike[:2]), *more])} did as well: as many in control."
    (reached,) = rows_of(rows, measure="reached", policy=alike[0])
    past = ""
    if reached["verdict"] in TOLD:
        number = balls(*(reached[f"points{end}"] for end in ("", "_low", "_high")))
        fewer = "fewer" if reached["verdict"] == "more" else "more"
        past = f", {number} {fewer} of 100 get past"
    return f"{quoted(alike[0])} did as well: as many in control{past}."


def _returner(result: Handout) -> str:
    return "right" if returner_side(result.scenario) > 0 else "left"


def _way_in(result: Handout) -> Box:
    """How to move, whatever the return: start, when they strike, what to do then."""
    struck = np.mean([lesson.struck_after for lesson in result.lessons])
    when = f"about {struck:.1f} seconds after your return"
    stop = f"Stop and split as they strike, {when}"
    if not result.policy.split_step:
        stop = f"They strike {when}: run on, without a split step"
    start = starts_in_words(result)
    return Box(
        "On the way in",
        (f"{start[0].upper()}{start[1:]}. Run towards L and R. {stop}: {_by_then(result)}.",),
    )


def _by_then(result: Handout) -> str:
    """Where the shot usually finds the two: at the open marks, in paces off their places' line."""
    off = {}
    for name in PLAYERS:
        player = getattr(result.scenario.pair, name)
        ways = [each.players[name] for each in result.lessons]
        if in_paces(float(np.mean([way.short_by for way in ways])), player):
            found = float(np.mean([way.found[1] for way in ways]))
            off[name] = off_in_words(deep_from(deep(ways[0].target[1]).line, found), player)
    if not off:
        return "you will usually be in your places by then"
    if len(off) == 2 and off["left"] == off["right"]:
        return f"you will usually be at the open marks, {off['left']}"
    told = [f"{name} {place}" for name, place in off.items()]
    return f"you will usually be at the open marks, {', '.join(told)}"


def _small(result: Handout, source: str) -> str:
    """That it is a model, against whom, how sure, and where the full report is."""
    scenario, share = result.scenario, result.in_control
    row = result.comparison.summary_rows[0]
    return (
        f"A model's numbers: {row['shots']:,} third shots by {opponents(scenario)}, "
        f"{row['in_play']:,} in play. Of 100 of these this pair takes {100.0 * share.share:.0f} in "
        f"control ({within(share.low, share.high)}, 95 times in 100, by the chance of the shots "
        "alone: that the model is right is not in it). In control: met with the sweet spot, "
        "without a lunge; stretched: with one, or not met. "
        f"Full report: reachshare report {to_copy(source)}"
    )
