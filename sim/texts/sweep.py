"""What a person reads of a sweep: the answer, the best values, the curve in numbers."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import groupby
from typing import Final

from sim.analyses.sweep import Part, Sweep
from sim.analyses.sweep_axes import Axis, runs
from sim.analyses.sweep_best import AgainstBest
from sim.analyses.sweep_ranking import in_front, overtakings
from sim.analyses.sweep_tables import best_rows, difference_rows, share_rows
from sim.statistics import share_of_replicates
from sim.tables import Row
from sim.texts.table import aligned
from sim.wording import (
    CAUTIONS,
    LIMITS,
    MINUS,
    counted,
    decimals,
    joined,
    of_hundred,
    percent,
    points,
)

MEASURE_WORDS: Final = {"in_control": "in control", "reached": "reached"}
_RETURNS: Final = {
    "all": "all returns",
    "line": "down the line",
    "middle": "to the middle",
    "cross": "cross-court",
}
_MOST_LINES: Final = 21
# Feet; what the default of a policy's spacing quotes.
_USUALLY_AT_MOST: Final = 8.0
_MOST_STRETCHES: Final = 4
_NOTHING: Final = "no balls in play"


def terminal_text(sweep: Sweep) -> str:
    """The result as aligned text. Values are in the units in which they were given."""
    plan, one_key = sweep.plan, len(sweep.plan.axes) == 1
    rows = [row for row in best_rows(sweep) if not math.isnan(row["points"])]
    parts = [plan.scenario.name, _question(sweep), ""]
    if not rows:
        return "\n".join([*parts, "No third shot stayed in play: nothing to say.", "", *LIMITS])
    ranked = plan.of_scenario and one_key and len(plan.policies) > 1
    if ranked:
        parts += [*_ranking(sweep), "", *_played(sweep), _RANKED, ""]
    elif plan.chosen is not None:
        parts += [*_choice(sweep, plan.chosen), "", *_played(sweep), _CHOSEN, ""]
    else:
        parts += [*_answer(sweep, rows), "", *_played(sweep), *_JUDGED, *_edges(sweep), ""]
        heading = "The best value for each policy" if one_key else "The best setting"
        parts += [f"{heading}, after all returns", aligned(_best_table(sweep, rows)), ""]
        if len(plan.directions) > 2:
            parts += ["Best after each return, in brackets what cannot be told from it"]
            parts += [aligned(_direction_table(sweep)), ""]
    parts += _curve(sweep) if one_key else _slices(sweep, plan.chosen or 0)
    return "\n".join([*parts, *LIMITS, *CAUTIONS])


def setting_words(axes: Sequence[Axis], setting: Part) -> str:
    """A setting in words: its value, or with two axes each one's name and value."""
    if len(axes) == 1:
        return axes[0].shown(setting[0])
    return ", ".join(f"{a.key} {a.shown(v)}" for a, v in zip(axes, setting, strict=True))


def ranges(axis: Axis, places: Iterable[int]) -> str:
    """Places on an axis as ranges of values.

    Neighbours make a range: ``4 ft, 8 to 10.5 ft``.
    """
    return ", ".join(_between(axis, run) for run in runs(places))


def _between(axis: Axis, run: list[int]) -> str:
    ends = [axis.values[run[0]], axis.values[run[-1]]]
    return axis.shown(*ends[: len(run)])


def _question(sweep: Sweep) -> str:
    spans = [f"{a.key} from {a.shown(a.values[0], a.values[-1])}" for a in sweep.plan.axes]
    whose = f", for {sweep.plan.policies[0].name}" if len(sweep.plan.policies) == 1 else ""
    return f"What is {MEASURE_WORDS[sweep.plan.measure]} with {joined(spans)}{whose}?"


def _answer(sweep: Sweep, rows: list[Row]) -> list[str]:
    """The best of each policy, and what it is worth on fresh shots, the most first."""
    plan = sweep.plan
    measure, axes = MEASURE_WORDS[plan.measure], plan.axes
    policies = {policy.name: policy for policy in plan.policies}
    settings = {row["policy"]: _best_setting(sweep, row["policy"]) for row in rows}
    ordered = sorted(rows, key=lambda row: -row["best_share"])
    shares = ", ".join(
        f"{row['policy']} {100.0 * row['best_share']:.0f} "
        f"({setting_words(axes, settings[row['policy']])})"
        for row in ordered
    )
    sentences = [f"Of 100 balls in play {measure}, each at its best: {shares}."]
    for row in sorted(rows, key=lambda row: -row["points"]):
        name, setting = row["policy"], settings[row["policy"]]
        best, now = setting_words(axes, setting), _now_words(sweep, name)
        if plan.is_now(policies[name], setting):
            sentences.append(f"{name}: {best}, as it is now, is the best.")
        elif row["verdict"] in ("more", "fewer"):
            sentences.append(
                f"{name}: {best} gets {_of_hundred_in(of_hundred(row), measure)} than the {now} "
                f"it has now, judged on fresh shots ({points(row)} points)."
            )
        else:
            sentences.append(
                f"{name}: {best} or the {now} it has now, judged on fresh shots: "
                f"{row['verdict']} ({points(row)} points)."
            )
    return sentences


