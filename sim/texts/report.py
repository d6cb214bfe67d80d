"""What the report says in sentences: the answer, natural frequencies, who takes the middle."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, NamedTuple

from sim.analyses.report import Report
from sim.analyses.variants import Switch, Variant
from sim.return_of_serve import returner_side
from sim.scenario import Scenario
from sim.tables import CANNOT_TELL, Row
from sim.texts.report_change import NOTHING_IN_PLAY, curious, inputs, sampling, turning
from sim.texts.report_middle import middle_table
from sim.texts.table import aligned, length
from sim.wording import CAUTIONS, LIMITS, MINUS, joined, percent, points, quoted

# What there is, but rounds to none of 100.
RARE: Final = "under 1"
# What stands by the answer, for who reads no further.
BY_THE_ANSWER: Final = (
    "In control or reached says that a paddle gets there in time, not that a good shot follows. "
    f"{CAUTIONS[1]}"
)
_MOST_NAMED: Final = 4
_TOO_MANY: Final = "not played: too many policies for one page"


class Frequencies(NamedTuple):
    """Of 100 balls in play, so many in control, at full stretch and through: together 100."""

    in_control: int
    at_full_stretch: int
    through: int


def frequencies(row: Row) -> Frequencies:
    """Whole balls of 100 that add up to 100, from a row with counts.

    Those in control are rounded as everywhere else; of the others each is rounded down, and what
    is missing goes to the larger remainder first.

    >>> frequencies({"in_play": 1000, "reached": 992, "in_control": 917})
    Frequencies(in_control=92, at_full_stretch=7, through=1)
    >>> frequencies({"in_play": 1000, "reached": 998, "in_control": 916})
    Frequencies(in_control=92, at_full_stretch=8, through=0)
    """
    in_play, reached, control = row["in_play"], row["reached"], row["in_control"]
    in_control = round(100.0 * (control / in_play))
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
        return f"In control with {quoted(report.leader)}: {share}."
    return f"{_ahead(report, share, report.rival)}{_others_alike(report)}."


def _ahead(report: Report, share: str, rival: str) -> str:
    """The leader before its rival where the two are told apart; otherwise that they are not."""
    row = lead(report)
    verdict, by = row["verdict"], points(row).replace("+", "")
    if verdict == "more":
        leader = quoted(report.leader)
        return f"Most in control: {leader}, {share}; {by} more than {quoted(rival)}"
    rows = overall(report)
    whole = sorted({frequencies(rows[name]).in_control for name in (report.leader, rival)})
    either = f"{quoted(report.leader)} or {quoted(rival)}: as many in control"
    found = f"{either}, {' to '.join(map(str, whole))} of 100 balls in play"
    if verdict == CANNOT_TELL:
        return f"{found}, as far as this run can tell ({points(row)})"
    return f"{found}, {verdict} ({points(row)})"


def _others_alike(report: Report) -> str:
    """Which others cannot be told from the leader, or nothing."""
    if not report.alike:
        return ""
    who = joined([quoted(name) for name in report.alike])
    if len(report.alike) > _MOST_NAMED:
        who = f"{len(report.alike)} others"
    also = "" if told_ahead(report) else "also "
    return f"; {also}too close to {quoted(report.leader)} to call: {who}"


def told_ahead(report: Report) -> bool:
    """Whether the leader can be told from its rival."""
    return report.rival is not None and lead(report)["verdict"] == "more"


def compared_with(report: Report, policy: str) -> str | None:
    """The policy whose frequencies stand beside a policy's: the baseline, or who challenges it."""
    baseline = report.scenario.baseline.name
    if policy != baseline:
        return baseline
    return report.leader if report.leader != baseline else report.rival


def told_from_other(report: Report, policy: str) -> bool:
    """Whether a policy, as it stands, can be told from the one it is compared with."""
    other = compared_with(report, policy)
    found = differences(report, "in_control")
    row = found.get(policy) or found.get(other or "")
    return row is not None and row["verdict"] in ("more", "fewer")


def in_frequencies(report: Report) -> str:
    """The answer in natural frequencies: the leader, the rival, and who gets least."""
    rows = overall(report)
    if report.rival is None or not rows[report.leader]["in_play"]:
        return ""
    least = min(rows, key=lambda name: rows[name]["in_control"])
    names = dict.fromkeys((report.leader, report.rival, least))
    told = [f"{frequencies(rows[name]).in_control} with {quoted(name)}" for name in names]
    last = f" (the fewest of {len(rows)})" if len(names) > 2 else ""
    return f"Of 100 balls in play the pair gets in control about {joined(told)}{last}."


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
    said = (answer(report), in_frequencies(report), *inputs(report), coarse_steps(report))
    parts = [scenario.name, scenario.question, where_they_start(scenario), ""]
    parts += [*filter(None, dict.fromkeys(said)), BY_THE_ANSWER, ""]
    parts += ["All policies, after all returns", aligned(policy_table(report)), ""]
    if report.doubt:
        parts += ["What would change the answer"]
        parts += [*turning(report.doubt, units, ahead=told_ahead(report)), ""]
    parts += ["Who takes the middle: after the first column, of 100 balls between the two"]
    parts += [aligned(middle_table(report)), "", *sampling(report), ""]
    parts += ["For the curious", *curious(report, lead(report)), "", *LIMITS, *CAUTIONS]
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
