"""What a person reads of a study of doubt: what to measure first, and who is likely ahead."""

from __future__ import annotations

import math
from typing import Final

from sim.analyses.inputs import WIDTHS, WORDS
from sim.analyses.sensitivity import TIMES_AT_ENDS, Difference, Sensitivity
from sim.texts.table import aligned
from sim.wording import CAUTIONS, LIMITS, MINUS, joined, points

_MEASURE: Final = {"in_control": "more in control", "reached": "to more balls"}
# Parts of the variance: what is worth naming, and what does not matter.
_WORTH_NAMING: Final = 0.05
_HARDLY: Final = 0.05
_NO_INTERACTIONS: Final = 0.1
_MOST_NAMED: Final = 3


def terminal_text(result: Sensitivity, units: str = "us") -> str:
    """The answer, how sure it is, the inputs with their ranges and ends, and what it assumes."""
    names = f"{result.policy.name} and {result.scenario.baseline.name}"
    parts = [result.scenario.name, f"Which doubt matters for the difference between {names}?", ""]
    parts += [who_is_ahead(result), *what_matters(result), "", *_spread(result), ""]
    parts += [_heading(result), aligned(_table(result, units)), "", *_reading(result), ""]
    return "\n".join([*parts, *LIMITS, *CAUTIONS])


def who_is_ahead(result: Sensitivity) -> str:
    """In how many of 100 plausible settings the one policy beats the other, in a sentence."""
    first, second = result.policy.name, result.scenario.baseline.name
    (ahead, behind), (told_ahead, told_behind, undecided) = result.ahead, result.told
    if ahead < behind:
        first, second = second, first
        ahead, behind, told_ahead, told_behind = behind, ahead, told_behind, told_ahead
    share, low, high = (100 * part for part in result.share_of_settings(ahead))
    settings = len(result.differences)
    level = settings - ahead - behind
    neither = f" and {100 * level / settings:.0f} showed no difference" if level else ""
    return (
        f"{_capital(first)} gets {_MEASURE[result.measure]} than {second} in {share:.0f} of 100 "
        f"plausible settings [{low:.0f}, {high:.0f}]{neither}. Of {settings:,} played, "
        f"{told_ahead:,} told {first} ahead and {told_behind:,} {second}, each by its own "
        f"interval; {undecided:,} left it open."
    )


def what_matters(result: Sensitivity) -> list[str]:
    """What to measure first, what comes after it, and what can be left as it is."""
    first = result.indices.first
    low, _ = result.indices.interval(result.indices.first_resampled)
    if any(map(math.isnan, low)):
        return [
            "What matters cannot be told: the difference hardly varies beyond the noise of the "
            "shots; more --shots and --settings tell."
        ]
    _, total_high = result.indices.interval(result.indices.total_resampled)
    order = sorted(range(len(first)), key=lambda k: -first[k])
    named = [k for k in order if low[k] > 0.0 and first[k] >= _WORTH_NAMING][:_MOST_NAMED]
    sentences = []
    if named:
        parts = [f"{result.inputs[k].label} ({100 * first[k]:.0f} % of the doubt)" for k in named]
        advice = "measure that first"
        if not result.surely_first(named[0]):
            advice = "which comes first cannot be told yet"
        rest = f" Then {joined(parts[1:])}." if parts[1:] else ""
        sentences.append(f"What matters most is {parts[0]}: {advice}.{rest}")
    else:
        sentences.append("No input by itself makes a part of the doubt that can be told.")
    hardly = [result.inputs[k].label for k in order if total_high[k] < _HARDLY]
    if hardly:
        sentences.append(f"Hardly matters, alone or with others: {joined(hardly)}.")
    return [*sentences, _interactions(result)]


