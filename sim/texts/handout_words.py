"""Numbers as players say them: so many of ten, one in so many, seconds, who plays whom."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sim.court import HALF_WIDTH
from sim.scenario import Scenario
from sim.texts.handout_places import length
from sim.wording import counted, joined


@dataclass(frozen=True)
class Box:
    """A part of the page: a heading and paragraphs."""

    heading: str
    lines: tuple[str, ...]


def in_hundred(share: float) -> str:
    """A share of balls as so many of 100; neither none nor all of them unless it is.

    >>> in_hundred(0.92), in_hundred(0.002), in_hundred(0.998), in_hundred(1.0)
    ('about 92', 'under 1', 'over 99', '100')
    """
    number = round(100.0 * share)
    if share in (0.0, 1.0):
        return f"{number}"
    return {0: "under 1", 100: "over 99"}.get(number, f"about {number}")


def within(low: float, high: float) -> str:
    """An interval of a share as whole balls of 100, rounded outwards so that it is not flattered.

    >>> within(0.919, 0.9253), within(0.9991, 1.0)
    ('between 91 and 93', 'between 99 and 100')
    """
    return f"between {math.floor(100.0 * low)} and {math.ceil(100.0 * high)}"


def opponents(scenario: Scenario) -> str:
    """Who they play against.

    >>> opponents(Scenario(name="pair"))
    'opponents of level 3.5'
    """
    level = scenario.opponents.level
    return "professional opponents" if level == "professional" else f"opponents of level {level}"


def balls(mix: dict[str, int]) -> str:
    """A mix of balls.

    >>> balls({"drive": 10, "drop": 9, "lob": 1}), balls({"drive": 20, "drop": 0, "lob": 0})
    ('10 drives, 9 drops and 1 lob', '20 drives')
    """
    return joined([counted(number, shot) for shot, number in mix.items() if number])


def aside(x: float, units: str) -> str:
    """How far to a side of the centre line, as the pair sees it.

    >>> aside(7.3, "us"), aside(-0.6, "us")
    ('7½ ft right of the centre line as you see it', 'near the centre line')
    """
    if abs(x) < 0.1 * HALF_WIDTH:
        return "near the centre line"
    side = "right" if x > 0.0 else "left"
    return f"{length(abs(x), units)} {side} of the centre line as you see it"
