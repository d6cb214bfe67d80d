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
from sim.statistics import share_of_replicates
from sim.tables import Row
from sim.texts.sweep_tables import (
    best_setting,
    best_table,
    between,
    curve,
    direction_table,
    front_names,
    is_now,
    now_words,
    ranges,
    setting_words,
    slices,
)
from sim.texts.table import aligned, length
from sim.wording import CAUTIONS, LIMITS, TOLD, counted, joined, percent, points

_MOST_STRETCHES: Final = 4
_MOST_OVERTAKINGS: Final = 8
# Feet; what the default of a policy's spacing quotes.
_USUAL: Final = 6.0
_USUALLY_AT_MOST: Final = 8.0


def terminal_text(sweep: Sweep, units: str = "us") -> str:
    """The result as aligned text.

    What is varied is told in the unit that it was given in, other lengths in ``units``.
    """
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
    elif plan.of_scenario:
        parts += [*_most_and_least(sweep), "", *_played(sweep), _PICKED, ""]
    else:
        parts += [*_answer(sweep, rows), "", *_played(sweep), *_JUDGED]
        parts += [*_edges(sweep), *_wider(sweep, units), ""]
        heading = "The best value for each policy" if one_key else "The best setting"
        parts += [f"{heading}, after all returns", aligned(best_table(sweep, rows)), ""]
        if len(plan.directions) > 2:
            parts += ["Best after each return, in brackets what cannot be told from it"]
            parts += [aligned(direction_table(sweep)), ""]
    parts += curve(sweep) if one_key else slices(sweep, plan.chosen or 0)
    return "\n".join([*parts, *LIMITS, *CAUTIONS])


def _question(sweep: Sweep) -> str:
    spans = [
        f"{axis.words} from {axis.shown(axis.values[0], axis.values[-1])}"
        + (f" ({axis.key})" if axis.key != axis.words else "")
        for axis in sweep.plan.axes
    ]
    whose = f", for {sweep.plan.policies[0].name}" if len(sweep.plan.policies) == 1 else ""
    return f"What is {MEASURE_WORDS[sweep.plan.measure]} with {joined(spans)}{whose}?"


def _answer(sweep: Sweep, rows: list[Row]) -> list[str]:
    """The best of each policy, and what it is worth on fresh shots, the most first."""
    plan = sweep.plan
    measure, axes = MEASURE_WORDS[plan.measure], plan.axes
    settings = {row["policy"]: best_setting(sweep, row["policy"]) for row in rows}
    ordered = sorted(rows, key=lambda row: -row["best_share"])
    shares = ", ".join(
        f"{row['policy']} {_whole(row['best_share'])} "
        f"({setting_words(axes, settings[row['policy']])})"
        for row in ordered
    )
    each = "each at its best" if len(rows) > 1 else "at its best"
    sentences = [f"Of 100 balls in play {measure}, {each}, on fresh shots: {shares}."]
    sentences += _alike(sweep)
    for row in sorted(rows, key=lambda row: -row["points"]):
        name, setting = row["policy"], settings[row["policy"]]
        best, now = setting_words(axes, setting), now_words(sweep, name)
        if is_now(sweep, name):
            sentences.append(f"{name}: {best}, as it is now, is the best that was tried.")
        elif row["verdict"] in TOLD:
            size, interval = _size(row)
            sentences.append(
                f"{name}: at {best}, {size} of 100 {row['verdict']} {measure} than at the {now} "
                f"it has now {interval}, on fresh shots."
            )
        else:
            sentences.append(
                f"{name}: {best} against the {now} it has now, on fresh shots: "
                f"{row['verdict']} ({points(row)} points)."
            )
    return sentences


def _alike(sweep: Sweep) -> list[str]:
    """Policies that differ in nothing but what is varied, or not so that any ball shows it."""
    groups: dict[bytes, list[str]] = {}
    for policy, row in zip(sweep.plan.policies, sweep.counts, strict=True):
        groups.setdefault(b"".join(each.hits.tobytes() for each in row), []).append(policy.name)
    return [
        f"{joined(names)} come out alike at every value, ball for ball, on the shots by which the "
        "best were chosen."
        for names in groups.values()
        if len(names) > 1
    ]


def _most_and_least(sweep: Sweep) -> list[str]:
    """Where one policy has most and least, of numbers that nobody chooses."""
    plan, tied = sweep.plan, sweep.best(0).tied
    counts = [each.of(plan.measure) for each in sweep.counts[0]]
    known = {k: hits.sum() / balls.sum() for k, (hits, balls) in enumerate(counts) if balls.any()}
    most, least = max(known, key=known.__getitem__), min(known, key=known.__getitem__)

    def said(place: int) -> str:
        share = percent(known[place], *share_of_replicates(*counts[place]))
        return f"{share} at {setting_words(plan.axes, plan.settings[place])}"

    others = [place for place in tied if place != most]
    told = "Every other setting can be told from the most."
    if others and len(plan.axes) == 1:
        told = f"Cannot be told from the most: {ranges(plan.axes[0], tied)}."
    elif others:
        told = f"{counted(len(others), 'other setting')} cannot be told from the most."
    words = f"{plan.policies[0].name}, of 100 balls in play {MEASURE_WORDS[plan.measure]}"
    return [f"{words}: at the most {said(most)}; at the least {said(least)}.", told]


