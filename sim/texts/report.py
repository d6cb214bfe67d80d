"""What the report says in sentences: natural frequencies, settings, and all for the terminal."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Final, NamedTuple

from sim.analyses.report import Report
from sim.analyses.variants import Switch, Variant
from sim.return_of_serve import returner_side
from sim.scenario import Scenario
from sim.tables import Row
from sim.texts.report_answer import answer, differences, estimate, overall, ranking, told_ahead
from sim.texts.report_change import curious, inputs, sampling, turning
from sim.texts.report_middle import middle_table
from sim.texts.table import aligned, length
from sim.wording import CAUTIONS, LIMITS, MINUS, coarser, joined, points, quoted

# What there is, but rounds to none of 100.
RARE: Final = "under 1"
# What stands by the answer, for who reads no further.
BY_THE_ANSWER: Final = (
    "In control or reached says that a paddle gets there in time, not that a good shot follows. "
    f"{CAUTIONS[1]}"
)
_TOO_MANY: Final = "not played: too many policies for one page"


class Frequencies(NamedTuple):
    """Of 100 balls in play, so many in control, at full stretch and through: together 100."""

    in_control: int
    at_full_stretch: int
    through: int


def frequencies(row: Row) -> Frequencies:
    """Whole balls of 100 that add up to 100, from a row with counts.

    Those in control are rounded as everywhere else, from the digits that stand with their interval
    if the row has one; of the others each is rounded down, and what is missing goes to the larger
    remainder first.

    >>> frequencies({"in_play": 1000, "reached": 992, "in_control": 917})
    Frequencies(in_control=92, at_full_stretch=7, through=1)
    >>> frequencies({"in_play": 1000, "reached": 998, "in_control": 916})
    Frequencies(in_control=92, at_full_stretch=8, through=0)
    """
    in_play, reached, control = row["in_play"], row["reached"], row["in_control"]
    interval = [100.0 * row.get(f"in_control_{end}", math.nan) for end in ("low", "high")]
    in_control = int(coarser([100.0 * (control / in_play), *interval]))
    counts = (reached - control, in_play - reached)
    others = [100 * count // in_play for count in counts]
    order = sorted(range(2), key=lambda k: -(100 * counts[k] % in_play))
    for k in order[: 100 - in_control - sum(others)]:
        others[k] += 1
    return Frequencies(in_control, *others)


def together(rows: Iterable[Row]) -> Row:
    """The balls of several policies as one row: what is drawn where these are not told apart.

    >>> row = {"in_play": 10, "reached": 9, "in_control": 7}
    >>> together([row, row])
    {'in_play': 20, 'reached': 18, 'in_control': 14}
    """
    rows = [*rows]
    return {name: sum(row[name] for row in rows) for name in ("in_play", "reached", "in_control")}


def frequency_words(row: Row) -> str:
    """The three frequencies in words; what is rare but there is not called none.

    >>> frequency_words({"in_play": 1000, "reached": 998, "in_control": 917})
    '92 in control, 8 at full stretch, under 1 through'
    """
    if not row["in_play"]:
        return "no balls in play"
    found = frequencies(row)
    there = (row["in_control"], row["reached"] - row["in_control"], row["in_play"] - row["reached"])
    words = ("in control", "at full stretch", "through")
    return ", ".join(
        f"{number or (RARE if count else 'none')} {word}"
        for number, count, word in zip(found, there, words, strict=True)
    )


def setting_words(name: str, variant: Variant, units: str) -> str:
    """A policy as the scenario has it, by its name, spacing and shift.

    >>> from sim.scenario import Policy
    >>> variant = Variant(Policy(name="any", rule="follow"), 7.0, 0.4)
    >>> setting_words("follow", variant, "us")
    '“follow”: 7 ft apart, shift 0.4 of the way'
    """
    words = numbers_words(variant, units)
    return f"{quoted(name)}: {words}" if words else quoted(name)


def numbers_words(variant: Variant, units: str) -> str:
    """A setting's spacing and shift, as far as it has them."""
    words = []
    if variant.spacing is not None:
        words.append(f"{_plain_length(variant.spacing, units)} apart")
    if variant.shift is not None:
        words.append(f"shift {shift_words(variant.shift)}")
    return ", ".join(words)