def _of_hundred_in(words: str, measure: str) -> str:
    """``0.9 more`` as ``0.9 of 100 more in control``."""
    number, direction = words.rsplit(" ", 1)
    return f"{number} of 100 {direction} {measure}"


def _ranking(sweep: Sweep) -> list[str]:
    """Who is in front at which values, and who overtakes whom."""
    plan, (axis,) = sweep.plan, sweep.plan.axes
    stretches = [
        (names, [place for place, _ in group])
        for names, group in groupby(enumerate(_front_names(sweep)), key=lambda pair: pair[1])
    ]
    measure = MEASURE_WORDS[plan.measure]
    if len(stretches) > _MOST_STRETCHES:
        sentences = [f"Who gets most {measure} changes with {axis.key}: see the last column."]
    else:
        words = [
            f"{_span(axis, places)} {joined(list(names), 'or')}" for names, places in stretches
        ]
        sentences = [f"Most {measure}, of the same balls in play: {'; '.join(words)}."]
    if any(len(names) > 1 for names, _ in stretches):
        sentences[0] += " (Or: cannot be told apart.)"
    found = overtakings(sweep)
    for each in found[:_MOST_LINES]:
        sentences.append(
            f"{each.after} overtakes {each.before}: behind up to {axis.shown(each.last)}, "
            f"in front from {axis.shown(each.first)} on."
        )
    if len(found) > _MOST_LINES:
        sentences.append(f"{len(found) - _MOST_LINES} more in overtakings.csv.")
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


def _front_names(sweep: Sweep) -> list[tuple[str, ...]]:
    """At every value the policies that cannot be told from the best one."""
    names = [policy.name for policy in sweep.plan.policies]
    return [tuple(names[k] for k in best.tied) or (_NOTHING,) for best in in_front(sweep)]


def _span(axis: Axis, places: list[int]) -> str:
    return f"{'at' if len(places) == 1 else 'from'} {_between(axis, places)}"


