"""What the report says of doubt: what the intervals mean, and what would change the answer."""

from __future__ import annotations

from typing import Final, NamedTuple

from sim.analyses.inputs import Drawn, Input
from sim.analyses.report import Report
from sim.analyses.sensitivity import Difference, Sensitivity
from sim.scenario import Scenario
from sim.statistics import LEVEL
from sim.texts.input_values import in_words
from sim.texts.report_answer import NOTHING_IN_PLAY, told_ahead
from sim.texts.sensitivity import ahead_of_hundred, parts_of_doubt
from sim.wording import joined, points, quoted

NO_INPUTS: Final = (
    "How much the inputs matter was not asked: the intervals tell the chance of the shots only, "
    "not how far what was put in may be off."
)
ONE_POLICY: Final = (
    "There is one policy only, and nothing to compare it with: how its share hangs on what was put "
    "in is not looked at here."
)
FACTOR: Final = "times"
HOW_MOVED: Final = (
    "What would change the answer: one input is moved at a time, the others stay as they are here; "
    "how far follows from what its value rests on. Every end is played with the shots of the "
    "answer, so that an input that changes nothing says what the answer says."
)
# What is said of an input instead of "LABEL is VALUE".
_PHRASES: Final = {
    "opponents.drive.speed.mean": "their drives are {}",
    "opponents.errors": "the spread of their errors is {} what it is here",
    "opponents.shots.drive": "they drive {}",
    "opponents.lanes.cross": "they aim cross-court with {}",
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
    row = report.comparison.summary_rows[0]
    return [
        f"{row['shots']:,} third shots were played, {row['in_play']:,} of them in play; all "
        "policies face the same ones.",
        "In square brackets stand 95 % intervals: of 100 such intervals, each from shots of its "
        "own, about 95 hold the value that endless shots would give.",
        "A point is one ball of 100. Of differences, more and fewer are said only where they hold "
        "for all comparisons in the table together.",
    ]


def inputs(report: Report) -> list[str]:
    """How sure the answer is when the inputs are not: settings in which the leader is ahead."""
    if report.doubt is not None:
        return [likely_cases(report.doubt), *_what_to_measure(report.doubt, told_ahead(report))]
    if report.rival is None:
        return [ONE_POLICY]
    return [NO_INPUTS if report.comparison.tally.outcomes.any() else NOTHING_IN_PLAY]


def likely_cases(doubt: Sensitivity) -> str:
    """In how many of 100 likely cases the one policy beats the other, in a sentence."""
    found = ahead_of_hundred(doubt)
    first, second = quoted(found.first), quoted(found.second)
    return (
        f"What was put in may be off: in {found.share} of 100 likely cases [{found.low}, "
        f"{found.high}] {first} gets more in control than {second}{found.rest(second)}."
    )


def curious(report: Report) -> list[str]:
    """For who wants to know how it was played."""
    run = report.scenario.run
    told = [
        f"{report.comparison.shots_played:,} shots for each return direction; more make the "
        f"intervals narrower. Sampling: {run.sampling}, seed {run.seed}.",
    ]
    if report.doubt is not None:
        told += [_noise(report.doubt), HOW_MOVED]
    return told


def _noise(doubt: Sensitivity) -> str:
    """How many settings are told apart by their own intervals, and how many chance would tell."""
    settings = len(doubt.differences)
    ahead, behind, undecided = doubt.told
    by_chance = round(0.5 * (1.0 - LEVEL) * settings)
    return (
        f"Each of {settings:,} likely cases was played with few shots, which makes who is ahead "
        f"look more open than it is: by their own intervals {ahead:,} tell "
        f"{quoted(doubt.policy.name)} ahead, {behind:,} {quoted(doubt.scenario.baseline.name)}, "
        f"and {undecided:,} cannot tell. If neither were better, chance would make about "
        f"{by_chance:,} tell so either way."
    )


class Effects(NamedTuple):
    """What inputs do when moved alone, by the intervals: each stands in one of the lists.

    Those that ``turn`` the answer round, or tell who is ahead where the answer cannot; those that
    change only the ``size`` of the difference; and those with ``little`` effect that can be told.
    In each list the largest span comes first.
    """

    turn: list[int]
    size: list[int]
    little: list[int]

    @property
    def order(self) -> list[int]:
        """All inputs, those that matter most first."""
        return [*self.turn, *self.size, *self.little]


def effects(doubt: Sensitivity, *, ahead: bool) -> Effects:
    """What every input does; ``ahead`` is whether the answer tells its two policies apart."""
    found = Effects([], [], [])
    for k in doubt.order:
        if turns(doubt, k, ahead=ahead):
            found.turn.append(k)
        elif _moves(*doubt.ends[k]):
            found.size.append(k)
        else:
            found.little.append(k)
    return found


def _what_to_measure(doubt: Sensitivity, ahead: bool) -> list[str]:
    """What to measure first, and how large a part of the doubt it makes as far as that is told."""
    found = effects(doubt, ahead=ahead)
    turn, size = (_labels(doubt, each) for each in (found.turn, found.size))
    turned = _turned(doubt, ahead=ahead)
    if turn:
        each = "moved alone, that" if len(turn) == 1 else "each of them, moved alone,"
        told = f"Measure {joined(turn)} first: {each} {turned}."
    elif size:
        told = (
            f"Moved alone, nothing tried {turned}; {size[0]} changes the size of the difference "
            "most: measure that first."
        )
    else:
        return [
            "Moved alone, no input changes the difference by more than the chance of the shots may."
        ]
    parts = parts_of_doubt(doubt)
    if not parts:
        cases = f"{len(doubt.differences):,} cases"
        return [told, f"How large a part of the doubt each makes cannot be told from {cases}."]
    named = [parts[k] for k in (*found.turn, *found.size) if k in parts]
    return [told, f"The largest parts: {joined(named)}."] if named else [told]


def _turned(doubt: Sensitivity, *, ahead: bool) -> str:
    """What an input does that turns the answer round, or tells where the answer cannot."""
    leader, rival = quoted(doubt.policy.name), quoted(doubt.scenario.baseline.name)
    if ahead:
        return f"puts {rival} ahead of {leader}"
    return f"tells {leader} and {rival} apart"


def _labels(doubt: Sensitivity, numbers: list[int]) -> list[str]:
    return [doubt.inputs[k].label for k in numbers]


def _moves(low: Difference, high: Difference) -> bool:
    """Whether the ends of an input's range can be told from each other."""
    return low.high < high.low or high.high < low.low


def changes(doubt: Sensitivity, units: str, *, ahead: bool) -> list[Change]:
    """Every input moved alone to its ends, those that matter most first."""
    found = []
    for k in effects(doubt, ahead=ahead).order:
        each = doubt.inputs[k]
        low, high = (in_words(doubt.scenario, each, u, units) for u in (0.0, 1.0))
        here = value_here(doubt.scenario, each, units)
        words = _both_ends(doubt, k, (low, high), here)
        found.append(Change(k, each.label, low, here, high, words))
    return found


def turning(doubt: Sensitivity, units: str, *, ahead: bool) -> list[str]:
    """What turns the answer round and how, then what it does not hang on; told by intervals."""
    turned = effects(doubt, ahead=ahead).turn
    words = [each.words for each in changes(doubt, units, ahead=ahead)[: len(turned)]]
    first, *others = what_hangs(doubt, ahead=ahead)
    return [first, *map(_capital, words), *others]


def what_hangs(doubt: Sensitivity, *, ahead: bool) -> list[str]:
    """Which inputs turn the answer round, which change its size only, and which do neither."""
    found = effects(doubt, ahead=ahead)
    turned = _turned(doubt, ahead=ahead)
    told = f"Nothing tried {turned}."
    if found.turn:
        told = f"What {turned}: {joined(_labels(doubt, found.turn))}."
    rest = (
        (found.size, "the difference larger or smaller only"),
        (found.little, "too little difference to tell"),
    )
    others = [
        f"{'Makes' if len(numbers) == 1 else 'Make'} {what}: {joined(_labels(doubt, numbers))}."
        for numbers, what in rest
        if numbers
    ]
    return [told, *others]


def turns(doubt: Sensitivity, number: int, *, ahead: bool) -> bool:
    """Whether an end of an input's range tells another policy ahead than the values here do.

    What these say is the answer's; where that cannot tell, their own interval, and where that
    cannot either, an end that tells is enough unless both say the same.
    """
    here = 1 if ahead else _who(doubt.usual)
    ends = {_who(end) for end in doubt.ends[number]}
    return -here in ends if here else len(ends) > 1


def _who(difference: Difference) -> int:
    """Who is ahead by an interval: 1 the policy, -1 the baseline, 0 cannot be told."""
    return int(difference.low > 0.0) - int(difference.high < 0.0)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def value_here(scenario: Scenario, each: Input, units: str) -> str:
    """An input's value in the scenario; a file of draws has no single one."""
    if isinstance(each, Drawn):
        return ""
    low, high, value = each.lows[0], each.highs[0], each.settings[0].value
    along = (value - low) / (high - low) if high > low else 0.0
    return in_words(scenario, each, along, units)


def _both_ends(doubt: Sensitivity, k: int, values: tuple[str, str], here: str) -> str:
    """What both ends of an input's range do, in a sentence."""
    phrase = _PHRASES.get(doubt.inputs[k].key, f"{doubt.inputs[k].label} is {{}}")
    instead = f" instead of {here}" if here and not here.endswith(FACTOR) else ""
    low, high = (_end(doubt, end) for end in doubt.ends[k])
    return f"If {phrase.format(values[0])}{instead}, {low}; if {values[1]}, {high}."


def _end(doubt: Sensitivity, end: Difference) -> str:
    """What one end does: who is ahead, as far as its interval tells."""
    if end.low <= 0.0 <= end.high:
        return f"too close to tell ({_interval(end)})"
    return _ahead(doubt, end)


def _ahead(doubt: Sensitivity, difference: Difference) -> str:
    """Who gets how many more of 100 in control; the interval is that of a single difference."""
    who = doubt.policy.name
    value, low, high = difference
    if value < 0.0:
        who, value, low, high = doubt.scenario.baseline.name, -value, -high, -low
    who = quoted(who)
    shown = _interval(Difference(value, low, high)).replace("+", "")
    return f"{who} gets {shown} more of 100"


def _interval(difference: Difference) -> str:
    """A difference with its interval, in points."""
    names = ("points", "points_low", "points_high")
    return points(dict(zip(names, difference, strict=True)))