def _interactions(result: Sensitivity) -> str:
    part, low, high = result.interactions
    shown = f"{100 * part:.0f} % [{100 * low:.0f}, {100 * high:.0f}]".replace("-", MINUS)
    if high < _NO_INTERACTIONS or (low <= 0.0 and part < _NO_INTERACTIONS):
        return f"No interactions worth telling: {shown} of the doubt is made by inputs together."
    if low <= 0.0:
        return f"Interactions cannot be told yet: {shown} of the doubt; more --settings tell."
    return f"Interactions make {shown} of the doubt: inputs matter more together than each alone."


def _spread(result: Sensitivity) -> list[str]:
    names = f"{result.policy.name} less {result.scenario.baseline.name}"
    found = result.quantiles
    inputs, played = len(result.inputs), len(result.differences) // 2 * (len(result.inputs) + 2)
    noise = 100 * result.spread.noise_share
    return [
        f"{_capital(names)}, points: {points(_row(result.usual))} at the scenario's own values. "
        f"Over the plausible settings: median {_signed(found['median'])}, nine in ten from "
        f"{_signed(found['5 %'])} to {_signed(found['95 %'])}, all from {_signed(found['min'])} to "
        f"{_signed(found['max'])}.",
        f"{played:,} settings of {inputs} inputs, {result.scenario.run.shots:,} shots for each "
        f"return direction in every one. Noise of the shots makes {noise:.0f} % of the spread that "
        "they show, which looks wider by it, and who is ahead more open; it counts in no part of "
        "the doubt.",
    ]


def _heading(result: Sensitivity) -> str:
    shots = f"{TIMES_AT_ENDS * result.scenario.run.shots:,}"
    return (
        f"One input at a time, {shots} shots: points at its low and high end; and its part of the "
        "doubt, %, alone and with its interactions"
    )


def _table(result: Sensitivity, units: str) -> list[list[str]]:
    first, total = result.indices.first, result.indices.total
    first_ends = result.indices.interval(result.indices.first_resampled)
    total_ends = result.indices.interval(result.indices.total_resampled)
    header = ["input", "from", "to", "rests on", "at the low end", "at the high end"]
    table = [[*header, "alone", "in all"]]
    for k in result.order:
        each, (low, high) = result.inputs[k], result.ends[k]
        cut = " (cut)" if each.clipped else ""
        row = [each.label, each.shown(0.0, units), each.shown(1.0, units), f"{each.why}{cut}"]
        row += [points(_row(low)), points(_row(high))]
        row += [_part(first[k], first_ends[0][k], first_ends[1][k])]
        table.append([*row, _part(total[k], total_ends[0][k], total_ends[1][k])])
    return table


def _part(value: float, low: float, high: float) -> str:
    """A part of the variance in percent; an estimate of nothing or less is none."""
    if math.isnan(low):
        return "cannot tell"
    shown = f"{100 * value:.0f}" if round(100 * value) > 0 else "none"
    ends = (f"{100 * end:.0f}".replace("-0", "0").replace("-", MINUS) for end in (low, high))
    return f"{shown} [{', '.join(ends)}]"


def _reading(result: Sensitivity) -> list[str]:
    widths = joined([f"{WORDS[tag]} ±{100 * width:.0f} %" for tag, width in WIDTHS.items()])
    sentences = [
        f"Ranges of the usual inputs are our assumption, by what their values rest on: {widths}. "
        "Values in a range count as equally likely, and inputs as independent of each other; the "
        "rows of a file of draws stay together. Your own range: --vary-input KEY=LOW:HIGH.",
        "Of weights, such as how often they drive, only the proportions count.",
    ]
    if any(each.clipped for each in result.inputs):
        sentences.append("(cut): the range ends at a limit of the scenario.")
    return sentences


def _row(difference: Difference) -> dict[str, float]:
    return {
        "points": difference.points,
        "points_low": difference.low,
        "points_high": difference.high,
    }


def _signed(value: float) -> str:
    text = f"{abs(value):.1f}"
    return text if text == "0.0" else f"{MINUS if value < 0.0 else '+'}{text}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
