"""What the report says of doubt: what the intervals mean, and what would change the answer."""

from __future__ import annotations

from typing import Final, NamedTuple

from sim.analyses.inputs import Drawn, Input
from sim.analyses.report import Report
from sim.analyses.sensitivity import TIMES_AT_ENDS, Difference, Sensitivity
from sim.tables import Row
from sim.texts.sensitivity import how_sure, what_matters, who_is_ahead
from sim.wording import joined, points

NO_INPUTS: Final = (
    "How much the inputs matter was not asked (--no-inputs): the intervals tell the error of "
    "sampling only, not that of what was put in."
)
NOTHING_IN_PLAY: Final = "No third shot stayed in play: nothing to compare."
ONE_POLICY: Final = "With one policy there is no difference that could hang on the inputs."
FACTOR: Final = "times"
# What is said of an input instead of "LABEL is VALUE"; weights count by their proportions.
_PHRASES: Final = {
    "opponents.drive.speed.mean": "their drives are {}",
    "opponents.errors": "the spread of their errors is {} what it is here",
    "opponents.shots.drive": "the weight of drives among their shots is {}",
    "opponents.lanes.cross": "the weight of cross-court among their aims is {}",
    "return_of_serve.landing_depth.mean": "the returns land {} from the net",
    "run_in.late_without_split_step": "a missing split step costs {}",
}


class Change(NamedTuple):
    """One input moved alone: its number, its values (ends, and here), what that does in words."""

    number: int
    label: str
    low: str
    here: str
    high: str
    words: str


def sampling(report: Report) -> list[str]:
    """What was played, and what an interval means."""
    scenario = report.scenario
    row = report.comparison.summary_rows[0]
    return [
        f"{row['shots']:,} third shots were played, {row['in_play']:,} of them in play; all "
        "policies face the same ones.",
        "In square brackets stand 95 % intervals: of 100 such intervals, each from shots of its "
        "own, about 95 hold the value that endless shots would give. More shots (now "
        f"{scenario.run.shots:,} for each return direction) make them narrower.",
        "A point is one ball of 100. Of differences, more and fewer are said only where they hold "
        "for all comparisons in the table together.",
    ]


def inputs(report: Report) -> list[str]:
    """How sure the answer is when the inputs are not: settings in which the leader is ahead."""
    if report.doubt is not None:
        doubt = report.doubt
        return [who_is_ahead(doubt), how_sure(doubt), *what_matters(doubt)]
    if report.rival is None:
        return [ONE_POLICY]
    return [NO_INPUTS if report.comparison.tally.outcomes.any() else NOTHING_IN_PLAY]


def changes(doubt: Sensitivity, units: str) -> list[Change]:
    """Every input moved alone to its ends, the one with the largest span first."""
    found = []
    for k in doubt.order:
        each = doubt.inputs[k]
        low, high = (each.shown(u, units) for u in (0.0, 1.0))
        here = value_here(each, units)
        words = _both_ends(doubt, k, (low, high), here)
        found.append(Change(k, each.label, low, here, high, words))
    return found


def value_here(each: Input, units: str) -> str:
    """An input's value in the scenario; a file of draws has no single one."""
    if isinstance(each, Drawn):
        return ""
    low, high, value = each.lows[0], each.highs[0], each.settings[0].value
    return each.shown((value - low) / (high - low) if high > low else 0.0, units)


def _both_ends(doubt: Sensitivity, k: int, values: tuple[str, str], here: str) -> str:
    """What both ends of an input's range do, in a sentence or two."""
    phrase = _PHRASES.get(doubt.inputs[k].key, f"{doubt.inputs[k].label} is {{}}")
    instead = f" instead of {here}" if here and not here.endswith(FACTOR) else ""
    told, untold = list[str](), list[str]()
    for value, end in zip(values, doubt.ends[k], strict=True):
        if end.low <= 0.0 <= end.high:
            untold.append(f"{value} ({_interval(end)})")
        elif told:
            told.append(f"if {value}, {_ahead(doubt, end)}")
        else:
            told.append(f"If {phrase.format(value)}{instead}, {_ahead(doubt, end)} of 100")
    sentences = [f"{'; '.join(told)}."] if told else []
    if untold:
        sentences.append(f"Too close to tell at {joined(untold)}.")
    return " ".join(sentences)


def _ahead(doubt: Sensitivity, difference: Difference) -> str:
    """Who gets how many more of 100 in control; the interval is that of a single difference."""
    who = doubt.policy.name
    value, low, high = difference
    if value < 0.0:
        who, value, low, high = doubt.scenario.baseline.name, -value, -high, -low
    shown = _interval(Difference(value, low, high)).replace("+", "")
    return f"{who} gets {shown} more"


def _interval(difference: Difference) -> str:
    """A difference with its interval, in points."""
    names = ("points", "points_low", "points_high")
    return points(dict(zip(names, difference, strict=True)))


def how_moved(doubt: Sensitivity, answer: Row, shots: int) -> str:
    """How far the inputs are moved, with how many shots, and what these say of the answer.

    ``answer`` is the difference that the answer tells, from so many ``shots``.
    """
    at_ends = TIMES_AT_ENDS * doubt.scenario.run.shots
    first, second = doubt.policy.name, doubt.scenario.baseline.name
    return (
        "One input is moved at a time, the others stay as they are here; how far follows from what "
        f"its value rests on. At every end {at_ends:,} shots are played for each return direction: "
        f"as many at the values here say {_interval(doubt.usual)} points in control for {first} "
        f"against {second}, the {shots:,} of the answer {points(answer)}."
    )