_RANKED: Final = (
    "Who is in front, and who overtakes whom, holds for all policies and values together at 95 %."
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
        if all(
            _spacing(plan.axes, plan.settings[place]) > _USUALLY_AT_MOST
            for place in sweep.best(k).tied
        )
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


def _best_setting(sweep: Sweep, name: str) -> Part:
    place = next(k for k, policy in enumerate(sweep.plan.policies) if policy.name == name)
    best = sweep.best(place).best
    return sweep.plan.settings[best or 0]


def _now_words(sweep: Sweep, name: str) -> str:
    plan = sweep.plan
    policy = next(policy for policy in plan.policies if policy.name == name)
    words = []
    for axis in plan.axes:
        values = joined([axis.shown(value) for value in axis.now(plan.scenario, policy)])
        words.append(values if len(plan.axes) == 1 else f"{axis.key} {values}")
    return ", ".join(words)


def _best_table(sweep: Sweep, rows: list[Row]) -> list[list[str]]:
    measure = MEASURE_WORDS[sweep.plan.measure]
    header = ["policy", "now", "best", "cannot be told from it", f"{measure}, %"]
    table = [[*header, "against now, points"]]
    names = [policy.name for policy in sweep.plan.policies]
    for row in rows:
        best = sweep.best(names.index(row["policy"]))
        setting = _best_setting(sweep, row["policy"])
        line = [row["policy"], _now_words(sweep, row["policy"])]
        line += [setting_words(sweep.plan.axes, setting), _tied_words(sweep, best)]
        line += [percent(row["best_share"], row["best_low"], row["best_high"]), points(row)]
        table.append(line)
    return table


def _tied_words(sweep: Sweep, best: AgainstBest) -> str:
    axes = sweep.plan.axes
    if len(axes) == 1:
        return ranges(axes[0], best.tied)
    others = [k for k in best.tied if k != best.best]
    return f"{len(others)} of {len(sweep.plan.settings) - 1} others" if others else "none"


def _direction_table(sweep: Sweep) -> list[list[str]]:
    plan = sweep.plan
    table = [["policy", *(_RETURNS[direction] for direction in plan.directions[1:])]]
    for p, policy in enumerate(plan.policies):
        line = [policy.name]
        for d in range(1, len(plan.directions)):
            best = sweep.best(p, plan.measure, d)
            if best.best is None:
                line.append(_NOTHING)
                continue
            words = setting_words(plan.axes, plan.settings[best.best])
            line.append(f"{words} ({_tied_words(sweep, best)})")
        table.append(line)
    return table


def _curve(sweep: Sweep) -> list[str]:
    """The curve in numbers: a line for each value, or for some of them."""
    plan, (axis,) = sweep.plan, sweep.plan.axes
    measure = MEASURE_WORDS[plan.measure]
    step = math.ceil(len(axis.values) / _MOST_LINES)
    shown = range(0, len(axis.values), step)
    some = f", every {step} values" if step > 1 else ""
    rows = _by_value(share_rows(sweep), sweep)
    table = [[axis.key, *(policy.name for policy in plan.policies)]]
    for k in shown:
        cells = [_plus_minus(row, "share", 100.0) for row in rows[k]]
        table.append([axis.shown(axis.values[k]), *cells])
    ranked = plan.of_scenario and len(plan.policies) > 1
    if ranked:
        front = _front_names(sweep)
        table[0].append("in front")
        for line, k in zip(table[1:], shown, strict=True):
            line.append(" or ".join(front[k]))
    parts = [f"{measure.capitalize()}, % of the balls in play, after all returns{some}"]
    parts += [aligned(table), ""]
    if not plan.of_scenario:
        return parts
    against = _by_value(difference_rows(sweep), sweep)
    if against[0]:
        names = [row["policy"] for row in against[0]]
        table = [[axis.key, *names]]
        for k in shown:
            cells = [_plus_minus(row, "points", 1.0, signed=True) for row in against[k]]
            table.append([axis.shown(axis.values[k]), *cells])
        name = plan.scenario.baseline.name
        parts += [f"{measure.capitalize()}, points against {name}{some}", aligned(table), ""]
    return parts


def _by_value(rows: Iterable[Row], sweep: Sweep) -> list[list[Row]]:
    """The rows of all returns and the sweep's measure, a list for each value."""
    (axis,) = sweep.plan.axes
    found: dict[float, list[Row]] = {axis.number(value): [] for value in axis.values}
    for row in rows:
        if (row["return_direction"], row["measure"]) == ("all", sweep.plan.measure):
            found[row[axis.column]].append(row)
    return list(found.values())


def _plus_minus(row: Row, name: str, scale: float, *, signed: bool = False) -> str:
    """An estimate and how far its interval reaches to the farther side, both rounded alike."""
    prefix = "" if name == "share" else f"{name}_"
    value, low, high = (scale * row[key] for key in (name, f"{prefix}low", f"{prefix}high"))
    if math.isnan(value):
        return _NOTHING
    half = max(value - low, high - value)
    places = decimals(half)
    half = math.ceil(half * 10**places - 1e-6) / 10**places
    sign = "" if not signed or float(f"{value:.{places}f}") == 0.0 else "+" if value > 0 else MINUS
    shown = f"{abs(value) if signed else value:.{places}f}"
    return f"{sign}{shown} ±{half:.{places}f}"


def _slices(sweep: Sweep, chosen: int) -> list[str]:
    """At every value of the other key the best value of the chosen one, for the first policy."""
    plan = sweep.plan
    axis, given = plan.axes[chosen], plan.axes[1 - chosen]
    step = math.ceil(len(given.values) / _MOST_LINES)
    header = [given.key, f"best {axis.key}", "cannot be told from it"]
    table = [[*header, f"{MEASURE_WORDS[plan.measure]}, %"]]
    for place in range(0, len(given.values), step):
        best = sweep.best_along(0, chosen, place)
        line = [given.shown(given.values[place])]
        if best.best is None:
            table.append([*line, _NOTHING, "", ""])
            continue
        where = (best.best, place) if chosen == 0 else (place, best.best)
        number = where[0] * len(plan.axes[1].values) + where[1]
        hits, balls = sweep.counts[0][number].of(plan.measure)
        line += [axis.shown(axis.values[best.best]), ranges(axis, best.tied)]
        table.append([*line, percent(hits.sum() / balls.sum(), *share_of_replicates(hits, balls))])
    some = f", every {step} values" if step > 1 else ""
    heading = f"Best {axis.key} at each {given.key}, for {plan.policies[0].name}{some}"
    return [heading, aligned(table), ""]
