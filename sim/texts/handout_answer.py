"""The page for players in the terminal, for their coach: what is taught and why, how sure."""

from __future__ import annotations

from sim.analyses.handout import Choice, Handout
from sim.analyses.handout_drill import Share
from sim.analyses.handout_lessons import rows_of
from sim.analyses.middle import SHOTS
from sim.run_in import PLAYERS
from sim.tables import Row
from sim.texts.handout import PageWords
from sim.texts.table import aligned, length
from sim.wording import (
    CAUTIONS,
    DIRECTIONS,
    LIMITS,
    joined,
    of_hundred,
    percent,
    places_together,
    points,
)


def terminal_text(result: Handout, words: PageWords, units: str = "us") -> str:
    """What is taught and why, the page's sentences, and the numbers behind them."""
    parts = [result.scenario.name, "What should this pair be taught, on one page?", ""]
    parts += [*_answer(result), "", *_how_sure(result), ""]
    parts += [words.as_good, ""] if words.as_good else []
    for court in words.courts:
        parts += [f"{court.heading}: {court.control.lower()}", *map(_indented, court.sentences), ""]
    for box in (words.way_in, words.walk, words.drill):
        parts += [box.heading, *map(_indented, box.lines), ""]
    parts += ["The numbers behind it, of 100 balls in play", aligned(_shares_table(result)), ""]
    parts += ["Balls between the two, of 100", aligned(_middle_table(result)), ""]
    parts += ["Where they are to stand, and where the shot finds them on average"]
    parts += [aligned(_places_table(result, units)), ""]
    if len(result.scenario.policies) > 1:
        parts += [f"All policies, against {result.policy.name}", aligned(_policies(result)), ""]
    return "\n".join([*parts, *LIMITS, *CAUTIONS])


def _indented(line: str) -> str:
    return f"- {line}"


def _answer(result: Handout) -> list[str]:
    share, name = result.in_control, result.policy.name
    control = percent(share.share, share.low, share.high)
    lines = [
        f"Taught: {name}. Of 100 balls in play the pair gets {control} in control.",
    ]
    lines.append(_why(result, result.choice))
    if result.choice.alike:
        verdicts = {row["policy"]: row for row in _against(result)}
        told = [f"{name} ({_told(verdicts[name])})" for name in result.choice.alike]
        lines.append(f"In control it cannot be told apart from: {', '.join(told)}.")
    return lines


def _told(row: Row) -> str:
    return f"{row['verdict']}, {points(row)} points"


def _why(result: Handout, choice: Choice) -> str:
    """Why this policy and no other."""
    name = choice.policy.name
    rows = {row["policy"]: row for row in _against(result)}
    if not rows:
        return "Why: it is the scenario's only policy."
    if choice.asked:
        if choice.most == name:
            return "Why: --policy asked for it; it also has most in control."
        return (
            f"Why: --policy asked for it. Most in control has {choice.most}: of 100, against "
            f"{name}, {of_hundred(rows[choice.most])}."
        )
    if choice.gave_way:
        (row,) = rows_of(
            result.comparison.difference_rows, measure="reached", policy=choice.gave_way
        )
        return (
            f"Why: in control it cannot be told from {choice.gave_way}, but it reaches more balls; "
            f"that one, of 100, {of_hundred(row)}."
        )
    if choice.verdict == "":
        return "Why: it has most in control of all policies."
    if choice.verdict == "more":
        fewer = of_hundred(rows[choice.baseline], places_together(rows.values()))
        return (
            f"Why: it has most in control of all policies; {choice.baseline}, with which the "
            f"scenario compares them, gets {fewer} of 100."
        )
    return (
        f"Why: the scenario compares all others with it, and {choice.most}, which has "
        f"most in control here, cannot be told from it: {choice.verdict} "
        f"({points(rows[choice.most])} points)."
    )


def _against(result: Handout) -> list[Row]:
    """All others against the policy taught."""
    return rows_of(result.comparison.difference_rows, measure="in_control")


def _how_sure(result: Handout) -> list[str]:
    scenario, row = result.scenario, result.comparison.summary_rows[0]
    other = "odd" if scenario.return_of_serve.side == "even" else "even"
    sides = joined([DIRECTIONS[side] for side in scenario.return_of_serve.directions])
    return [
        f"{row['shots']:,} third shots by {scenario.opponents.level} opponents after returns "
        f"{sides}: {row['in_play']:,} in play. Who takes the middle is from the first "
        f"{min(scenario.run.shots, SHOTS):,} shots after each return.",
        "In brackets 95 % intervals, each on its own. More and fewer hold for all comparisons "
        "together. The page rounds to what can be counted on court.",
        f"For returns from the other side run it with --set return_of_serve.side={other}.",
    ]


def _shares_table(result: Handout) -> list[list[str]]:
    table = [["after returns", "in control", "reached", "hardest aim", "left open"]]
    for lesson in result.lessons:
        opening = lesson.opening
        table.append(
            [
                DIRECTIONS[lesson.direction],
                percent(*lesson.in_control),
                percent(*lesson.reached),
                f"{DIRECTIONS[lesson.hardest_lane]}: {percent(*lesson.in_hardest_lane)}",
                f"{opening.leak}: {percent(*opening.share)}" if opening else "nothing much",
            ]
        )
    return table


def _middle_table(result: Handout) -> list[list[str]]:
    table = [["after returns", "left in control", "right in control", "at full stretch", "through"]]
    for lesson in result.lessons:
        middle = lesson.middle
        shares = (middle.by_left, middle.by_right, middle.at_full_stretch, middle.through)
        table.append([DIRECTIONS[lesson.direction], *(percent(*share[2:]) for share in shares)])
    return table


def _places_table(result: Handout, units: str) -> list[list[str]]:
    table = [["after returns", "player", "stand", "found", "in place, of 100"]]
    for lesson in result.lessons:
        for name in PLAYERS:
            standing = lesson.players[name]
            places = [_place(place, units) for place in (standing.target, standing.found)]
            table.append([DIRECTIONS[lesson.direction], name, *places, _arrived(standing.arrived)])
    return table


def _arrived(share: Share) -> str:
    """How often a player is in place; of none or all there is no interval to show."""
    return {0.0: "none", 1.0: "all"}.get(share.share, percent(*share))


def _place(place: tuple[float, float], units: str) -> str:
    x, y = place
    side = "left" if x < 0.0 else "right"
    return f"{length(abs(x), units)} {side} of centre, {length(-y, units)} from net"


def _policies(result: Handout) -> list[list[str]]:
    table = [["policy", "in control, %", "difference, points", "of 100"]]
    others = {row["policy"]: row for row in _against(result)}
    places = places_together(others.values())
    rows = rows_of(result.comparison.summary_rows, lane="all")
    for row in sorted(rows, key=lambda row: -row["in_control_share"]):
        shares = (row[f"in_control_{part}"] for part in ("share", "low", "high"))
        line = [row["policy"], percent(*shares)]
        other = others.get(row["policy"])
        told = (points(other), of_hundred(other, places)) if other else ("taught", "")
        table.append([*line, *told])
    return table
