"""What is said beside a moving court: the phase of the point, how it ends, how it was picked."""

from __future__ import annotations

import math
from typing import Final

from sim import wording
from sim.analyses.one_shot import OneShot
from sim.analyses.points import Alone, Point, end_of, feet_at
from sim.analyses.shot_responses import Response
from sim.figures import style
from sim.figures.style import SMALL, Units
from sim.run_in import PLAYERS
from sim.texts.shot import seconds
from sim.wording import CAUTIONS, DIRECTIONS, counted

_NOTE_LINES: Final = 6
_FOR_A_LOB: Final = CAUTIONS[1]
_NOT_IN_PLAY: Final = {"net": "into the net", "out": "out"}


def title_of(point: Point) -> str:
    """The shot in a line: as it was meant, and whether it came out unlike its kind."""
    words = f"{point.oddity} {point.shot.shot} aimed {DIRECTIONS[point.shot.lane]}".strip()
    return words[0].upper() + words[1:]


def subtitle_of(point: Point) -> str:
    """After which return, of which scenario, and its number."""
    shot = point.shot
    return (
        f"after a return {DIRECTIONS[shot.direction]} · {shot.scenario.name} · shot {shot.number}"
    )


def phase_of(shot: OneShot, response: Response, time: float) -> str:
    """What is going on, ``time`` s after the return was struck."""
    settled = response.settled_at[PLAYERS[0]]
    if time >= end_of(shot, response):
        return ending(shot, response)
    if time >= shot.contact_time:
        return "third shot"
    if settled is not None and time >= settled:
        return "split step"
    return "return" if time < shot.scenario.run_in.returner_delay else "run-in"


def ending(shot: OneShot, response: Response) -> str:
    """How it ends: in control, at full stretch, got through and where, or not in play."""
    if not response.outcome:
        return _NOT_IN_PLAY[shot.fate]
    return f"got through, {response.leak}" if response.leak else response.outcome


def mark_of(shot: OneShot, response: Response, time: float) -> str:
    """What marks the end, to be said behind it; empty before."""
    if time < end_of(shot, response):
        return ""
    marks = {"in control": "filled ring", "at full stretch": "open ring"}
    return f" ({marks.get(response.outcome, 'cross')})"


def beside(shot: OneShot, response: Response, time: float, units: Units) -> list[str]:
    """Two lines more on the phase: how far the two are, whether they have reacted, how it ends."""
    if time >= end_of(shot, response):
        return how_it_ends(response)
    left, right = (style.length(-feet_at(response, name, time)[1], units) for name in PLAYERS)
    far = left if left == right else f"{left.split()[0]} and {right}"
    return [f"{far} from net", _reactions(shot, response, time)]


def how_it_ends(response: Response) -> list[str]:
    """Who took it, how, and with how much time to spare."""
    if not response.outcome:
        return ["nothing to reach", ""]
    if response.hit is None:
        return ["nobody reaches it", ""]
    stroke = f"{response.hand} {response.taken}, {response.player}"
    return [stroke, spare_words(response.spare[response.player])]


def spare_words(spare: float) -> str:
    """Time to spare for a ball in control, or how much it falls short.

    >>> spare_words(0.123), spare_words(-0.001), spare_words(-math.inf)
    ('0.12 s to spare', 'under 0.01 s too late for control', 'control out of reach')
    """
    if math.isinf(spare):
        return "control out of reach"
    return (
        f"{seconds(spare)} to spare" if spare >= 0.0 else f"{seconds(-spare)} too late for control"
    )


def how_picked(point: Point) -> str:
    """How the shot came to be shown, and how common its like is."""
    return " ".join([why_picked(point), *how_common(point)])


def why_picked(point: Point) -> str:
    """How the shot came to be shown; ordinary drives come before other ordinary shots."""
    shot, picked = point.shot, point.picked
    if picked is None:
        return f"Shot {shot.number} was asked for by its number."
    if not picked.in_play:
        return "No ball of this run is in play: this is its first shot."
    for side in picked.sides:
        if shot.number in side.numbers:
            kind = "drive" if shot.shot == "drive" else "ball"
            kind = "ball" if point.oddity else f"ordinary {kind}"
            is_first = shot.number == side.numbers[0]
            which = f"the first {kind}" if is_first else f"one of the first {kind}s"
            return f"Picked: {which} that only {side.policy} has in control."
    balls = counted(len(picked.in_play), "ball")
    return f"The first ball in play: the two differ in control on none of {balls}."


def how_common(point: Point) -> list[str]:
    """A sentence on how often each of the two alone is in control, if the shot was picked so."""
    if point.picked is None or not any(side.numbers for side in point.picked.sides):
        return []
    first, second = point.picked.sides
    return [
        f"Of 100 balls in play after such returns, {first.policy} alone has {_of_hundred(first)} "
        f"in control, {second.policy} alone {_of_hundred(second)} (in brackets 95 % intervals)."
    ]


def notes_of(point: Point, key: str) -> list[str]:
    """Lines below a picture: how the shot was picked, what the marks mean, and a caution."""
    notes = [how_picked(point), key]
    if point.shot.shot == "lob":
        notes.append(_FOR_A_LOB)
    return [
        line for note in notes for line in style.wrapped(note, style.ROOM, SMALL, most=_NOTE_LINES)
    ]


def _of_hundred(side: Alone) -> str:
    return wording.percent(side.share, side.low, side.high)


def _reactions(shot: OneShot, response: Response, time: float) -> str:
    """Whether the two have reacted to the opponents' shot."""
    if time < shot.contact_time or shot.fate != "in play":
        return ""
    reacted = [name for name in PLAYERS if time >= response.reacts_at[name]]
    if len(reacted) == len(PLAYERS):
        return "both have reacted"
    return f"{reacted[0]} has reacted" if reacted else "no reaction yet"