def another_setting(name: str, own: Variant, variant: Variant, units: str) -> str:
    """A setting that is not the policy's own, and what the policy has instead.

    >>> from sim.scenario import Policy
    >>> policy = Policy(name="any", rule="follow")
    >>> own, other = Variant(policy, 6.0, 0.4), Variant(policy, 12.0, 0.4)
    >>> another_setting("six feet", own, other, "us")
    'Another setting: 12 ft apart, shift 0.4 of the way (“six feet” has 6 ft)'
    """
    has = []
    if own.spacing is not None and own.spacing != variant.spacing:
        has.append(_plain_length(own.spacing, units))
    if own.shift is not None and own.shift != variant.shift:
        has.append(f"shift {shift_words(own.shift)}")
    return f"Another setting: {numbers_words(variant, units)} ({quoted(name)} has {joined(has)})"


def _plain_length(feet: float, units: str) -> str:
    """A length in a sentence: whole feet without a decimal."""
    return length(feet, units).replace(".0 ", " ")


def shift_words(shift: float) -> str:
    """A shift as it is shown: 0 is to stay, 1 to go as far across as the opponents' contact.

    >>> shift_words(0.4), shift_words(-0.25)
    ('0.4 of the way', '−0.25 of the way')
    """
    return f"{shift:g} of the way".replace("-", MINUS)


def why_no_spacing(switch: Switch) -> str:
    """Why the distance between the two cannot be moved, or nothing."""
    if not switch.spacings:
        return f"{quoted(switch.policy.name)} gives each player a place of their own"
    return _TOO_MANY if len(switch.spacings) == 1 else ""


def why_no_shift(switch: Switch) -> str:
    """Why the shift cannot be moved, or nothing."""
    if not switch.shifts:
        return f"{quoted(switch.policy.name)} does not shift with the return"
    return _TOO_MANY if len(switch.shifts) == 1 else ""


def coarse_steps(report: Report) -> str:
    """That there are fewer settings to choose from than usual, or nothing."""
    if not any(switch.coarse for switch in report.switches):
        return ""
    return (
        f"{len(report.switches)} policies are many for one page: there are fewer spacings and "
        "shifts to choose from than usual."
    )


def where_they_start(scenario: Scenario) -> str:
    """Where the pair stands when the return is struck, and who strikes it."""
    returner = "right" if returner_side(scenario) > 0 else "left"
    if scenario.run_in.partner_starts == "baseline":
        return f"Both start at the baseline; the {returner} player returns."
    return f"The {returner} player returns from the baseline; the partner starts at the line."


def terminal_text(report: Report, units: str) -> str:
    """What the terminal shows: the answer, how sure, all policies, the middle, the limits."""
    scenario = report.scenario
    said = (answer(report), ranking(report), *inputs(report), coarse_steps(report))
    parts = [scenario.name, scenario.question, where_they_start(scenario), ""]
    parts += [*filter(None, dict.fromkeys(said)), BY_THE_ANSWER, ""]
    parts += [f"All policies, after all returns; points against {quoted(scenario.baseline.name)}"]
    parts += [aligned(policy_table(report)), ""]
    if doubt := report.doubt:
        leader, rival = quoted(doubt.policy.name), quoted(doubt.scenario.baseline.name)
        parts += [f"What would change the answer; + is {leader} ahead of {rival}"]
        parts += [*turning(doubt, units, ahead=told_ahead(report)), ""]
    parts += ["Who takes the middle: after the first column, of 100 balls between the two"]
    parts += [aligned(middle_table(report)), "", *sampling(report), ""]
    parts += ["For the curious", *curious(report), "", *LIMITS, *CAUTIONS]
    return "\n".join(parts)


def policy_table(report: Report) -> list[list[str]]:
    """All policies in one table: shares, and paired differences to the baseline."""
    baseline = report.scenario.baseline.name
    table = [["policy", "in control, %", "reached, %", "in control, points", "reached, points"]]
    against = [differences(report, measure) for measure in ("in_control", "reached")]
    for name, row in overall(report).items():
        told = ["baseline"] * 2 if name == baseline else [points(rows[name]) for rows in against]
        table.append([name, estimate(row, "in_control"), estimate(row, "reached"), *told])
    return table
