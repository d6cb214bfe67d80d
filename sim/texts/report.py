"""What the report says in sentences: the answer, natural frequencies, who takes the middle."""

from __future__ import annotations

from typing import Final, NamedTuple

from sim.analyses.report import Report
from sim.analyses.variants import Switch, Variant
from sim.tables import CANNOT_TELL, Row
from sim.texts.report_change import NOTHING_IN_PLAY, changes, how_moved, inputs, sampling
from sim.texts.report_middle import middle_table
from sim.texts.table import aligned, length
from sim.wording import CAUTIONS, LIMITS, MINUS, joined, percent, points

# What there is, but rounds to none of 100.
RARE: Final = "under 1"
_MOST_NAMED: Final = 4
_TOO_MANY: Final = "not played: too many policies for one page"


class Frequencies(NamedTuple):
    """Of 100 balls in play, so many in control, at full stretch and through: together 100."""

    in_control: int
    at_full_stretch: int
    through: int


def frequencies(row: Row) -> Frequencies:
    """Whole balls of 100 that add up to 100, from a row with counts.

    Each share is rounded down, and what is missing goes to those with the largest remainders.

    >>> frequencies({"in_play": 1000, "reached": 992, "in_control": 917})
    Frequencies(in_control=92, at_full_stretch=7, through=1)
    """
    in_play, reached, control = row["in_play"], row["reached"], row["in_control"]
    counts = (control, reached - control, in_play - reached)
    whole = [100 * count // in_play for count in counts]
    order = sorted(range(3), key=lambda k: -(100 * counts[k] % in_play))
    for k in order[: 100 - sum(whole)]:
        whole[k] += 1
    return Frequencies(*whole)


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


def overall(report: Report, direction: str = "all") -> dict[str, Row]:
    """The comparison's row of every policy after returns in one direction."""
    return {
        row["policy"]: row
        for row in report.comparison.summary_rows
        if (row["return_direction"], row["shot"], row["lane"]) == (direction, "all", "all")
    }


def estimate(row: Row, measure: str) -> str:
    """A share with its interval, as it is shown wherever it stands."""
    return percent(*(row[f"{measure}_{end}"] for end in ("share", "low", "high")))


def differences(report: Report, measure: str) -> dict[str, Row]:
    """Every other policy's paired difference to the baseline, after all returns."""
    return {
        row["policy"]: row
        for row in report.comparison.difference_rows
        if (row["return_direction"], row["shot"], row["measure"]) == ("all", "all", measure)
    }


def lead(report: Report) -> Row:
    """How far the leader is ahead of the rival, in control, in points with the interval."""
    found = differences(report, "in_control")
    if report.leader in found:
        return found[report.leader]
    row = found[report.rival or ""]
    ends = {"points_low": -row["points_high"], "points_high": -row["points_low"]}
    turned = {"more": "fewer", "fewer": "more"}.get(row["verdict"], row["verdict"])
    return {**row, "points": -row["points"], **ends, "verdict": turned}


def answer(report: Report) -> str:
    """The answer in one sentence: who gets most in control, and how far that is ahead."""
    row = overall(report)[report.leader]
    if not row["in_play"]:
        return NOTHING_IN_PLAY
    share = f"{estimate(row, 'in_control')} of 100 balls in play"
    if report.rival is None:
        return f"In control with {report.leader}: {share}."
    return f"{_ahead(report, share, report.rival)}{_others_alike(report)}."


def _ahead(report: Report, share: str, rival: str) -> str:
    """The leader before its rival where the two are told apart; otherwise that they are not."""
    row = lead(report)
    verdict, by = row["verdict"], points(row).replace("+", "")
    if verdict == "more":
        return f"Most in control: {report.leader}, {share}; {by} more than {rival}"
    other = estimate(overall(report)[rival], "in_control")
    both = f"{report.leader}, {share}, and {rival}, {other}"
    if verdict == CANNOT_TELL:
        return f"In control, this run cannot tell between {both}: {points(row)}"
    return f"In control, {verdict} between {both}: {points(row)}"


def _others_alike(report: Report) -> str:
    """Which others cannot be told from the leader, or nothing."""
    if not report.alike:
        return ""
    who = joined([*report.alike])
    if len(report.alike) > _MOST_NAMED:
        who = f"{len(report.alike)} others"
    also = "" if told_ahead(report) else "also "
    return f"; {also}too close to {report.leader} to call: {who}"


def told_ahead(report: Report) -> bool:
    """Whether the leader can be told from its rival."""
    return report.rival is not None and lead(report)["verdict"] == "more"


def compared_with(report: Report, policy: str) -> str | None:
    """The policy whose frequencies stand beside a policy's: the baseline, or who challenges it."""
    baseline = report.scenario.baseline.name
    if policy != baseline:
        return baseline
    return report.leader if report.leader != baseline else report.rival


def in_frequencies(report: Report) -> str:
    """The answer in natural frequencies: the leader, the rival, and who gets least."""
    rows = overall(report)
    if report.rival is None or not rows[report.leader]["in_play"]:
        return ""
    least = min(rows, key=lambda name: rows[name]["in_control"])
    names = dict.fromkeys((report.leader, report.rival, least))
    told = [f"{name} {frequencies(rows[name]).in_control}" for name in names]
    last = f" (the fewest of {len(rows)})" if len(names) > 2 else ""
    return f"Of 100 balls in play the pair gets in control about: {', '.join(told)}{last}."


def setting_words(name: str, variant: Variant, units: str) -> str:
    """A policy by its name, spacing and shift.

    >>> from sim.scenario import Policy
    >>> variant = Variant(Policy(name="any", rule="follow"), 7.0, 0.4)
    >>> setting_words("follow", variant, "us")
    'follow, 7.0 ft apart, shift 0.4 of the way'
    """
    words = name
    if variant.spacing is not None:
        words += f", {length(variant.spacing, units)} apart"
    return words if variant.shift is None else f"{words}, shift {shift_words(variant.shift)}"


def shift_words(shift: float) -> str:
    """A shift as it is shown: 0 is to stay, 1 to go as far across as the opponents' contact.

    >>> shift_words(0.4), shift_words(-0.25)
    ('0.4 of the way', '−0.25 of the way')
    """
    return f"{shift:g} of the way".replace("-", MINUS)


def why_no_spacing(switch: Switch) -> str:
    """Why the distance between the two cannot be moved, or nothing."""
    if not switch.spacings:
        return f"{switch.policy.name} gives each player a place of their own"
    return _TOO_MANY if len(switch.spacings) == 1 else ""


def why_no_shift(switch: Switch) -> str:
    """Why the shift cannot be moved, or nothing."""
    if not switch.shifts:
        return f"{switch.policy.name} does not shift with the return"
    return _TOO_MANY if len(switch.shifts) == 1 else ""


def coarse_steps(report: Report) -> str:
    """That there are fewer settings to choose from than usual, or nothing."""
    if not any(switch.coarse for switch in report.switches):
        return ""
    return (
        f"{len(report.switches)} policies are many for one page: there are fewer spacings and "
        "shifts to choose from than usual."
    )


def terminal_text(report: Report, units: str) -> str:
    """What the terminal shows: the answer, how sure, all policies, the middle, the limits."""
    scenario = report.scenario
    said = (answer(report), in_frequencies(report), *inputs(report), coarse_steps(report))
    parts = [scenario.name, scenario.question, "", *filter(None, dict.fromkeys(said)), ""]
    parts += ["All policies, after all returns", aligned(policy_table(report)), ""]
    if report.doubt:
        parts += ["What would change the answer"]
        parts += [f"  {change.words}" for change in changes(report.doubt, units)]
        parts += [how_moved(report.doubt, lead(report), report.comparison.shots_played), ""]
    parts += ["Who takes the middle: after the first column, of 100 balls between the two"]
    parts += [aligned(middle_table(report)), "", *sampling(report), "", *LIMITS, *CAUTIONS]
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
