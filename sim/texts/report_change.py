"""What the report says of doubt: what the intervals mean, and what would change the answer."""

from __future__ import annotations

from typing import Final, NamedTuple

from sim.analyses.inputs import Drawn, Input
from sim.analyses.report import Report
from sim.analyses.sensitivity import TIMES_AT_ENDS, Difference, Sensitivity
from sim.scenario import Scenario
from sim.statistics import LEVEL
from sim.tables import Row
from sim.texts.sensitivity import ahead_of_hundred, what_matters
from sim.wording import joined, points, quoted

NO_INPUTS: Final = (
    "How much the inputs matter was not asked: the intervals tell the chance of the shots only, "
    "not how far what was put in may be off."
)
NOTHING_IN_PLAY: Final = "No third shot stayed in play: nothing to compare."
ONE_POLICY: Final = (
    "There is one policy only, and nothing to compare it with: how its share hangs on what was put "
    "in is not looked at here."
)
FACTOR: Final = "times"
# What is said of an input instead of "LABEL is VALUE".
_PHRASES: Final = {
    "opponents.drive.speed.mean": "their drives are {}",
    "opponents.errors": "the spread of their errors is {} what it is here",
    "opponents.shots.drive": "they drive {}",
    "opponents.lanes.cross": "they aim cross-court with {}",
    "return_of_serve.landing_depth.mean": "the returns land {} from the net",
    "run_in.late_without_split_step": "a missing split step costs {}",
}
# Weights, of which only the proportions count.
_WEIGHTS: Final = ("opponents.shots.drive", "opponents.lanes.cross")
# Inputs that are named as those that move the difference most.
_MOST_NAMED: Final = 3


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
        doubt = report.doubt
        return [likely_cases(doubt), *_matters(doubt)]
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


def curious(report: Report, lead: Row) -> list[str]:
    """For who wants to know how it was played; ``lead`` is the difference that the answer tells."""
    run = report.scenario.run
    told = [
        f"{report.comparison.shots_played:,} shots for each return direction; more make the "
        f"intervals narrower. Sampling: {run.sampling}, seed {run.seed}.",
    ]
    if report.doubt is not None:
        doubt = report.doubt
        told += [_noise(doubt), how_moved(doubt, lead, report.comparison.shots_played)]
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


def _matters(doubt: Sensitivity) -> list[str]:
    """What to measure first: by parts of the doubt where these can be told, or by single inputs."""
    # What cannot be told comes with an option to type, which helps nobody who reads a page.
    told = [sentence for sentence in what_matters(doubt) if "--" not in sentence]
    if told:
        return told
    named = [doubt.inputs[k].label for k in doubt.order if _moves(*doubt.ends[k])][:_MOST_NAMED]
    if not named:
        return [
            "Moved alone, no input changes the difference by more than the chance of the shots may."
        ]
    then = f" Then comes {joined(named[1:])}." if named[1:] else ""
    return [
        f"Moved alone, {named[0]} changes the difference most: measure that first.{then} How large "
        f"a part of the doubt each makes cannot be told from {len(doubt.differences):,} cases."
    ]


def _moves(low: Difference, high: Difference) -> bool:
    """Whether the ends of an input's range can be told from each other."""
    return low.high < high.low or high.high < low.low


def changes(doubt: Sensitivity, units: str) -> list[Change]:
    """Every input moved alone to its ends, the one with the largest span first."""
    found = []
    for k in doubt.order:
        each = doubt.inputs[k]
        low, high = (_shown(doubt.scenario, each, u, units) for u in (0.0, 1.0))
        here = value_here(doubt.scenario, each, units)
        words = _both_ends(doubt, k, (low, high), here)
        found.append(Change(k, each.label, low, here, high, words))
    return found


def turning(doubt: Sensitivity, units: str, *, ahead: bool) -> list[str]:
    """What turns the answer round, and which inputs do not; told by intervals only.

    ``ahead`` is whether the answer tells its two policies apart.
    """
    found = changes(doubt, units)
    turned = [change for change in found if turns(doubt, change, ahead=ahead)]
    others = [change.label for change in found if change not in turned]
    told = [f"Nothing tried {'turns it round' if ahead else 'decides who is ahead'}."]
    if turned:
        which = "What turns it round" if ahead else "Who is ahead hangs on"
        told = [f"{which}: {joined([change.label for change in turned])}."]
        told += [_capital(change.words) for change in turned]
    if others:
        told.append(f"Make little difference to who is ahead: {joined(others)}.")
    return told


def turns(doubt: Sensitivity, change: Change, *, ahead: bool) -> bool:
    """Whether an end of an input's range tells another policy ahead than the values here do.

    What these say is the answer's; where that cannot tell, that of as many shots as at the ends,
    and where these cannot either, an end that tells is enough unless both say the same.
    """
    here = 1 if ahead else _who(doubt.usual)
    ends = {_who(end) for end in doubt.ends[change.number]}
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
    return _shown(scenario, each, along, units)


def _shown(scenario: Scenario, each: Input, u: float, units: str) -> str:
    """An input's value that far along its way: weights of 100, and both players' numbers."""
    if each.key not in _WEIGHTS:
        number, blank, unit = each.shown(u, units).partition(" ")
        return number.replace("/", " and ") + blank + unit
    _, group, name = each.key.split(".")
    weights = getattr(scenario.opponents, group).model_dump()
    own = each.numbers(u)[each.key]
    share = own / (own + sum(weights.values()) - weights[name])
    return f"{100.0 * share:.0f} of 100"


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


def how_moved(doubt: Sensitivity, answer: Row, shots: int) -> str:
    """How far the inputs are moved, with how many shots, and what these say of the answer.

    ``answer`` is the difference that the answer tells, from so many ``shots``.
    """
    at_ends = TIMES_AT_ENDS * doubt.scenario.run.shots
    first, second = quoted(doubt.policy.name), quoted(doubt.scenario.baseline.name)
    return (
        "One input is moved at a time, the others stay as they are here; how far follows from what "
        f"its value rests on. At every end {at_ends:,} shots are played for each return direction: "
        f"as many at the values here say {_interval(doubt.usual)} points in control for {first} "
        f"against {second}, the {shots:,} of the answer {points(answer)}."
    )
