"""What a person reads of a sweep: the answer, the best values, the curve in numbers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import groupby
from typing import Final

from sim.analyses.sweep import MEASURE_WORDS, Part, Sweep
from sim.analyses.sweep_axes import Axis
from sim.analyses.sweep_ranking import overtakings
from sim.analyses.sweep_tables import best_rows
from sim.tables import Row
from sim.texts.sweep_tables import (
    MOST_LINES,
    best_setting,
    best_table,
    between,
    curve,
    direction_table,
    front_names,
    now_words,
    ranges,
    setting_words,
    slices,
)
from sim.texts.table import aligned
from sim.wording import CAUTIONS, LIMITS, counted, joined, of_hundred, points

_MOST_STRETCHES: Final = 4
# Feet; what the default of a policy's spacing quotes.
_USUALLY_AT_MOST: Final = 8.0


def terminal_text(sweep: Sweep) -> str:
    """The result as aligned text. Values are in the units in which they were given."""
    plan, one_key = sweep.plan, len(sweep.plan.axes) == 1
    rows = [row for row in best_rows(sweep) if not math.isnan(row["points"])]
    parts = [plan.scenario.name, _question(sweep), ""]
    if not rows:
        nothing = "No third shot stayed in play: nothing to say."
        return "\n".join([*parts, nothing, "", *LIMITS, *CAUTIONS])
    ranked = plan.of_scenario and one_key and len(plan.policies) > 1
    if ranked:
        parts += [*_ranking(sweep), "", *_played(sweep), _RANKED, ""]
    elif plan.chosen is not None:
        parts += [*_choice(sweep, plan.chosen), "", *_played(sweep), _CHOSEN, ""]
    else:
        parts += [*_answer(sweep, rows), "", *_played(sweep), *_JUDGED, *_edges(sweep), ""]
        heading = "The best value for each policy" if one_key else "The best setting"
        parts += [f"{heading}, after all returns", aligned(best_table(sweep, rows)), ""]
        if len(plan.directions) > 2:
            parts += ["Best after each return, in brackets what cannot be told from it"]
            parts += [aligned(direction_table(sweep)), ""]
    parts += curve(sweep) if one_key else slices(sweep, plan.chosen or 0)
    return "\n".join([*parts, *LIMITS, *CAUTIONS])


def _question(sweep: Sweep) -> str:
    spans = [f"{a.key} from {a.shown(a.values[0], a.values[-1])}" for a in sweep.plan.axes]
    whose = f", for {sweep.plan.policies[0].name}" if len(sweep.plan.policies) == 1 else ""
    return f"What is {MEASURE_WORDS[sweep.plan.measure]} with {joined(spans)}{whose}?"


def _answer(sweep: Sweep, rows: list[Row]) -> list[str]:
    """The best of each policy, and what it is worth on fresh shots, the most first."""
    plan = sweep.plan
    measure, axes = MEASURE_WORDS[plan.measure], plan.axes
    policies = {policy.name: policy for policy in plan.policies}
    settings = {row["policy"]: best_setting(sweep, row["policy"]) for row in rows}
    ordered = sorted(rows, key=lambda row: -row["best_share"])
    shares = ", ".join(
        f"{row['policy']} {_whole(row['best_share'])} "
        f"({setting_words(axes, settings[row['policy']])})"
        for row in ordered
    )
    sentences = [f"Of 100 balls in play {measure}, each at its best: {shares}."]
    for row in sorted(rows, key=lambda row: -row["points"]):
        name, setting = row["policy"], settings[row["policy"]]
        best, now = setting_words(axes, setting), now_words(sweep, name)
        if plan.is_now(policies[name], setting):
            sentences.append(f"{name}: {best}, as it is now, is the best.")
        elif row["verdict"] in ("more", "fewer"):
            sentences.append(
                f"{name}: {best} {_gets(of_hundred(row), plan.measure)} than the {now} it has "
                f"now, judged on fresh shots ({points(row)} points)."
            )
        else:
            sentences.append(
                f"{name}: {best} or the {now} it has now, judged on fresh shots: "
                f"{row['verdict']} ({points(row)} points)."
            )
    return sentences


def _whole(share: float) -> str:
    """Balls of 100; tenths only where whole balls would claim all of them."""
    if round(100.0 * share) < 100 or share == 1.0:
        return f"{100.0 * share:.0f}"
    return f"{min(100.0 * share, 99.9):.1f}"


def _gets(words: str, measure: str) -> str:
    """``0.9 more`` as ``gets 0.9 of 100 more in control``."""
    number, direction = words.rsplit(" ", 1)
    if measure == "reached":
        return f"reaches {number} of 100 {direction}"
    return f"gets {number} of 100 {direction} in control"


def _ranking(sweep: Sweep) -> list[str]:
    """Who is in front at which values, and who overtakes whom."""
    plan, (axis,) = sweep.plan, sweep.plan.axes
    stretches = [
        (names, [place for place, _ in group])
        for names, group in groupby(enumerate(front_names(sweep)), key=lambda pair: pair[1])
    ]
    measure = MEASURE_WORDS[plan.measure]
    words = [f"{_span(axis, places)} {joined(list(names), 'or')}" for names, places in stretches]
    if len(words) > _MOST_STRETCHES:
        words = [words[0], "then to and fro (last column of the table)", words[-1]]
    sentences = [f"Most {measure}, of the same balls in play: {'; '.join(words)}."]
    if any(len(names) > 1 for names, _ in stretches):
        sentences[0] += " (Or: cannot be told apart.)"
    found = overtakings(sweep)
    for each in found[:MOST_LINES]:
        sentences.append(
            f"{each.after} overtakes {each.before}: behind up to {axis.shown(each.last)}, "
            f"in front from {axis.shown(each.first)} on."
        )
    if len(found) > MOST_LINES:
        sentences.append(f"{len(found) - MOST_LINES} more in overtakings.csv.")
    if not found:
        sentences.append("Nowhere is one policy told to overtake another.")
    return sentences


def _choice(sweep: Sweep, chosen: int) -> list[str]:
    """The best value of a policy's number from one end of a scenario's number to the other."""
    plan = sweep.plan
    axis, given = plan.axes[chosen], plan.axes[1 - chosen]
    found = [sweep.best_along(0, chosen, place) for place in range(len(given.values))]
    ends = [
        f"{axis.shown(axis.values[best.best])} at {given.shown(given.values[place])}"
        for place, best in ((0, found[0]), (len(found) - 1, found[-1]))
        if best.best is not None
    ]
    words = [f"Best {axis.key} for {plan.policies[0].name}, by {given.key}: {', '.join(ends)}."]
    for_all = set.intersection(*(set(best.tied) for best in found if best.best is not None))
    if for_all:
        words.append(
            f"{ranges(axis, for_all)} cannot be told from the best at any {given.key} tried."
        )
    else:
        words.append(f"No {axis.key} is among the best at every {given.key} tried.")
    return words


def _span(axis: Axis, places: list[int]) -> str:
    return f"{'at' if len(places) == 1 else 'from'} {between(axis, places)}"


_RANKED: Final = (
    "Who is in front holds for all policies and values together at 95 %, and so does who overtakes "
    "whom."
)
_CHOSEN: Final = (
    "What cannot be told from the best holds the truly best one, for all lines of the table "
    "together, in at least 95 of 100 such sweeps. Shares of the best are flattered a little by the "
    "shots that made them the best."
)
_JUDGED: Final = (
    "What cannot be told from the best holds the truly best one, for all settings of a policy "
    "together, in at least 95 of 100 such sweeps.",
    "The best of many is flattered by the shots that made it the best: against now it is judged on "
    "as many fresh ones, with other random numbers.",
)


def _played(sweep: Sweep) -> list[str]:
    plan = sweep.plan
    policies = "1 policy" if len(plan.policies) == 1 else f"{len(plan.policies)} policies"
    return [
        f"{counted(len(plan.settings), 'setting')} of {policies}, {plan.scenario.run.shots:,} "
        "third shots after each return direction, the same for all; in brackets, or after ±, 95 % "
        "intervals."
    ]


def _edges(sweep: Sweep) -> list[str]:
    """What has its best where the trying ended, and what is wider than the usual advice."""
    plan, said = sweep.plan, []
    edge = {
        policy.name: axis.key
        for k, policy in enumerate(plan.policies)
        for axis, value in zip(plan.axes, plan.settings[sweep.best(k).best or 0], strict=True)
        if axis.field is not None and value in (axis.values[0], axis.values[-1])
    }
    if edge:
        said.append(
            f"Best at the end of what was tried, and perhaps beyond: {joined(list(edge))} "
            f"({joined(list(dict.fromkeys(edge.values())))})."
        )
    wider = [
        policy.name
        for k, policy in enumerate(plan.policies)
        if (tied := sweep.best(k).tied)
        and all(_spacing(plan.axes, plan.settings[place]) > _USUALLY_AT_MOST for place in tied)
    ]
    if wider:
        said.append(
            "Common practice, without a source, is 6 ft apart and at most 8: this model wants "
            f"{joined(wider)} wider."
        )
    return said


def _spacing(axes: Sequence[Axis], setting: Part) -> float:
    """The spacing (ft) in a setting; 0 where it is not varied."""
    named = zip(axes, setting, strict=True)
    return next((value for axis, value in named if axis.field == "spacing"), 0.0)