def _whole(share: float) -> str:
    """Balls of 100; tenths only where whole balls would claim all of them."""
    if round(100.0 * share) < 100 or share == 1.0:
        return f"{100.0 * share:.0f}"
    return f"{min(100.0 * share, 99.9):.1f}"


def _size(row: Row) -> tuple[str, str]:
    """How many more or fewer of 100, without a sign, and the interval of that.

    >>> _size({"points": -2.4, "points_low": -2.7, "points_high": -2.1, "verdict": "fewer"})
    ('2.4', '[2.1, 2.7]')
    """
    if row["verdict"] == "fewer":
        value, low, high = (-row[name] for name in ("points", "points_high", "points_low"))
        row = {"points": value, "points_low": low, "points_high": high}
    size, interval = points(row).replace("+", "").split(" ", 1)
    return size, interval


def _ranking(sweep: Sweep) -> list[str]:
    """Who is in front at which values, and who overtakes whom."""
    plan, (axis,) = sweep.plan, sweep.plan.axes
    stretches = [
        (names, [place for place, _ in group])
        for names, group in groupby(enumerate(front_names(sweep)), key=lambda pair: pair[1])
    ]
    measure = MEASURE_WORDS[plan.measure]
    words = [
        f"{_span(axis, places)} {_names(names, len(plan.policies))}" for names, places in stretches
    ]
    if len(words) > _MOST_STRETCHES:
        words = [words[0], "then to and fro (last column of the table)", words[-1]]
    sentences = [f"Most {measure}, of the same balls in play: {'; '.join(words)}."]
    most = max(len(names) for names, _ in stretches)
    if most > 1:
        named = "two are" if most == 2 else "more than one is"
        sentences[0] += f" Where {named} named, they cannot be told apart."
    found = overtakings(sweep)
    for each in found[:_MOST_OVERTAKINGS]:
        behind = "behind at" if each.last == axis.values[0] else "behind up to"
        front = f"in front from {axis.shown(each.first)} on"
        if each.first == axis.values[-1]:
            front = f"in front at {axis.shown(each.first)}"
        sentences.append(
            f"{each.after} overtakes {each.before}: {behind} {axis.shown(each.last)}, {front}."
        )
    if len(found) > _MOST_OVERTAKINGS:
        sentences.append(f"{len(found) - _MOST_OVERTAKINGS} more in overtakings.csv.")
    if not found:
        sentences.append("That one policy overtakes another cannot be told anywhere.")
    return sentences


def _names(names: tuple[str, ...], policies: int) -> str:
    return f"any of the {policies}" if len(names) == policies > 2 else joined(list(names), "or")


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
    name = plan.policies[0].name
    words = [f"Best {axis.words} for {name}, by {given.words}: {', '.join(ends)}."]
    for_all = set.intersection(*(set(best.tied) for best in found if best.best is not None))
    if for_all:
        words.append(
            f"{ranges(axis, for_all)} cannot be told from the best at any {given.words} tried."
        )
    else:
        words.append(f"No {axis.words} is among the best at every {given.words} tried.")
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
    "as many fresh ones, with other random numbers. What is told there holds for all policies "
    "together, intervals each for itself.",
)
_PICKED: Final = (
    "What cannot be told from the most holds the setting with truly most in at least 95 of 100 "
    "such sweeps. Most and least are stretched a little by the shots that made them so."
)
_FOUND: Final = (
    "Places that were found are those for the scenario as it stands, and kept at every value."
)


def _played(sweep: Sweep) -> list[str]:
    plan = sweep.plan
    policies = "1 policy" if len(plan.policies) == 1 else f"{len(plan.policies)} policies"
    return [
        f"{counted(len(plan.settings), 'setting')} of {policies}, {plan.scenario.run.shots:,} "
        "third shots after each return direction, the same for all; in brackets, or after ±, 95 % "
        "intervals.",
        *([_FOUND] if plan.of_scenario and any(p.places for p in plan.policies) else []),
    ]


def _edges(sweep: Sweep) -> list[str]:
    """What has its best where the trying ended; nothing where any value may be the best."""
    plan = sweep.plan
    edge = {
        policy.name: axis.words
        for k, policy in enumerate(plan.policies)
        for axis, value in zip(plan.axes, plan.settings[sweep.best(k).best or 0], strict=True)
        if len(sweep.best(k).tied) < len(plan.settings)
        if axis.field is not None and value in (axis.values[0], axis.values[-1])
    }
    if not edge:
        return []
    return [
        f"Best at the end of what was tried, and perhaps beyond: {joined(list(edge))} "
        f"({joined(list(dict.fromkeys(edge.values())))})."
    ]


def _wider(sweep: Sweep, units: str) -> list[str]:
    """What is wider at its best than the usual advice."""
    plan = sweep.plan
    wider = [
        policy.name
        for k, policy in enumerate(plan.policies)
        if (tied := sweep.best(k).tied)
        and all(_spacing(plan.axes, plan.settings[place]) > _USUALLY_AT_MOST for place in tied)
    ]
    if not wider:
        return []
    usual, most = length(_USUAL, units), length(_USUALLY_AT_MOST, units)
    return [
        f"Common practice, without a source, is {usual} apart and at most {most}: this model wants "
        f"{joined(wider)} wider."
    ]


def _spacing(axes: Sequence[Axis], setting: Part) -> float:
    """The spacing (ft) in a setting; 0 where it is not varied."""
    named = zip(axes, setting, strict=True)
    return next((value for axis, value in named if axis.field == "spacing"), 0.0)
