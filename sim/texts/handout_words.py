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


def of_ten(share: float) -> str:
    """A share of balls as so many of ten; neither none nor all of them unless it is.

    >>> of_ten(0.92), of_ten(0.96), of_ten(0.98)
    ('about 9 of 10 balls', 'about 19 of 20 balls', 'nearly every ball')
    >>> of_ten(0.02), of_ten(1.0)
    ('hardly a ball', 'all balls')
    """
    if share in (0.0, 1.0):
        return "all balls" if share else "no ball"
    if share < 0.05:
        return "hardly a ball"
    if share >= 0.93:
        return "nearly every ball" if share >= 0.975 else "about 19 of 20 balls"
    return f"about {max(10.0 * share, 1.0):.0f} of 10 balls"


def some_of(share: float, many: str, one: str) -> str:
    """A share of balls as one in so many, rounded as it deserves, or of ten, and what they do.

    >>> some_of(0.12, "balls get", "balls gets"), some_of(0.4, "balls get", "balls gets")
    ('1 in 8 balls gets', '4 in 10 balls get')
    >>> [some_of(share, "get", "gets") for share in (0.0107, 0.0042, 0.97, 1.0)]
    ['1 in 90 gets', '1 in 200 gets', '19 in 20 get', 'nearly all get']
    """
    if share >= 0.25:
        part = "19 in 20" if share >= 0.925 else f"{10.0 * share:.0f} in 10"
        return f"{'nearly all' if share >= 0.975 else part} {many}"
    step = next(step for step, end in ((1, 20), (10, 100), (100, float("inf"))) if 1 / share <= end)
    return f"1 in {step * round(1.0 / share / step)} {one}"


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
