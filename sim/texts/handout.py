"""What the page for players says, composed from facts: plain words, paces, natural frequencies."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from sim.analyses.handout import Handout, in_paces
from sim.analyses.handout_lessons import Lesson
from sim.return_of_serve import returner_side
from sim.run_in import PLAYERS
from sim.scenario import Scenario
from sim.texts.handout_drill import drill_box, starts_in_words, walk_box
from sim.texts.handout_places import CENTRE_LINE, across, deep, off_in_words, paces, short
from sim.texts.handout_words import Box, of_ten, opponents, some_of, within
from sim.wording import CAUTIONS, DIRECTIONS, LIMITS

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
# Below this share hardly a ball gets past the pair, and below that hardly one stretches it. [A]
_HARDLY: Final = 0.005
_STRETCHED: Final = 0.03


@dataclass(frozen=True)
class CourtWords:
    """The words of one court: heading, share, three sentences, and those on the picture.

    ``across`` and ``deep`` are each player's distances off a line, in two short lines; ``taker``
    is who takes the middle, or nothing.
    """

    direction: str
    heading: str
    control: str
    sentences: tuple[str, str, str]
    across: dict[str, tuple[str, str]]
    deep: dict[str, tuple[str, str]]
    taker: str


@dataclass(frozen=True)
class PageWords:
    """All words of the page."""

    title: str
    plan: str
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
        plan=f"Your plan: {result.policy.name}. {_PLANS[result.policy.rule]}",
        courts=tuple(court_words(result.scenario, each, units) for each in result.lessons),
        way_in=_way_in(result),
        walk=walk_box(result, units),
        drill=drill_box(result, units),
        cautions=Box("Take care", (*CAUTIONS, LIMITS[0])),
        small=_small(result, source),
    )


def court_words(scenario: Scenario, lesson: Lesson, units: str = "us") -> CourtWords:
    """The words of one court."""
    pair = {name: getattr(scenario.pair, name) for name in PLAYERS}
    target = {name: lesson.players[name].target for name in PLAYERS}
    return CourtWords(
        direction=lesson.direction,
        heading=f"Return {DIRECTIONS[lesson.direction]}",
        control=f"{of_ten(lesson.in_control.share).removesuffix(' balls').capitalize()} in control",
        sentences=(where_to_go(scenario, lesson), the_middle(lesson), left_open(lesson)),
        across={name: short(across(target[name][0]), pair[name], units) for name in PLAYERS},
        deep={name: short(deep(target[name][1]), pair[name], units) for name in PLAYERS},
        taker=taker(lesson),
    )


def where_to_go(scenario: Scenario, lesson: Lesson) -> str:
    """The first sentence: both players' places."""
    pair = {name: getattr(scenario.pair, name) for name in PLAYERS}
    target = {name: lesson.players[name].target for name in PLAYERS}
    aside = {name: off_in_words(across(target[name][0]), pair[name]) for name in PLAYERS}
    back = {name: off_in_words(deep(target[name][1]), pair[name]) for name in PLAYERS}
    stay = {name: in_paces(lesson.players[name].to_run, pair[name]) < 1.0 for name in PLAYERS}
    places = _side_by_side(aside)
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
    verb = "Stay" if stay["left"] else "Go" if back["left"].startswith("right") else "Go to"
    return f"{verb} {back['left']}: {places}."


def _side_by_side(aside: dict[str, str]) -> str:
    """Both players' places across the court, what they have in common said once."""
    left, right = aside["left"], aside["right"]
    of_left, of_right = (f" {name} of the {CENTRE_LINE}" for name in PLAYERS)
    if left.endswith(of_left) and right.endswith(of_right):
        number, other = left.removesuffix(of_left), right.removesuffix(of_right)
        if number == other:
            return f"each {number} from the {CENTRE_LINE}"
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
        f"The middle is the {name} player's{hand}: takes {20.0 * shares[name]:.0f} of 20 balls, "
        f"the {other} player {20.0 * shares[other]:.0f}."
    )


def left_open(lesson: Lesson) -> str:
    """The third sentence: where balls get past, and where they stretch the pair most."""
    opening, lane = lesson.opening, lesson.hardest_lane
    where = "aimed there" if opening and opening.leak == lane else _lane(lesson, lane)
    stretched = 1.0 - lesson.in_hardest_lane.share
    hard = "hardly one stretches you"
    if stretched >= _STRETCHED:
        hard = f"{some_of(stretched, f'{where} stretch', f'{where} stretches')} you"
    if opening:
        past = some_of(opening.share.share, "balls get", "balls gets")
        return f"Leave open {_place(lesson, opening.leak)}: about {past} past, {hard}."
    anywhere = 1.0 - lesson.reached.share
    past = "Hardly a ball gets"
    if anywhere >= _HARDLY:
        past = f"About {some_of(anywhere, 'balls get', 'balls gets')}"
    return f"{past} past you, {'but' if stretched >= _STRETCHED else 'and'} {hard}."


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
        "short": "the short ball in front of you",
        "over": "the lob over your heads",
    }[leak]


def _lane(lesson: Lesson, lane: str) -> str:
    """A lane that they aim at."""
    sides = _sides(lesson)
    near, far = sides or ("", "")
    return {
        "line": f"down your {near} sideline" if sides else "down the line",
        "middle": "through the middle",
        "cross": f"across to your {far} sideline" if sides else "across to the far sideline",
    }[lane]


def _way_in(result: Handout) -> Box:
    """How to move, whatever the return: start, when they strike, what to do then."""
    returner = "right" if returner_side(result.scenario) > 0 else "left"
    struck = np.mean([lesson.struck_after for lesson in result.lessons])
    stop = "split step as they do" if result.policy.split_step else "run on, without a split step"
    return Box(
        "On the way in",
        (
            f"The {returner} player returns; {starts_in_words(result)}. They strike about "
            f"{struck:.1f} seconds later: {stop}, {_by_then(result)}.",
        ),
    )


def _by_then(result: Handout) -> str:
    """How far short of their places the shot usually finds the two."""
    pair = result.scenario.pair
    missing = {}
    for name in PLAYERS:
        short_by = float(np.mean([each.players[name].short_by for each in result.lessons]))
        missing[name] = in_paces(short_by, getattr(pair, name))
    if not any(missing.values()):
        return "by then usually in your places"
    if missing["left"] == missing["right"]:
        return f"usually {paces(missing['left'])} short of your places (open marks)"
    told = [f"{name} {paces(value)}" for name, value in missing.items() if value]
    return f"usually short of your places (open marks), {' and '.join(told)}"


def _small(result: Handout, source: str) -> str:
    """That it is a model, against whom, how sure, and where the full report is."""
    scenario, share = result.scenario, result.in_control
    row = result.comparison.summary_rows[0]
    return (
        f"A model's numbers: {row['shots']:,} third shots by {opponents(scenario)}, "
        f"{row['in_play']:,} in play. Of 100 of these this pair takes {100.0 * share.share:.0f} in "
        f"control ({within(share.low, share.high)}, 19 times in 20, by the chance of the shots "
        "alone: that the model is right is not in it). In control: met with the sweet spot, "
        "without a lunge; stretched: with one, or not met. "
        f"Full report: reachshare report {source}"
    )
