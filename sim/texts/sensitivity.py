"""What a person reads of a study of doubt: what to measure first, and who is likely ahead."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from sim.analyses.inputs import WIDTHS, WORDS
from sim.analyses.sensitivity import TIMES_AT_ENDS, Difference, Sensitivity
from sim.statistics import LEVEL
from sim.texts.input_values import in_words
from sim.texts.table import aligned
from sim.wording import CAUTIONS, LIMITS, MINUS, counted, joined, points

_MEASURE: Final = {"in_control": "more in control", "reached": "to more balls"}
# Parts of the variance: what is worth naming, and what does not matter.
_WORTH_NAMING: Final = 0.05
_HARDLY: Final = 0.05
_NO_INTERACTIONS: Final = 0.1
_MOST_NAMED: Final = 3
# An interval as wide as half of everything says too little to name what matters most.
_TOO_WIDE: Final = 0.5
_USUAL_SETTINGS: Final = 512
_MOST_SETTINGS: Final = 65_536


def terminal_text(result: Sensitivity, units: str = "us") -> str:
    """The answer, how sure it is, the inputs with their ranges and ends, and what it assumes."""
    names = f"{result.policy.name} and {result.scenario.baseline.name}"
    parts = [result.scenario.name, f"Which doubt matters for the difference between {names}?", ""]
    parts += [who_is_ahead(result), *what_matters(result), "", *_spread(result), ""]
    parts += [_heading(result), aligned(_table(result, units)), "", *_reading(result), ""]
    return "\n".join([*parts, *LIMITS, *CAUTIONS])


class Ahead(NamedTuple):
    """Of 100 plausible settings: those with the ``first`` policy ahead, with the interval.

    ``behind`` are those with the ``second`` ahead, ``level`` the rest.
    """

    first: str
    second: str
    share: int
    low: int
    high: int
    behind: int
    level: int

    def rest(self, second: str) -> str:
        """The other settings in words, with the second policy's name as it is to be written."""
        if not self.behind:
            return ""
        return f"; {second} in {self.behind}" + (f", neither in {self.level}" if self.level else "")


def ahead_of_hundred(result: Sensitivity) -> Ahead:
    """In how many of 100 plausible settings each policy beats the other, the likelier first."""
    first, second = result.policy.name, result.scenario.baseline.name
    ahead, behind = result.ahead
    if ahead < behind:
        first, second, ahead, behind = second, first, behind, ahead
    share, low, high = (round(100 * part) for part in result.share_of_settings(ahead))
    settings = len(result.differences)
    # What is rounded is to add up to a hundred.
    others = round(100 * behind / settings) if ahead + behind < settings else 100 - share
    return Ahead(first, second, share, low, high, others, max(100 - share - others, 0))


def who_is_ahead(result: Sensitivity) -> str:
    """In how many of 100 plausible settings the one policy beats the other, in a sentence."""
    found = ahead_of_hundred(result)
    return (
        f"{_capital(found.first)} gets {_MEASURE[result.measure]} than {found.second} in "
        f"{found.share} of 100 plausible settings [{found.low}, {found.high}]"
        f"{found.rest(found.second)}."
    )


def how_sure(result: Sensitivity) -> str:
    """How many settings are told apart by their own intervals, and how many chance would tell."""
    settings = len(result.differences)
    ahead, behind, undecided = result.told
    told = (
        f"By its own interval {counted(ahead, 'setting')} of {settings:,} "
        f"{'tells' if ahead == 1 else 'tell'} {result.policy.name} ahead, "
        f"{behind:,} {result.scenario.baseline.name}; {undecided:,} cannot tell."
    )
    if not ahead + behind:
        return told
    by_chance = math.ceil(0.5 * (1.0 - LEVEL) * settings)
    return f"{told} Chance alone would tell up to {by_chance:,} either way if neither were better."


def what_matters(result: Sensitivity) -> list[str]:
    """What to measure first, what comes after it, and what can be left as it is."""
    first = result.indices.first
    low, _ = result.indices.interval(result.indices.first_resampled)
    if any(map(math.isnan, low)):
        return [
            "What matters cannot be told yet: all that the difference varies by may be noise of "
            "the shots; more --shots and --settings tell."
        ]
    order = sorted(range(len(first)), key=lambda k: -first[k])
    if _too_few(result, order[0]):
        return [_more_settings(result, order[0])]
    named = parts_of_doubt(result)
    sentences = []
    if named:
        leading, *parts = named.values()
        advice = "measure that first"
        if not result.surely_first(order[0]):
            advice = "which comes first cannot be told yet"
        rest = f" Then {joined(parts)}." if parts else ""
        sentences.append(f"What matters most is {leading}: {advice}.{rest}")
    else:
        sentences.append("No input by itself makes a part of the doubt worth naming.")
    total_low, total_high = result.indices.interval(result.indices.total_resampled)
    hardly = [
        result.inputs[k].label
        for k in order
        if total_high[k] < _HARDLY and _can_tell(total_low[k], total_high[k])
    ]
    if hardly:
        sentences.append(f"Hardly matters, alone or with others: {joined(hardly)}.")
    return [*sentences, _interactions(result)]


