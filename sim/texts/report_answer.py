"""The report's answer: who gets most in control, how far ahead, and all policies in one line."""

from __future__ import annotations

from typing import Final

from sim.analyses.report import Report
from sim.tables import CANNOT_TELL, Row
from sim.wording import (
    TOLD,
    joined,
    of_hundred,
    percent,
    places_together,
    points,
    quoted,
    share_of_hundred,
)

NOTHING_IN_PLAY: Final = "No third shot stayed in play: nothing to compare."
# So many policies are named where they cannot be told from the leader.
_MOST_NAMED: Final = 4
# So many that get fewer are all named; of more only the nearest.
_MOST_RANKED: Final = 8
_NEAREST: Final = 5


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
    return _turned(next(row for row in report.behind if row["policy"] == report.rival))


def _turned(row: Row) -> Row:
    """How far the leader is ahead of the policy that a difference is of."""
    ends = {"points_low": -row["points_high"], "points_high": -row["points_low"]}
    verdict = "more" if row["verdict"] == "fewer" else row["verdict"]
    return {**row, "points": -row["points"], **ends, "verdict": verdict}


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
    if {policy, other} == {report.leader, report.rival}:
        return told_ahead(report)
    row = differences(report, "in_control").get(policy)
    return row is not None and row["verdict"] in TOLD


def answer(report: Report) -> str:
    """The answer in one sentence: who gets most in control, and how far that is ahead."""
    row = overall(report)[report.leader]
    if not row["in_play"]:
        return NOTHING_IN_PLAY
    share = f"{estimate(row, 'in_control')} of 100 balls in play"
    if report.rival is None:
        return f"In control with {quoted(report.leader)}: {share}."
    if told_ahead(report):
        said = f"Most in control: {quoted(report.leader)}, {share}; {_by_how_many(report)}"
    else:
        said = _as_many(report, report.rival)
    return f"{said}{_others_alike(report)}."


def _by_how_many(report: Report) -> str:
    """How far the leader is ahead of the nearest that is told from it, and of the rival."""
    told = [row for row in _in_order(report) if row["verdict"] == "fewer"]
    rows = [row for row in told if row is told[0] or row["policy"] == report.rival]
    return ", ".join(
        f"{points(_turned(row)).replace('+', '')} more than {quoted(row['policy'])}" for row in rows
    )


def _as_many(report: Report, rival: str) -> str:
    """That leader and rival are not told apart, what is known of them, and which way round."""
    row, rows = lead(report), overall(report)
    balls = {share_of_hundred(rows[name], "in_control") for name in (report.leader, rival)}
    known = row["verdict"]
    if known == CANNOT_TELL:
        known = "as far as this run can tell"
    return (
        f"{quoted(report.leader)} or {quoted(rival)}: as many in control, "
        f"{' to '.join(sorted(balls, key=int))} of 100 balls in play, {known} "
        f"(the first {points(row)})"
    )


def _others_alike(report: Report) -> str:
    """Which others cannot be told from the leader, or nothing."""
    if not report.alike:
        return ""
    who = joined([quoted(name) for name in report.alike])
    if len(report.alike) > _MOST_NAMED:
        who = f"{len(report.alike)} others"
    also = "" if told_ahead(report) else "also "
    return f"; {also}too close to call: {who}"


def _in_order(report: Report) -> list[Row]:
    """The differences of the others to the leader, the nearest first."""
    return sorted(report.behind, key=lambda row: -row["points"])


def ranking(report: Report) -> str:
    """All policies in one line: the leader with those not told from it, then by how many fewer."""
    if report.rival is None or not overall(report)[report.leader]["in_play"]:
        return ""
    fewer = [row for row in _in_order(report) if row["verdict"] == "fewer"]
    alike = [row["policy"] for row in _in_order(report) if row["verdict"] != "fewer"]
    places = places_together(fewer)
    told = [_first(report, alike, places), ", ".join(_fewer(fewer, places))]
    return f"Of 100 balls in play, in control: {'; '.join(filter(None, told))}."


def _first(report: Report, alike: list[str], places: int) -> str:
    """The leader's number, and those of the policies that are not told from it."""
    rows = overall(report)
    named = [report.leader, *(alike if len(alike) <= _MOST_NAMED else [])]
    numbers = {name: share_of_hundred(rows[name], "in_control", places) for name in named}
    told = ", ".join(_together(numbers))
    if not alike:
        return told
    if len(alike) > _MOST_NAMED:
        return f"{told}; too close to it to tell: {len(alike)} others"
    return f"{told}, too close to tell apart"


def _fewer(rows: list[Row], places: int) -> list[str]:
    """By how many fewer the others are behind, the nearest first; of very many the nearest only."""
    words = {row["policy"]: of_hundred(row, places) for row in rows}
    if len(rows) <= _MOST_RANKED:
        return _together(words)
    others = [words.pop(row["policy"]) for row in rows[_NEAREST:]]
    least = others[0].removesuffix(" fewer")
    most = "" if others[-1] == others[0] else f" to {others[-1].removesuffix(' fewer')}"
    return [*_together(words), f"{len(others)} others {least}{most} fewer"]


def _together(words: dict[str, str]) -> list[str]:
    """What is said of policies, those of which the same is said together."""
    names: dict[str, list[str]] = {}
    for name, said in words.items():
        names.setdefault(said, []).append(quoted(name))
    return [f"{joined(who)} {said}" for said, who in names.items()]