def parts_of_doubt(result: Sensitivity) -> dict[int, str]:
    """The inputs that make a part of the doubt worth naming, in words by their number.

    The largest part first; none where the settings are too few to tell.
    """
    first = result.indices.first
    low, _ = result.indices.interval(result.indices.first_resampled)
    order = sorted(range(len(first)), key=lambda k: -first[k])
    if any(map(math.isnan, low)) or _too_few(result, order[0]):
        return {}
    named = [k for k in order if low[k] > 0.0 and first[k] >= _WORTH_NAMING][:_MOST_NAMED]
    return {k: f"{result.inputs[k].label} ({part_alone(result, k)} of the doubt)" for k in named}


def _too_few(result: Sensitivity, leading: int) -> bool:
    """Whether the interval of the leading input's own part says too little to name any."""
    ends = result.indices.interval(result.indices.first_resampled)
    low, high = (float(end[leading]) for end in ends)
    if not _can_tell(low, high) or high - low >= _TOO_WIDE:
        return True
    # That all are next to nothing by themselves is an answer, too.
    return low <= 0.0 and high >= _WORTH_NAMING


def _more_settings(result: Sensitivity, leading: int) -> str:
    settings = len(result.differences)
    more = f"--settings {max(_USUAL_SETTINGS, 4 * settings)}"
    if 4 * settings > _MOST_SETTINGS:
        more = "more --shots"
    looks = f"; it looks like {result.inputs[leading].label}"
    if result.indices.first[leading] < _WORTH_NAMING:
        looks = ""
    return f"Too few settings to tell what matters most{looks}. More tell: {more}."


def _interactions(result: Sensitivity) -> str:
    part, low, high = result.interactions
    if not _can_tell(low, high):
        return "Interactions cannot be told yet; more --settings tell."
    shown = f"{_hundredths(part)} % [{_hundredths(low)}, {_hundredths(high)}]"
    if high < _NO_INTERACTIONS or (low <= 0.0 and part < _NO_INTERACTIONS):
        return f"No interactions worth telling: {shown} of the doubt is made by inputs together."
    if low <= 0.0:
        return f"Interactions cannot be told yet: {shown} of the doubt; more --settings tell."
    return f"Interactions make {shown} of the doubt: inputs matter more together than each alone."


def _spread(result: Sensitivity) -> list[str]:
    names = f"{result.policy.name} against {result.scenario.baseline.name}"
    found = result.quantiles
    played = len(result.differences) // 2 * (len(result.inputs) + 2)
    noise = 100 * result.spread.noise_share
    return [
        f"{_capital(names)}, points: {points(_row(result.usual))} at the scenario's own values. "
        f"Over the plausible settings: median {_signed(found['median'])}, nine in ten from "
        f"{_signed(found['5 %'])} to {_signed(found['95 %'])}.",
        how_sure(result),
        f"Played: {played:,} settings of {counted(len(result.inputs), 'input')}, "
        f"{result.scenario.run.shots:,} shots for each return direction in every one. The noise of "
        f"so few shots makes {noise:.0f} % of the spread: it looks wider than it is, and who is "
        "ahead more open. The parts of the doubt are free of it.",
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
        ends = [in_words(result.scenario, each, along, units) for along in (0.0, 1.0)]
        row = [each.label, *ends, f"{each.why}{cut}"]
        row += [points(_row(low)), points(_row(high))]
        row += [_part(first[k], first_ends[0][k], first_ends[1][k])]
        table.append([*row, _part(total[k], total_ends[0][k], total_ends[1][k])])
    return table


def part_alone(result: Sensitivity, k: int) -> str:
    """What input ``k`` makes of the doubt by itself, in percent with its interval, for a figure."""
    low, high = result.indices.interval(result.indices.first_resampled)
    return _part(result.indices.first[k], low[k], high[k], " %")


def _part(value: float, low: float, high: float, unit: str = "") -> str:
    """A part of the variance in percent, of which there is no less than none and no more than all.

    Too few settings may put the whole interval where no part can be.
    """
    if not _can_tell(low, high):
        return "cannot tell"
    return f"{_hundredths(value)}{unit} [{_hundredths(low)}, {_hundredths(high)}]"


def _can_tell(low: float, high: float) -> bool:
    """Whether an interval is known, and holds any part from none to all."""
    return not math.isnan(low) and high >= 0.0 and low <= 1.0


def _hundredths(part: float) -> int:
    """A part of the doubt in percent, from 0 to 100: estimates may lie outside."""
    return round(100.0 * min(max(part, 0.0), 1.0))


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
